package shop

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"needlepace/book"
	"needlepace/plan"
)

// KeptPlan is a plan as a store keeps it.
type KeptPlan struct {
	Version int
	Made    time.Time
	By      string
	Doc     string // JSON of a Plan
}

// problem is a plan's problem with what its indices mean.
type problem struct {
	*plan.Problem
	w        *Workshop
	given    bool // the workshop was given, not assumed
	stations []*station
	jobs     []jobOf
	left     []LeftOut
	orders   []*Order
}

// jobOf says which line (or part of it, where it is held) a job is.
type jobOf struct {
	order *Order
	line  *OrderLine
	on    []*lineOn // by station; nil where not looked at
	hold  *Hold     // nil: free
}

// LeftOut is a line that is in no plan, and why.
type LeftOut struct {
	OrderID  string `json:"order"`
	Number   int    `json:"number"`
	Line     int    `json:"line"`
	Customer string `json:"customer"`
	Why      string `json:"why"`
}

// PlanQuestion is what a plan is made for: as things are, or as they might be.
type PlanQuestion struct {
	At    time.Time // plan from here on; zero: now
	Seed  uint64
	Moves int64 // effort; 0: by the number of lines
	// Freeze: what the kept plan begins within this time stays where it is.
	Freeze time.Duration
	// Fresh makes the plan from nothing; else what is planned moves only where
	// that is worth it.
	Fresh bool
	// NoBound leaves the bound out: a plan is made sooner.
	NoBound bool
	// Progress, if not nil, is called from time to time.
	Progress func(plan.Progress)

	// What if:
	Extra     []*Order     // orders taken in as if they were agreed
	Down      []DownTime   // more down times
	Operators float64      // more (or, below 0, fewer) operators in every shift
	Hours     []ShiftHours // more shifts
}

// asked reports whether the question is a what-if.
func (q *PlanQuestion) asked() bool {
	return len(q.Extra) > 0 || len(q.Down) > 0 || q.Operators != 0 || len(q.Hours) > 0
}

// build gathers the open orders, machines and calendars into a problem.
func (s *Shop) problem(ctx context.Context, q *PlanQuestion) (*problem, error) {
	w, given, err := s.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	if err := w.Suppose(q.Down, q.Hours, q.Operators); err != nil {
		return nil, invalid(err)
	}
	p := &problem{w: w, given: given}
	if p.stations, err = s.stations(ctx, w); err != nil {
		return nil, err
	}
	if len(p.stations) == 0 {
		return nil, Errorf(Invalid, "the shop has no machine yet; add one first")
	}
	if p.orders, _, err = s.store.Orders(ctx, OrderQuery{States: []OrderState{Agreed, Sewing}, Limit: mostOrders}); err != nil {
		return nil, err
	}
	for _, x := range q.Extra {
		p.orders = slices.DeleteFunc(p.orders, func(o *Order) bool { return o.ID == x.ID })
		p.orders = append(p.orders, x)
	}
	at := q.At
	if at.IsZero() {
		at = s.now()
	}
	at = at.In(w.Location())
	p.Problem = &plan.Problem{Origin: at}
	index := map[string]int{}
	for m, st := range p.stations {
		index[st.ID] = m
		p.Machines = append(p.Machines, plan.Machine{
			ID: st.ID, Name: st.Name, Windows: w.Calendar(st.Name).Windows(at, w.Horizon),
			Setup: plan.SetupTimes{Job: st.work.Setup.Mean, Cone: st.cone(), Hoop: st.hoop()}, Hoop: book.FlatFrame,
		})
	}
	p.Crew = w.Calendar("").Presences(at, w.Horizon)
	if err := s.mounted(ctx, p, index); err != nil {
		return nil, err
	}
	if err := s.fill(ctx, p, index); err != nil {
		return nil, err
	}
	return p, nil
}

const (
	mostOrders = 100_000
)

// mounted tells the problem what the machines were last reported to sew: those
// cones and that frame are on them.
func (s *Shop) mounted(ctx context.Context, p *problem, index map[string]int) error {
	reports, err := s.allReports(ctx)
	if err != nil {
		return err
	}
	last := map[int]Report{}
	for _, r := range reports {
		if m, ok := index[r.MachineID]; ok {
			last[m] = r
		}
	}
	for m, r := range last {
		o, err := s.store.Order(ctx, r.OrderID)
		if err != nil {
			return err
		}
		d, err := s.store.Design(ctx, r.DesignID)
		if err != nil {
			return err
		}
		if l := o.Line(r.Line); l != nil {
			p.Machines[m].Loaded, _ = book.OnNeedles(book.BlockThreads(l, d.Book()), p.stations[m].Sheet.Needles)
			p.Machines[m].Hoop = l.Frame()
		}
	}
	return nil
}

