package ask

import (
	"context"
	"fmt"
	"math"
	"reflect"
	"slices"
	"sync"
	"time"

	"needlepace/book"
	"needlepace/plan"
	"needlepace/words"
)

// worthWaiting is by how many seconds an order must end later for another one
// to be told of.
const worthWaiting = 60.0

// PromiseQuestion asks which day can be promised for an order.
type PromiseQuestion struct {
	Now   time.Time // the time of day
	Order string    // its ID
	// Chance that the day is met, 0.5…0.995; 0: the workshop's, or the kept plan's
	// where AsPlanned.
	Chance float64
	// AsPlanned asks for the day that can be promised by the order's place in the
	// kept plan; else it is put where it is done earliest.
	AsPlanned bool
	Machine   string // ID of the machine that is to sew all of it; empty: wherever it is done first
}

func (q *PromiseQuestion) check(w *book.Workshop, kept *book.Plan) error {
	if q.Now.IsZero() {
		return Errorf("the time of day is missing")
	}
	if q.Chance == 0 {
		q.Chance = w.Chance / 100
		if q.AsPlanned && kept != nil {
			q.Chance = kept.Chance
		}
	}
	if !(q.Chance >= .5 && q.Chance <= .995) {
		return Errorf("the chance is %v %%; give 50 to 99.5", 100*q.Chance).At("chance")
	}
	if q.AsPlanned && kept != nil && q.Chance != kept.Chance {
		return Errorf("the plan's days are met with a chance of %v %%, not %v %%; ask for the day apart from the plan",
			100*kept.Chance, 100*q.Chance).At("chance")
	}
	return nil
}

// PromiseAnswer is the day that can be promised, and what it does to others.
type PromiseAnswer struct {
	Number   int             `json:"number" doc:"the order's"`
	Chance   float64         `json:"chance" doc:"of promise, 0 to 1; 0: not known, it hangs on a partner alone"`
	Earliest words.Day       `json:"earliest" doc:"day, if all goes as planned"`
	Promise  words.Day       `json:"promise" doc:"the wanted day if it can be, else the first that can; empty: none"`
	TooLate  words.Day       `json:"too_late" doc:"the first day that can be, where it is after latest and so is not promised; else empty"`
	Latest   words.Day       `json:"latest" doc:"the day after which it is of no use to the customer; empty: none"`
	Due      words.Day       `json:"due" doc:"the day the customer wants; empty: none"`
	OnTime   float64         `json:"on_time" doc:"chance that the wanted day is met; -1: there is none"`
	Hours    float64         `json:"machine_hours"`
	Verdict  words.Sentences `json:"verdict"`
	Caveats  words.Sentences `json:"caveats" doc:"lines that are not in the dates, orders that it would make late, or later"`
	Seen     book.Seen       `json:"seen" doc:"what it was made from, in one word"`

	others, left, partnered words.Sentences
	stale                   words.Message
}

// Promise finds the day that can be promised for an order.
func Promise(ctx context.Context, from PlanFrom, q PromiseQuestion) (*PromiseAnswer, error) {
	state, err := from.State(ctx) // before all else: what changes meanwhile is another state
	if err != nil {
		return nil, err
	}
	seen, err := from.Seen(ctx)
	if err != nil {
		return nil, err
	}
	o, err := from.Order(ctx, q.Order)
	if err != nil {
		return nil, err
	}
	if !q.AsPlanned && (!o.State.Open() || o.State == book.Sewn) {
		return nil, Errorf("order %d is %s; a day is promised for what is still to be sewn", o.Number, o.State)
	}
	seen.Order = o.Version
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := from.LastPlan(ctx)
	if err != nil {
		return nil, err
	}
	if err := q.check(w, kept); err != nil {
		return nil, err
	}
	was := q
	was.Now = q.Now.Truncate(promiseFor)
	a, err := from.Memory().promises.get(ctx, mostPromises, fmt.Sprint(state, was), func() (*PromiseAnswer, error) {
		return promiseFrom(ctx, from, kept, w, o, &was, seen)
	})
	if err != nil {
		return nil, err
	}
	out := *a
	return &out, nil
}

