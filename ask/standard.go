package ask

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/shopspring/decimal"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/floor"
	"needlepace/money"
	"needlepace/words"
)

// quotePrecision is how well the yield of the simulated shift is known that a
// price is made from: the interval of its mean is ± this share. It is looked at after quoteLook shifts each:
// machine-seconds of a piece on one machine then have a standard deviation of 0.4 to 0.6 % from seed
// to seed (0.2 to 0.35 % with 64), for a quarter of the time.
const (
	quotePrecision = 0.01
	quoteLook      = 16
)

// mostShifts is how many shifts are simulated at most for it.
const mostShifts = 2000

// pricedOn is a machine that a line is priced on.
type pricedOn struct {
	money.Share
	st *station
	at int // its place among the stations
	k  *lineOn
}

// idle is the heads that stay empty in the last run of so many pieces.
func (p *pricedOn) idle(pieces int) int { return (p.st.heads - pieces%p.st.heads) % p.st.heads }

// standardOf are the machines that a line is priced on, the largest part first:
// the one asked for by its ID, the shop's standard, or all that can sew it and
// have prices. It hangs on the design, the goods and what the shop has set, and on
// nothing that changes with the day: neither on the plan nor on other orders. can are all
// that can sew it and have prices.
func standardOf(
	ctx context.Context, from QuoteFrom, w *book.Workshop, all []*station, l *book.OrderLine, des *book.Design,
	machine string,
) (on, can []pricedOn, caveats words.Sentences, unpriced []string, err error) {
	var whys words.Sentences
	wanted := false
	asked := machine
	if asked == "" {
		asked = w.StandardID
	}
	for i, st := range all {
		k, err := lineAt(ctx, from, l, des, st)
		if err != nil {
			return nil, nil, nil, nil, err
		}
		own, priced := w.Money.Machines[st.ID]
		switch {
		case st.ID == machine && !k.Why.IsZero():
			return nil, nil, nil, nil, Errorf("line %d: %s", l.Line, st.refuses(k.Why).Text)
		case st.ID == machine && !priced:
			return nil, nil, nil, nil, Errorf("put in what %s cost, how many years it lasts, what it is worth then, "+
				"its upkeep and its power first; then I can price what it sews", st.Name).At("machine")
		case !k.Why.IsZero():
			whys = append(whys, st.because(k.Why))
			continue
		case !priced:
			unpriced = append(unpriced, st.Name)
			continue
		}
		p := pricedOn{st: st, k: k, Share: money.Share{Own: own, Given: decimal.NewFromInt(-1)}}
		p.at = i
		if st.keys.Share != nil {
			p.Given = money.Measured(*st.keys.Share / 100)
		}
		wanted = wanted || st.ID == asked
		on = append(on, p)
	}
	switch {
	case machine != "" && !wanted:
		return nil, nil, nil, nil, unfound(words.Say("refused.no-such-machine"))
	case len(on) == 0 && len(unpriced) > 0:
		return nil, nil, nil, nil, Errorf("line %d cannot be priced: put in what %s cost, how many years each lasts, what it is worth "+
			"then, its upkeep and its power", l.Line, namesOf(unpriced).Text(nil))
	case len(on) == 0:
		return nil, nil, nil, nil, Errorf("line %d cannot be priced: no machine can make it: %s", l.Line, reasons(whys))
	case wanted:
		unpriced = nil
	case asked != "":
		caveats.Say("quote.not-standard", words.Args{"line": words.Whole(l.Line), "machine": words.Name(w.Standard)})
	}
	if err = makes(ctx, from, w, all, l, des, on); err != nil {
		return nil, nil, nil, nil, err
	}
	can = slices.Clone(on)
	if wanted {
		on = slices.DeleteFunc(on, func(p pricedOn) bool { return p.st.ID != asked })
	}
	shares := make([]money.Share, len(on))
	for i := range on {
		shares[i] = on[i].Share
	}
	money.Usual(shares)
	for i := range on {
		on[i].Share = shares[i]
	}
	on = slices.DeleteFunc(on, func(p pricedOn) bool { return !p.Part.IsPositive() })
	slices.SortStableFunc(on, func(a, b pricedOn) int { return b.Part.Cmp(a.Part) })
	return on, can, caveats, unpriced, nil
}

// namesOf are names to be listed in a sentence.
func namesOf(all []string) words.List {
	var out words.List
	for _, n := range all {
		out = append(out, words.Name(n))
	}
	return out
}

