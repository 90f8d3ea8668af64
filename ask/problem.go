package ask

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"time"

	"needlepace/book"
	"needlepace/money"
	"needlepace/plan"
	"needlepace/words"
)

// problem is a plan's problem with what its indices mean.
type problem struct {
	*plan.Problem
	w        *book.Workshop
	given    bool                 // the workshop was given, not assumed
	hours    map[string]money.Dec // what an hour of each machine costs, as things are
	stations []*station
	jobs     []jobOf
	left     []book.LeftOut
	notes    []book.LeftOut // what is planned otherwise than was said
	orders   []*book.Order
	partners []atPartner    // lines that partners make
	places   []*place       // all that the shop's own machines are to sew
	index    map[string]int // of machines, by their IDs
	reports  []book.Report
	kept     *book.Plan // nil: none
	on       *book.Plan // the kept plan as it goes on with all planned orders, where that was asked; nil: there is none
	stands   *goingOn   // that plan, timed
}

// jobOf says which line (or part of it, where it is held) a job is.
type jobOf struct {
	order *book.Order
	line  *book.OrderLine
	part  *book.Part
	on    []*lineOn  // by station; nil where not looked at
	hold  *book.Hold // nil: free
	again bool       // pieces that were spoilt and are made again
}

// colour is that of the garments, where their threads differ by it.
func (of *jobOf) colour() string {
	if len(of.line.GarmentThreads) == 0 {
		return ""
	}
	return of.part.Colour
}

// problemOf gathers the planned orders, machines and calendars into a problem.
func problemOf(ctx context.Context, from PlanFrom, q *PlanQuestion) (*problem, error) {
	w, given, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	down, err := downOf(ctx, from, q.Down)
	if err != nil {
		return nil, err
	}
	p := &problem{w: w, given: given, hours: sewingHours(w)}
	if err := w.Suppose(down, q.Hours, q.Operators); err != nil {
		return nil, wrong(err)
	}
	if p.stations, err = stations(ctx, from, w); err != nil {
		return nil, err
	}
	if len(p.stations) == 0 {
		return nil, Errorf("the shop has no machine yet; add one first")
	}
	planned, err := from.Planned(ctx)
	if err != nil {
		return nil, err
	}
	for _, o := range planned {
		if !slices.ContainsFunc(q.extra, func(x *book.Order) bool { return x.ID == o.ID }) {
			p.orders = append(p.orders, o)
		}
	}
	p.orders = append(p.orders, q.extra...)
	at := q.At
	if at.IsZero() {
		at = q.Now
	}
	at = at.In(w.Location()).Truncate(time.Second) // hours begin on whole seconds, and plans keep no less
	p.Problem = &plan.Problem{Origin: at, LotSeconds: w.Split * 3600}
	index := map[string]int{}
	p.index = index
	for m, st := range p.stations {
		index[st.ID] = m
		p.Machines = append(p.Machines, plan.Machine{
			ID: st.ID, Name: st.Name, Windows: w.Calendar(st.ID).Windows(at, w.Horizon),
			Setup: plan.SetupTimes{Job: st.work.Setup.Mean, Cone: st.cone(), Hoop: st.hoop()}, Hoop: book.FlatFrame,
		})
	}
	p.Crew = w.Calendar("").Presences(at, w.Horizon)
	if p.reports, err = from.Reports(ctx); err != nil {
		return nil, err
	}
	if p.kept, err = from.LastPlan(ctx); err != nil {
		return nil, err
	}
	if err := mounted(ctx, from, p, index); err != nil {
		return nil, err
	}
	if err := fill(ctx, from, p, p.orders); err != nil {
		return nil, err
	}
	p.attend()
	p.begin()
	p.weigh()
	return p, p.scatter(ctx, from)
}