// A shop that keeps no plan has one made for each promise. For a few jobs a fifth of the search that a kept plan gets
// finds the same plan.
const (
	fewJobs    = 12
	movesOfFew = 60_000
)

// promiseFor is how long a promise is remembered where nothing changes.
const promiseFor = time.Minute

func promiseFrom(
	ctx context.Context, from PlanFrom, kept *book.Plan, w *book.Workshop, o *book.Order, q *PromiseQuestion, seen book.Seen,
) (*PromiseAnswer, error) {
	a := &PromiseAnswer{Number: o.Number, Chance: q.Chance, Due: o.Due, OnTime: -1, Seen: seen}
	var err error
	if q.AsPlanned {
		if err = a.asPlanned(kept, w, o); err == nil {
			a.stale, err = stale(ctx, from, q.Now)
		}
	} else {
		err = a.earliest(ctx, from, kept, o, q)
	}
	if err != nil {
		return nil, err
	}
	if a.Latest = o.Latest; !a.Latest.IsZero() && a.Promise.After(a.Latest) {
		a.TooLate, a.Promise = a.Promise, words.Day{}
	}
	a.Verdict = daysSay(w.Zone.Day(q.Now), a)
	a.Caveats = append(words.Sentences{}, slices.Concat(a.others, a.left, a.partnered)...) // JSON wants a list where there are none
	if !a.stale.IsZero() {
		a.Caveats = append(a.Caveats, a.stale)
	}
	return a, nil
}

// asPlanned takes the day from the kept plan.
func (a *PromiseAnswer) asPlanned(kept *book.Plan, w *book.Workshop, o *book.Order) error {
	day, ok := kept.DayOf(o)
	if !ok {
		return Errorf("order %d does not stand in the plan with all its lines; make the plan anew", o.Number)
	}
	a.Promise, a.Seen = day, book.Seen{Order: a.Seen.Order, Plan: a.Seen.Plan}
	end, _ := kept.OrderEnd(o.ID)
	var byPartner words.Day
	for i := range kept.Ends {
		if e := &kept.Ends[i]; e.OrderID == o.ID && e.Partner != "" {
			byPartner = lastDay(byPartner, e.Day)
		}
	}
	if end.DueDay == o.Due { // else its chance is that of the day it was promised
		a.OnTime = end.OnTime
	}
	a.Earliest = w.DayFor(end.End)
	a.wanted(w, o, end.End, byPartner)
	for i := range kept.Lots {
		if l := &kept.Lots[i]; l.OrderID == o.ID {
			a.Hours += (l.Setup + l.Work) / 3600
		}
	}
	return nil
}

