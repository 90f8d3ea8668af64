package book

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"time"

	"needlepace/plan"
	"needlepace/words"
)

// Plan is which machine sews what and when, as the shop keeps it.
type Plan struct {
	Version  int           `json:"version"` // 0: not kept
	Made     time.Time     `json:"made"`
	By       string        `json:"by"`
	Zone     words.Zone    `json:"time_zone"`
	From     time.Time     `json:"from"`          // planned from here on
	Assumed  bool          `json:"assumed_hours"` // nobody has said when the shop works
	Machines []PlanMachine `json:"machines"`
	Lots     []PlanLot     `json:"lots"` // by machine, then by time
	Ends     []LineEnd     `json:"lines"`
	Left     []LeftOut     `json:"left_out"`
	Notes    []LeftOut     `json:"notes"`
	Jobs     []PlannedJob  `json:"jobs"`
	PlanTotals
	Weights    GoalWeights `json:"goal_weights"` // all 0: a plan of an earlier version
	BoundHours float64     `json:"bound_hours"`  // no plan has fewer weighted late hours than this; −1: not known
	// share of the weighted late hours that might be saved at most; −1: not known
	Gap      float64 `json:"gap"`
	Complete bool    `json:"complete"` // false: the search was stopped early
	Chance   float64 `json:"chance"`   // of the promised days, 0…1
	// Hands is how many operators all machines ask for on the average while all
	// of them run; with fewer on duty all are slower, with more none is faster.
	Hands float64 `json:"operators_asked" doc:"operators that all machines ask for while all run; with fewer on duty all are slower, with more none is faster"`
	// Inputs is what a kept plan was made from; nil: by a version that kept none.
	Inputs []Input `json:"made_from,omitempty" doc:"what it was made from, with what it knew of each"`
}

// PlanTotals is what a plan comes to.
type PlanTotals struct {
	Late       int       `json:"late"`       // lines late
	LateHours  float64   `json:"late_hours"` // hours late, each line's times its order's priority
	Done       time.Time `json:"done"`       // when the last piece is sewn
	SetupHours float64   `json:"set_up_hours"`
	WorkHours  float64   `json:"work_hours"` // machine hours at work
	// The goal and its terms, in hours of the shop's average machine, each times its
	// weight (Plan.Weights).
	GoalLate  float64 `json:"goal_late"`  // lateness
	GoalRisk  float64 `json:"goal_risk"`  // chances to be late
	GoalCost  float64 `json:"goal_cost"`  // machine time at work and in set-up, by what its hours cost
	GoalMoved float64 `json:"goal_moved"` // jobs that were moved
	GoalDone  float64 `json:"goal_done"`  // until all is sewn
}

// GoalHours is the goal: all its terms together.
func (t *PlanTotals) GoalHours() float64 {
	return t.GoalLate + t.GoalRisk + t.GoalCost + t.GoalMoved + t.GoalDone
}

// PlanMachine is a machine in a plan.
type PlanMachine struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Heads int    `json:"heads"`
	Open  []Span `json:"open"` // when it may run, until the plan's end
	// Asks is how many operators it keeps busy while it runs, on the average; 0 too in plans of an earlier version.
	Asks float64 `json:"operators_asked"`
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
	Colour    string    `json:"garment_colour,omitempty"` // of the garments, where their threads differ
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
	Again     bool      `json:"again"` // pieces that were spoilt and are made again
	Late      bool      `json:"late"`  // its line is
}

// Before are the pieces of a lot's line (of its garment colour) that are sewn
// sooner, in other lots of the plan.
func (p *Plan) Before(lot *PlanLot) (pieces int) {
	mine := false
	for i := range p.Lots {
		x := &p.Lots[i]
		switch {
		case x == lot:
			mine = true
		case x.OrderID != lot.OrderID || x.Line != lot.Line || x.Colour != lot.Colour:
		case x.From.Before(lot.From) || x.From.Equal(lot.From) && !mine:
			pieces += x.Quantity
		}
	}
	return pieces
}

// Rest is the plan with what the floor has reported since off its lots; of one that is all sewn none is left.
func (p *Plan) Rest(reports []Report) *Plan {
	out := *p
	out.Lots = slices.Clone(p.Lots)
	for i, sewn := range p.Sewn(reports) {
		out.Lots[i].Quantity -= sewn
	}
	return &out
}

