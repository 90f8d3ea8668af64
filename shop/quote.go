package shop

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"needlepace/money"
	"needlepace/plan"
)

// KeptQuote is a quote as a store keeps it.
type KeptQuote struct {
	ID      string
	OrderID string
	Made    time.Time
	By      string
	Doc     string // JSON of a Quote
}

// Quote is what an order would cost and when it could be had.
type Quote struct {
	ID       string    `json:"id"`
	OrderID  string    `json:"order"`
	Number   int       `json:"number"` // the order's
	Serial   string    `json:"serial"` // "1003-2" for an order's second quote
	Customer string    `json:"customer"`
	Made     time.Time `json:"made"`
	By       string    `json:"by"`
	Day      string    `json:"day"`   // of the quote
	Valid    string    `json:"valid"` // last day it holds
	ShopName string    `json:"shop"`
	Address  []string  `json:"address"`
	Terms    []string  `json:"terms"`

	Currency string      `json:"currency"`
	Margin   string      `json:"margin_percent"` // wanted: share of the price that is not cost
	Lines    []QuoteLine `json:"lines"`
	Fees     []QuoteFee  `json:"fees"`
	Net      money.Dec   `json:"net"`
	TaxRate  string      `json:"tax_percent"`
	Tax      money.Dec   `json:"tax"`
	Gross    money.Dec   `json:"gross"`
	Cost     money.Dec   `json:"cost"` // of all of it to the shop; not for the customer

	Chance   float64  `json:"chance"`   // of Promise, 0…1
	Earliest string   `json:"earliest"` // day, if all goes as planned
	Promise  string   `json:"promise"`  // day met with at least Chance: the wanted one where that can be, else the earliest that can
	Due      string   `json:"due"`      // the day the customer wants; empty: none
	OnTime   float64  `json:"on_time"`  // chance that it is met; −1: no day
	Others   []string `json:"others"`   // orders that it would make late, or later
	Hours    float64  `json:"machine_hours"`
	Notes    []string `json:"notes"`
}

// QuoteLine is one line's price.
type QuoteLine struct {
	Line      int         `json:"line"`
	Design    string      `json:"design"`
	DesignID  string      `json:"design_id"`
	Placement string      `json:"placement"`
	Garment   string      `json:"garment"`
	Quantity  int         `json:"quantity"`
	Stitches  int         `json:"stitches"`
	Colours   []string    `json:"colours"`       // distinct
	Blocks    []string    `json:"blocks"`        // thread of each colour block
	BlockRGB  []string    `json:"block_colours"` // #rrggbb, empty: not known
	WidthMM   float64     `json:"width_mm"`
	HeightMM  float64     `json:"height_mm"`
	Machine   string      `json:"machine"` // on which it is costed: where the plan puts it
	Heads     int         `json:"heads"`
	Run       float64     `json:"run_seconds"`
	Piece     float64     `json:"machine_seconds_per_piece"` // loading, breaks and waiting in it
	Price     money.Dec   `json:"price"`                     // a piece, without tax
	Sum       money.Dec   `json:"sum"`
	Cost      money.Dec   `json:"cost"` // a piece, to the shop
	Steps     []QuoteStep `json:"steps"`
}

// QuoteStep is the price in another quantity.
type QuoteStep struct {
	Quantity int       `json:"quantity"`
	Price    money.Dec `json:"price"` // a piece, without tax
	Cost     money.Dec `json:"cost"`
	SetupFee money.Dec `json:"set_up_fee"` // zero where set-up is within the price
}

// QuoteFee is asked for once.
type QuoteFee struct {
	Name   string    `json:"name"`
	Amount money.Dec `json:"amount"`
}

// QuoteOptions is how a quote is made.
type QuoteOptions struct {
	Chance     float64 // of the day to promise, 0…1; 0: the workshop's
	Quantities []int   // steps; none: the workshop's
	MachineID  string  // cost it on this machine; empty: where the plan puts it
	Keep       bool    // keep the quote; a requested order then is quoted
	By         string
}

