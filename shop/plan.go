package shop

import (
	"context"
	"encoding/json"
	"math"
	"time"

	"needlepace/book"
	"needlepace/plan"
)

// Plan is which machine sews what and when, as the shop keeps it.
type Plan struct {
	Version  int           `json:"version"` // 0: not kept
	Made     time.Time     `json:"made"`
	By       string        `json:"by"`
	Zone     string        `json:"time_zone"`
	From     time.Time     `json:"from"`          // planned from here on
	Assumed  bool          `json:"assumed_hours"` // nobody has said when the shop works
	Machines []PlanMachine `json:"machines"`
	Lots     []PlanLot     `json:"lots"` // by machine, then by time
	Ends     []LineEnd     `json:"lines"`
	Left     []LeftOut     `json:"left_out"`
	Notes    []LeftOut     `json:"notes"`
	Jobs     []keptJob     `json:"jobs"`
	PlanTotals
	BoundHours float64 `json:"bound_hours"` // no plan has fewer weighted late hours than this; −1: not known
	Gap        float64 `json:"gap"`         // share of the weighted late hours that might be saved at most; −1: not known
	Complete   bool    `json:"complete"`    // false: the search was stopped early
	Chance     float64 `json:"chance"`      // of the promised days, 0…1
	// Hands is how many operators all machines ask for on the average while all
	// of them run; with fewer on duty all are slower, with more none is faster.
	Hands float64 `json:"operators_asked" doc:"operators that all machines ask for while all run; with fewer on duty all are slower, with more none is faster"`
}

// PlanTotals is what a plan comes to.
type PlanTotals struct {
	Late       int       `json:"late"`       // lines late
	LateHours  float64   `json:"late_hours"` // hours late, each line's times its order's priority
	Done       time.Time `json:"done"`       // when the last piece is sewn
	SetupHours float64   `json:"set_up_hours"`
	WorkHours  float64   `json:"work_hours"` // machine hours at work
}

// PlanMachine is a machine in a plan.
type PlanMachine struct {
	ID    string     `json:"id"`
	Name  string     `json:"name"`
	Heads int        `json:"heads"`
	Open  []PlanSpan `json:"open"` // when it may run, until the plan's end
}

// PlanLot is the part of a line that one machine makes in one go.
type PlanLot struct {
	Job       string    `json:"job"` // the line's or the held part's name in the plan
	OrderID   string    `json:"order"`
	Number    int       `json:"number"`
	Line      int       `json:"line"`
	Name      string    `json:"name"` // "1003", or "1003/2" where the order has several lines
	Customer  string    `json:"customer"`
	DesignID  string    `json:"design"`
	MachineID string    `json:"machine"`
	Machine   string    `json:"machine_name"`
	Heads     int       `json:"heads"` // used
	Quantity  int       `json:"quantity"`
	Runs      int       `json:"runs"`
	SetupFrom time.Time `json:"set_up_from"`
	From      time.Time `json:"from"`
	To        time.Time `json:"to"`
	Setup     float64   `json:"set_up_seconds"`
	Work      float64   `json:"work_seconds"` // of the machine
	Cones     int       `json:"cones"`        // thread colours to put on before it
	Running   bool      `json:"running"`
	Held      bool      `json:"held"`
	Late      bool      `json:"late"` // its line is
}

// LineEnd is when a line is done.
type LineEnd struct {
	OrderID  string    `json:"order"`
	Number   int       `json:"number"`
	Line     int       `json:"line"`
	Name     string    `json:"name"`
	Customer string    `json:"customer"`
	Quantity int       `json:"quantity"` // still to make
	Due      time.Time `json:"due"`      // zero: none
	DueDay   string    `json:"due_day"`
	End      time.Time `json:"end"`
	Late     float64   `json:"late_seconds"`
	// Day is the day that can be promised with the plan's chance, OnTime the
	// chance that the due day is met (−1: no due day, or not simulated).
	Day    string  `json:"promise"`
	OnTime float64 `json:"on_time"`
}

// PlanAnswer is a plan against the one before.
type PlanAnswer struct {
	Plan   *Plan   `json:"plan"`
	Before *Plan   `json:"before"` // nil: there was none
	Moved  []Moved `json:"moved"`
	full   plan.Plan
}

// LastPlan is the kept plan; nil where none was made yet.
func (s *Shop) LastPlan(ctx context.Context) (*Plan, error) {
	k, err := s.store.LastPlan(ctx)
	if err != nil || k == nil {
		return nil, err
	}
	return readPlan(k)
}

func readPlan(k *KeptPlan) (*Plan, error) {
	p := &Plan{}
	if err := json.Unmarshal([]byte(k.Doc), p); err != nil {
		return nil, Errorf(Storage, "the kept plan cannot be read any more: %w; make it anew", err)
	}
	p.Version, p.Made, p.By = k.Version, k.Made, k.By
	return p, nil
}

