package audit

import (
	"context"
	"math"
	"slices"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// Options are what an audit is told beside the machine.
type Options struct {
	// Threads gives each colour block a thread: blocks of one number share it.
	// Nil: nothing is known, and no two are taken to. See ThreadsOf.
	Threads []int
	Pieces  int     // pieces ordered; 0 is 1
	HoopX   float64 // mm inside the hoop, 0: not given
	HoopY   float64
	FieldX  float64 // mm that the machine can sew in, 0: not given
	FieldY  float64
	Limits  *Limits // nil: DefaultLimits
	// KeepStops takes every stop for one that stays, as MendOptions has it: nothing is looked for that a mend would not do.
	KeepStops bool
	// Seed is for the search of a better order.
	Seed uint64
}

// Check audits a design on one machine. The sheet and the job must be valid.
// A done context leaves out what takes long (the order of objects) and says
// so in the report.
func Check(ctx context.Context, d *stitch.Design, s *machine.Sheet, job clock.Job, o Options) (*Report, error) {
	v, err := look(ctx, d, s, job, o)
	if err != nil {
		return nil, err
	}
	r := v.report
	if found := v.find(finders); found != nil {
		v.together(found)
		r.Findings = v.bundle(found)
		for i := range r.Findings {
			x := &r.Findings[i]
			x.OrderSeconds = x.Seconds * float64(r.Runs)
			r.Total += x.Seconds
		}
	}
	sortFindings(r.Findings)
	return r, nil
}

// Dangers are what of a design may break a needle or strike on one machine (Hurts), the
// gravest first: those findings of Check, in less time and without what they cost.
func Dangers(ctx context.Context, d *stitch.Design, s *machine.Sheet, job clock.Job, o Options) ([]Finding, error) {
	v, err := look(ctx, d, s, job, o)
	if err != nil {
		return nil, err
	}
	var grave []finder
	for _, f := range finders {
		if mayHurt[f.kind] {
			grave = append(grave, f)
		}
	}
	all := v.bundle(v.find(grave))
	sortFindings(all)
	return slices.DeleteFunc(all, func(f Finding) bool { return f.Severity != Hurts }), nil
}

// look makes what finders look at of a design on a machine.
func look(ctx context.Context, d *stitch.Design, s *machine.Sheet, job clock.Job, o Options) (*survey, error) {
	l, err := lay(d.Records, s.Reading.TrimAfterJumps)
	if err != nil {
		return nil, err
	}
	threads, err := blockThreads(o.Threads, l.blocks)
	if err != nil {
		return nil, err
	}
	lim := DefaultLimits()
	if o.Limits != nil {
		lim = *o.Limits
	}
	c := clock.New(s, job)
	piece := c
	if s.Slow != (machine.Slow{}) { // a piece of the design is not its beginning
		letIn := s.Clone()
		letIn.Slow = machine.Slow{}
		piece = clock.New(letIn, job)
	}
	v := &survey{ctx: ctx, d: d, l: l, sheet: s, job: job, clock: c, piece: piece, o: o, lim: lim, threads: threads,
		known: o.Threads != nil}
	v.run = c.Run(d)
	v.bounds = d.Count().Bounds
	v.explicit = slices.ContainsFunc(d.Records, func(r stitch.Record) bool { return r.Op == stitch.Trim })
	v.clip = feltOver(s, v.run.SetSpeed)
	v.stands = l.stands(threads, o.KeepStops)
	kept := l.holdOf(v.stands, nil)
	// What a hand needs is never found fault with; other stops are looked at.
	l.holdOf(v.stands, func(int) bool { return true })
	r := &Report{Seconds: v.run.Seconds, Stitches: v.run.Stitches, Runs: runs(o.Pieces, s.Heads), Kept: kept}
	v.report = r
	if len(l.objects) > 0 {
		v.lines = l.threads()
		v.grid = newGrid(v.lines)
		if len(l.objects) <= mostObjects {
			v.touch = v.grid.touching(len(l.objects))
		} else {
			v.touch = nil
			v.off(words.Say("finding.off-touch", words.Args{"objects": words.Count(len(l.objects), "object"),
				"most": words.Whole(mostObjects)}))
		}
		r.Penetrations = v.heat()
	}
	return v, nil
}

// find has finders look; nothing where the design has no object.
func (v *survey) find(by []finder) (found []*Finding) {
	if len(v.l.objects) == 0 {
		return nil
	}
	for _, f := range by {
		all := f.all(v)
		for i := range all {
			found = append(found, &all[i])
		}
	}
	return found
}

// mostObjects keeps the table of what touches within 50 MB.
const mostObjects = 20_000

// runs is how often a machine with so many heads sews a design for an order.
func runs(pieces, heads int) int {
	pieces, heads = max(pieces, 1), max(heads, 1)
	return (pieces + heads - 1) / heads
}

// survey is what the finders look at.
type survey struct {
	ctx      context.Context
	d        *stitch.Design
	l        *layout
	sheet    *machine.Sheet
	job      clock.Job
	clock    *clock.Clock
	piece    *clock.Clock // of a piece of the design, which does not begin as the machine is let in
	run      *clock.Result
	o        Options
	lim      Limits
	threads  []int
	known    bool // the threads were given
	explicit bool // the design has trim records
	bounds   stitch.Bounds
	stands   []standing
	lines    []line
	grid     *grid
	touch    *pairs // nil if there are too many objects
	clip     int
	satin    []column  // see columns
	numbers  []int     // see lineNumbers
	unlocked *loose    // see loose
	byPlace  *places   // see places
	crowded  []int32   // see crowd
	noChange []Finding // found together with returns
	returns  []Finding
	lists    [][]int         // the objects of each group, see in
	merged   []group         // the blocks as stopFindings left them; nil: as they are
	order    []int           // the better order of findOrder; nil: none
	was, is  []stitch.Record // see ends
	report   *Report
}

func (v *survey) off(what words.Message) { v.report.Off = append(v.report.Off, what) }

// seconds clocks bare records of a piece of the design.
func (v *survey) seconds(rec []stitch.Record) float64 {
	return v.piece.Seconds(rec)
}

// secondsOf clocks a rebuilt design with the job's needles in their new places.
func (v *survey) secondsOf(r rebuilt) float64 {
	if len(v.job.Needles) == 0 {
		return v.clock.Seconds(r.rec)
	}
	return clock.New(v.sheet, jobFor(v.job, r.blocks, v.sheet.Needles)).Seconds(r.rec)
}

// feltOver is how many revolutions a change can be felt away from it: from standing
// to the highest speed, soft start, and a lag until a two-thousandth of a speed's
// change is left.
func feltOver(s *machine.Sheet, setSpeed float64) int {
	n := setSpeed / 60
	return int(math.Ceil(n*n/(2*s.Shaft.AccelUp)+n*n/(2*s.Shaft.AccelDown))) +
		s.Shaft.SoftStartStitches + int(math.Ceil(8*n*s.Shaft.Lag)) + 2
}

// head and tail are the records of an object that a change at its beginning or
// end can touch.
func (v *survey) head(o *Object) []stitch.Record {
	return v.l.rec[o.From:min(o.To, o.From+v.clip)]
}

func (v *survey) tail(o *Object) []stitch.Record {
	return v.l.rec[max(o.From, o.To-v.clip):o.To]
}

// first and last are the records of object k as far as they matter where the
// thread is cut beside it, whatever else changes there: the shaft stands, and what
// is sewn beyond takes its time. Jumps too few to cut are sewn through: the shaft
// slows on them, and not on the stitches before.
func (v *survey) first(k int) []stitch.Record {
	from := v.l.objects[k].From
	return v.l.rec[from : from+1]
}

func (v *survey) last(k int) []stitch.Record {
	o := &v.l.objects[k]
	if v.l.joints[k+1].jumps > 0 {
		return v.tail(o)
	}
	return v.l.rec[v.l.holes[o.Last-1].record:o.To]
}

// ends are the records of two neighbours as far as a change between them can be
// felt, from tail to head, with what stands between them now and with what put
// writes instead. They are overwritten by the next call.
func (v *survey) ends(tail, between, head []stitch.Record, put func(out []stitch.Record) []stitch.Record) (was, is []stitch.Record) {
	v.was = append(append(append(v.was[:0], tail...), between...), head...)
	v.is = append(put(append(v.is[:0], tail...)), head...)
	return v.was, v.is
}

// mm is a hole's place in mm.
func (v *survey) mm(k int) (x, y float64) {
	if len(v.l.holes) == 0 {
		return 0, 0
	}
	h := v.l.holes[min(max(k, 0), len(v.l.holes)-1)]
	return float64(h.x) / stitch.UnitsPerMM, float64(h.y) / stitch.UnitsPerMM
}

// place fills a finding's block and place from its first stitch.
func (v *survey) place(f Finding, object int) Finding {
	f.Block = v.l.objects[object].Block
	f.X, f.Y = v.mm(f.From)
	return f
}

// step is the length in mm of the thread to hole k within its object.
func (v *survey) step(k int) float64 {
	a, b := v.l.holes[k-1], v.l.holes[k]
	return stitch.LengthMM(int(b.x-a.x), int(b.y-a.y))
}
