package audit

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

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
	// KeepStops leaves every stop, its place and what is sewn before it.
	KeepStops bool
	// Release are stops, by their numbers as Stand counts them, that may go
	// although nothing asks for it. A stop of the operator's cannot.
	Release []int
	// Hands are places, 0.1 mm, where a stop is the operator's whatever is sewn
	// around it: the format has it nearer to the work than it was.
	Hands []stitch.Point
	// TrimJumps is how many jumps each trim has at least that is a run of
	// jumps: the most that any machine wants which shall sew the file. Never
	// fewer than the machine at hand wants and the design's own trims have as a
	// rule (nine in ten of them).
	TrimJumps int
	// FewestJumps is the fewest jumps that any machine takes for a trim which
	// shall sew the file: a run of so many keeps its jumps, though the machine at
	// hand leaves the thread there. 0, or more than the trade's three: three.
	FewestJumps int
	// TrimRecords: the file will have a record for each trim, and needs no run of
	// jumps for one, though the design has no such record.
	TrimRecords bool
	Seed        uint64
	// Rounds bounds the search for an order (0: until the context is done, or
	// proven). Without a context that ends give it a number.
	Rounds int
	// States bounds the exact search, see sequence.Options.
	States int
	// Progress, if not nil, hears of the search.
	Progress func(sequence.Progress)
	// Solve, if not nil, searches in place of sequence.Solve, as that does.
	Solve func(context.Context, *sequence.Problem, sequence.Options) (sequence.Result, error)
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
	ChangeTrims = "trims" // trims made longer for machines that want more jumps
	ChangeStops = "stops" // colour stops and cuts that changed nothing
	ChangeHoles = "holes" // stitches dropped that left no mark
	ChangeJumps = "jumps" // the way of jumps straightened
	ChangeOrder = "order" // objects sewn in another order
	ChangeTurn  = "turn"  // lines sewn from their other end
	ChangeRing  = "ring"  // closed lines begun at another hole
	ChangeCut   = "cut"   // objects cut in two for another thread to pass between
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
	// Kept are the stops that stay where they were, with all that was sewn
	// before them before them and all else after.
	Kept []Stand
	// TrimJumps is how many jumps each trim has at least (trim records aside).
	TrimJumps int
	// Search is how the order was found, in units of 10 µs over what an order
	// can change; Objects is how many there were to order (0: no search).
	Search sequence.Result
	// ColoursStay says that another order of the colours was found that saves less than LeastForColours: it
	// was left, and Search is of those that leave it.
	ColoursStay bool
	Objects     int
	Off         string // why no order was searched, if there is a reason

	// What no order takes less than, s, of all and of those that leave the colours so: the
	// least of every round, for what an order left open no later round can close.
	free, coloured float64
	threads        []int // of the old blocks
	trimAfter      int
	links          []state // what it was before lines were turned or rings begun elsewhere, and after, in pairs
}

// state is a mend on the way.
type state struct {
	rec    []stitch.Record
	blocks []int // new block → old block
}

// Saved is the seconds gained on each run.
func (m *Mended) Saved() float64 { return m.Before.Seconds - m.After.Seconds }

// Bound is what no order of the objects takes less than, in seconds a run: neither as
// they are, each sewn in its direction, nor as they were before any was joined
// to another or turned.
func (m *Mended) Bound() float64 { return min(m.After.Seconds, m.free) }

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
	m := &mender{Mended: &Mended{Job: job, Before: c.Run(d), threads: threads, trimAfter: old.trimAfter,
		free: math.Inf(1), coloured: math.Inf(1)},
		sheet: s, o: o, d: d, old: old,
		rec: d.Records, blocks: identity(old.blocks), holes: identity(len(old.holes))}
	m.After = m.Before
	m.now = m.Before.Seconds
	b := d.Count().Bounds
	if b.MaxX-b.MinX > largest || b.MaxY-b.MinY > largest {
		return nil, fmt.Errorf("the design is %.0f × %.0f mm; mend proves designs up to %d mm", b.WidthMM(),
			b.HeightMM(), largest/stitch.UnitsPerMM)
	}
	if err := m.mayGo(); err != nil {
		return nil, err
	}
	if len(old.objects) > 0 {
		m.trims()
		// What one step does can make room for another. When the time is up, short
		// searches must do; when nobody waits any more, what there is.
		for before := math.Inf(1); m.pass < mostPasses && before-m.now > leastPass &&
			(m.pass == 0 || !errors.Is(ctx.Err(), context.Canceled)); m.pass++ {
			before = m.now
			for _, step := range []func(context.Context, *layout) error{m.stops, m.dropHoles, m.jumps, m.order, m.turn, m.rings, m.cut} {
				l, err := lay(m.rec, m.old.trimAfter)
				if err != nil {
					return nil, err
				}
				m.hold(l)
				if err := step(ctx, l); err != nil {
					return nil, err
				}
			}
		}
	}
	return m.finish()
}

