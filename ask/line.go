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
	"needlepace/words"
)

// lineOn is one line of an order on one machine: can it be made there, and
// what does a run (a piece on each head) take.
type lineOn struct {
	Why      words.Message // said: it cannot be made there
	Threads  []string      // the distinct colours, in the order of their needles
	Needles  []int         // needle of each colour block, from 0
	Seconds  float64       // run time of the clock, s
	Cycle    float64       // s that a run holds the machine: with loading and the expected breaks, bobbins and stops
	NoBreaks float64       // the same without thread breaks
	Idle     float64       // s that a head without a piece saves of Cycle: nothing is loaded there and no thread breaks
	PerBreak float64       // s a thread break holds the machine
	Hands    float64       // s of an operator a run asks for, hooping beside the machine included
	Spoilt   float64       // expected fraction of pieces
	Stitches int
	SetSpeed float64    // stitches/min
	Names    *lettering // where the pieces have names
	full     floor.Run  // a run with a piece on every head, as the floor sees it
}

// unfit says why a line cannot be made on a machine; nothing where it can.
func (st *station) unfit(l *book.OrderLine, d *book.Design, threads []string) (why words.Message) {
	needles := st.Sheet.Needles
	f := st.keys.Field
	onCap := l.Kinds()&machine.CapFrame != 0
	if onCap {
		f = st.keys.CapField
	}
	switch {
	case d.Stitches == 0:
		return words.Say("unfit.no-stitch")
	case onCap && !st.keys.CapFrame:
		return words.Say("unfit.no-cap-frame")
	case len(f) == 2 && (d.WidthMM > f[0] || d.HeightMM > f[1]):
		size, field := words.Size{W: d.WidthMM, H: d.HeightMM}, words.Size{W: f[0], H: f[1]}
		if onCap {
			return words.Say("unfit.cap-field", words.Args{"size": size, "field": field})
		}
		return words.Say("unfit.field", words.Args{"size": size, "field": field})
	case needles > 1 && len(threads) > needles:
		return words.Say("unfit.needles", words.Args{"colours": words.Whole(len(threads)), "needles": words.Whole(needles)})
	}
	return why
}

// lineShape is what a line is on every machine, made once for all of them.
type lineShape struct {
	key    string
	blocks []string // thread of each colour block: the design's, then those of the names' files
	own    int      // of them, the design's; 0 where names are sewn alone
	files  []nameFile
	names  int              // how many; 0: the pieces have none
	on     map[int]*needled // by the machine's number of needles
}

type needled struct {
	threads []string
	needles []int
}