// Sewn is how many pieces of each lot the floor has reported since the plan was
// made, in the order of Lots: good ones, on the lot's machine and its colour of garment (or
// where the report names none), the earlier lots of a line first; at most what the lot has.
func (p *Plan) Sewn(reports []Report) []int {
	type on struct {
		order   string
		line    int
		machine string
	}
	good := map[on]map[string]int{} // by colour
	for i, n := range p.GoodSince(reports) {
		r := &reports[i]
		at := on{r.OrderID, r.Line, r.MachineID}
		if good[at] == nil {
			good[at] = map[string]int{}
		}
		good[at][r.Colour] += n
	}
	out := make([]int, len(p.Lots))
	for i := range p.Lots { // by machine, then by time
		l := &p.Lots[i]
		of := good[on{l.OrderID, l.Line, l.MachineID}]
		from := []string{l.Colour, ""}
		if l.Colour == "" { // of any: their threads are the same
			from = slices.Sorted(maps.Keys(of))
		}
		for _, colour := range from {
			n := min(of[colour], l.Quantity-out[i])
			if n > 0 {
				out[i] += n
				of[colour] -= n
			}
		}
	}
	return out
}

// GoodSince is by how many good pieces each of the reports changes what the plan knew: all of one that came since,
// less than none of one that was taken back since. What corrects a report counts from the moment of the correction, though
// its pieces were there before.
func (p *Plan) GoodSince(reports []Report) []int {
	out, known := make([]int, len(reports)), map[string]time.Time{}
	for i := range reports {
		if back := reports[i].TakenBack; back != nil {
			known[reports[i].ID] = back.At
		}
	}
	for i := range reports {
		r := &reports[i]
		from := r.Added
		if at, ok := known[r.Corrects]; ok && r.Corrects != "" {
			from = at
		}
		if r.TakenBack == nil {
			out[i] = r.Good
		}
		if !from.After(p.Made) && (r.TakenBack == nil || r.TakenBack.At.After(p.Made)) {
			out[i] -= r.Good
		}
	}
	return out
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
	DueDay   words.Day `json:"due_day"`
	End      time.Time `json:"end"`
	Late     float64   `json:"late_seconds"`
	Latest   words.Day `json:"latest"`   // the day after which it is of no use; zero: none
	TooLate  bool      `json:"too_late"` // it is done after that day, as planned
	// DoneDay is the day on which the customer has it, if all goes as planned; of what leaves
	// in one delivery, all of that. Zero in plans of an earlier version.
	DoneDay words.Day `json:"done_day,omitzero"`
	// Day is the day that can be promised with the plan's chance, OnTime the
	// chance that the due day is met (−1: no due day, or not simulated).
	Day    words.Day `json:"promise"`
	OnTime float64   `json:"on_time"`
	// Whole is that of all the order's lines in the plan together; nil: there is no other, or
	// an older plan.
	Whole *WholeEnd `json:"whole,omitempty"`
	// Partner makes it: End is his word, with no chance reckoned. Empty: the shop does
	Partner string `json:"partner,omitempty"`
}

// WholeEnd is when the last line of an order is done.
type WholeEnd struct {
	Day    words.Day `json:"promise"` // with the plan's chance
	OnTime float64   `json:"on_time"` // chance that all are in time; −1: no due day
}

// whole is the day and the chance of what the line belongs to.
func (e *LineEnd) whole() (words.Day, float64) {
	if e.Whole != nil {
		return e.Whole.Day, e.Whole.OnTime
	}
	return e.Day, e.OnTime
}

// LeftOut is a line that is in no plan, and why.
type LeftOut struct {
	OrderID  string `json:"order"`
	Number   int    `json:"number"`
	Line     int    `json:"line"`
	Customer string `json:"customer"`
	Why      string `json:"why"`
	// Say is Why as a sentence, which stays so where the plan is kept; none in plans of an earlier version.
	Say words.Kept `json:"say,omitzero" doc:"why as a sentence, with the kinds of its arguments"`
}

// Because is why, as it is said to people: in English alone in plans of an earlier version.
func (l *LeftOut) Because() words.Value {
	if l.Say.IsZero() {
		return words.Name(l.Why)
	}
	return l.Say.Message
}

// PlannedJob is what a kept plan remembers of a job, so that the next plan can
// say what changed.
type PlannedJob struct {
	ID       string    `json:"id"`
	Name     string    `json:"name"`
	Quantity int       `json:"quantity"`
	Due      float64   `json:"due"` // s after the plan's From; NoDue: none
	Weight   float64   `json:"weight"`
	Release  float64   `json:"release"`
	Approval bool      `json:"approval,omitempty"` // what Release waits for is the customer's approval
	Design   string    `json:"design"`
	Pin      *plan.Pin `json:"pin,omitempty"`
}

// NoDue is PlannedJob.Due of a job that is due on no day: JSON has no infinity.
const NoDue = -1e18