// mostPasses bounds how often all steps are gone through; two do as a rule.
// leastPass is what one must save for another, in seconds a run: the clock shows
// no less.
const (
	mostPasses = 8
	leastPass  = 1e-3
)

// mender is a mend under way: the best records so far and what their blocks
// were.
type mender struct {
	*Mended
	sheet  *machine.Sheet
	o      MendOptions
	d      *stitch.Design
	old    *layout
	rec    []stitch.Record
	blocks []int // new block → old block
	holes  []int // new penetration → old
	now    float64
	pass   int  // how often all steps were gone through
	spare  bool // the stops to be released may still be there
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
	return clock.New(m.sheet, job).Seconds(rec)
}

// take keeps a step if it makes the clock faster. holes are the numbers, before
// the step, of the penetrations after it; nil: they are the same.
func (m *mender) take(rec []stitch.Record, blocks, holes []int, ch Change) bool {
	t := m.seconds(rec, blocks)
	if !(t < m.now-1e-9) {
		return false
	}
	ch.Seconds = m.now - t
	m.rec, m.blocks, m.now = rec, blocks, t
	if holes != nil {
		before := m.holes
		m.holes = make([]int, len(holes))
		for k, h := range holes {
			m.holes[k] = before[h]
		}
	}
	m.add(ch)
	return true
}

// add keeps a change, with an earlier one of its kind as one.
func (m *mender) add(ch Change) {
	slices.Sort(ch.Stitches)
	for k := range m.Changes {
		if c := &m.Changes[k]; c.Kind == ch.Kind {
			if c.Count += ch.Count; c.Kind == ChangeOrder {
				c.Count = max(c.Count-ch.Count, ch.Count) // the same objects once more
			}
			c.Seconds += ch.Seconds
			c.Stitches = append(c.Stitches, ch.Stitches...)
			slices.Sort(c.Stitches)
			return
		}
	}
	m.Changes = append(m.Changes, ch)
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
	return m.o.TrimRecords || slices.ContainsFunc(m.rec, func(r stitch.Record) bool { return r.Op == stitch.Trim })
}

// mayGo refuses stops to be released that are not there or are the operator's,
// and finds those that stay.
func (m *mender) mayGo() error {
	m.old.hands = m.o.Hands
	all := m.old.stands(m.threads, m.o.KeepStops)
	for _, n := range m.o.Release {
		if n < 1 || n > len(all) {
			return fmt.Errorf("stop %d was named to go; the design has %s", n, words.Count(len(all), "stop").Text(nil))
		}
		if s := all[n-1]; s.Why.Final() {
			return fmt.Errorf("stop %d was named to go, but it is the operator's (%s, %.1f mm from the "+
				"work): it stays", n, s.Why, s.Away)
		}
	}
	m.spare = len(m.o.Release) > 0
	m.Kept = m.hold(m.old)
	return nil
}

// hold marks what stays in a layout of the records as they are.
func (m *mender) hold(l *layout) []Stand {
	var gone func(int) bool
	if m.spare {
		gone = func(n int) bool { return slices.Contains(m.o.Release, n) }
	}
	l.hands = m.o.Hands
	return l.hold(m.threadsNow(l.blocks), m.o.KeepStops, gone)
}

// trims gives every trim that is a run of jumps as many as the machines want.
// It may cost time; a mend that does not win it back is not handed out.
func (m *mender) trims() {
	m.TrimJumps = max(trimJumps, m.old.trimAfter, m.o.TrimJumps, m.old.usualTrim())
	rec, n := m.old.lengthen(m.TrimJumps)
	if n == 0 {
		return
	}
	t := m.seconds(rec, m.blocks)
	m.add(Change{Kind: ChangeTrims, Count: n, Seconds: m.now - t})
	m.rec, m.now = rec, t
}

