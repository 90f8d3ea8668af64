package ask

import (
	"context"
	"math"
	"slices"

	"github.com/shopspring/decimal"

	"needlepace/book"
	"needlepace/money"
	"needlepace/words"
)

// quoteLine prices one line on the shop's standard, or on the machine asked for.
func quoteLine(
	ctx context.Context, from QuoteFrom, q *book.Quote, w *book.Workshop, all []*station, l *book.OrderLine,
	opt *QuoteQuestion,
) (caveats words.Sentences, unpriced []string, err error) {
	des, err := from.Design(ctx, l.DesignID)
	if err != nil {
		return nil, nil, err
	}
	if l.Partner.Sews() {
		return nil, nil, partnerLine(q, w, l, des)
	}
	on, can, caveats, unpriced, err := standardOf(ctx, from, w, all, l, des, opt.Machine)
	if err != nil {
		return nil, nil, err
	}
	rates := w.Money
	rates.Digitizing = money.Amount{}
	quantities := quantitySteps(opt.Quantities, rates.Quantities, l.Quantity)
	line := book.QuoteLine{
		Line: l.Line, Goods: l.Goods(), Design: des.Name, DesignID: des.ID, File: des.File, Label: des.LabelBeside(),
		Placement: l.Placement, Garment: l.Garment,
		Quantity: l.Quantity, Stitches: des.Stitches, Colours: on[0].k.Threads,
		Blocks: book.BlockThreads(l, des), BlockRGB: book.BlockColours(l, des),
		WidthMM: des.WidthMM, HeightMM: des.HeightMM, Heads: on[0].st.heads, Steps: []book.QuoteStep{},
	}
	if a := on[0].k.Names; a != nil {
		line.Names, line.Stitches = a.quoted(l), on[0].k.Stitches
		if l.NamesAlone {
			line.Blocks, line.BlockRGB = book.LetteringThreads(l, des), book.BlockColours(l.Lettering(), des)
		}
	}
	var names words.List
	var shares []money.Share
	for i := range on {
		p := &on[i]
		for _, k := range p.Own.Missing("money.machines." + p.st.Name) {
			if !slices.Contains(q.Missing, k) {
				q.Missing = append(q.Missing, k)
			}
		}
		part := p.Part.InexactFloat64()
		line.Run += part * p.k.Seconds
		line.Piece += part * p.Made.Occupied()
		line.Mix = append(line.Mix, book.QuoteShare{MachineID: p.st.ID, Machine: p.st.Name, Part: p.Part, Heads: p.st.heads,
			Run: p.k.Seconds, Piece: p.Made.Occupied()})
		names = append(names, words.Name(p.st.Name))
		shares = append(shares, p.Share)
	}
	line.Machine = names.Text(nil)
	for i := range can {
		p := &can[i]
		c, err := rates.Of(p.Made, p.Own, l.Quantity)
		if err != nil {
			return nil, nil, Errorf("line %d: %w", l.Line, err)
		}
		fit := p.st.fit(p.at, p.k)
		line.Costs = append(line.Costs, book.QuoteCost{MachineID: p.st.ID, Cost: c.Total, Held: 3600 * c.Held.InexactFloat64(),
			Planned: fit.Work(l.Quantity) / float64(l.Quantity), Hour: c.Hour})
	}
	steps, err := rates.Standards(shares, quantities, w.SetupApart)
	if err != nil {
		return nil, nil, Errorf("line %d: %w", l.Line, err)
	}
	for _, c := range steps {
		step := book.QuoteStep{Quantity: c.Quantity, Price: c.Price, Cost: c.Total, SetupFee: c.Fee, PriceOf: c.PriceOf,
			AtCost: c.AtCost}
		if len(on) == 1 {
			step.Idle = on[0].idle(c.Quantity)
		}
		line.Steps = append(line.Steps, step)
		if c.Quantity == l.Quantity {
			count := decimal.NewFromInt(int64(c.Quantity))
			line.Price, line.Cost, line.Sum = step.Price, step.Cost, step.Price.Mul(count)
			q.Cost = q.Cost.Add(c.Total.Mul(count))
			q.Hours += c.Hours.InexactFloat64()
			if step.SetupFee.IsPositive() {
				fee := book.FeeOf(book.SetupFee, des.Name, step.SetupFee)
				fee.Line = l.Line
				q.Fees = append(q.Fees, fee)
			}
		}
	}
	if r := l.Foretold; r != nil {
		caveats.Say("quote.foretold", words.Args{"line": words.Whole(l.Line), "how": r.Came(des.Stitches)})
		if say := r.Costs(line.Price, q.Currency); !say.IsZero() {
			caveats = append(caveats, say)
		}
	}
	q.Lines = append(q.Lines, line)
	return caveats, unpriced, nil
}

// partnerLine prices a line that a partner makes, on what the partner asks. Nobody knows
// what would be asked for another quantity: it has none.
func partnerLine(q *book.Quote, w *book.Workshop, l *book.OrderLine, des *book.Design) error {
	p := &l.Partner
	if !p.Price.IsPositive() {
		return Errorf("line %d is made by %s: put in what %s asks a piece first; then I can price it", l.Line, p.Name, p.Name)
	}
	threads, _ := book.OnNeedles(book.BlockThreads(l, des), math.MaxInt)
	price, count := w.Money.Price(p.Price.Dec), decimal.NewFromInt(int64(l.Quantity))
	q.Lines = append(q.Lines, book.QuoteLine{
		Line: l.Line, Goods: l.Goods(), Design: des.Name, DesignID: des.ID, File: des.File, Label: des.LabelBeside(), Placement: l.Placement,
		Garment: l.Garment, Quantity: l.Quantity, Stitches: des.Stitches, Colours: threads, Blocks: book.BlockThreads(l, des),
		BlockRGB: book.BlockColours(l, des), WidthMM: des.WidthMM, HeightMM: des.HeightMM, Partner: p.Name, PartnerDays: p.Days,
		Price: price, Cost: p.Price.Dec, Sum: price.Mul(count),
		Steps: []book.QuoteStep{{Quantity: l.Quantity, Price: price, Cost: p.Price.Dec}},
	})
	q.Cost = q.Cost.Add(p.Price.Mul(count))
	return nil
}

// quantitySteps are the quantity steps asked for, or the usual ones, with the
// order's own.
func quantitySteps(asked, usual []int, own int) []int {
	out := slices.Clone(asked)
	if len(out) == 0 {
		out = slices.Clone(usual)
	}
	out = append(out, own)
	slices.Sort(out)
	return slices.Compact(out)
}
