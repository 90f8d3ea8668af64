package ask

import (
	"context"
	"fmt"
	"strings"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/thread"
)

// lineOn is one line of an order on one machine: can it be made there, and
// what does a run (a piece on each head) take.
type lineOn struct {
	Why      string   // not empty: it cannot be made there
	Threads  []string // the distinct colours, in the order of their needles
	Needles  []int    // needle of each colour block, from 0
	Seconds  float64  // run time of the clock, s
	Cycle    float64  // s that a run holds the machine: with loading and the expected breaks, bobbins and stops
	NoBreaks float64  // the same without thread breaks
	PerBreak float64  // s a thread break holds the machine
	Hands    float64  // s of an operator a run asks for, hooping beside the machine included
	Spoilt   float64  // expected fraction of pieces
	Stitches int
	SetSpeed float64 // stitches/min
}

// unfit says why a line cannot be made on a machine, "" where it can.
func (st *station) unfit(l *book.OrderLine, d *book.Design, threads []string) string {
	needles := st.Sheet.Needles
	f, what := st.keys.Field, "field"
	onCap := l.Kinds()&machine.CapFrame != 0
	if onCap {
		f, what = st.keys.CapField, "cap frame's field"
	}
	switch {
	case d.Stitches == 0:
		return "the design sews no stitch"
	case onCap && !st.keys.CapFrame:
		return "it has no cap frame"
	case len(f) == 2 && (d.WidthMM > f[0] || d.HeightMM > f[1]):
		return fmt.Sprintf("the design is %.0f × %.0f mm, its %s %.0f × %.0f mm",
			d.WidthMM, d.HeightMM, what, f[0], f[1])
	case needles > 1 && len(threads) > needles:
		return fmt.Sprintf("%d thread colours on %d needles", len(threads), needles)
	}
	return ""
}

// lineShape is what a line is on every machine, made once for all of them.
type lineShape struct {
	key    string
	blocks []string
	on     map[int]*needled // by the machine's number of needles
}

type needled struct {
	threads []string
	needles []int
}

func shapeOf(l *book.OrderLine, d *book.Design) *lineShape {
	blocks := book.BlockThreads(l, d)
	key := fmt.Sprint(d.ID, l.LineGoods, strings.ToLower(strings.Join(blocks, "\x00")))
	return &lineShape{key: key, blocks: blocks, on: map[int]*needled{}}
}

func (sh *lineShape) needled(needles int) *needled {
	n := sh.on[needles]
	if n == nil {
		n = &needled{}
		n.threads, n.needles = book.OnNeedles(sh.blocks, needles)
		sh.on[needles] = n
	}
	return n
}

// lineAt computes (or remembers) a line on a machine.
func lineAt(
	ctx context.Context, from LineFrom, l *book.OrderLine, d *book.Design, st *station,
) (*lineOn, error) {
	return shapeOn(ctx, from, l, d, st, shapeOf(l, d))
}

func shapeOn(
	ctx context.Context, from LineFrom, l *book.OrderLine, d *book.Design, st *station, sh *lineShape,
) (*lineOn, error) {
	n := sh.needled(st.Sheet.Needles)
	threads, needles := n.threads, n.needles
	if why := st.unfit(l, d, threads); why != "" {
		return &lineOn{Why: why, Threads: threads}, nil
	}
	key := sh.key + st.digest
	run := from.Memory().run(key)
	if run == nil {
		job := l.Floor().Clock(st.keys.Speed)
		job.Needles = needles
		if err := job.Validate(); err != nil {
			return &lineOn{Why: err.Error(), Threads: threads}, nil
		}
		design, err := from.Stitches(ctx, d.ID)
		if err != nil {
			return nil, err
		}
		r, err := floor.NewRun(design, st.Sheet, job, st.work, st.heads, st.law, nil)
		if err != nil {
			return &lineOn{Why: err.Error(), Threads: threads}, nil
		}
		run = &r
		from.Memory().keepRun(key, run)
	}
	m := &st.floor
	seconds := run.Seconds[0]
	k := &lineOn{
		Threads: threads, Needles: needles, Stitches: run.Stitches, Seconds: seconds,
		Cycle: floor.Cycle(m, run, seconds, m.Heads, m.Loaders), SetSpeed: float64(run.Stitches) / run.Planned * 60,
	}
	breaks := m.Breaks / 1000 * float64(run.Stitches) * float64(m.Heads)
	k.PerBreak = m.Repair.Mean + float64(m.Resew)*seconds/max(1, float64(run.Stitches))
	k.NoBreaks = k.Cycle - breaks*k.PerBreak
	k.Hands = k.Cycle - seconds - breaks*(k.PerBreak-m.Repair.Mean)
	// Who loads together is shorter at it, not less.
	k.Hands += m.LoadSeconds(m.Heads, 1) - m.LoadSeconds(m.Heads, m.Loaders)
	if st.Sheet.Needles == 1 {
		for _, a := range run.Stops {
			k.Seconds += a.Work.Mean // the clock's run time has a single needle's re-threads in it
		}
	}
	if !m.HoopOn {
		k.Hands += float64(m.Heads) * m.Hoop.Mean
	}
	k.Spoilt = m.Spoilt(run.Stitches)
	return k, nil
}

// clockJob is the job the clock takes for a line on a machine.
func (st *station) clockJob(l *book.OrderLine, k *lineOn) clock.Job {
	job := l.Floor().Clock(st.keys.Speed)
	job.Needles = k.Needles
	return job
}

// setup is the time to make a machine ready for a line whatever was on it, in
// s: the set-up and every cone on every head.
func (st *station) setup(k *lineOn) float64 {
	return st.work.Setup.Mean + st.cone()*float64(len(k.Threads))
}

// cone is the time to put one colour on all heads, in s.
func (st *station) cone() float64 { return st.work.Cone.Mean * float64(st.heads) }

func (st *station) hoop() float64 { return st.keys.HoopSeconds(st.heads) }

// need is what thread a number of pieces takes on a machine.
func need(
	ctx context.Context, from LineFrom, w *book.Workshop, l *book.OrderLine, d *book.Design, st *station, pieces int,
) (thread.Need, thread.Use, error) {
	design, err := from.Stitches(ctx, d.ID)
	if err != nil {
		return thread.Need{}, thread.Use{}, err
	}
	use, err := thread.Of(design, st.law, st.Sheet.Reading.TrimAfterJumps)
	if err != nil {
		return thread.Need{}, thread.Use{}, Errorf("%w", err)
	}
	named := *design
	named.Threads = nil
	for _, name := range book.BlockThreads(l, d) { // by name alone: a thread is one cone
		named.Threads = append(named.Threads, stitch.Thread{Name: name, Known: true})
	}
	n, err := thread.ForOrder(&named, use, pieces, st.heads, w.Supply(st.work))
	if err != nil {
		return thread.Need{}, use, Errorf("%w", err)
	}
	return n, use, nil
}

// lineOnMachine is one line on one machine of the shop.
func lineOnMachine(
	ctx context.Context, from LineFrom, w *book.Workshop, l *book.OrderLine, machineID string,
) (*station, *lineOn, error) {
	all, err := stations(ctx, from, w)
	if err != nil {
		return nil, nil, err
	}
	d, err := from.Design(ctx, l.DesignID)
	if err != nil {
		return nil, nil, err
	}
	for _, st := range all {
		if st.ID == machineID {
			k, err := lineAt(ctx, from, l, d, st)
			return st, k, err
		}
	}
	return nil, nil, Missing("there is no such machine on the list")
}