// earliest puts an order into the kept plan where it is done earliest without
// making others late, or where it stands there if that is earlier, and simulates that plan. A
// wanted day that is not met so is looked for by moving others that are in time all the same.
func (a *PromiseAnswer) earliest(
	ctx context.Context, from PlanFrom, kept *book.Plan, o *book.Order, q *PromiseQuestion,
) error {
	x := *o
	x.Promised = words.Day{} // what was told before is not what is asked now
	full, err := problemWith(ctx, from, q.Now, &x)
	if err != nil {
		return err
	}
	for _, l := range full.left {
		if l.OrderID == o.ID {
			a.left.Say("promise.left-out",
				words.Args{"line": words.Whole(l.Line), "why": l.Because()})
		}
	}
	base := *full
	base.jobs = make([]jobOf, 0, len(full.jobs))
	rest := *full.Problem
	rest.Jobs = make([]plan.Job, 0, len(full.Jobs))
	var mine []plan.Job
	var mineOf []jobOf
	for i := range full.Jobs {
		if full.jobs[i].order == &x {
			if q.Machine != "" {
				only(&full.Jobs[i], func(m int) bool { return full.stations[m].ID == q.Machine })
				if pin := full.Jobs[i].Pin; pin != nil && !fitsOn(&full.Jobs[i], pin.Machine) {
					full.Jobs[i].Pin = nil // asked as if it were not held on another machine
				}
			}
			mine, mineOf = append(mine, full.Jobs[i]), append(mineOf, full.jobs[i])
			continue
		}
		rest.Jobs = append(rest.Jobs, full.Jobs[i])
		base.jobs = append(base.jobs, full.jobs[i])
	}
	base.Problem = &rest
	var sc *plan.Schedule
	timed := true
	switch {
	case len(rest.Jobs) == 0:
		sc = &plan.Schedule{}
	case kept == nil || len(kept.Lots) == 0:
		search := planAsked{Problem: &rest, NoBound: true}
		if len(rest.Jobs) <= fewJobs {
			search.Moves = movesOfFew
			sc, err = searched.here(ctx, &search, nil)
		} else {
			sc, err = searched.make(ctx, &search, nil)
		}
		if err != nil {
			return wrong(err)
		}
	default:
		timed = false
		sc = base.written(full.on) // each order goes on by itself: without this one the others' lots are the same
	}
	p := base.Problem
	var before []float64
	if timed {
		before = sc.Ends(p)
	}
	n := len(p.Jobs)
	if len(mine) > 0 {
		asked := slices.Clone(mine)
		for i := range asked {
			asked[i].Due = math.Inf(1)
		}
		offer, err := plan.Earliest(p, sc, asked...)
		if err == nil && !timed && offer.Loose > 0 { // the kept plan does not have all that is planned
			var desk *plan.Desk
			if desk, err = plan.NewDesk(p, sc); err == nil {
				offer, err = plan.Earliest(p, desk.Schedule(), asked...)
			}
		}
		if err != nil {
			return wrong(err)
		}
		if !timed {
			before = offer.Before.Ends(p)
		}
		p, sc = offer.With, offer.Plan
		copy(p.Jobs[n:], mine) // with their days
		base.Problem, base.jobs = p, append(base.jobs, mineOf...)
		if q.Machine == "" && !timed {
			as, err := base.asItStands(n)
			if err != nil {
				return wrong(err)
			}
			if as != nil {
				if slices.Max(as.Ends(p)[n:]) < offer.End-worthWaiting {
					sc = as
				}
			}
		}
	}
	byPartner := a.partners(full, &x)
	if len(mine) == 0 {
		a.Earliest, a.Promise, a.Chance = byPartner, byPartner, 0
		a.wanted(full.w, o, time.Time{}, byPartner)
		return nil
	}
	in := inPlan{&base, n, before, o, byPartner}
	if err := a.tell(ctx, &from.Memory().drawn, q.Chance, sc, &in); err != nil {
		return err
	}
	if a.OnTime >= 0 && !plan.Sure(a.OnTime, q.Chance, promiseDraws) && len(sc.Lots) <= mostEased {
		eased, err := in.ease(ctx, sc)
		if eased != nil && err == nil {
			return a.tell(ctx, &from.Memory().drawn, q.Chance, eased, &in)
		}
		return err
	}
	return nil
}

// inPlan is an order's jobs, from first on, in a plan with others.
type inPlan struct {
	*problem
	first     int
	before    []float64 // the others' ends without it
	order     *book.Order
	byPartner words.Day
}

