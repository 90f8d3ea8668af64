package ask

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/floor"
	"needlepace/money"
	"needlepace/stitch"
	"needlepace/thread"
)

// quotePrecision is how well the yield of the simulated shift is known that a
// price is made from: the interval of its mean is ± this share.
const quotePrecision = 0.01

// mostShifts is how many shifts are simulated at most for it.
const mostShifts = 2000

// quoteLine prices one line on the machine it is to be sewn on.
func quoteLine(
	ctx context.Context, from QuoteFrom, q *book.Quote, d *PromiseAnswer, l *book.OrderLine, opt *QuoteQuestion,
) error {
	w := d.p.w
	m, ok := d.on[l.Line]
	if opt.Machine != "" {
		m = slices.IndexFunc(d.p.stations, func(st *station) bool { return st.ID == opt.Machine })
		if m < 0 {
			return Missing("there is no such machine on the list")
		}
		ok = true
	}
	des, err := from.Design(ctx, l.DesignID)
	if err != nil {
		return err
	}
	if !ok { // left out of the dates: price it where it could be sewn, if anywhere
		why := ""
		for i, st := range d.p.stations {
			k, err := lineAt(ctx, from, l, des, st)
			if err != nil {
				return err
			}
			if k.Why == "" {
				m, ok = i, true
				break
			}
			why += "; " + st.Name + ": " + k.Why
		}
		if !ok {
			return Errorf("line %d cannot be priced: no machine can make it: %s", l.Line, strings.TrimPrefix(why, "; "))
		}
	}
	st := d.p.stations[m]
	k, err := lineAt(ctx, from, l, des, st)
	if err != nil {
		return err
	}
	if k.Why != "" {
		return Errorf("line %d: %s cannot make it: %s", l.Line, st.Name, k.Why)
	}
	own, ok := w.Money.Machines[st.ID]
	if !ok {
		return Errorf("put in what %s cost, how many years it lasts, what it is worth then, "+
			"its upkeep and its power first; then I can price what it sews", st.Name)
	}
	made, err := madeOn(ctx, from, d.p, m, l, des, k)
	if err != nil {
		return err
	}
	for _, k := range own.Missing("money.machines." + st.Name) {
		if !slices.Contains(q.Missing, k) {
			q.Missing = append(q.Missing, k)
		}
	}
	rates := w.Money
	fee := rates.Digitizing
	rates.Digitizing = money.Amount{}
	quantities := quantitySteps(opt.Quantities, rates.Quantities, l.Quantity)
	line := book.QuoteLine{
		Line: l.Line, Design: des.Name, DesignID: des.ID, File: des.File, Label: des.LabelBeside(),
		Placement: l.Placement, Garment: l.Garment,
		Quantity: l.Quantity, Stitches: des.Stitches, Colours: k.Threads,
		Blocks: book.BlockThreads(l, des), BlockRGB: book.BlockColours(l, des),
		WidthMM: des.WidthMM, HeightMM: des.HeightMM, Machine: st.Name, Heads: st.heads,
		Run: k.Seconds, Piece: made.Occupied(), Steps: []book.QuoteStep{},
	}
	for _, n := range quantities {
		c, err := rates.Of(made, own, n)
		if err != nil {
			return Errorf("line %d: %w", l.Line, err)
		}
		step := book.QuoteStep{Quantity: n, Price: c.Price, Cost: c.Total, Idle: c.Idle}
		if w.SetupApart {
			step.Price, step.SetupFee = rates.Apart(c)
		}
		line.Steps = append(line.Steps, step)
		if n == l.Quantity {
			count := decimal.NewFromInt(int64(n))
			line.Price, line.Cost, line.Sum = step.Price, step.Cost, step.Price.Mul(count)
			q.Cost = q.Cost.Add(c.Total.Mul(count))
			if step.SetupFee.IsPositive() {
				q.Fees = append(q.Fees, book.QuoteFee{Name: "set-up: " + des.Name, Amount: step.SetupFee})
			}
		}
	}
	if l.Digitize && fee.IsPositive() {
		q.Fees = append(q.Fees, book.QuoteFee{Name: "digitizing: " + des.Name, Amount: rates.Round(fee.Dec)})
	}
	q.Lines = append(q.Lines, line)
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

// madeOn simulates a shift in which the machine sews the line all day, among the
// others at the work the plan has for them: every second of a piece, waiting
// for operators and thread breaks included.
func madeOn(
	ctx context.Context, from QuoteFrom, p *problem, m int, l *book.OrderLine, des *book.Design, k *lineOn,
) (money.Made, error) {
	st := p.stations[m]
	design, err := from.Stitches(ctx, des.ID)
	if err != nil {
		return money.Made{}, err
	}
	sh := &floor.Shop{Name: p.w.Name, Walk: floor.Walk{Seconds: 10}, Notice: 10, Ready: true}
	sh.Seconds = p.w.Shift[0].Seconds()
	for i := range int(math.Ceil(p.w.Shift[0].Operators)) {
		sh.Operators = append(sh.Operators, floor.Operator{Name: fmt.Sprint("operator ", i+1)})
	}
	for _, x := range p.stations {
		sh.Machines = append(sh.Machines, x.floor)
	}
	add := func(name string, at int, d *stitch.Design, job clock.Job) error {
		j := floor.Job{Name: name, Machines: []int{at}, Runs: make([]floor.Run, len(p.stations))}
		x := p.stations[at]
		run, err := floor.NewRun(d, x.Sheet, job, x.work, x.heads, x.law, nil)
		if err != nil {
			return err
		}
		j.Runs[at] = run
		sh.Jobs = append(sh.Jobs, j)
		return nil
	}
	if err := add(des.Name, m, design, st.clockJob(l, k)); err != nil {
		return money.Made{}, Errorf("line %d: %w", l.Line, err)
	}
	// What the others sew all shift: the first line each of them can make.
	for at := range p.stations {
		if at == m {
			continue
		}
		for _, of := range p.jobs {
			if of.on[at] == nil || of.on[at].Why != "" {
				continue
			}
			d, err := from.Stitches(ctx, of.line.DesignID)
			if err != nil {
				return money.Made{}, err
			}
			if err := add(book.LineName(of.order, of.line.Line), at, d,
				p.stations[at].clockJob(of.line, of.on[at])); err != nil {
				return money.Made{}, err
			}
			break
		}
	}
	free, err := from.Slot(ctx)
	if err != nil {
		return money.Made{}, err
	}
	defer free()
	o := floor.Options{Seed: 1, Precision: quotePrecision, Level: clock.DefaultLevel, Max: mostShifts}
	res, err := floor.Simulate(ctx, sh, o, nil)
	if ctx.Err() != nil {
		return money.Made{}, stopped(ctx)
	}
	if err != nil {
		return money.Made{}, Errorf("the shift cannot be simulated: %w", err)
	}
	made, err := money.MadeFrom(res, m)
	if err != nil {
		return money.Made{}, Errorf("%w", err)
	}
	for i := range made.Seconds { // as the floor's reports say
		made.Seconds[i] *= st.rates.Pace
	}
	use, err := thread.Of(design, st.law, st.Sheet.Reading.TrimAfterJumps)
	if err != nil {
		return money.Made{}, Errorf("%w", err)
	}
	made.Spoilt = k.Spoilt
	made.Stitches, made.Top, made.Bobbin = k.Stitches, use.Total.Top, use.Total.Bobbin
	made.Width, made.Height = des.WidthMM, des.HeightMM
	made.Setup = st.setup(k) + st.recones(l, des)
	return made, nil
}
