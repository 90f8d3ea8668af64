package plan

import (
	"math"
	"time"
)

// Problem is everything a plan is made from. Times are seconds after Origin.
type Problem struct {
	Origin   time.Time // wall time of second 0: the moment from which is planned
	Machines []Machine
	Jobs     []Job
	Crew     []Presence // operators on duty; empty: enough operators at any time
	Weights  Weights    // the goal; the zero value is DefaultWeights
	// LotSeconds: a job that takes longer on its best machine may be shared by
	// several machines. 0 is 8 hours; negative: none is shared.
	LotSeconds float64
	// Changeover, where it is given, replaces the cone and hoop model of
	// set-ups by known seconds between jobs.
	Changeover *Changeover
}

// Machine is one embroidery machine of the shop.
type Machine struct {
	ID        string
	Name      string
	Windows   []Window // when it is staffed and may run, ascending; empty: always
	Free      float64  // s: busy with something outside the plan until then
	Loaded    []string // thread cones on the needles at second 0
	Hoop      string   // hoop or cap frame mounted at second 0
	Setup     SetupTimes
	Attention float64 // operators it keeps busy while it runs, e.g. 0.33; used with Problem.Crew only
	// Rate is what a second at work or in set-up costs, in the shop's money.
	Rate float64
	// Spread and Scatter say how far ends may be off: after e working seconds the
	// standard deviation of what is done is √((Spread·e)² + Scatter²·e). Spread is
	// relative, what is not known of the machine's pace; Scatter, in √s, what
	// happens by chance from lot to lot. Both 0: certain.
	Spread, Scatter float64
}

// SetupTimes are what a change of job costs on a machine, in seconds.
type SetupTimes struct {
	Job  float64 // each change to another design: load it, trace it, first piece
	Cone float64 // each thread colour to be put on, on all heads together
	Hoop float64 // change of hoop or cap frame, on all heads together
}

// Job is a quantity of one design for one customer's order.
type Job struct {
	ID       string
	Name     string
	Quantity int     // pieces still to make
	Due      float64 // s; +Inf or NaN: no due date
	Release  float64 // s: it can be sewn from then on, its goods are there (the set-up may be made before)
	Approval bool    // what Release waits for is the customer's approval and not the goods
	// cost of one second of lateness relative to other jobs: 1 for an ordinary order, 0 where lateness does not matter
	Weight  float64
	Fits    []Fit  // the machines that can make it; others cannot
	Design  string // jobs of one design follow each other without a job change
	Cones   []string
	Hoop    string
	MaxLots int  // most machines that may share it; 0: the plan decides, 1: never split
	Pin     *Pin // nil: free
}

// Fit says that a machine can make a job and what a run takes there.
type Fit struct {
	Machine int     // index into Problem.Machines
	Run     float64 // s: one machine run with loading and the floor's losses
	Pieces  int     // pieces one run yields: the heads used
	Idle    float64 // s that each idle head of the last run saves; at most Run/Pieces
}

// Pin holds a job on a machine: the hand's decision, or what already runs.
type Pin struct {
	Machine int
	// Running: the job is on the machine now and stays at the head of its
	// queue without a set-up. Start is not used.
	Running bool
	// Done, of a Running one, are the machine seconds of its work that are done of pieces
	// which nobody has counted yet; what is left of it is never below 0.
	Done float64 `json:",omitempty"`
	// Start in s: neither earlier nor, if it can be helped, later. Negative:
	// any time.
	Start float64
}

// same reports whether two pins are one decision, however much is done.
func (p *Pin) same(q *Pin) bool {
	if p == nil || q == nil {
		return p == q
	}
	a, b := *p, *q
	a.Done, b.Done = 0, 0
	return a == b
}

// Window is a stretch of time in which a machine runs, at Rate (0 to 1]
// working seconds a second. Rate 0 is taken as 1.
type Window struct{ From, To, Rate float64 }

// Presence is a stretch of time with a number of operators on duty.
type Presence struct{ From, To, Operators float64 }

// Weights is the goal: the sum of these times their quantities is made small.
type Weights struct {
	Lateness float64 // per second late and unit of job weight
	MakeSpan float64 // per second until the last lot is done
	Setup    float64 // per second of set-up
	Work     float64 // per second of machine time at work
	Money    float64 // per unit of money that machine time at work and in set-up costs (Machine.Rate)
	Risk     float64 // per unit of job weight that is surely late; a chance counts by its part
	Move     float64 // per lot that is moved from where the plan before had it (see moved)
}

// DefaultWeights puts weighted lateness first: one second late of a job of
// weight 1 outweighs a thousand seconds of make-span or set-up, and ten
// thousand of machine time; a job is moved for ten minutes of it.
var DefaultWeights = Weights{Lateness: 1, MakeSpan: 1e-3, Setup: 1e-3, Work: 1e-4, Move: 600}

// Changeover gives set-ups as known seconds, job by job.
type Changeover struct {
	// Between[m][i][j] is the set-up in s from job i to job j on machine m; a
	// single matrix serves all machines.
	Between [][][]float64
	// First[m][j] is the set-up in s of job j as the machine's first; nil: 0.
	// A single row serves all machines.
	First [][]float64
}

func (c *Changeover) between(m int) [][]float64 {
	if len(c.Between) == 1 {
		return c.Between[0]
	}
	return c.Between[m]
}

func (c *Changeover) first(m, j int) float64 {
	switch len(c.First) {
	case 0:
		return 0
	case 1:
		return c.First[0][j]
	}
	return c.First[m][j]
}

func (j *Job) due() float64 {
	if math.IsNaN(j.Due) {
		return math.Inf(1)
	}
	return j.Due
}

// fit is the job's entry for machine m, nil where it does not fit there or is
// pinned elsewhere.
func (j *Job) fit(m int) *Fit {
	if j.Pin != nil && j.Pin.Machine != m {
		return nil
	}
	// As a rule they stand in the machines' order: then machine m is none behind place m, and hardly before it.
	n := len(j.Fits)
	for i := range n {
		if f := &j.Fits[(min(m, n-1)-i+n)%n]; f.Machine == m {
			return f
		}
	}
	return nil
}

// Runs is how many machine runs a quantity takes, the last one perhaps with
// idle heads.
func (f *Fit) Runs(quantity int) int {
	if f.Pieces < 1 {
		return quantity
	}
	return (quantity + f.Pieces - 1) / f.Pieces
}

// work is the seconds that a quantity of the job still holds a machine: of what is on it now,
// what is left.
func (j *Job) work(f *Fit, quantity int) float64 {
	work := f.Work(quantity)
	if j.Pin != nil && j.Pin.Running {
		work = max(0, work-j.Pin.Done)
	}
	return work
}

// Work is the seconds that a quantity holds the machine, set-ups apart.
func (f *Fit) Work(quantity int) float64 {
	return f.work(f.Runs(quantity), quantity)
}

// work is that in so many runs.
func (f *Fit) work(runs, quantity int) float64 {
	return f.Run*float64(runs) - f.Idle*float64(runs*max(f.Pieces, 1)-quantity)
}

func (w Weights) orDefault() Weights {
	if w == (Weights{}) {
		return DefaultWeights
	}
	return w
}

// At is the wall time of a second of the plan.
func (p *Problem) At(s float64) time.Time {
	return p.Origin.Add(time.Duration(math.Round(s * float64(time.Second))))
}

// Second is the plan's second of a wall time.
func (p *Problem) Second(t time.Time) float64 { return t.Sub(p.Origin).Seconds() }
