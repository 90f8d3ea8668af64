package ask

import (
	"cmp"
	"context"
	"slices"
	"time"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/plan"
	"needlepace/telling"
	"needlepace/words"
)

// TodayQuestion asks what is on every machine now, what comes next, who needs a
// person when, and what else does.
type TodayQuestion struct {
	Now time.Time
	// Heard is where machines are believed to be that are listened to.
	Heard []HeardAt
}

// HeardAt is where a machine is believed to be by its sound, or by what it tells.
type HeardAt struct {
	Machine, Design string // IDs; a machine that tells may name no design
	Stitch          int    // sewn last, from 1
	At              time.Time
	Told            bool          // the machine tells it
	Cause           telling.Cause // why it stands; empty: it sews, or has ended
	Ended           bool          // the run has
	Ends            []time.Time   // of runs before
}

// Basis is what is known of a machine's place in its work rests on.
type Basis string

// The bases, the surest last.
const (
	ByPlan   Basis = "plan"   // the plan has it there; nobody has said so
	ByReport Basis = "report" // the floor put it on, or recorded pieces of it; counted on from then
	ByEar    Basis = "heard"  // it is listened to
	ByItself Basis = "told"   // the machine tells it
)

// Phase is what a machine is at.
type Phase string

// The phases.
const (
	SettingUp Phase = "set_up"
	Waiting   Phase = "waits" // set up; by the plan it begins later, e.g. when its garments come
	Sewing    Phase = "sewing"
	Loading   Phase = "loading" // between two runs
	Closed    Phase = "closed"  // outside the shop's hours, or down
	Standing  Phase = "stands"  // stopped within a run, as the machine tells
	Overdue   Phase = "overdue" // by the reckoning all is sewn, and nothing is reported
)

// TodayAnswer is the shop at a moment.
type TodayAnswer struct {
	Now      time.Time        `json:"now"`
	Zone     words.Zone       `json:"time_zone"`
	Machines []TodayMachine   `json:"machines" doc:"by name"`
	Needs    []TodayNeed      `json:"needs" doc:"who needs a person, the soonest first"`
	Watch    []TodayAttention `json:"watch" doc:"what else needs a person"`
	Verdict  words.Sentences  `json:"verdict"`
	Caveats  words.Sentences  `json:"caveats"`
}

// TodayMachine is a machine at a moment.
type TodayMachine struct {
	ID   string     `json:"id"`
	Name string     `json:"name"`
	On   *TodayOn   `json:"on" doc:"null: nothing is known to be on it"`
	Next *TodayNext `json:"next" doc:"null: nothing comes after, by the plan"`
	Open time.Time  `json:"opens" doc:"when it may run again; the year 1 where it may now, or nobody knows"`
}

// TodayOn is what is on a machine now.
type TodayOn struct {
	OrderID  string        `json:"order_id"`
	Number   int           `json:"order"`
	Line     int           `json:"line"`
	Name     string        `json:"name" doc:"the order's number, with the line's where it has several"`
	Customer string        `json:"customer"`
	Design   string        `json:"design" doc:"its name"`
	DesignID string        `json:"design_id"`
	Colour   string        `json:"garment_colour,omitempty"`
	Basis    Basis         `json:"by" enum:"plan,report,heard,told" doc:"what it rests on"`
	Phase    Phase         `json:"phase" enum:"set_up,waits,sewing,loading,closed,stands,overdue"`
	Cause    telling.Cause `json:"cause,omitempty" doc:"of stands: thread_break, bobbin, colour, planned, by_hand, fault or unknown"`
	// Piece to PieceTo, of Pieces, are in the machine.
	Piece   int `json:"piece" doc:"the first that is in the machine, from 1, of those of the line that it sews"`
	PieceTo int `json:"piece_to" doc:"the last, with several heads"`
	Pieces  int `json:"pieces"`
	Run     int `json:"run" doc:"from 1"`
	Runs    int `json:"runs"`

	Stitch   int         `json:"stitch" doc:"believed to be sewn of the run"`
	Stitches int         `json:"stitches"`
	At       float64     `json:"at_seconds" doc:"s of the clock into the run"`
	Seconds  float64     `json:"run_seconds" doc:"of the whole run by the clock"`
	Parts    clock.Parts `json:"parts" doc:"of the run"`

	RunEnds time.Time `json:"run_ends"`
	Ends    time.Time `json:"ends" doc:"all its pieces on this machine"`
	Due     time.Time `json:"due" doc:"the year 1: no day"`
	DueDay  words.Day `json:"due_day"`
	Late    float64   `json:"late_seconds" doc:"of the line, as it stands; 0: in time, or no day"`
	// Behind is how much later than by the plan it ends.
	Behind float64    `json:"behind_seconds" doc:"against the plan; below 0: ahead"`
	Stands *TodayNeed `json:"stands" doc:"null: it does not stand within a run, as far as it tells"`
	Change *TodayNeed `json:"next_colour" doc:"in this run, or in the next; null: none"`
	Stop   *TodayNeed `json:"next_stop"`
	Bobbin *TodayNeed `json:"next_bobbin"`
	End    *TodayNeed `json:"end_of_run"`

	unplanned bool // the plan does not have it there
}