// problemWith is the problem of all planned orders with x put in anew as the last. What all have in common is
// remembered for all who ask at one time.
func problemWith(ctx context.Context, from PlanFrom, now time.Time, x *book.Order) (*problem, error) {
	state, err := from.State(ctx)
	if err != nil {
		return nil, err
	}
	all, err := from.Memory().problems.get(ctx, 1, fmt.Sprint(state, now), func() (*problem, error) {
		all, err := problemOf(ctx, from, &PlanQuestion{Now: now, NoBound: true})
		if err != nil {
			return nil, err
		}
		if all.kept != nil {
			all.on = all.goOn(all.kept)
			all.stands = &goingOn{all: all}
		}
		return all, nil
	})
	if err != nil {
		return nil, err
	}
	same := func(id string) bool { return id == x.ID }
	p := *all
	problem := *all.Problem
	p.Problem = &problem
	p.Machines = slices.Clone(all.Machines)
	p.orders = append(slices.DeleteFunc(slices.Clone(all.orders), func(o *book.Order) bool { return same(o.ID) }), x)
	p.left = slices.DeleteFunc(slices.Clone(all.left), func(l book.LeftOut) bool { return same(l.OrderID) })
	p.notes = slices.DeleteFunc(slices.Clone(all.notes), func(l book.LeftOut) bool { return same(l.OrderID) })
	p.partners = slices.DeleteFunc(slices.Clone(all.partners), func(at atPartner) bool { return same(at.order.ID) })
	p.places = slices.DeleteFunc(slices.Clone(all.places), func(at *place) bool { return same(at.o.ID) })
	p.Jobs, p.jobs = make([]plan.Job, 0, len(all.Jobs)+len(x.Lines)), make([]jobOf, 0, len(all.Jobs)+len(x.Lines))
	for i := range all.jobs {
		if !same(all.jobs[i].order.ID) {
			p.add(all.Jobs[i], all.jobs[i])
		}
	}
	if err := fill(ctx, from, &p, []*book.Order{x}); err != nil {
		return nil, err
	}
	p.attend()
	p.begin()
	return &p, p.scatter(ctx, from)
}

// downOf are down times with the machines that they mean.
func downOf(ctx context.Context, from LineFrom, asked []book.DownTime) ([]book.DownTime, error) {
	machines, err := from.Machines(ctx)
	if err != nil {
		return nil, err
	}
	out := slices.Clone(asked)
	for i := range out {
		d := &out[i]
		if d.Machine == "" || d.ID != "" {
			continue
		}
		m, err := machineNamed(machines, "", d.Machine)
		if err != nil {
			return nil, err
		}
		d.ID, d.Machine = m.ID, m.Name
	}
	return out, nil
}

// mounted tells the problem what the machines were last reported to sew: those
// cones and that frame are on them.
func mounted(ctx context.Context, from PlanFrom, p *problem, index map[string]int) error {
	last := map[int]book.Report{}
	for _, r := range p.reports {
		if m, ok := index[r.MachineID]; ok {
			last[m] = r
		}
	}
	for m, r := range last {
		o, err := from.Order(ctx, r.OrderID)
		if err != nil {
			return err
		}
		d, err := from.Design(ctx, r.DesignID)
		if err != nil {
			return err
		}
		if l := o.Line(r.Line); l != nil {
			sh, err := shapeOf(ctx, from, l.InColour(r.Colour), d)
			if err != nil {
				return err
			}
			p.Machines[m].Loaded = sh.needled(p.stations[m].Sheet.Needles).threads
			p.Machines[m].Hoop = l.Frame()
		}
	}
	return nil
}