// fill makes the jobs: every line of every order, on every machine.
func (s *Shop) fill(ctx context.Context, p *problem, index map[string]int) error {
	designs := map[string]*Design{}
	type place struct {
		o  *Order
		l  *OrderLine
		d  *Design
		on []*lineOn
	}
	var places []*place
	for _, o := range p.orders {
		for i := range o.Lines {
			l := &o.Lines[i]
			if l.Left() == 0 {
				continue
			}
			d := designs[l.DesignID]
			if d == nil {
				var err error
				if d, err = s.store.Design(ctx, l.DesignID); err != nil {
					return err
				}
				designs[l.DesignID] = d
			}
			if d.Removed {
				p.leave(o, l, fmt.Sprintf("its design %q was taken off the list of designs; put it back, or give the line another design", d.Name))
				continue
			}
			places = append(places, &place{o: o, l: l, d: d, on: make([]*lineOn, len(p.stations))})
		}
	}
	// Clocking is the dear part the first time: on all cores.
	var (
		wg    sync.WaitGroup
		mu    sync.Mutex
		first error
		jobs  = make(chan *place)
	)
	for range max(1, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for pl := range jobs {
				shape := shapeOf(pl.l, pl.d)
				for m, st := range p.stations {
					if ctx.Err() != nil {
						break
					}
					k, err := s.shapeOn(ctx, pl.l, pl.d, st, shape)
					if err != nil {
						mu.Lock()
						if first == nil {
							first = err
						}
						mu.Unlock()
						break
					}
					pl.on[m] = k
				}
			}
		})
	}
	for _, pl := range places {
		jobs <- pl
	}
	close(jobs)
	wg.Wait()
	if ctx.Err() != nil {
		return StoppedBy(ctx)
	}
	if first != nil {
		return first
	}
	type load struct{ hands, cycle float64 }
	loads := make([]load, len(p.stations))
	for _, pl := range places {
		fits := []plan.Fit{}
		var whys []string
		for m, k := range pl.on {
			st := p.stations[m]
			if k.Why != "" {
				whys = append(whys, st.Name+": "+k.Why)
				continue
			}
			fits = append(fits, plan.Fit{Machine: m, Run: k.Cycle * st.rates.Pace / (1 - k.Spoilt), Pieces: st.heads})
			n := float64((pl.l.Left() + st.heads - 1) / st.heads)
			loads[m].hands += n * k.Hands
			loads[m].cycle += n * k.Cycle * st.rates.Pace
		}
		if len(fits) == 0 {
			p.leave(pl.o, pl.l, "no machine can make it: "+strings.Join(whys, "; "))
			continue
		}
		if err := p.addJobs(pl.o, pl.l, pl.d, pl.on, fits, index); err != nil {
			return err
		}
	}
	for m, l := range loads {
		if l.cycle > 0 {
			p.Machines[m].Attention = l.hands / l.cycle
		}
	}
	return nil
}

func (p *problem) leave(o *Order, l *OrderLine, why string) {
	p.left = append(p.left, LeftOut{o.ID, o.Number, l.Line, o.Customer, why})
}

// addJobs makes the jobs of a line: what is held, each its own, and the rest.
func (p *problem) addJobs(o *Order, l *OrderLine, d *Design, on []*lineOn, fits []plan.Fit, index map[string]int) error {
	due := math.Inf(1)
	if day := o.Wanted(); day != "" {
		t, err := p.w.DueTime(day)
		if err != nil {
			return err
		}
		due = p.Second(t)
	}
	release := 0.0
	if o.Goods != "" {
		t, err := DayTime(o.Goods, p.w.Location())
		if err != nil {
			return err
		}
		release = max(0, p.Second(t))
	}
	k := on[fits[0].Machine]
	job := plan.Job{
		Name: book.LineName(o, l.Line) + " " + o.Customer, Due: due, Release: release, Weight: o.Weight, Fits: fits,
		Design: d.ID, Cones: k.Threads, Hoop: l.Frame(), MaxLots: l.MostMachines,
	}
	rest := l.Left()
	for i := range l.Holds {
		h := &l.Holds[i]
		m, ok := index[h.MachineID]
		if !ok {
			p.leave(o, l, "the machine it is held on was taken off the list; release it, or hold it on another")
			return nil
		}
		if why := on[m].Why; why != "" {
			p.leave(o, l, fmt.Sprintf("it is held on %s, which cannot make it: %s", p.stations[m].Name, why))
			return nil
		}
		n := rest
		if h.Quantity > 0 {
			n = min(n, h.Quantity)
		}
		if n == 0 {
			continue
		}
		rest -= n
		j := job
		// A line that is held whole is still the job it was; a held part is
		// a job of its own.
		j.ID, j.Quantity, j.MaxLots = jobID(o, l), n, 1
		if len(l.Holds) > 1 || rest > 0 {
			j.ID += "@" + h.MachineID
		}
		j.Pin = &plan.Pin{Machine: m, Running: h.Running, Start: -1}
		if !h.Running && !h.At.IsZero() {
			j.Pin.Start = max(0, p.Second(h.At))
		}
		p.add(j, jobOf{o, l, on, h})
	}
	if rest > 0 {
		job.ID, job.Quantity = jobID(o, l), rest
		p.add(job, jobOf{order: o, line: l, on: on})
	}
	return nil
}

func jobID(o *Order, l *OrderLine) string { return fmt.Sprintf("%s/%d", o.ID, l.Line) }

func (p *problem) add(j plan.Job, of jobOf) {
	p.Jobs = append(p.Jobs, j)
	p.jobs = append(p.jobs, of)
}