// MakePlan plans all open orders, keeps the plan, and says what moved against
// the one before and why.
func (s *Shop) MakePlan(ctx context.Context, q PlanQuestion, by string) (*PlanAnswer, error) {
	if q.asked() {
		return nil, Errorf(Invalid, "a plan of what might be is not kept; ask TryPlan")
	}
	a, err := s.answer(ctx, &q)
	if err != nil {
		return nil, err
	}
	a.Plan.Version = 1
	if a.Before != nil {
		a.Plan.Version = a.Before.Version + 1
	}
	a.Plan.By = by
	doc, err := json.Marshal(a.Plan)
	if err != nil {
		return nil, err
	}
	return a, s.store.AddPlan(ctx, KeptPlan{a.Plan.Version, a.Plan.Made, by, string(doc)})
}

// TryPlan is MakePlan for how things might be; nothing is kept. Before is the
// plan without the question, made in the same way.
func (s *Shop) TryPlan(ctx context.Context, q PlanQuestion) (*PlanAnswer, error) {
	plain := PlanQuestion{At: q.At, Seed: q.Seed, Moves: q.Moves, Freeze: q.Freeze, NoBound: true}
	before, err := s.answer(ctx, &plain)
	if err != nil {
		return nil, err
	}
	p, err := s.problem(ctx, &q)
	if err != nil {
		return nil, err
	}
	s.freeze(p, before.Plan, q.Freeze)
	after, err := s.solve(ctx, p, before.Plan, &q)
	if err != nil {
		return nil, err
	}
	a := &PlanAnswer{Plan: s.write(p, after, &q), Before: before.Plan}
	if err := s.promise(ctx, p, after, a.Plan); err != nil {
		return nil, err
	}
	a.Moved = moves(before.full, plan.Plan{Problem: p.Problem, Schedule: after})
	return a, nil
}

// answer plans a question against the kept plan.
func (s *Shop) answer(ctx context.Context, q *PlanQuestion) (*PlanAnswer, error) {
	before, err := s.LastPlan(ctx)
	if err != nil {
		return nil, err
	}
	p, err := s.problem(ctx, q)
	if err != nil {
		return nil, err
	}
	if before != nil {
		s.freeze(p, before, q.Freeze)
	}
	sched, err := s.solve(ctx, p, before, q)
	if err != nil {
		return nil, err
	}
	a := &PlanAnswer{Plan: s.write(p, sched, q), Before: before, Moved: []Moved{}, full: plan.Plan{Problem: p.Problem, Schedule: sched}}
	if err := s.promise(ctx, p, sched, a.Plan); err != nil {
		return nil, err
	}
	if before != nil {
		a.Moved = moves(before.asPlan(), a.full)
	}
	return a, nil
}

// solve finds the plan: from the one before where there is one and the
// question is not Fresh.
func (s *Shop) solve(ctx context.Context, p *problem, before *Plan, q *PlanQuestion) (*plan.Schedule, error) {
	if len(p.Jobs) == 0 {
		return &plan.Schedule{Complete: true}, nil
	}
	o := plan.Options{Seed: q.Seed, Moves: q.Moves, LotSeconds: p.w.Split * 3600, Progress: q.Progress, NoBound: q.NoBound}
	if before == nil || len(before.Lots) == 0 || q.Fresh {
		sched, err := plan.Solve(ctx, p.Problem, o)
		return sched, planError(err)
	}
	sched, err := plan.Replan(ctx, before.asPlan(), p.Problem, o)
	if err != nil || q.NoBound {
		return sched, planError(err)
	}
	o.Moves, o.NoBound = 1, false // for the bound alone
	b, err := plan.Solve(ctx, p.Problem, o)
	if err != nil {
		return nil, planError(err)
	}
	sched.Bound = b.Bound
	return sched, nil
}

func planError(err error) error {
	if err == nil {
		return nil
	}
	return Errorf(Invalid, "%w", err)
}

// freeze holds what the plan before begins soon where it is.
func (s *Shop) freeze(p *problem, before *Plan, within time.Duration) {
	if within <= 0 {
		return
	}
	until := p.Origin.Add(within)
	lots := map[string][]*PlanLot{}
	for i := range before.Lots {
		l := &before.Lots[i]
		lots[l.Job] = append(lots[l.Job], l)
	}
	for i := range p.Jobs {
		j := &p.Jobs[i]
		old := lots[j.ID]
		if j.Pin != nil || len(old) != 1 || !old[0].SetupFrom.Before(until) {
			continue
		}
		for m := range p.Machines {
			if p.Machines[m].ID == old[0].MachineID && fitsOn(j, m) {
				j.Pin = &plan.Pin{Machine: m, Start: max(0, p.Second(old[0].From))}
			}
		}
	}
}

