package floor

import (
	"fmt"
	"math"
	"slices"
)

// Shop is a shift made ready to simulate. Machines, operators and jobs are
// referred to by their index, from 0.
type Shop struct {
	Name       string
	Seconds    float64 // length of the shift, pauses included
	Pauses     []Pause
	RunThrough bool // do machines sew on, unattended, through pauses of all operators?
	Machines   []Machine
	Operators  []Operator
	Jobs       []Job // in the order they run
	Rule       Rule
	Walk       Walk
	Notice     float64 // s until an operator who was free sees that a machine stands
	Ready      bool    // machines stand loaded, set up, with hooped sets beside them, when the shift begins
}

// Pause is a stretch of the shift without operators.
type Pause struct {
	At, For   float64 // s from the start of the shift
	Operators []int   // whose pause it is; nil: everyone's
}

// Rule is the order in which operators answer the machines that call. A
// machine that stands always goes before hooping ahead.
type Rule string

// The rules of attention.
const (
	FirstCalled Rule = "first-called" // who called first is served first
	Shortest    Rule = "shortest"     // the shortest expected work first
	MostHeads   Rule = "most-heads"   // the machine with the most heads standing first
)

// Walk is how an operator gets from one place to the next.
type Walk struct {
	Seconds float64 // between any two different places, where these have no coordinates
	Speed   float64 // m/s, between places with coordinates; 0: Seconds everywhere
}

// Place is a position on the floor in metres.
type Place struct{ X, Y float64 }

// Machine is one machine on the floor.
type Machine struct {
	Name   string
	Heads  int
	Place  *Place  // nil: unknown
	Breaks float64 // thread breaks per head per 1,000 stitches; one head stops all
	Repair Spread  // of one thread break
	Resew  int     // stitches sewn again after a break, the operator standing by
	Bobbin Bobbin
	Load   Spread // unload and load, each head
	// Loaders is how many operators may load the machine at once, a head each;
	// 0: 1. Only those who are free come to help.
	Loaders int
	Hoop    Spread // hooping, each piece
	// HoopOn: the pieces are hooped on the machine while it stands. Otherwise
	// they are hooped beside it, ahead, into HoopSets sets of one hoop a head.
	HoopOn         bool
	HoopSets       int
	Setup          Spread  // a changeover to another job besides cones: load the design, fit the frames
	Cone           Spread  // one cone on one head, at a changeover
	Reject         float64 // chance that a piece is spoilt, whatever happened
	RejectPerBreak float64 // chance that a thread break spoils the piece under its head
}

// mostSpoilt is the most of a machine's pieces that are taken to be spoilt.
const mostSpoilt = .5

// Spoilt is the expected share of pieces of so many stitches that are spoilt,
// 0 to 0.5.
func (m *Machine) Spoilt(stitches int) float64 {
	return min(m.Reject+m.RejectPerBreak*m.Breaks/1000*float64(stitches), mostSpoilt)
}

// Bobbin says when and how bobbins are changed.
type Bobbin struct {
	Metres float64 // on a full one; 0: bobbins are not modelled
	CV     float64 // of Metres: fills vary
	Change Spread  // each bobbin
	Rule   BobbinRule
}

// BobbinRule is when bobbins are changed.
type BobbinRule string

// The bobbin rules.
const (
	AtRunOut BobbinRule = "run-out" // a head at a time, when its bobbin is empty
	AllHeads BobbinRule = "all"     // all heads when the first is empty
	Before   BobbinRule = "before"  // at loading, each head whose bobbin would not last the piece
)

// Duty is what an operator does.
type Duty string

// The duties of an operator.
const (
	AllDuties    Duty = "all"
	MachinesOnly Duty = "machines" // everything at a machine, no hooping ahead
	HoopingOnly  Duty = "hooping"
)

// Operator is one person on the floor.
type Operator struct {
	Name     string
	Machines []int // whom they look after; nil: all
	Duty     Duty  // empty: all duties
}

// Job is a number of pieces of one design.
type Job struct {
	Name     string
	Quantity int      // pieces; 0: as many as the shift yields
	Machines []int    // which may sew it; nil: all
	Threads  []string // top threads it needs on the machine, for changeovers; empty: none are changed
	Runs     []Run    // one for each machine of the shop; those that may not sew it are not looked at
}