// stops drops released colour stops with no change of thread, empty blocks,
// and cuts right before a colour stop, which cuts itself.
func (m *mender) stops(_ context.Context, l *layout) error {
	m.spare = false
	r := l.rebuild(identity(len(l.objects)), m.threadsNow(l.blocks), build{explicit: m.explicit(), tidy: true,
		join: m.pass > 0, jumps: m.TrimJumps}) // what is joined at first no order could part
	count := func(rec []stitch.Record) (trims, stops int) {
		for e := range stitch.Events(rec, l.trimAfter) {
			switch e.Kind {
			case stitch.TrimCut:
				trims++
			case stitch.ColourCut:
				stops++
			}
		}
		return trims, stops
	}
	trims, stops := count(m.rec)
	trimsLeft, stopsLeft := count(r.rec)
	if trims == trimsLeft && stops == stopsLeft {
		return nil // only ways were written anew: that is for jumps
	}
	m.take(r.rec, m.blockMap(r.blocks), r.holes, Change{Kind: ChangeStops,
		Count: stops - stopsLeft + max(0, trims-trimsLeft)})
	return nil
}

// dropHoles drops stitches that leave no mark: a second stitch into the same
// hole, and a tiny one in the middle of a straight way.
func (m *mender) dropHoles(_ context.Context, l *layout) error {
	rec, dropped := l.dropHoles()
	if len(dropped) == 0 {
		return nil
	}
	ch := Change{Kind: ChangeHoles, Count: len(dropped)}
	left := identity(len(l.holes))
	for _, k := range dropped {
		ch.Stitches = append(ch.Stitches, m.holes[k])
		left[k] = -1
	}
	left = slices.DeleteFunc(left, func(k int) bool { return k < 0 })
	m.take(rec, m.blocks, left, ch)
	return nil
}

// fewest is how many jumps may be a trim on some machine.
func (m *mender) fewest() int {
	if n := m.o.FewestJumps; n > 0 {
		return min(n, trimJumps)
	}
	return trimJumps
}

// jumps straightens ways: the fewest equal jumps with the same cuts.
func (m *mender) jumps(_ context.Context, l *layout) error {
	if rec, n := l.straighten(m.TrimJumps, m.fewest()); n > 0 {
		m.take(rec, m.blocks, nil, Change{Kind: ChangeJumps, Count: n})
	}
	return nil
}

// LeastForColours is what changing the order of colours must save if it saves
// no colour stop, in seconds a run: a new order is a chance to thread the
// wrong colour. An engineering choice, no source.
const LeastForColours = 3

// againRounds is a second or less of searching.
const againRounds = 3000

// orders is the problem of the order of a layout's objects.
func (m *mender) orders(l *layout) *orders {
	job := jobFor(m.Job, m.blocks, m.sheet.Needles)
	return &orders{l: l, touch: newGrid(l.threads()).touching(len(l.objects)), clock: clock.New(m.sheet, job),
		sheet: m.sheet, job: job, threads: m.threadsNow(l.blocks),
		build: build{explicit: m.explicit(), join: true, jumps: m.TrimJumps}, keepBlocks: m.o.KeepColours, most: mostNodes, search: m.o.Solve}
}