// NeedKind is what a machine needs a person for.
type NeedKind string

// The kinds.
const (
	NeedColour NeedKind = "colour"
	NeedStop   NeedKind = "stop"
	NeedBobbin NeedKind = "bobbin"
	NeedEnd    NeedKind = "end"    // of a run: other garments
	NeedLast   NeedKind = "last"   // of the last run: another job
	NeedStands NeedKind = "stands" // the machine tells that it stands within a run
	NeedSetUp  NeedKind = "setup"  // of the next job, on a machine that stands
)

// TodayNeed is a moment at which a machine needs a person, or, ByItself, goes on alone.
type TodayNeed struct {
	Kind      NeedKind      `json:"kind" enum:"colour,stop,bobbin,end,last,stands,setup"`
	At        time.Time     `json:"at"`
	MachineID string        `json:"machine_id"`
	Machine   string        `json:"machine"`
	Name      string        `json:"name" doc:"of the order's line"`
	Thread    string        `json:"thread,omitempty" doc:"of a colour: the one that comes"`
	Block     int           `json:"block,omitempty" doc:"of a colour or a stop: the colour block, from 1"`
	Cause     telling.Cause `json:"cause,omitempty" doc:"of stands: thread_break, bobbin, colour, planned, by_hand, fault or unknown"`
	Since     time.Time     `json:"since,omitzero" doc:"of stands: since when"`
	ByItself  bool          `json:"by_itself" doc:"the machine changes the colour without a person"`
	NextRun   bool          `json:"next_run" doc:"of an end: of the run that begins once the machine is loaded"`
}

// TodayNext is what comes next on a machine, by the plan.
type TodayNext struct {
	OrderID   string    `json:"order_id"`
	Number    int       `json:"order"`
	Line      int       `json:"line"`
	Name      string    `json:"name"`
	Customer  string    `json:"customer"`
	Colour    string    `json:"garment_colour,omitempty"`
	Pieces    int       `json:"pieces"`
	Cones     int       `json:"cones" doc:"thread colours to put on before it"`
	SetUpFrom time.Time `json:"set_up_from"`
	From      time.Time `json:"from"`
	Again     bool      `json:"again" doc:"pieces that were spoilt and are made again"`
}

// WatchKind is why something needs a person.
type WatchKind string

// The kinds.
const (
	WatchNoPlan   WatchKind = "no_plan"
	WatchStale    WatchKind = "plan_stale"
	WatchLate     WatchKind = "late"
	WatchGoods    WatchKind = "goods_late"
	WatchApproval WatchKind = "approval"
	WatchPartner  WatchKind = "partner"
	WatchOverdue  WatchKind = "not_recorded"
	WatchSpoilt   WatchKind = "spoilt"
	WatchTakeOff  WatchKind = "take_off"    // it is on a machine that will be down: elsewhere it would be done sooner
	WatchMachine  WatchKind = "machine_off" // its timed runs take longer or shorter than its sheet says, or than they did
)

// TodayAttention is something that needs a person.
type TodayAttention struct {
	Kind      WatchKind     `json:"kind" enum:"no_plan,plan_stale,late,goods_late,approval,partner,not_recorded,spoilt,take_off,machine_off"`
	Number    int           `json:"order" doc:"0: of no order"`
	Line      int           `json:"line,omitempty" doc:"of take_off"`
	MachineID string        `json:"machine_id,omitempty" doc:"of machine_off and take_off"`
	Colour    string        `json:"garment_colour,omitempty" doc:"of take_off, where the garments of one colour are on the machine"`
	Say       words.Message `json:"say"`
}