// fill makes the jobs: every line of every order, on every machine.
func fill(ctx context.Context, from PlanFrom, p *problem, orders []*book.Order) error {
	designs := map[string]*book.Design{}
	made := madeOf(p.reports)
	var places []*place
	for _, o := range orders {
		for i := range o.Lines {
			l := &o.Lines[i]
			if l.Left() == 0 {
				continue
			}
			if l.Partner.Sews() {
				p.toPartner(o, l)
				continue
			}
			d := designs[l.DesignID]
			if d == nil {
				var err error
				if d, err = from.Design(ctx, l.DesignID); err != nil {
					return err
				}
				designs[l.DesignID] = d
			}
			if d.Removed {
				p.leave(o, l, words.Say("plan-why.design-gone", words.Args{"design": words.Name(d.Name)}))
				continue
			}
			for _, part := range l.Parts(made[lineID{o.ID, l.Line}]) {
				places = append(places, &place{o: o, l: l, part: part, d: d, on: make([]*lineOn, len(p.stations))})
			}
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
				shape, err := shapeOf(ctx, from, pl.part.Line, pl.d)
				for m, st := range p.stations {
					if ctx.Err() != nil {
						break
					}
					var k *lineOn
					if err == nil {
						k, err = shapeOn(ctx, from, pl.part.Line, pl.d, st, shape)
					}
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
		return stopped(ctx)
	}
	if first != nil {
		return first
	}
	p.places = append(p.places, places...)
	var line []*place // the parts of one line that can be made
	for i, pl := range places {
		var whys words.Sentences
		for m, k := range pl.on {
			st := p.stations[m]
			if !k.Why.IsZero() {
				whys = append(whys, st.because(k.Why))
				continue
			}
			pl.fits = append(pl.fits, st.fit(m, k))
		}
		if len(pl.fits) == 0 {
			p.leave(pl.o, pl.l, words.Say("plan-why.no-machine", words.Args{"why": inARow(whys)}))
		} else {
			line = append(line, pl)
		}
		if i+1 == len(places) || places[i+1].l != pl.l {
			p.addJobs(line, p.index)
			line = nil
		}
	}
	return nil
}

// fit is a line on the m-th machine as a plan has it.
func (st *station) fit(m int, k *lineOn) plan.Fit {
	pace := st.rates.Pace / (1 - k.Spoilt)
	return plan.Fit{Machine: m, Run: k.Cycle * pace, Pieces: st.heads, Idle: k.Idle * pace}
}

// attend says how much of an operator each machine asks for, by all that it could sew.
func (p *problem) attend() {
	type load struct{ hands, cycle float64 }
	loads := make([]load, len(p.stations))
	for _, pl := range p.places {
		for m, k := range pl.on {
			if k.Why.IsZero() {
				st := p.stations[m]
				n := float64((pl.part.Line.Left() + st.heads - 1) / st.heads)
				loads[m].hands += n * k.Hands
				loads[m].cycle += n * k.Cycle * st.rates.Pace
			}
		}
	}
	for m, l := range loads {
		if l.cycle > 0 {
			p.Machines[m].Attention = l.hands / l.cycle
		}
	}
}

// standsStill says why what is on a machine now cannot run; nothing where it can.
func (p *problem) standsStill(o *book.Order, l *book.OrderLine, h *book.Hold) (why words.Message) {
	if !h.Running {
		return why
	}
	k := slices.IndexFunc(p.stations, func(st *station) bool { return st.ID == h.MachineID })
	on := words.Name(p.stations[k].Name)
	if day := l.Waits(o.Goods, p.w.Zone.Day(p.Origin)); !day.IsZero() {
		return words.Say("plan-why.on-no-goods", words.Args{"machine": on, "day": day})
	}
	if l.Approval.Wanted() {
		return words.Say("plan-why.on-not-approved", words.Args{"machine": on})
	}
	p.downs(h.MachineID, func(from, to time.Time) bool {
		if p.shutUntil(k, from) {
			why = words.Say("plan-why.on-down", words.Args{"machine": on, "until": p.w.Zone.Near(to, p.Origin)})
		}
		return why.IsZero()
	})
	return why
}

// shutUntil reports whether a machine has no working hours from now until then.
func (p *problem) shutUntil(m int, then time.Time) bool {
	win := p.Machines[m].Windows
	return !p.Origin.Before(then) || len(win) == 0 || p.Second(then) <= win[0].From
}

func (p *problem) leave(o *book.Order, l *book.OrderLine, why words.Message) {
	p.left = append(p.left, leftOut(o, l, why))
}

// place is a part of a line on all machines.
type place struct {
	o    *book.Order
	l    *book.OrderLine
	part book.Part
	d    *book.Design
	on   []*lineOn
	fits []plan.Fit
}

// addJobs makes the jobs of a line: of each of its parts what is held, each its
// own, and the rest. What is held takes the parts in their order, or that of its
// garment colour.
func (p *problem) addJobs(parts []*place, index map[string]int) {
	if len(parts) == 0 {
		return
	}
	o, l := parts[0].o, parts[0].l
	held := make([]int, len(l.Holds)) // pieces of each hold that are placed
	for i := range l.Holds {
		h := &l.Holds[i]
		m, ok := index[h.MachineID]
		if !ok {
			p.leave(o, l, words.Say("plan-why.held-gone"))
			return
		}
		if why := parts[0].on[m].Why; !why.IsZero() {
			p.leave(o, l, words.Say("plan-why.held-cannot", words.Args{"machine": words.Name(p.stations[m].Name), "why": why}))
			return
		}
		if why := p.standsStill(o, l, h); !why.IsZero() {
			p.notes = append(p.notes, leftOut(o, l, why))
		}
	}
	batches := l.Batches(o.Goods, p.w.Zone.Day(p.Origin))
	for _, b := range batches {
		if !b.Late.IsZero() {
			p.notes = append(p.notes, leftOut(o, l, words.Say("plan-why.garments-late", words.Args{"n": words.Whole(b.Pieces), "day": b.Late, "from": b.From})))
		}
	}
	if from, late := l.Approval.From(p.w.Zone.Day(p.Origin)); !late.IsZero() {
		p.notes = append(p.notes, leftOut(o, l, words.Say("plan-why.approval-late", words.Args{"day": late, "from": from})))
	}
	first := -l.Rework() // pieces before those that were spoilt and are made again
	for _, pl := range parts {
		first += pl.part.Line.Left()
	}
	for _, pl := range parts {
		for left := pl.part.Line.Left(); left > 0 && len(batches) > 0; {
			b := batches[0]
			b.Pieces = min(b.Pieces, left)
			left -= b.Pieces
			first -= b.Pieces
			p.addBatch(pl, b, held, max(0, min(b.Pieces, -first)), index)
			if batches[0].Pieces -= b.Pieces; batches[0].Pieces == 0 {
				batches = batches[1:]
			}
		}
	}
}

// madeAgain ends the ID of a job of pieces that were spoilt and are made again beside its line's others.
const madeAgain = "~again"

// addBatch makes the jobs of a part of a line whose garments come together, of
// which again pieces were spoilt.
func (p *problem) addBatch(pl *place, b book.Batch, held []int, again int, index map[string]int) {
	o, l, on := pl.o, pl.l, pl.on
	due := math.Inf(1)
	if day := o.Wanted(); !day.IsZero() {
		due = p.Second(p.w.DueTime(day))
	}
	release := 0.0
	if !b.From.IsZero() {
		release = max(0, p.Second(p.w.Zone.At(b.From, 0)))
	}
	job := plan.Job{
		ID: partID(o, l, &pl.part), Name: partName(o, l, &pl.part), Due: due, Release: release, Weight: o.Weight,
		Fits: pl.fits, Design: pl.d.ID, Cones: on[pl.fits[0].Machine].Threads, Hoop: l.Frame(), MaxLots: l.MostMachines,
	}
	if from, _ := l.Approval.From(p.w.Zone.Day(p.Origin)); l.Approval.Wanted() {
		job.Approval = b.From == from
	}
	if b.N > 0 {
		job.ID += fmt.Sprintf("+%d", b.N)
	}
	rest := b.Pieces
	for i := range l.Holds {
		h := &l.Holds[i]
		if h.Colour != "" && !slices.Contains(pl.part.Colours, h.Colour) {
			continue
		}
		n := rest
		if h.Quantity > 0 {
			n = min(n, h.Quantity-held[i])
		}
		m := index[h.MachineID]
		if n <= 0 || !on[m].Why.IsZero() {
			continue
		}
		rest -= n
		// A line that is held whole is still the job it was; a held part is
		// a job of its own.
		j := job
		j.Quantity, j.MaxLots = n, 1
		if len(l.Holds) > 1 || rest > 0 {
			j.ID += "@" + h.MachineID
		}
		// A machine runs one of them now, the others follow; those whose garments are not there it cannot run.
		j.Pin = &plan.Pin{Machine: m, Running: h.Running && held[i] == 0 && release == 0, Start: -1}
		if !h.Running && !h.At.IsZero() {
			j.Pin.Start = max(0, p.Second(h.At))
		}
		held[i] += n
		p.add(j, jobOf{order: o, line: l, part: &pl.part, on: on, hold: h})
	}
	// What was spoilt is made again in a lot of its own, after the garments that
	// came with the order.
	again = min(rest, again)
	if rest > again {
		job.Quantity = rest - again
		p.add(job, jobOf{order: o, line: l, part: &pl.part, on: on})
		job.ID, job.MaxLots = job.ID+madeAgain, 1
	}
	if again > 0 {
		job.Quantity = again
		p.add(job, jobOf{order: o, line: l, part: &pl.part, on: on, again: true})
	}
}

func jobID(o *book.Order, l *book.OrderLine) string { return fmt.Sprintf("%s/%d", o.ID, l.Line) }

func (p *problem) add(j plan.Job, of jobOf) {
	p.Jobs = append(p.Jobs, j)
	p.jobs = append(p.jobs, of)
}