func fitsOn(j *plan.Job, m int) bool {
	for _, f := range j.Fits {
		if f.Machine == m {
			return true
		}
	}
	return false
}

// write puts a schedule into the shop's words.
func (s *Shop) write(p *problem, sc *plan.Schedule, q *PlanQuestion) *Plan {
	out := &Plan{
		Made: s.now().UTC(), Zone: p.w.Zone, From: p.Origin.UTC(), Assumed: !p.given,
		Machines: []PlanMachine{}, Lots: []PlanLot{}, Ends: []LineEnd{}, Left: []LeftOut{}, Notes: []LeftOut{}, Jobs: keepJobs(p.Problem),
		PlanTotals: p.totals(sc), BoundHours: -1, Gap: -1, Complete: sc.Complete, Chance: p.w.Chance / 100,
	}
	out.Left = append(out.Left, p.left...)
	if !q.NoBound {
		out.BoundHours, out.Gap = math.Min(sc.Bound, sc.Lateness)/3600, sc.Gap()
	}
	// Whole seconds: the plan's own reckoning ends a lot some microseconds
	// after the next one's beginning, which no calendar should show.
	utc := func(sec float64) time.Time { return p.At(math.Round(sec - 1e-3)).UTC() }
	ends := sc.Ends(p.Problem)
	for m, st := range p.stations {
		pm := PlanMachine{ID: st.ID, Name: st.Name, Heads: st.heads, Open: []PlanSpan{}}
		for _, win := range p.Machines[m].Windows {
			if win.From <= sc.MakeSpan {
				pm.Open = append(pm.Open, PlanSpan{From: utc(win.From), To: utc(win.To)})
			}
		}
		out.Machines = append(out.Machines, pm)
		out.Hands += p.Machines[m].Attention
	}
	for i := range sc.Lots {
		l := &sc.Lots[i]
		of, st := p.jobs[l.Job], p.stations[l.Machine]
		out.Lots = append(out.Lots, PlanLot{
			Job: p.Jobs[l.Job].ID, OrderID: of.order.ID, Number: of.order.Number, Line: of.line.Line, Name: book.LineName(of.order, of.line.Line), Customer: of.order.Customer,
			DesignID: of.line.DesignID, MachineID: st.ID, Machine: st.Name, Heads: min(st.heads, l.Quantity), Quantity: l.Quantity, Runs: l.Runs,
			SetupFrom: utc(l.SetupFrom), From: utc(l.From), To: utc(l.To), Setup: l.Setup, Work: l.Work, Cones: l.Cones,
			Running: l.Running, Held: of.hold != nil, Late: ends[l.Job] > p.Jobs[l.Job].Due+1,
		})
	}
	// A line's end is that of its last part.
	at := map[string]int{}
	for i := range p.Jobs {
		if math.IsNaN(ends[i]) {
			continue
		}
		of := p.jobs[i]
		id := jobID(of.order, of.line)
		k, ok := at[id]
		if !ok {
			k = len(out.Ends)
			at[id] = k
			e := LineEnd{OrderID: of.order.ID, Number: of.order.Number, Line: of.line.Line, Name: book.LineName(of.order, of.line.Line), Customer: of.order.Customer, DueDay: of.order.Wanted(), OnTime: -1}
			if !math.IsInf(p.Jobs[i].Due, 1) {
				e.Due = utc(p.Jobs[i].Due)
			}
			out.Ends = append(out.Ends, e)
		}
		e := &out.Ends[k]
		e.Quantity += p.Jobs[i].Quantity
		if t := utc(ends[i]); t.After(e.End) {
			e.End = t
			if !e.Due.IsZero() {
				e.Late = max(0, t.Sub(e.Due).Seconds())
			}
		}
	}
	for i := range out.Ends {
		out.Ends[i].Day = p.w.DayFor(out.Ends[i].End)
	}
	for _, u := range sc.Unplaced {
		of := p.jobs[u.Job]
		out.Left = append(out.Left, LeftOut{of.order.ID, of.order.Number, of.line.Line, of.order.Customer, u.Why})
	}
	for _, n := range sc.Notes {
		of := p.jobs[n.Job]
		out.Notes = append(out.Notes, LeftOut{of.order.ID, of.order.Number, of.line.Line, of.order.Customer, n.Text})
	}
	return out
}

func (p *problem) totals(sc *plan.Schedule) PlanTotals {
	return PlanTotals{Late: sc.Late, LateHours: sc.Lateness / 3600, Done: p.At(sc.MakeSpan).UTC(), SetupHours: sc.Setup / 3600, WorkHours: sc.Work / 3600}
}