// TodayFrom is where the shop at a moment finds what it needs.
type TodayFrom interface {
	PlanFrom
	// Scores are those of machines that were timed after something was predicted, by their IDs.
	Scores(ctx context.Context) (map[string]*ScoreAnswer, error)
	// Drifted are the machines that were found to have changed since their sheets were made, by their IDs.
	Drifted(ctx context.Context) (map[string]Drifted, error)
}

// Drifted is a machine that has changed since its sheet was made.
type Drifted struct {
	Since  words.Day
	Change float64 // of the times of its runs since then, relative; above 0: they are longer
}

// Today says what is on every machine now and what needs a person.
func Today(ctx context.Context, from TodayFrom, q TodayQuestion) (*TodayAnswer, error) {
	if q.Now.IsZero() {
		return nil, Errorf("the time of day is missing")
	}
	w, given, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	t := &today{TodayQuestion: q, from: from, w: w, given: given}
	if t.all, err = stations(ctx, from, w); err != nil {
		return nil, err
	}
	if err := t.read(ctx); err != nil {
		return nil, err
	}
	t.open()
	a := &TodayAnswer{Now: q.Now.UTC(), Zone: w.Zone, Machines: []TodayMachine{}, Needs: []TodayNeed{},
		Watch: []TodayAttention{}, Verdict: words.Sentences{}, Caveats: words.Sentences{}}
	for _, st := range t.all {
		m, err := t.machine(ctx, st)
		if err != nil {
			return nil, err
		}
		a.Machines = append(a.Machines, *m)
	}
	a.needs()
	if err := t.watch(ctx, a); err != nil {
		return nil, err
	}
	scores, err := from.Scores(ctx)
	if err != nil {
		return nil, err
	}
	drifted, err := from.Drifted(ctx)
	if err != nil {
		return nil, err
	}
	a.off(scores, drifted)
	a.say(t)
	return a, nil
}

// today gathers an answer.
type today struct {
	TodayQuestion
	from    PlanFrom
	w       *book.Workshop
	given   bool
	all     []*station
	orders  []*book.Order
	byID    map[string]*book.Order
	reports []book.Report
	plan    *book.Plan // nil: none
	hours   map[string]*openHours
}

// read reads what says what is on a machine: orders, reports and the kept plan.
func (t *today) read(ctx context.Context) (err error) {
	if t.orders, err = t.from.Planned(ctx); err != nil {
		return err
	}
	t.byID = make(map[string]*book.Order, len(t.orders))
	for _, o := range t.orders {
		t.byID[o.ID] = o
	}
	if t.reports, err = t.from.Reports(ctx); err != nil {
		return err
	}
	t.plan, err = t.from.LastPlan(ctx)
	return err
}

// open is when the machines work, as the kept plan has it.
func (t *today) open() {
	machines := make([]plan.Machine, len(t.all))
	for i, st := range t.all {
		machines[i].ID = st.ID
		if t.plan == nil {
			continue
		}
		for k := range t.plan.Machines {
			if m := &t.plan.Machines[k]; m.ID == st.ID {
				machines[i].Attention = m.Asks
			}
		}
	}
	t.hours = hoursOf(t.w, machines, t.Now)
}

// needs lists who needs a person, the soonest first.
func (a *TodayAnswer) needs() {
	for i := range a.Machines {
		m := &a.Machines[i]
		if m.On == nil {
			if m.Next != nil {
				a.Needs = append(a.Needs, TodayNeed{Kind: NeedSetUp, At: later(m.Next.SetUpFrom, a.Now), MachineID: m.ID, Machine: m.Name,
					Name: m.Next.Name})
			}
			continue
		}
		for _, n := range []*TodayNeed{m.On.Stands, m.On.Change, m.On.Stop, m.On.Bobbin, m.On.End} {
			if n != nil && !n.ByItself {
				a.Needs = append(a.Needs, *n)
			}
		}
	}
	slices.SortStableFunc(a.Needs, func(x, y TodayNeed) int {
		return cmp.Or(x.At.Compare(y.At), cmp.Compare(x.Machine, y.Machine))
	})
}
