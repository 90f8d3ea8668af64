package ask

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/plan"
	"needlepace/words"
)

// HindsightFrom is where the book that is replayed is found.
type HindsightFrom interface {
	PlanFrom
	// Done are the orders that are sewn or delivered.
	Done(ctx context.Context) ([]*book.Order, error)
}

// HindsightQuestion asks how the real book would have gone with another fleet.
// Where no change is asked for, one operator more, one fewer and another machine
// like the busiest are tried.
type HindsightQuestion struct {
	Now    time.Time // the time of day
	Months int       // finished orders that came in the last months, 1 to 24; 0: DefaultMonths
	Seed   uint64    // of the search; 0: 1
	// What is tried: each alone, and all together. Machines are named by name or ID.
	Add       string         // a machine more: one like this machine of the shop, or of this built-in class
	Sheet     *machine.Sheet // of the machine more, instead
	Like      string         // machine whose fields, frames, speed setting and prices it has, where Add is none of the shop
	Price     float64        // what the machine more costs; 0: as the one that it is like
	Without   string         // a machine that is not there
	HeadsOf   string         // a machine with another head count
	Heads     int            // its heads
	Operators float64        // more (or, below 0, fewer) operators in every shift
	Shift     string         // a shift more: "sat 08:00-12:00 2", days, hours, operators
	NoShift   string         // the time of day at which the shift begins that is left out, e.g. 12:00

	add   *offer
	shift *book.ShiftHours

	Progress func(done float64) // if not nil, called with the share that is done
}

// DefaultMonths is how many months of finished orders are replayed where nobody
// says another number.
const DefaultMonths = 3

// offer is a machine that might be had.
type offer struct {
	name  string
	sheet *machine.Sheet // nil: that of like
	// like is the ID of the shop's machine whose fields, frames, speed setting and
	// prices it has; empty: it is set up as a machine that nothing is said of, with a
	// cap frame, and has no price but its own.
	like  string
	price money.Dec // 0: as like
}

// HindsightAnswer is how the book would have gone. Its JSON is a written
// contract: later versions add keys and never change one.
type HindsightAnswer struct {
	From     words.Day       `json:"from" doc:"the first day that is replayed"`
	Until    words.Day       `json:"until" doc:"the last day: costs are counted up to it for every fleet alike"`
	Finished int             `json:"finished" doc:"orders in it that are sewn or delivered"`
	Open     int             `json:"open" doc:"orders in it that are agreed or being sewn"`
	Pieces   int             `json:"pieces"`
	Draws    int             `json:"draws" doc:"simulated courses behind chances and ranges"`
	Chance   float64         `json:"chance" doc:"with which a date must be met to be promised, 0 to 1"`
	Currency string          `json:"currency" doc:"empty: the workshop has no prices"`
	Fleets   []FleetRow      `json:"fleets" doc:"the first is the fleet as it is"`
	Verdict  words.Sentences `json:"verdict"`
	Caveats  words.Sentences `json:"caveats"`

	offered string // a machine more of which only what was said is known
}

// FleetRow is a fleet on the book.
type FleetRow struct {
	What       words.Message `json:"what"`
	Late       int           `json:"late_orders" doc:"if all goes as planned"`
	LateHours  float64       `json:"late_hours" doc:"of all orders, by the calendar"`
	LateMean   float64       `json:"late_mean" doc:"late orders, mean of the draws"`
	LateLow    float64       `json:"late_low" doc:"5 % of the draws have fewer late orders"`
	LateHigh   float64       `json:"late_high" doc:"5 % of the draws have more"`
	Fewer      float64       `json:"fewer" doc:"chance of fewer late orders than as it is"`
	Alike      float64       `json:"alike" doc:"chance of as many"`
	Overtime   float64       `json:"overtime_hours" doc:"machine hours beyond the shop's without which dates are not met"`
	Busy       float64       `json:"machine_hours" doc:"sewing and set-ups"`
	Refused    int           `json:"refused_orders" doc:"their date could not have been promised when they came"`
	RefusedPcs int           `json:"refused_pieces"`
	Left       int           `json:"left_out" doc:"lines that no machine can make"`
	Cost       money.Dec     `json:"cost" doc:"machines, operators and power, from the first day to the last"`
	More       money.Dec     `json:"more" doc:"cost above that of the fleet as it is"`
	Unused     bool          `json:"unused" doc:"the plan is better off leaving what was added unused"`

	staffed *course
}