// Run is one run of a job on one machine: a piece on each head.
type Run struct {
	// Seconds is the run time, the operator's own work at stops left out. More
	// than one value are draws of an uncertain run time, the sheet's constants
	// not being known exactly; replication r takes draw r mod len.
	Seconds      []float64
	Planned      float64  // s, the planned run time that effectiveness is measured against
	Stitches     int      // each head
	BobbinMetres float64  // m, each head
	Stops        []AtStop // where an operator must act, in order
}

// AtStop is a point of a run where the machine waits for an operator.
type AtStop struct {
	Fraction float64 // of the run's seconds, 0…1
	Work     Spread  // the operator's work there
}

// Limits of a shop: beyond them is a slip.
const (
	MaxMachines  = 500
	MaxOperators = 500
	MaxJobs      = 5000
	MaxHeads     = 120
	MaxQuantity  = 10_000_000
	MaxShift     = 31 * 86400 // s
)

func span(key string, v, lo, hi float64, unit string) error {
	if !(v >= lo && v <= hi) {
		return keyErr(key, "is %g%s; give %g to %g", v, unit, lo, hi)
	}
	return nil
}

func firstOf(errs ...error) error {
	for _, e := range errs {
		if e != nil {
			return e
		}
	}
	return nil
}

// Validate reports the first thing wrong with the shop, as a *KeyError.
func (s *Shop) Validate() error {
	if err := firstOf(
		span("shift.hours", s.Seconds/3600, 1e-3, MaxShift/3600, " h"),
		span("shift.walk_seconds", s.Walk.Seconds, 0, 3600, " s"),
		span("shift.walk_speed", s.Walk.Speed, 0, 10, " m/s"),
		span("shift.notice_seconds", s.Notice, 0, 3600, " s"),
	); err != nil {
		return err
	}
	switch s.Rule {
	case "", FirstCalled, Shortest, MostHeads:
	default:
		return keyErr("shift.rule", "is %q; give %q, %q or %q", s.Rule, FirstCalled, Shortest, MostHeads)
	}
	for _, n := range []struct {
		key      string
		what     string
		have, of int
	}{{"machine", "machines", len(s.Machines), MaxMachines}, {"operator", "operators", len(s.Operators), MaxOperators},
		{"job", "jobs", len(s.Jobs), MaxJobs}} {
		if n.have == 0 {
			return keyErr(n.key, "is missing: a shop needs at least one of its [[%s]] tables", n.key)
		}
		if n.have > n.of {
			return keyErr(n.key, "is given %d times; at most %d %s", n.have, n.of, n.what)
		}
	}
	for i, p := range s.Pauses {
		key := fmt.Sprintf("pause[%d]", i+1)
		if err := firstOf(
			span(key+".after_hours", p.At/3600, 0, s.Seconds/3600, " h after the start of the shift"),
			span(key+".minutes", p.For/60, 0, (s.Seconds-p.At)/60, " min"),
			s.members(key+".operators", p.Operators, len(s.Operators)),
		); err != nil {
			return err
		}
	}
	for i := range s.Machines {
		if err := s.Machines[i].check(fmt.Sprintf("machine[%d]", i+1)); err != nil {
			return err
		}
	}
	for i, o := range s.Operators {
		key := fmt.Sprintf("operator[%d]", i+1)
		switch o.Duty {
		case "", AllDuties, MachinesOnly, HoopingOnly:
		default:
			return keyErr(key+".duty", "is %q; give %q, %q or %q", o.Duty, AllDuties, MachinesOnly, HoopingOnly)
		}
		if err := s.members(key+".machines", o.Machines, len(s.Machines)); err != nil {
			return err
		}
	}
	if err := s.covered(); err != nil {
		return err
	}
	for i := range s.Jobs {
		if err := s.checkJob(i); err != nil {
			return err
		}
	}
	return nil
}

func (s *Shop) members(key string, list []int, n int) error {
	for _, m := range list {
		if m < 0 || m >= n {
			return keyErr(key, "names number %d of %d", m+1, n)
		}
	}
	return nil
}

// covered: every machine has somebody for its calls and for its hooping.
func (s *Shop) covered() error {
	for m := range s.Machines {
		calls, hoops := false, s.Machines[m].HoopOn
		for _, o := range s.Operators {
			if !o.serves(m) {
				continue
			}
			calls = calls || o.Duty != HoopingOnly
			hoops = hoops || o.Duty != MachinesOnly
		}
		if !calls || !hoops {
			what := "looks after"
			if calls {
				what = "hoops for"
			}
			return keyErr("operator", "tables leave a machine alone: nobody %s %q", what, s.Machines[m].Name)
		}
	}
	return nil
}