// MakeQuote prices an order by the run time of its designs and what a shift
// really yields, and finds the day the plan can have it done.
func (s *Shop) MakeQuote(ctx context.Context, id string, opt QuoteOptions) (*Quote, error) {
	o, err := s.store.Order(ctx, id)
	if err != nil {
		return nil, err
	}
	if !o.State.Open() || o.State == Sewn {
		return nil, Errorf(Invalid, "order %d is %s; a quote is for what is still to be sewn", o.Number, o.State)
	}
	if opt.Chance == 0 {
		w, _, err := s.Workshop(ctx)
		if err != nil {
			return nil, err
		}
		opt.Chance = w.Chance / 100
	}
	if !(opt.Chance >= .5 && opt.Chance <= .995) {
		return nil, Errorf(Invalid, "the chance is %v %%; give 50 to 99.5", 100*opt.Chance)
	}
	for i, q := range opt.Quantities {
		if q < 1 || i > 0 && q <= opt.Quantities[i-1] {
			return nil, Errorf(Invalid, "the quantity steps must rise, e.g. 1, 12, 48")
		}
	}
	d, err := s.dates(ctx, o, opt.Chance)
	if err != nil {
		return nil, err
	}
	w := d.p.w
	if !w.Priced() {
		return nil, Errorf(Invalid, "the workshop has no [money]: prices need the shop's rates")
	}
	set, err := s.Settings(ctx)
	if err != nil {
		return nil, err
	}
	now := s.now().In(w.Location())
	q := &Quote{
		ID: NewID(), OrderID: o.ID, Number: o.Number, Customer: o.Customer, Made: now.UTC(), By: opt.By, Day: Day(now), Valid: Day(now.AddDate(0, 0, w.Valid)),
		ShopName: set.ShopName, Address: texts(w.Address), Terms: texts(w.Terms), Currency: w.Money.Currency, Margin: w.Money.Margin.String(), TaxRate: w.Money.SalesTax.String(),
		Lines: []QuoteLine{}, Fees: []QuoteFee{}, Chance: opt.Chance, Due: o.Due, OnTime: d.onTime, Earliest: d.earliest, Promise: d.promise,
		Others: texts(d.others), Notes: texts(d.notes), Hours: d.hours,
	}
	if q.ShopName == "" {
		q.ShopName = w.Name
	}
	for i := range o.Lines {
		if err := s.quoteLine(ctx, q, d, &o.Lines[i], &opt); err != nil {
			return nil, err
		}
	}
	for i := range q.Lines {
		l := &q.Lines[i]
		q.Net = q.Net.Add(l.Sum)
	}
	for _, f := range q.Fees {
		q.Net = q.Net.Add(f.Amount)
	}
	q.Gross = w.Money.WithTax(q.Net)
	q.Tax = q.Gross.Sub(q.Net)
	before, err := s.store.Quotes(ctx, o.ID)
	if err != nil {
		return nil, err
	}
	q.Serial = fmt.Sprintf("%d-%d", o.Number, len(before)+1)
	if !opt.Keep {
		return q, nil
	}
	doc, err := json.Marshal(q)
	if err != nil {
		return nil, err
	}
	if err := s.store.AddQuote(ctx, KeptQuote{q.ID, o.ID, q.Made, opt.By, string(doc)}); err != nil {
		return nil, err
	}
	if o.State == Requested {
		o.State = Quoted
	}
	o.Promised = q.Promise
	_, err = s.keep(ctx, o, opt.By, fmt.Sprintf("quote %s, day to promise %s", q.Serial, q.Promise))
	return q, err
}

func texts(l []string) []string { return append([]string{}, l...) }

// Quotes are the kept quotes of an order, newest first.
func (s *Shop) Quotes(ctx context.Context, orderID string) ([]*Quote, error) {
	kept, err := s.store.Quotes(ctx, orderID)
	if err != nil {
		return nil, err
	}
	var out []*Quote
	for _, k := range kept {
		q := &Quote{}
		if err := json.Unmarshal([]byte(k.Doc), q); err != nil {
			return nil, Errorf(Storage, "a kept quote cannot be read any more: %w", err)
		}
		out = append(out, q)
	}
	return out, nil
}