// AsPlan is a kept plan as package plan takes it: what was on which machine,
// in which order, and what was known of the jobs.
func (p *Plan) AsPlan() plan.Plan {
	pr, sc := &plan.Problem{Origin: p.From},
		&plan.Schedule{Totals: plan.Totals{Late: p.Late, Lateness: p.LateHours * 3600}}
	machines, jobs := map[string]int{}, map[string]int{}
	for _, m := range p.Machines {
		machines[m.ID] = len(pr.Machines)
		x := plan.Machine{ID: m.ID, Name: m.Name}
		for _, o := range m.Open {
			x.Windows = append(x.Windows, plan.Window{From: pr.Second(o.From), To: pr.Second(o.To), Rate: 1})
		}
		pr.Machines = append(pr.Machines, x)
	}
	for _, k := range p.Jobs {
		j := plan.Job{ID: k.ID, Name: k.Name, Quantity: k.Quantity, Due: k.Due, Weight: k.Weight, Release: k.Release, Approval: k.Approval,
			Design: k.Design, Pin: k.Pin}
		if k.Due == NoDue {
			j.Due = math.Inf(1)
		}
		jobs[k.ID] = len(pr.Jobs)
		pr.Jobs = append(pr.Jobs, j)
	}
	for i := range p.Lots {
		l := &p.Lots[i]
		j, ok := jobs[l.Job]
		m, there := machines[l.MachineID]
		if ok && there {
			sc.Lots = append(sc.Lots, plan.Lot{Job: j, Machine: m, Quantity: l.Quantity,
				SetupFrom: pr.Second(l.SetupFrom), From: pr.Second(l.From), To: pr.Second(l.To), Setup: l.Setup,
				Runs: l.Runs, Work: l.Work})
		}
	}
	return plan.Plan{Problem: pr, Schedule: sc}
}

// Beyond is until when the hours of the first machine are laid out that has lots after them (Workshop.Horizon): for the
// planner it goes on at their average, day and night, from then on. The zero time: none has.
func (p *Plan) Beyond() (until time.Time) {
	last := map[string]time.Time{}
	for i := range p.Lots {
		if l := &p.Lots[i]; l.To.After(last[l.MachineID]) {
			last[l.MachineID] = l.To
		}
	}
	for i := range p.Machines {
		m := &p.Machines[i]
		if n := len(m.Open); n > 0 && last[m.ID].After(m.Open[n-1].To) && (until.IsZero() || m.Open[n-1].To.Before(until)) {
			until = m.Open[n-1].To
		}
	}
	return until
}

// TooLate are the lines that are done after the latest day of their orders.
func (p *Plan) TooLate() (out []LineEnd) {
	for _, e := range p.Ends {
		if e.TooLate {
			out = append(out, e)
		}
	}
	return out
}

// Risk is how likely what is planned is to miss its day.
type Risk string

// The risks.
const (
	NoRisk Risk = ""     // in time by the plan, with the chance that the plan wants
	AtRisk Risk = "some" // in time by the plan, but with a smaller chance
	IsLate Risk = "late" // late by the plan
)

// chanceShown is half of what chances are shown to: 89.6 % reads as 90 %.
const chanceShown = .005

// Risk says how an end stands to its day.
func (p *Plan) Risk(e *LineEnd) Risk {
	switch {
	case e.Late > 0:
		return IsLate
	case e.OnTime >= 0 && e.OnTime < p.Chance-chanceShown:
		return AtRisk
	}
	return NoRisk
}

// OrderEnd is when a whole order is done: its last line's end, the most that one
// of them is late, the chance that all are in time. ok is false where none of it is planned.
func (p *Plan) OrderEnd(orderID string) (all LineEnd, ok bool) {
	for _, e := range p.Ends {
		switch {
		case e.OrderID != orderID:
			continue
		case !ok:
			all, ok = e, true
			all.Day, all.OnTime = e.whole()
			continue
		}
		day, onTime := e.whole()
		if e.End.After(all.End) {
			all.End = e.End
		}
		if onTime >= 0 && (all.OnTime < 0 || onTime < all.OnTime) {
			all.OnTime = onTime
		}
		if day.After(all.Day) {
			all.Day = day
		}
		all.Late, all.Quantity = max(all.Late, e.Late), all.Quantity+e.Quantity
	}
	return all, ok
}

// Watch are the lines that are late by a plan or at risk, the least likely to be
// in time first.
func (p *Plan) Watch() []LineEnd {
	var out []LineEnd
	for _, e := range p.Ends {
		if p.Risk(&e) != NoRisk {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b LineEnd) int { return cmp.Compare(a.OnTime, b.OnTime) })
	return out
}

// DayOf is the day that can be promised for an order: that of its lines together.
// ok is false where lines with pieces left are not in the plan.
func (p *Plan) DayOf(o *Order) (day words.Day, ok bool) {
	if p == nil {
		return words.Day{}, false
	}
	for i := range o.Lines {
		l := &o.Lines[i]
		k := slices.IndexFunc(p.Ends, func(e LineEnd) bool { return e.OrderID == o.ID && e.Line == l.Line })
		if k < 0 && l.Left() > 0 {
			return words.Day{}, false
		}
		if k >= 0 {
			if d, _ := p.Ends[k].whole(); d.After(day) {
				day = d
			}
		}
	}
	return day, !day.IsZero()
}