func shapeOf(ctx context.Context, from LineFrom, l *book.OrderLine, d *book.Design) (*lineShape, error) {
	sh := &lineShape{on: map[int]*needled{}}
	if !l.Named() || !l.NamesAlone {
		sh.blocks = book.BlockThreads(l, d)
		sh.own = len(sh.blocks)
	}
	if err := sh.letter(ctx, from, l); err != nil {
		return nil, err
	}
	sh.key = fmt.Sprint(d.ID, l.LineGoods, strings.ToLower(strings.Join(sh.blocks, "\x00")), sh.nameKey())
	return sh, nil
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

// unfit says why a machine cannot make the line; nothing where it can.
func (sh *lineShape) unfit(l *book.OrderLine, d *book.Design, st *station) (why words.Message) {
	threads := sh.needled(st.Sheet.Needles).threads
	if sh.own > 0 {
		if why = st.unfit(l, d, threads); !why.IsZero() {
			return why
		}
	}
	for i := range sh.files {
		if why = st.unfit(l, sh.files[i].d, threads); !why.IsZero() {
			return words.Say("unfit.of", words.Args{"whose": words.Name(sh.files[i].d.File), "why": why})
		}
	}
	return why
}

// because says whose reason it is.
func (st *station) because(why words.Message) words.Message {
	return words.Say("unfit.of", words.Args{"whose": words.Name(st.Name), "why": why})
}

// inARow are the machines' reasons, one after the other.
func inARow(all words.Sentences) words.Message {
	if len(all) == 0 {
		return words.Message{}
	}
	out := all[0]
	for _, m := range all[1:] {
		out = words.Say("plan-why.row", words.Args{"a": out, "b": m})
	}
	return out
}

// reasons are the machines' reasons in a row, in English.
func reasons(all words.Sentences) string { return inARow(all).Raw() }

// lineAt computes (or remembers) a line on a machine.
func lineAt(
	ctx context.Context, from LineFrom, l *book.OrderLine, d *book.Design, st *station,
) (*lineOn, error) {
	sh, err := shapeOf(ctx, from, l, d)
	if err != nil {
		return nil, err
	}
	return shapeOn(ctx, from, l, d, st, sh)
}

func shapeOn(
	ctx context.Context, from LineFrom, l *book.OrderLine, d *book.Design, st *station, sh *lineShape,
) (*lineOn, error) {
	n := sh.needled(st.Sheet.Needles)
	k := &lineOn{Threads: n.threads, Needles: n.needles[:sh.own]}
	if k.Why = sh.unfit(l, d, st); !k.Why.IsZero() {
		return k, nil
	}
	run := &floor.Run{}
	if sh.own > 0 {
		var err error
		if run, err = runOn(ctx, from, sh.key, l, d, k.Needles, st, st.heads); err != nil {
			return nil, err
		}
	}
	k.full = *run
	if sh.names > 0 {
		if err := sh.lettered(ctx, from, l, d, st, k); err != nil {
			return nil, err
		}
		lot := k.Names.after(run, k.Names.PerRun)
		run = &lot
	}
	k.reckon(st, run)
	return k, nil
}

// runOn is a run of a design on a machine, with a piece on so many heads; it is
// clocked once for a key.
func runOn(
	ctx context.Context, from LineFrom, key string, l *book.OrderLine, d *book.Design, needles []int, st *station, heads int,
) (*floor.Run, error) {
	key += st.digest
	return from.Memory().runs.get(ctx, mostLines, key, func() (*floor.Run, error) {
		job := l.Floor().Clock(st.keys.Speed)
		job.Needles = needles
		if err := job.Validate(); err != nil {
			return nil, err
		}
		design, err := from.Stitches(ctx, d.ID)
		if err != nil {
			return nil, err
		}
		r, err := floor.NewRun(design, st.Sheet, job, st.work, heads, st.law, nil)
		return &r, err
	})
}

// reckon fills in what a run takes of the machine.
func (k *lineOn) reckon(st *station, run *floor.Run) {
	m := &st.floor
	seconds := run.Seconds[0]
	k.Stitches, k.Seconds = run.Stitches, seconds
	k.Cycle = floor.Cycle(m, run, seconds, m.Heads, m.Loaders)
	if k.SetSpeed == 0 {
		k.SetSpeed = float64(run.Stitches) / run.Planned * 60
	}
	breaks := m.Breaks / 1000 * float64(run.Stitches) * float64(m.Heads)
	k.PerBreak = m.Repair.Mean + float64(m.Resew)*seconds/max(1, float64(run.Stitches))
	k.NoBreaks = k.Cycle - breaks*k.PerBreak
	if m.Heads > 1 {
		k.Idle = (k.Cycle - floor.Cycle(m, run, seconds, 1, m.Loaders)) / float64(m.Heads-1)
	}
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

// useOf is the thread that a piece of a line takes on a machine, and the names of
// its colour blocks: the design's, and of the names the mean, file by file.
func useOf(
	ctx context.Context, from LineFrom, l *book.OrderLine, d *book.Design, st *station,
) (use thread.Use, blocks []string, err error) {
	sh, err := shapeOf(ctx, from, l, d)
	if err != nil {
		return use, nil, err
	}
	add := func(d *book.Design, times float64) error {
		design, err := from.Stitches(ctx, d.ID)
		if err != nil {
			return err
		}
		u, err := thread.Of(design, st.law, st.Sheet.Reading.TrimAfterJumps)
		if err != nil {
			return Errorf("%w", err)
		}
		use.Add(u, times)
		return nil
	}
	if sh.own > 0 {
		if err := add(d, 1); err != nil {
			return use, nil, err
		}
	}
	for i := range sh.files {
		if err := add(sh.files[i].d, float64(sh.files[i].n)/float64(sh.names)); err != nil {
			return use, nil, err
		}
	}
	return use, sh.blocks, nil
}

// need is what thread a number of pieces takes on a machine.
func need(
	ctx context.Context, from LineFrom, w *book.Workshop, l *book.OrderLine, d *book.Design, st *station, pieces int,
) (thread.Need, thread.Use, error) {
	use, blocks, err := useOf(ctx, from, l, d, st)
	if err != nil {
		return thread.Need{}, use, err
	}
	named := &stitch.Design{}
	for _, name := range blocks { // by name alone: a thread is one cone
		named.Threads = append(named.Threads, stitch.Thread{Name: name, Known: true})
	}
	n, err := thread.ForOrder(named, use, pieces, st.heads, w.Supply(st.work))
	if err != nil {
		return thread.Need{}, use, Errorf("%w", err)
	}
	return n, use, nil
}

// lineOnMachine is one line on one machine of the shop.
func lineOnMachine(
	ctx context.Context, from LineFrom, w *book.Workshop, l *book.OrderLine, machineID string,
) (*station, *lineOn, error) {
	d, err := from.Design(ctx, l.DesignID)
	if err != nil {
		return nil, nil, err
	}
	st, err := stationOf(ctx, from, w, machineID)
	if err != nil {
		return nil, nil, err
	}
	k, err := lineAt(ctx, from, l, d, st)
	return st, k, err
}

// stationOf is a machine of the shop by its ID.
func stationOf(ctx context.Context, from LineFrom, w *book.Workshop, machineID string) (*station, error) {
	all, err := stations(ctx, from, w)
	if err != nil {
		return nil, err
	}
	for _, st := range all {
		if st.ID == machineID {
			return st, nil
		}
	}
	return nil, unfound(words.Say("refused.no-such-machine"))
}
