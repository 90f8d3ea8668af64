package ask

import (
	"context"
	"fmt"
	"slices"
	"time"

	"needlepace/book"
	"needlepace/words"
)

// QuoteQuestion asks what an order would cost and when it could be had.
type QuoteQuestion struct {
	Now        time.Time // the time of day
	Order      string    // its ID
	Chance     float64   // of the day to promise, 0…1; 0: the workshop's
	Quantities []int     // steps of the price, rising; none: the workshop's
	Machine    string    // ID of the machine to price it on and to sew it; empty: the shop's standard
	QuoteAgreed
}

// PricedOrder is the answer: a quote, and what it was made from.
type PricedOrder struct {
	*book.Quote
	Verdict words.Sentences `json:"verdict"`
	CostSay words.Message   `json:"cost_say" doc:"what it costs the shop; not for the customer"`
	Caveats words.Sentences `json:"caveats" doc:"what the shop is to know of its prices, and no customer"`
	// Unpriced are machines that could sew a line and have no prices.
	Unpriced []string  `json:"unpriced" doc:"machines that could sew a line, but have no prices: it is priced without them"`
	Seen     book.Seen `json:"seen" doc:"what it was made from, in one word; given back it guards against what changed since"`
}

func (q *QuoteQuestion) check() error {
	for i, n := range q.Quantities {
		if n < 1 || i > 0 && n <= q.Quantities[i-1] {
			return Errorf("the quantity steps must rise, e.g. 1, 12, 48").At("steps")
		}
	}
	return q.QuoteAgreed.check()
}

// Quote prices an order by the run time of its designs and what a shift really
// yields, and finds the day the plan can have it done.
func Quote(ctx context.Context, from QuoteFrom, question QuoteQuestion) (*PricedOrder, error) {
	seen, err := from.Seen(ctx)
	if err != nil {
		return nil, err
	}
	o, err := from.Order(ctx, question.Order)
	if err != nil {
		return nil, err
	}
	seen.Order = o.Version
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	if err := question.check(); err != nil {
		return nil, err
	}
	if !o.State.Open() || o.State == book.Sewn {
		return nil, Errorf("order %d is %s; a quote is for what is still to be sewn", o.Number, o.State)
	}
	if len(o.Roughs) > 0 {
		return nil, Errorf("order %d asks for what has no stitch file yet (%s): put the file that came in its place first, or take it out",
			o.Number, o.Roughs[0].What().Text(nil))
	}
	if !w.Priced() {
		return nil, Errorf("put in your hourly rates first; then I can price this")
	}
	d, err := Promise(ctx, from, PromiseQuestion{Now: question.Now, Order: o.ID, Chance: question.Chance,
		Machine: question.Machine})
	if err != nil {
		return nil, err
	}
	name, err := from.ShopName(ctx)
	if err != nil {
		return nil, err
	}
	if name == "" {
		name = w.Name
	}
	before, err := from.KeptQuotes(ctx, o.ID)
	if err != nil {
		return nil, err
	}
	now := question.Now.In(w.Location())
	q := &book.Quote{
		OrderID: o.ID, Number: o.Number, Serial: fmt.Sprintf("%d-%d", o.Number, len(before)+1), Customer: o.Customer,
		Made: now.UTC(), Day: w.Zone.Day(now), Valid: w.Zone.Day(now).Add(w.Valid),
		ShopName: name, Address: texts(w.Address), Terms: texts(w.Terms),
		QuoteTerms: book.QuoteTerms{PurchaseOrder: o.PurchaseOrder, CustomerAddress: texts(o.CustomerAddress)},
		Currency:   w.Money.Currency, Margin: w.Money.Margin.String(), TaxRate: w.Money.SalesTax.String(),
		Lines: []book.QuoteLine{}, Fees: []book.QuoteFee{}, Due: o.Due, Chance: d.Chance,
		Latest: o.Latest, TooLate: d.TooLate, Earliest: d.Earliest, Promise: d.Promise, OnTime: d.OnTime, Others: sentenceTexts(d.others),
		Notes:   sentenceTexts(d.left),
		Missing: texts(w.Money.Missing()), Placeholder: w.Money.Placeholder,
	}
	all, err := stations(ctx, from, w)
	if err != nil {
		return nil, err
	}
	caveats := d.partnered
	unpriced := []string{}
	var apart []without
	digitized := map[string]bool{} // each design once, whatever it is sewn on
	known := map[string]bool{}
	for i := range o.Lines {
		cut, err := CutShort(ctx, from, &o.Lines[i], known)
		if err != nil {
			return nil, err
		}
		if len(cut) > 0 {
			caveats.Say("quote.cut", words.Args{"line": words.Whole(o.Lines[i].Line), "files": cut})
		}
		more, none, err := quoteLine(ctx, from, q, w, all, &o.Lines[i], &question)
		if err != nil {
			return nil, err
		}
		caveats = append(caveats, more...)
		unpriced = append(unpriced, none...)
		if len(none) > 0 {
			k := slices.IndexFunc(apart, func(x without) bool { return slices.Equal(x.machines, none) })
			if k < 0 {
				k, apart = len(apart), append(apart, without{machines: none})
			}
			apart[k].lines = append(apart[k].lines, words.Whole(o.Lines[i].Line))
		}
		if fee, l := w.Money.Digitizing, &o.Lines[i]; l.Digitize && fee.IsPositive() && !digitized[l.DesignID] {
			digitized[l.DesignID] = true
			q.Fees = append(q.Fees, book.FeeOf(book.DigitizingFee, q.Lines[len(q.Lines)-1].Design, w.Money.Round(fee.Dec)))
		}
	}
	for _, x := range apart {
		caveats.Say("quote.unpriced", words.Args{"lines": x.lines, "machines": namesOf(x.machines)})
	}
	if len(before) > 0 {
		caveats = append(caveats, otherPrices(q, before[0])...)
	}
	question.together(q, &w.Money)
	return &PricedOrder{q, QuoteVerdict(q), QuoteCost(q), append(caveats, QuoteCaveats(q)...),
		distinct(unpriced), seen}, nil
}

// without are lines that are priced without the same machines.
type without struct {
	machines []string
	lines    words.List
}

// distinct are names in their order, each once; never nil.
func distinct(names []string) []string {
	out := texts(names)
	slices.Sort(out)
	return slices.Compact(out)
}

func texts(l []string) []string { return append([]string{}, l...) }

func sentenceTexts(all words.Sentences) []string {
	out := []string{}
	for _, m := range all {
		out = append(out, m.Raw())
	}
	return out
}