// change is one thing that is tried.
type change struct {
	what words.Message
	to   func(r *replayed, q *PlanQuestion)
	only bool // it adds, and takes nothing away: what was added may stand still
}

// hindsight is a replay at work.
type hindsight struct {
	q      *HindsightQuestion
	from   HindsightFrom
	orders []*book.Order
	start  time.Time
	days   int // from the first day to now
	a      *HindsightAnswer
	done   float64
	of     float64
}

// course is how the book goes with a fleet.
type course struct {
	p       *problem
	sc      *plan.Schedule
	from    *replayed
	fleet   []Machine       // with what was added
	crew    []plan.Presence // its operators
	late    int
	hours   float64
	drawn   *plan.Drawn
	draws   []int // late orders in each draw
	refused []*book.Order
	unused  bool
	staffed *course // with operators enough, where those are what a machine that is unused lacks
}

// Hindsight replays the finished orders of the last months and the open ones,
// each from the day it came, with the fleet as it is and with others. It plans
// with the goal of Plan, draws as promises are drawn, and asks of each order as it
// comes, as Promise does, whether its day could have been promised.
func Hindsight(ctx context.Context, from HindsightFrom, q HindsightQuestion) (*HindsightAnswer, error) {
	if a, ok, err := hindsightElsewhere(ctx, &q); ok || err != nil {
		return a, err
	}
	if err := q.check(ctx, from); err != nil {
		return nil, err
	}
	h := &hindsight{q: &q, from: from, a: &HindsightAnswer{Draws: promiseDraws, Fleets: []FleetRow{},
		Verdict: words.Sentences{}, Caveats: words.Sentences{}}}
	if q.add != nil && q.add.like == "" {
		h.a.offered = q.add.name
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	if h.a.Chance = w.Chance / 100; w.Priced() {
		h.a.Currency = w.Money.Currency
	}
	if err := h.book(ctx, w); err != nil {
		return nil, err
	}
	if len(h.orders) == 0 {
		h.a.say(nil)
		return h.a, nil
	}
	h.of = 3
	base, err := h.run(ctx, nil, nil)
	if err != nil {
		return nil, err
	}
	changes, err := h.changes(ctx, w, base)
	if err != nil {
		return nil, err
	}
	courses, names := []*course{base}, []words.Message{words.Say("fleet.as-is")}
	h.of *= float64(1 + len(changes))
	for _, all := range changes {
		c, err := h.run(ctx, all, base)
		if err != nil {
			return nil, err
		}
		what := words.Say("fleet.together")
		if len(all) == 1 {
			what = all[0].what
		}
		courses, names = append(courses, c), append(names, what)
	}
	return h.a, h.write(w, courses, names)
}

func (q *HindsightQuestion) check(ctx context.Context, from HindsightFrom) error {
	if q.Now.IsZero() {
		return Errorf("the time of day is missing")
	}
	if q.Months == 0 {
		q.Months = DefaultMonths
	}
	if q.Months < 1 || q.Months > 24 {
		return refusing(words.Say("refused.fleet-months", words.Args{"n": words.Whole(q.Months)})).At("months")
	}
	if q.Seed == 0 {
		q.Seed = 1
	}
	machines, err := from.Machines(ctx)
	if err != nil {
		return err
	}
	if q.add, err = q.offer(machines); err != nil {
		return err
	}
	if q.Without != "" {
		m, err := machineNamed(machines, "without", q.Without)
		if err != nil {
			return err
		}
		if q.Without = m.ID; len(machines) == 1 {
			return refusing(words.Say("refused.fleet-only")).At("without")
		}
	}
	if q.HeadsOf != "" {
		m, err := machineNamed(machines, "heads_of", q.HeadsOf)
		if err != nil {
			return err
		}
		if q.Heads < 1 || q.Heads > mostHeads {
			return refusing(words.Say("refused.fleet-heads", words.Args{"machine": words.Name(m.Name), "n": words.Whole(q.Heads),
				"most": words.Whole(mostHeads)})).At("heads")
		}
		if q.HeadsOf = m.ID; q.HeadsOf == q.Without {
			return refusing(words.Say("refused.fleet-both", words.Args{"machine": words.Name(m.Name)})).At("without")
		}
	} else if q.Heads != 0 {
		return refusing(words.Say("refused.fleet-heads-of", words.Args{"n": words.Whole(q.Heads)})).At("heads_of")
	}
	if q.shift, err = shiftOf(q.Shift); err != nil {
		return err
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return err
	}
	if q.NoShift != "" && (len(w.Shift) < 2 || !slices.ContainsFunc(w.Shift, q.left)) {
		return refusing(words.Say("refused.fleet-no-shift", words.Args{"from": words.Name(q.NoShift)})).At("no_shift")
	}
	var more []book.ShiftHours
	if q.shift != nil {
		more = []book.ShiftHours{*q.shift}
	}
	return wrong(w.Suppose(nil, more, q.Operators))
}

// offer is the machine more.
func (q *HindsightQuestion) offer(machines []Machine) (*offer, error) {
	if q.Add == "" && q.Sheet == nil {
		if q.Like != "" || q.Price != 0 {
			return nil, refusing(words.Say("refused.fleet-which")).At("add")
		}
		return nil, nil
	}
	if !(q.Price >= 0 && q.Price <= mostPrice) {
		return nil, refusing(words.Say("refused.fleet-price", words.Args{"price": words.Figure(q.Price), "most": words.Figure(mostPrice)})).At("price")
	}
	o := &offer{sheet: q.Sheet, price: money.Measured(q.Price)}
	if o.sheet == nil {
		if m, err := machineNamed(machines, "add", q.Add); err == nil {
			o.like, o.name = m.ID, m.Name
			return o, nil
		}
		class, ok := machine.Class(q.Add)
		if !ok {
			return nil, Missing("%q is no machine of the shop, no sheet and no built-in class; classes lists those", q.Add).
				At("add")
		}
		o.sheet = class
	}
	o.name = o.sheet.Name
	if q.Like != "" {
		m, err := machineNamed(machines, "like", q.Like)
		if err != nil {
			return nil, err
		}
		o.like = m.ID
	}
	return o, nil
}

// mostPrice bounds what a machine may cost.
const mostPrice = 1e9

// shiftOf reads a shift: "mon,sat 08:00-12:00 2"; the days (every day) and the
// operators (1) may be left out. nil of nothing.
func shiftOf(text string) (*book.ShiftHours, error) {
	parts := strings.Fields(text)
	if len(parts) == 0 {
		return nil, nil
	}
	k := slices.IndexFunc(parts, func(p string) bool { return strings.Contains(p, ":") })
	wrong := refusing(words.Say("refused.fleet-shift", words.Args{"shift": words.Name(text)})).At("shift")
	if k < 0 || k > 1 || len(parts) > k+2 {
		return nil, wrong
	}
	s := &book.ShiftHours{Operators: 1}
	var ok bool
	if s.From, s.To, ok = strings.Cut(parts[k], "-"); !ok {
		return nil, wrong
	}
	if k == 1 {
		s.Days = strings.Split(parts[0], ",")
	}
	if len(parts) == k+2 {
		n, err := strconv.ParseFloat(parts[k+1], 64)
		if err != nil || !(n > 0) {
			return nil, wrong
		}
		s.Operators = n
	}
	return s, nil
}

// CheckHindsight says what is wrong with a question before it is worked on.
func CheckHindsight(ctx context.Context, from HindsightFrom, q HindsightQuestion) error {
	return q.check(ctx, from)
}

// mostHeads bounds what is tried.
const mostHeads = 64

// left reports whether a shift is the one that is left out.
func (q *HindsightQuestion) left(s book.ShiftHours) bool { return s.From == q.NoShift }

// book gathers the orders, as they were when they came.
func (h *hindsight) book(ctx context.Context, w *book.Workshop) error {
	done, err := h.from.Done(ctx)
	if err != nil {
		return err
	}
	open, err := h.from.Planned(ctx)
	if err != nil {
		return err
	}
	since := h.q.Now.In(w.Location()).AddDate(0, -h.q.Months, 0)
	start := h.q.Now
	for _, o := range done {
		if !o.Made.Before(since) {
			h.a.Finished++
			h.orders = append(h.orders, o)
		}
	}
	h.a.Open = len(open)
	h.orders = append(h.orders, open...)
	for i, o := range h.orders {
		if o.Made.Before(start) {
			start = o.Made
		}
		h.orders[i] = asItCame(w, o)
		h.a.Pieces += o.Pieces()
	}
	if start.Before(since) {
		start = since
	}
	slices.SortStableFunc(h.orders, func(a, b *book.Order) int { return a.Made.Compare(b.Made) })
	h.a.From = w.Zone.Day(start)
	h.start = w.Zone.At(h.a.From, 0)
	h.days = int(h.q.Now.Sub(h.start)/(24*time.Hour)) + 1
	return nil
}

// asItCame is an order with nothing sewn, whose garments come not before it does,
// wanted on the day that the customer asked for.
func asItCame(w *book.Workshop, o *book.Order) *book.Order {
	x := *o
	x.State, x.Promised = book.Agreed, words.Day{}
	if x.Due.IsZero() {
		x.Due = o.Promised
	}
	came := w.Zone.Day(o.Made)
	if came.After(x.Goods) {
		x.Goods = came
	}
	x.Lines = slices.Clone(o.Lines)
	for i := range x.Lines {
		l := &x.Lines[i]
		l.Good, l.Spoilt, l.Again, l.Delivered, l.Holds = 0, 0, 0, 0, nil
		l.Deliveries = slices.Clone(l.Deliveries)
		for k := range l.Deliveries {
			d := &l.Deliveries[k]
			if !d.Came.IsZero() {
				d.Day, d.Came = d.Came, words.Day{}
			}
			if came.After(d.Day) {
				d.Day = came
			}
		}
	}
	return &x
}

// changes are what is tried, each alone and then all together.
func (h *hindsight) changes(ctx context.Context, w *book.Workshop, base *course) ([][]change, error) {
	q := h.q
	machines, err := h.from.Machines(ctx)
	if err != nil {
		return nil, err
	}
	nameOf := func(id string) words.Value {
		k := slices.IndexFunc(machines, func(m Machine) bool { return m.ID == id })
		return words.Name(machines[k].Name)
	}
	var all []change
	operators := func(n float64) change {
		what := words.Say("fleet.operators-more", words.Args{"n": words.Mean(n, "operator")})
		if n < 0 {
			what = words.Say("fleet.operators-fewer", words.Args{"n": words.Mean(-n, "operator")})
		}
		return change{what: what, only: n > 0,
			to: func(_ *replayed, p *PlanQuestion) { p.Operators = n }}
	}
	add := func(o *offer) change {
		what := words.Say("fleet.add", words.Args{"machine": words.Name(o.name)})
		if o.sheet == nil {
			what = words.Say("fleet.another", words.Args{"machine": words.Name(o.name)})
		}
		return change{what: what, only: true, to: func(r *replayed, _ *PlanQuestion) { r.add = o }}
	}
	if q.add == nil && q.Without == "" && q.HeadsOf == "" && q.Operators == 0 && q.shift == nil && q.NoShift == "" {
		out := [][]change{{operators(1)}}
		try := *w
		if err := try.Suppose(nil, nil, -1); err == nil {
			out = append(out, []change{operators(-1)})
		}
		busy := base.p.stations[base.busiest()]
		return append(out, []change{add(&offer{like: busy.ID, name: busy.Name})}), nil
	}
	if q.add != nil {
		all = append(all, add(q.add))
	}
	if q.Without != "" {
		all = append(all, change{what: words.Say("fleet.without", words.Args{"machine": nameOf(q.Without)}),
			to: func(r *replayed, _ *PlanQuestion) { r.without = q.Without }})
	}
	if q.HeadsOf != "" {
		all = append(all, change{what: words.Say("fleet.heads", words.Args{"machine": nameOf(q.HeadsOf),
			"heads": words.Count(q.Heads, "head")}),
			to: func(r *replayed, _ *PlanQuestion) { r.headsOf, r.heads = q.HeadsOf, q.Heads }})
	}
	if q.Operators != 0 {
		all = append(all, operators(q.Operators))
	}
	if s := q.shift; s != nil {
		all = append(all, change{what: words.Say("fleet.shift", words.Args{"from": words.Name(s.From),
			"to": words.Name(s.To)}), only: true,
			to: func(_ *replayed, p *PlanQuestion) { p.Hours = []book.ShiftHours{*s} }})
	}
	if q.NoShift != "" {
		all = append(all, change{what: words.Say("fleet.no-shift", words.Args{"from": words.Name(q.NoShift)}),
			to: func(r *replayed, _ *PlanQuestion) { r.noShift = q.left }})
	}
	var out [][]change
	for i := range all {
		out = append(out, all[i:i+1])
	}
	if len(all) > 1 {
		out = append(out, all)
	}
	return out, nil
}