func (m *mender) order(ctx context.Context, l *layout) error {
	if len(l.objects) < 2 {
		return nil
	}
	if len(l.objects) > mostObjects {
		m.Off = fmt.Sprintf("the order of %d objects was not looked at; up to %d are", len(l.objects), mostObjects)
		return nil
	}
	p := m.orders(l)
	o := sequence.Options{Seed: m.o.Seed, Rounds: m.o.Rounds, States: m.o.States, Progress: m.o.Progress}
	if m.pass > 0 && ctx.Err() != nil {
		// Objects were joined or turned since: a short search among them, with bounds.
		ctx, o.Rounds, o.States = context.WithoutCancel(ctx), againRounds, -1
	}
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
	m.free = min(m.free, m.least(r, res))
	if !same && !p.keepBlocks && !ascending(r.blocks) && len(r.blocks) >= l.blocks && m.now-m.seconds(r.rec, m.blockMap(r.blocks)) < LeastForColours {
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
	m.coloured = min(m.coloured, m.least(r, res))
	if same && r.joined == 0 {
		return nil
	}
	m.take(r.rec, m.blockMap(r.blocks), r.holes, Change{Kind: ChangeOrder, Count: len(l.objects)})
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

// least is what no order takes less than by a search that found r, s. Where threads
// go on in a hole, the second stitch into it may go in a later round.
func (m *mender) least(r rebuilt, res sequence.Result) float64 {
	takes := m.seconds(r.rec, m.blockMap(r.blocks))
	if r.joined > 0 {
		if l, err := lay(r.rec, m.old.trimAfter); err == nil {
			rec, _ := l.dropHoles()
			takes = min(takes, m.seconds(rec, m.blockMap(r.blocks)))
		}
	}
	return takes - float64(res.Cost-res.Bound)*tick
}

// finish makes the design and proves it.
func (m *mender) finish() (*Mended, error) {
	if !(m.now < m.Before.Seconds-1e-9) { // longer trims that no step won back
		m.rec, m.blocks, m.holes, m.Changes = m.d.Records, identity(m.old.blocks), identity(len(m.old.holes)), nil
		m.links = nil
	}
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
	m.tell()
	m.weigh()
	proof, err := m.Prove(m.d, m.Design)
	if err != nil {
		return nil, err
	}
	proof.SecondsBefore, proof.SecondsAfter = m.Before.Seconds, m.After.Seconds
	proof.StitchesDropped = len(m.old.holes) + proof.StitchesAdded - len(m.holes)
	m.Proof = proof
	if err := m.stopsStand(); err != nil {
		return nil, err
	}
	return m.Mended, proof.Err()
}

// weigh says of the order what was found in all rounds: one that an earlier round
// left, or could not rule out, may take less than what was made of another.
func (m *mender) weigh() {
	if m.Objects == 0 {
		return
	}
	now := m.After.Seconds - leastPass
	if m.coloured < now {
		m.Search.Bound = min(m.Search.Bound, m.Search.Cost-int64(math.Ceil((m.After.Seconds-m.coloured)/tick)))
		m.Search.Optimal = false
	}
	m.ColoursStay = m.free < min(now, m.coloured-leastPass)
}

// stopsStand checks that every stop which stays stands where it stood, after
// just what was sewn before it.
func (m *mender) stopsStand() error {
	l, err := lay(m.rec, m.old.trimAfter)
	if err != nil {
		return err
	}
	now := l.stands(m.threadsNow(l.blocks), false)
	next := 0
	for _, s := range m.Kept {
		found := false
		for ; next < len(now) && !found; next++ {
			n := &now[next].Stand
			found = n.X == s.X && n.Y == s.Y &&
				(n.Stitch == 0 || slices.Max(m.holes[:n.Stitch]) < s.Stitch) &&
				(n.Stitch == len(m.holes) || slices.Min(m.holes[n.Stitch:]) >= s.Stitch)
		}
		if !found {
			return fmt.Errorf("%w (stop %d, which is to stay, does not stand where it stood)", ErrProof, s.Number)
		}
	}
	return nil
}

// tell puts what was done into words.
func (m *Mended) tell() {
	for k := range m.Changes {
		c := &m.Changes[k]
		switch c.Kind {
		case ChangeTrims:
			c.What = fmt.Sprintf("%s written with %d jumps or more, as the machines want that are to read the file",
				words.Count(c.Count, "trim").Text(nil), m.TrimJumps)
		case ChangeStops:
			c.What = fmt.Sprintf("second cuts in one place went, and stops that were named to go: %d", c.Count)
		case ChangeHoles:
			c.What = fmt.Sprintf("dropping %s leaves no mark: the needle was in the same hole, or moved a hair "+
				"along a straight way", words.Count(c.Count, "stitch").Text(nil))
		case ChangeJumps:
			c.What = words.Count(c.Count, "way").Text(nil) + " straightened"
		case ChangeTurn:
			c.What = words.Count(c.Count, "line").Text(nil) + " sewn from the other end: both ends are alike, and " +
				"nothing else lies otherwise"
		case ChangeRing:
			c.What = words.Count(c.Count, "line").Text(nil) + " that close begun and ended at another hole: no end is locked, " +
				"and nothing else lies otherwise"
		case ChangeCut:
			c.What = words.Count(c.Count, "object").Text(nil) + " cut in two at lock stitches, so that another thread is " +
				"sewn between; the needle goes into the hole there once more"
		case ChangeOrder:
			c.What = "objects sewn in the order that takes the fewest seconds; whatever touches kept its order"
		}
	}
}