// makes simulates a shift in which every machine sews the line all day, and fills
// in what a piece takes on each: every second of it, waiting for operators and
// thread breaks included. Machines that cannot sew the line, or have no prices,
// sew the same design on flat goods as if they could: operators are shared as on a day like others.
// The shift is the week's mean, with each number of operators that is on duty for as long as it is.
func makes(
	ctx context.Context, from QuoteFrom, w *book.Workshop, all []*station, l *book.OrderLine, des *book.Design,
	on []pricedOn,
) error {
	week := w.Week()
	crews := crewsOf(week)
	shape, err := shapeOf(ctx, from, l, des)
	if err != nil {
		return err
	}
	key := fmt.Sprint(shape.key, week.ShiftHours(), crews)
	sh := &floor.Shop{Name: w.Name, Walk: floor.Walk{Seconds: 10}, Notice: 10, Ready: true, Seconds: 3600 * week.ShiftHours()}
	for _, st := range all {
		sh.Machines = append(sh.Machines, st.floor)
		key += fmt.Sprint("\x00", st.ID, st.digest, st.floor, st.rates.Pace)
	}
	for i := range on {
		key += fmt.Sprint("\x00", on[i].at)
	}
	made, err := from.Memory().made.get(ctx, mostFigures, key, func() ([]money.Made, error) {
		return byCrew(ctx, from, sh, crews, all, l, des, on)
	})
	if err != nil {
		return err
	}
	for i := range on {
		p := &on[i]
		p.Made = made[i]
		p.Made.Setup = p.st.setup(p.k) + p.st.recones(l, des)
	}
	return nil
}

// crewOf is for how long of the week a whole number of operators is on duty.
type crewOf struct {
	operators int
	seconds   float64
}

// crewsOf are the crews of a week, the largest first. Half an operator more is one
// more half of the time.
func crewsOf(week book.Week) []crewOf {
	by := map[int]float64{}
	for _, h := range week.Hands {
		n := min(max(1, h.Operators), floor.MaxOperators)
		few, part := math.Modf(n)
		by[int(few)] += h.Seconds * (1 - part)
		if part > 0 {
			by[int(few)+1] += h.Seconds * part
		}
	}
	var out []crewOf
	for n, seconds := range by {
		out = append(out, crewOf{n, seconds})
	}
	slices.SortFunc(out, func(a, b crewOf) int { return b.operators - a.operators })
	return out
}

// byCrew simulates a shift with each crew, and takes a piece as the week's: those
// that are made with the one crew and with the other.
func byCrew(
	ctx context.Context, from QuoteFrom, sh *floor.Shop, crews []crewOf, all []*station, l *book.OrderLine,
	des *book.Design, on []pricedOn,
) ([]money.Made, error) {
	made, seconds := make([][]money.Made, len(on)), make([]float64, len(crews))
	for i, c := range crews {
		seconds[i] = c.seconds
		with := *sh
		for k := range c.operators {
			with.Operators = append(with.Operators, floor.Operator{Name: fmt.Sprint("operator ", k+1)})
		}
		of, err := simulated(ctx, from, &with, all, l, des, on)
		if err != nil {
			return nil, err
		}
		for k := range of {
			made[k] = append(made[k], of[k])
		}
	}
	var out []money.Made
	for _, m := range made {
		out = append(out, money.Mean(m, seconds))
	}
	return out, nil
}

func simulated(
	ctx context.Context, from QuoteFrom, sh *floor.Shop, all []*station, l *book.OrderLine, des *book.Design,
	on []pricedOn,
) ([]money.Made, error) {
	design, err := from.Stitches(ctx, des.ID)
	if err != nil {
		return nil, err
	}
	run := func(st *station, job clock.Job) (floor.Run, error) {
		return floor.NewRun(design, st.Sheet, job, st.work, st.heads, st.law, nil)
	}
	var sewn []money.Sewn
	taken := map[int]bool{}
	for i := range on {
		p := &on[i]
		at := p.at
		taken[at] = true
		sewn = append(sewn, money.Sewn{Machine: at, Name: des.Name, Design: design, Run: p.k.full, Pace: p.st.rates.Pace,
			Law: p.st.law, AtJumps: p.st.Sheet.Reading.TrimAfterJumps})
	}
	for at, st := range all {
		if taken[at] {
			continue
		}
		r, err := run(st, floor.Goods{}.Clock(st.keys.Speed))
		if err != nil {
			continue // not even so: it stands
		}
		j := floor.Job{Name: des.Name, Machines: []int{at}, Runs: make([]floor.Run, len(all))}
		j.Runs[at] = r
		sh.Jobs = append(sh.Jobs, j)
	}
	free, err := from.Slot(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	o := floor.Options{Seed: 1, Precision: quotePrecision, Batch: quoteLook, Level: clock.DefaultLevel, Max: mostShifts}
	made, err := money.Makes(ctx, sh, sewn, o)
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	if err != nil {
		return nil, Errorf("line %d: the shift cannot be simulated: %w", l.Line, err)
	}
	for i := range on {
		if on[i].k.Names == nil {
			continue
		}
		if err := on[i].lettered(ctx, from, l, des, &made[i]); err != nil {
			return nil, err
		}
	}
	return made, nil
}