// tell says the order's days as a plan has it.
func (a *PromiseAnswer) tell(ctx context.Context, drawn *plan.Drawn, chance float64, sc *plan.Schedule, in *inPlan) error {
	a.Hours, a.OnTime, a.others = 0, -1, nil
	for _, l := range sc.Lots {
		if l.Job >= in.first {
			a.Hours += (l.Setup + l.Work) / 3600
		}
	}
	after := sc.Ends(in.Problem)
	for i := range in.first {
		if due := in.Jobs[i].Due; in.pushed(after, i) {
			a.others.Say("promise.makes-late", words.Args{
				"order": words.Name(in.Jobs[i].Name), "late": words.Span((after[i] - due) / 3600),
				"without": words.Span(max(0, in.before[i]-due) / 3600),
			})
		}
	}
	end := in.At(slices.Max(after[in.first:]))
	a.Earliest = lastDay(in.w.DayFor(end), in.byPartner)
	courses, err := promised(ctx, in.problem, sc, drawn, chance, in.first)
	if err != nil {
		return err
	}
	latest := 0.0
	for _, pr := range courses {
		latest = max(latest, pr.Promise)
		if !in.order.Due.IsZero() && (a.OnTime < 0 || pr.OnTime < a.OnTime) {
			a.OnTime = pr.OnTime
		}
	}
	a.Promise = lastDay(in.w.DayFor(in.At(latest)), in.byPartner)
	a.wanted(in.w, in.order, end, in.byPartner)
	return nil
}

// pushed reports whether another job is late, and later than without the order.
func (in *inPlan) pushed(after []float64, i int) bool {
	return after[i] >= in.Jobs[i].Due+lateFrom && after[i] > in.before[i]+worthWaiting
}

// Up to mostEased lots a wanted day that is not met where nothing moves is looked for with easeMoves by
// moving others too.
const (
	mostEased = 150
	easeMoves = 20_000
)

// ease moves what is planned for the order's wanted day: nil where that makes another late that is not
// without it, or gains nothing.
func (in *inPlan) ease(ctx context.Context, sc *plan.Schedule) (*plan.Schedule, error) {
	eased, err := plan.Replan(ctx, plan.Plan{Problem: in.Problem, Schedule: sc}, in.Problem, plan.Options{Moves: easeMoves})
	if err != nil {
		return nil, wrong(err)
	}
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	was, after := sc.Ends(in.Problem), eased.Ends(in.Problem)
	if slices.Max(after[in.first:]) >= slices.Max(was[in.first:])-worthWaiting {
		return nil, nil
	}
	for i := range in.first {
		if in.pushed(after, i) {
			return nil, nil
		}
	}
	return eased, nil
}

// asItStands is a plan in which the jobs from first on stand where a kept one has them; nil: it does
// not have all of them.
func (p *problem) asItStands(first int) (*plan.Schedule, error) {
	if sc, err := p.stands.with(p); sc != nil || err != nil {
		return sc, err
	}
	sc := p.written(p.on)
	if !p.whole(sc, first) {
		return nil, nil
	}
	desk, err := plan.NewDesk(p.Problem, sc)
	if err != nil {
		return nil, err
	}
	return desk.Schedule(), nil
}

// whole reports whether a plan has all pieces of the jobs from first on.
func (p *problem) whole(sc *plan.Schedule, first int) bool {
	left := make([]int, len(p.Jobs)-first)
	for i := range left {
		left[i] = p.Jobs[first+i].Quantity
	}
	for _, l := range sc.Lots {
		if l.Job >= first {
			left[l.Job-first] -= l.Quantity
		}
	}
	return !slices.ContainsFunc(left, func(n int) bool { return n != 0 })
}

// goingOn is the kept plan as it goes on with all planned orders, timed once for all who ask.
type goingOn struct {
	all  *problem
	once sync.Once
	plan *plan.Schedule // nil: it does not have all that is planned
	err  error
}

