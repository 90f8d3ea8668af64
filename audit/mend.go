package audit

import (
	"context"
	"fmt"

	"needlepace/audit/sequence"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// MendOptions are what a mend may use.
type MendOptions struct {
	// Threads gives each colour block a thread: blocks of one number share it.
	// Nil: no two blocks do. See ThreadsOf.
	Threads []int
	// KeepColours holds the colour blocks in their order.
	KeepColours bool
	Seed        uint64
	// Rounds bounds the search for an order (0: until the context is done, or
	// proven). Without a context that ends give it a number.
	Rounds int
	// States bounds the exact search, see sequence.Options.
	States int
	// Progress, if not nil, hears of the search.
	Progress func(sequence.Progress)
}

// Change is one thing a mend did.
type Change struct {
	Kind  string // stable short name
	Count int
	What  string // one sentence for people
	// Stitches are the numbers (from 0, in the old design) of stitches dropped.
	Stitches []int
	Seconds  float64 // what it gained on its own, as applied in turn
}

// The kinds of change.
const (
	ChangeStops = "stops" // colour stops and cuts that changed nothing
	ChangeHoles = "holes" // stitches dropped that left no mark
	ChangeJumps = "jumps" // the way of jumps straightened
	ChangeOrder = "order" // objects sewn in another order
)

// Mended is a better design and how it came about.
type Mended struct {
	Design  *stitch.Design // a new one; the records of the old if nothing helped
	Job     clock.Job      // the job with its needles in the new order of blocks
	Changes []Change
	Blocks  []int // of each new colour block: the old block whose thread it has
	Before  *clock.Result
	After   *clock.Result
	Proof   Proof
	// Search is how the order was found, in units of 10 µs over what an order
	// can change; Objects is how many there were to order (0: no search).
	Search  sequence.Result
	Objects int
	Off     string // why no order was searched, if there is a reason
}

// Saved is the seconds gained on each run.
func (m *Mended) Saved() float64 { return m.Before.Seconds - m.After.Seconds }

// Changed says whether the mended design differs at all.
func (m *Mended) Changed() bool { return len(m.Changes) > 0 }

// largest is the widest design whose picture is painted for the proof, in
// 0.1 mm: 3 m.
const largest = 30_000

// mostNodes is how many objects the search for an order takes one by one.
const mostNodes = 1500

// Mend makes a design cheaper to sew on one machine without changing the sewn
// picture: it drops stops, cuts and stitches that leave no mark, straightens
// jumps, and sews objects in the order that takes the fewest seconds, whatever
// touches keeping its order. A step that does not make the clock faster is
// not taken. The sheet and the job must be valid.
//
// When the context is done the best so far is returned, without an error.
// Errors: ErrExtent, ErrProof, and lists that do not fit the design.
func Mend(ctx context.Context, d *stitch.Design, s *machine.Sheet, job clock.Job, o MendOptions) (*Mended, error) {
	c := clock.New(s, job)
	old, err := lay(d.Records, s.Reading.TrimAfterJumps)
	if err != nil {
		return nil, err
	}
	threads, err := blockThreads(o.Threads, old.blocks)
	if err != nil {
		return nil, err
	}
	m := &mender{Mended: &Mended{Job: job, Before: c.Run(d)}, sheet: s, o: o, d: d, old: old,
		rec: d.Records, blocks: identity(old.blocks), threads: threads, now: 0}
	m.After = m.Before
	m.now = m.Before.Seconds
	b := d.Count().Bounds
	if b.MaxX-b.MinX > largest || b.MaxY-b.MinY > largest {
		return nil, fmt.Errorf("audit: the design is %.0f × %.0f mm; mend proves designs up to %d mm", b.WidthMM(),
			b.HeightMM(), largest/stitch.UnitsPerMM)
	}
	if len(old.objects) > 0 {
		for _, step := range []func(context.Context) error{m.stops, m.holes, m.jumps, m.order} {
			if err := step(ctx); err != nil {
				return nil, err
			}
		}
	}
	return m.finish()
}

// mender is a mend under way: the best records so far and what their blocks
// were.
type mender struct {
	*Mended
	sheet   *machine.Sheet
	o       MendOptions
	d       *stitch.Design
	old     *layout
	rec     []stitch.Record
	blocks  []int // new block → old block
	threads []int // of the old blocks
	now     float64
	dropped int
}

func identity(n int) []int {
	s := make([]int, n)
	for i := range s {
		s[i] = i
	}
	return s
}

// jobFor moves the needles a job names to the blocks' new places.
func jobFor(job clock.Job, blocks []int, needles int) clock.Job {
	if len(job.Needles) == 0 {
		return job
	}
	moved := make([]int, len(blocks))
	for k, old := range blocks {
		switch {
		case old < len(job.Needles):
			moved[k] = job.Needles[old]
		case needles > 0:
			moved[k] = old % needles
		}
	}
	job.Needles = moved
	return job
}

func (m *mender) seconds(rec []stitch.Record, blocks []int) float64 {
	job := jobFor(m.Job, blocks, m.sheet.Needles)
	return clock.Run(&stitch.Design{Records: rec}, m.sheet, job).Seconds
}

// take keeps a step if it makes the clock faster.
func (m *mender) take(rec []stitch.Record, blocks []int, ch Change) bool {
	t := m.seconds(rec, blocks)
	if !(t < m.now-1e-9) {
		return false
	}
	ch.Seconds = m.now - t
	m.rec, m.blocks, m.now = rec, blocks, t
	m.dropped += len(ch.Stitches)
	m.Changes = append(m.Changes, ch)
	return true
}

// blockMap turns the block numbers of a rebuilt design, which are of the
// records it was built from, into the old design's.
func (m *mender) blockMap(blocks []int) []int {
	out := make([]int, len(blocks))
	for k, b := range blocks {
		if b < len(m.blocks) {
			out[k] = m.blocks[b]
		}
	}
	return out
}

// threadsNow are the threads of the blocks as they are now.
func (m *mender) threadsNow(blocks int) []int {
	out := make([]int, blocks)
	for k := range out {
		if k < len(m.blocks) {
			out[k] = m.threads[m.blocks[k]]
		}
	}
	return out
}

func (m *mender) explicit() bool {
	for _, r := range m.d.Records {
		if r.Op == stitch.Trim {
			return true
		}
	}
	return false
}

// stops drops colour stops with no change of thread, empty blocks, and cuts
// right before a colour stop, which cuts itself.
func (m *mender) stops(context.Context) error {
	l, err := lay(m.rec, m.old.trimAfter)
	if err != nil {
		return err
	}
	r := l.rebuild(identity(len(l.objects)), m.threadsNow(l.blocks), build{explicit: m.explicit(), tidy: true,
		join: true})
	cut := func(rec []stitch.Record) (trims, stops int) {
		for e := range stitch.Events(rec, l.trimAfter) {
			switch e.Kind {
			case stitch.TrimCut:
				trims++
			case stitch.ColourCut:
				stops++
			}
		}
		return
	}
	t0, s0 := cut(m.rec)
	t1, s1 := cut(r.rec)
	if t0 == t1 && s0 == s1 {
		return nil // only ways were written anew: that is for jumps
	}
	what := fmt.Sprintf("colour stops %d → %d, trims %d → %d: a stop with no thread change, an empty block or a "+
		"second cut in the same place went", s0, s1, t0, t1)
	m.take(r.rec, m.blockMap(r.blocks), Change{Kind: ChangeStops, Count: s0 + t0 - s1 - t1, What: what})
	return nil
}

// holes drops stitches that leave no mark: a second stitch into the same
// hole, and a tiny one in the middle of a straight way.
func (m *mender) holes(context.Context) error {
	l, err := lay(m.rec, m.old.trimAfter)
	if err != nil {
		return err
	}
	rec, dropped := l.dropHoles()
	if len(dropped) == 0 {
		return nil
	}
	m.take(rec, m.blocks, Change{Kind: ChangeHoles, Count: len(dropped), Stitches: dropped,
		What: fmt.Sprintf("dropping %s leaves no mark: the needle was in the same hole, or moved a hair "+
			"along a straight way", words.Count(len(dropped), "stitch").Text(nil))})
	return nil
}

// jumps straightens ways: the fewest equal jumps with the same cuts.
func (m *mender) jumps(context.Context) error {
	l, err := lay(m.rec, m.old.trimAfter)
	if err != nil {
		return err
	}
	rec, n := l.straighten(m.explicit())
	if n == 0 {
		return nil
	}
	m.take(rec, m.blocks, Change{Kind: ChangeJumps, Count: n, What: words.Count(n, "way").Text(nil) + " straightened"})
	return nil
}

// minBlockSaving is what changing the order of colours must save if it saves
// no colour stop, in seconds a run: a new order is a chance to thread the
// wrong colour. An engineering choice, no source.
const minBlockSaving = 3

// againRounds is a second or less of searching.
const againRounds = 3000

func (m *mender) order(ctx context.Context) error {
	l, err := lay(m.rec, m.old.trimAfter)
	if err != nil {
		return err
	}
	if len(l.objects) < 2 {
		return nil
	}
	if len(l.objects) > mostObjects {
		m.Off = fmt.Sprintf("the order of %d objects was not looked at; up to %d are", len(l.objects), mostObjects)
		return nil
	}
	job := jobFor(m.Job, m.blocks, m.sheet.Needles)
	p := &orders{l: l, touch: newGrid(l.threads()).touching(len(l.objects)), clock: clock.New(m.sheet, job),
		sheet: m.sheet, job: job,
		threads: m.threadsNow(l.blocks), build: build{explicit: m.explicit(), join: true}, keepBlocks: m.o.KeepColours,
		most: mostNodes}
	o := sequence.Options{Seed: m.o.Seed, Rounds: m.o.Rounds, States: m.o.States, Progress: m.o.Progress}
	try := func(ctx context.Context, o sequence.Options) (rebuilt, sequence.Result, bool, error) {
		order, res, err := p.solve(ctx, o)
		if err != nil {
			return rebuilt{}, res, false, err
		}
		same := true
		for k, i := range order {
			same = same && k == i
		}
		return l.rebuild(order, p.threads, p.build), res, same, nil
	}
	r, res, same, err := try(ctx, o)
	if err != nil {
		return err
	}
	m.Search, m.Objects = res, len(l.objects)
	gain := func(r rebuilt) float64 { return m.now - m.seconds(r.rec, m.blockMap(r.blocks)) }
	if !same && !p.keepBlocks && !ascending(r.blocks) && len(r.blocks) >= l.blocks && gain(r) < minBlockSaving {
		// Once more with the colours in their order. If the time is up, a short
		// search must do; no order kept so beats the bound of the free one.
		p.keepBlocks = true
		if ctx.Err() != nil {
			ctx, o.Quick, o.Rounds = context.WithoutCancel(ctx), true, againRounds
		}
		if r, res, same, err = try(ctx, o); err != nil {
			return err
		}
		res.Bound = max(res.Bound, m.Search.Bound)
		res.Optimal = res.Cost <= res.Bound
		m.Search = res
	}
	if same && r.joined == 0 {
		return nil
	}
	what := "objects sewn in the order that takes the fewest seconds; whatever touches kept its order"
	m.take(r.rec, m.blockMap(r.blocks), Change{Kind: ChangeOrder, Count: len(l.objects), What: what})
	return nil
}

func ascending(s []int) bool {
	for k := 1; k < len(s); k++ {
		if s[k] <= s[k-1] {
			return false
		}
	}
	return true
}

// finish makes the design and proves it.
func (m *mender) finish() (*Mended, error) {
	out := *m.d
	out.Records = m.rec
	if m.Changed() && len(m.d.Threads) > 0 {
		out.Threads = make([]stitch.Thread, 0, len(m.blocks))
		for _, b := range m.blocks {
			t := stitch.Thread{}
			if b < len(m.d.Threads) {
				t = m.d.Threads[b]
			}
			out.Threads = append(out.Threads, t)
		}
	}
	m.Design = &out
	m.Mended.Blocks = m.blocks
	m.Mended.Job = jobFor(m.Job, m.blocks, m.sheet.Needles)
	m.After = clock.Run(m.Design, m.sheet, m.Mended.Job)
	proof, err := Prove(m.d, m.Design, m.threads, m.threadsNow(len(m.blocks)), m.sheet.Reading.TrimAfterJumps)
	proof.SecondsBefore, proof.SecondsAfter = m.Before.Seconds, m.After.Seconds
	proof.StitchesDropped = m.dropped
	m.Proof = proof
	if err != nil {
		return nil, err
	}
	return m.Mended, proof.Err()
}