func (o *Operator) serves(m int) bool {
	if o.Machines == nil {
		return true
	}
	return slices.Contains(o.Machines, m)
}

func (m *Machine) check(key string) error {
	if m.Heads < 1 || m.Heads > MaxHeads {
		return keyErr(key+".heads", "is %d; give 1 to %d", m.Heads, MaxHeads)
	}
	if err := firstOf(
		span(key+".breaks_per_1000", m.Breaks, 0, 100, " a head"),
		m.Repair.check(key+".repair"),
		m.Load.check(key+".load"),
		m.Hoop.check(key+".hooping"),
		m.Setup.check(key+".setup"),
		m.Cone.check(key+".cone"),
		m.Bobbin.Change.check(key+".bobbin_change"),
		span(key+".bobbin_cv", m.Bobbin.CV, 0, .3, ""),
		span(key+".reject", m.Reject, 0, .999, ""),
		span(key+".reject_per_break", m.RejectPerBreak, 0, 1, ""),
	); err != nil {
		return err
	}
	if b := m.Bobbin.Metres; !(b == 0 || b >= 1 && b <= 100_000) {
		return keyErr(key+".bobbin_metres", "is %g m; give 1 to 100000, or 0 to leave bobbins out", b)
	}
	if m.Loaders < 0 || m.Loaders > MaxOperators {
		return keyErr(key+".loaders", "is %d; give 1 to %d operators who may load it at once", m.Loaders, MaxOperators)
	}
	if m.Resew < 0 || m.Resew > 10_000 {
		return keyErr(key+".resew_stitches", "is %d; give 0 to 10000", m.Resew)
	}
	if !m.HoopOn && (m.HoopSets < 1 || m.HoopSets > 100) {
		return keyErr(key+".hoop_sets", "is %d; give 1 to 100, or hooping_on_machine = true", m.HoopSets)
	}
	switch m.Bobbin.Rule {
	case "", AtRunOut, AllHeads, Before:
		return nil
	}
	return keyErr(key+".bobbin_rule", "is %q; give %q, %q or %q", m.Bobbin.Rule, AtRunOut, AllHeads, Before)
}

func (s *Shop) checkJob(i int) error {
	j := &s.Jobs[i]
	key := fmt.Sprintf("job[%d]", i+1)
	if j.Quantity < 0 || j.Quantity > MaxQuantity {
		return keyErr(key+".quantity", "is %d; give 1 to %d, or leave it out for as many as the shift yields",
			j.Quantity, MaxQuantity)
	}
	if err := s.members(key+".machines", j.Machines, len(s.Machines)); err != nil {
		return err
	}
	if len(j.Runs) != len(s.Machines) {
		return keyErr(key, "has %d runs for %d machines", len(j.Runs), len(s.Machines))
	}
	for m := range j.Runs {
		if !j.on(m) {
			continue
		}
		r := &j.Runs[m]
		if len(r.Seconds) == 0 {
			return keyErr(key+".design", "has no run time on machine %q", s.Machines[m].Name)
		}
		for _, sec := range r.Seconds {
			if !(sec >= 1) || math.IsInf(sec, 0) {
				return keyErr(key+".design", "has a run time of %.3g s on machine %q: a run takes a second at least",
					sec, s.Machines[m].Name)
			}
		}
		if r.Stitches < 0 || !(r.BobbinMetres >= 0) || math.IsInf(r.BobbinMetres, 0) || !(r.Planned >= 0) ||
			math.IsInf(r.Planned, 0) {
			return keyErr(key+".design", "has a negative or endless quantity on machine %q", s.Machines[m].Name)
		}
		last := 0.0
		for _, a := range r.Stops {
			if !(a.Fraction >= last && a.Fraction <= 1) {
				return keyErr(key+".design", "has operator stops out of order on machine %q", s.Machines[m].Name)
			}
			last = a.Fraction
			if err := a.Work.check(key + ".stop"); err != nil {
				return err
			}
		}
	}
	return nil
}

// on reports whether machine m may sew the job.
func (j *Job) on(m int) bool {
	if j.Machines == nil {
		return true
	}
	return slices.Contains(j.Machines, m)
}