// with is that plan in terms of a problem that has the same jobs in another order, one order's with
// days of its own; nil where there is none such.
func (s *goingOn) with(p *problem) (*plan.Schedule, error) {
	s.once.Do(func() {
		if sc := s.all.written(s.all.on); s.all.whole(sc, 0) {
			var desk *plan.Desk
			if desk, s.err = plan.NewDesk(s.all.Problem, sc); s.err == nil {
				s.plan = desk.Schedule()
			}
		}
	})
	if s.plan == nil || len(p.Jobs) != len(s.all.Jobs) {
		return nil, s.err
	}
	at := make(map[string]int, len(p.Jobs))
	for i := range p.Jobs {
		at[p.Jobs[i].ID] = i
	}
	to := make([]int, len(p.Jobs))
	for i := range to {
		was := s.all.Jobs[i]
		k, ok := at[was.ID]
		if !ok {
			return nil, nil
		}
		to[i] = k
		if s.all.jobs[i].order == p.jobs[k].order {
			continue
		}
		was.Due, was.Weight = p.Jobs[k].Due, p.Jobs[k].Weight
		if !reflect.DeepEqual(was, p.Jobs[k]) {
			return nil, nil
		}
	}
	out := *s.plan
	out.Lots = slices.Clone(out.Lots)
	for i := range out.Lots {
		out.Lots[i].Job = to[out.Lots[i].Job]
	}
	return &out, nil
}

// wanted promises the day that is wanted where that can be, with what partners make
// back on a day; end is when the shop has sewn its part. A day on which nobody
// works can be wanted, but is not promised otherwise.
func (a *PromiseAnswer) wanted(w *book.Workshop, o *book.Order, end time.Time, byPartner words.Day) {
	if o.Due.IsZero() || a.Promise.IsZero() {
		return
	}
	if byPartner.After(o.Due) {
		a.OnTime = 0
	}
	if o.Due.After(a.Promise) || a.OnTime >= 0 && plan.Sure(a.OnTime, a.Chance, promiseDraws) && !byPartner.After(o.Due) {
		a.Promise = o.Due
	}
	if a.Earliest.After(o.Due) && !byPartner.After(o.Due) && !end.After(w.DueTime(o.Due)) {
		a.Earliest = o.Due
	}
}

// lastDay is the later of two days.
func lastDay(a, b words.Day) words.Day {
	if b.After(a) {
		return b
	}
	return a
}

// partners is the day of the last of an order's lines that partners make, at their
// word, which is said; zero: they make none.
func (a *PromiseAnswer) partners(p *problem, o *book.Order) (day words.Day) {
	for i := range p.partners {
		at := &p.partners[i]
		if at.order != o {
			continue
		}
		back := p.w.DayFor(at.ready(p.w))
		day = lastDay(day, back)
		a.partnered.Say("promise.partner", words.Args{"line": words.Whole(at.line.Line), "partner": words.Name(at.line.Partner.Name),
			"from": at.From, "day": back})
	}
	return day
}

// only leaves a job the machines that are wanted; where none of them can make it,
// all.
func only(j *plan.Job, wanted func(m int) bool) {
	fits := slices.DeleteFunc(slices.Clone(j.Fits), func(f plan.Fit) bool { return !wanted(f.Machine) })
	if len(fits) > 0 {
		j.Fits = fits
	}
}

// dayVerdict says which day can be promised, as seen on a day.
func dayVerdict(today, earliest, promise, due words.Day, chance, onTime float64) words.Sentences {
	near := func(d words.Day) words.Value { return words.NearDay{Day: d, Today: today} }
	if promise.IsZero() {
		return words.Sentences{words.Say("promise.no-day")}
	}
	say := words.Say("promise.day", words.Args{"day": near(promise), "chance": words.Level(chance)})
	switch {
	case chance == 0 && promise == due:
		say = words.Say("promise.as-wanted-alone", words.Args{"day": near(promise)})
	case chance == 0:
		say = words.Say("promise.day-alone", words.Args{"day": near(promise)})
	case promise == due:
		say = words.Say("promise.as-wanted", words.Args{"day": near(promise), "chance": words.Level(chance)})
		if onTime > chance {
			say.Args["chance"] = words.Chance(onTime)
		}
	}
	out := words.Sentences{say, words.Say("promise.earliest", words.Args{"day": near(earliest)})}
	if promise != due && onTime >= 0 {
		out.Say("promise.wanted", words.Args{"day": near(due), "chance": words.Chance(onTime)})
	}
	return out
}