// dates is when an order could be had, and where the plan would sew it.
type dates struct {
	p                 *problem // with the order's lines in it, where they can be made
	earliest, promise string
	onTime            float64
	others            []string
	notes             []string
	on                map[int]int // line → station
	hours             float64
}

// dates puts an order into the kept plan where it is done earliest without
// making others late, and simulates that plan.
func (s *Shop) dates(ctx context.Context, o *Order, chance float64) (*dates, error) {
	kept, err := s.LastPlan(ctx)
	if err != nil {
		return nil, err
	}
	x := *o
	x.Promised = "" // what was told before is not what is asked now
	full, err := s.problem(ctx, &PlanQuestion{Extra: []*Order{&x}, NoBound: true})
	if err != nil {
		return nil, err
	}
	d := &dates{onTime: -1, on: map[int]int{}}
	for _, l := range full.left {
		if l.OrderID == o.ID {
			d.notes = append(d.notes, fmt.Sprintf("line %d is not in the dates: %s", l.Line, l.Why))
		}
	}
	base := *full
	base.jobs = nil
	rest := *full.Problem
	rest.Jobs = nil
	var mine []plan.Job
	var mineOf []jobOf
	for i := range full.Jobs {
		if full.jobs[i].order == &x {
			mine, mineOf = append(mine, full.Jobs[i]), append(mineOf, full.jobs[i])
			continue
		}
		rest.Jobs = append(rest.Jobs, full.Jobs[i])
		base.jobs = append(base.jobs, full.jobs[i])
	}
	base.Problem = &rest
	var sc *plan.Schedule
	switch {
	case len(rest.Jobs) == 0:
		sc = &plan.Schedule{}
	case kept == nil || len(kept.Lots) == 0:
		if sc, err = plan.Solve(ctx, &rest, plan.Options{NoBound: true, LotSeconds: full.w.Split * 3600}); err != nil {
			return nil, planError(err)
		}
	default:
		desk, err := plan.NewDesk(&rest, base.again(kept))
		if err != nil {
			return nil, planError(err)
		}
		sc = desk.Schedule()
	}
	p := base.Problem
	var ends []float64
	before := sc.Ends(p)
	n := len(p.Jobs)
	for i, j := range mine {
		due := j.Due
		j.Due = math.Inf(1)
		offer, err := plan.Earliest(p, sc, j)
		if err != nil {
			return nil, planError(err)
		}
		p, sc = offer.With, offer.Plan
		p.Jobs[len(p.Jobs)-1].Due = due
		base.jobs = append(base.jobs, mineOf[i])
		ends = append(ends, offer.End)
		pieces := 0
		for _, l := range offer.Lots {
			d.hours += (l.Setup + l.Work) / 3600
			if line := mineOf[i].line.Line; l.Quantity > pieces {
				pieces, d.on[line] = l.Quantity, l.Machine
			}
		}
	}
	base.Problem = p
	d.p = &base
	if len(mine) == 0 {
		return d, nil
	}
	after := sc.Ends(p)
	for i := range n {
		if due := p.Jobs[i].Due; after[i] > due+60 && after[i] > before[i]+60 {
			d.others = append(d.others, fmt.Sprintf("%s would be %s late, %s without it", p.Jobs[i].Name, shortTime(after[i]-due), shortTime(max(0, before[i]-due))))
		}
	}
	d.earliest = full.w.DayFor(p.At(slices.Max(ends)))
	promised, err := s.promised(ctx, d.p, sc, chance)
	if err != nil {
		return nil, err
	}
	latest := 0.0
	for _, pr := range promised {
		if pr.Job < n {
			continue
		}
		latest = max(latest, pr.Promise)
		if o.Due != "" && (d.onTime < 0 || pr.OnTime < d.onTime) {
			d.onTime = pr.OnTime
		}
	}
	d.promise = full.w.DayFor(p.At(latest))
	if o.Due > d.promise {
		d.promise = o.Due
	}
	return d, nil
}

func shortTime(s float64) string {
	if s < 36*3600 {
		return fmt.Sprintf("%.1f h", s/3600)
	}
	return fmt.Sprintf("%.1f days", s/86400)
}
