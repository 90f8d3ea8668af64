package sound

import (
	"context"
	"errors"
	"math"
	"slices"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// Options of Hear.
type Options struct {
	Known bool // the sheet's law is the machine's own, learned, not only its class's
	// Progress, if not nil, is told the share of the work that is done.
	Progress func(done float64)
}

// Heard is a recording laid on a design.
type Heard struct {
	Seconds float64        // of the recording
	Sheet   *machine.Sheet // the sheet with the law as heard
	Speed   float64        // stitches/min, the set speed as heard
	Strokes []Stroke       // in order of time
	Runs    []Span
	Events  []Event
	Held    []Holding // speeds held on stitches of one length
	Sewn    []Stretch // the sewing, in stretches of stitches that are alike
	Rested  []Rested  // the design's own rests
	Clear   float64   // share of the stitches that are clearly heard, 0…1
	Clipped float64   // share of the recording that is too loud for the recorder
}

// Stroke is one stitch that was heard.
type Stroke struct {
	At     float64 // s
	Stitch int     // of the design, from 0; what is sewn again comes again
	Within int     // by how many that may be wrong
	Sure   float64 // how clear it was: 1 a clear stroke, 0 nothing heard
}

// Span is a stretch of sewing without a stop.
type Span struct {
	Start, End float64 // s, the shaft's first and last movement
	Stitches   int
	Counted    int // of them, clearly heard
	First      int // stitch of the design, from 0
	Within     int // by how many the numbers of its stitches may be wrong; their times are right
	Record     int // of the design, its first
	Block      int // colour block, from 0
}

// Event is what happened at rest.
type Event struct {
	Kind       Kind
	Start, End float64 // s
	// Again is how many stitches were sewn again after it (of a Break), Within by how many
	// that may be wrong: as the numbers of the last stitch before it and of the first after it.
	Again, Within int
}

// clearly is how clear a stroke must be to be counted.
const clearly = 0.3

// Hear lays a recording's curve on the design that was sewn, on a machine like
// the sheet's, set as the job says; a speed of 0 there means that it is to be
// heard. Errors: a Refused, ctx's.
//
// Listening and learning are one problem. A coarse search over set speeds and
// accelerations of the frame takes the law whose rhythm fits the recording best
// and lays the design on it. Then by turns the law is fitted to the strokes that
// were found, and the strokes are found by the law: first each turn for itself
// (laid.lay), then by the law with a slow drift (laid.follow).
func Hear(ctx context.Context, c *Curve, d *stitch.Design, s *machine.Sheet, job clock.Job, opt Options) (*Heard, error) {
	h, err := heard(ctx, c, d, s, job, opt, false)
	if why := Refused(0); errors.As(err, &why) && !(h != nil && h.beside) {
		if again, err := heard(ctx, c, d, s, job, opt, true); err == nil {
			return again.result(), nil
		} else if ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	if err != nil {
		return nil, err
	}
	return h.result(), nil
}

// heard is work that is refused where it is not to be trusted.
func heard(ctx context.Context, c *Curve, d *stitch.Design, s *machine.Sheet, job clock.Job, opt Options, twice bool) (*hearing, error) {
	h, err := work(ctx, c, d, s, job, opt, twice)
	if err == nil {
		err = h.refuse()
	}
	return h, err
}

// work lays the recording on the design whatever it is of; twice: by two strokes a revolution.
func work(ctx context.Context, c *Curve, d *stitch.Design, s *machine.Sheet, job clock.Job, opt Options, twice bool) (*hearing, error) {
	h := &hearing{twice: twice, told: &told{tried: map[beside]bool{}}, sheet: s, whole: d, design: d, curve: c, opt: opt, jobSpeed: job.Speed}
	tell := opt.Progress
	if tell == nil {
		tell = func(float64) {}
	}
	h.o = c.pulses(&evenBands)
	if len(h.o) < 1000 {
		return nil, TooShort
	}
	w := worth(h.o)
	h.worth, h.wide = laying(w), widened(w)
	h.blurs() // for all copies
	h.law = law{sheet: s.Clone(), job: job, phase: 0.7}
	guesses, err := h.coarse(ctx)
	if err != nil {
		return nil, err
	}
	tell(0.3)
	if h.twice && h.share(guesses[0].law) < leastEarns {
		return nil, NotThis
	}
	given := law{sheet: h.sheet, job: guesses[0].law.job, phase: h.law.phase}
	h.fitted = h.terms()
	for _, t := range h.fitted {
		h.prior = append(h.prior, t.get(&given))
	}
	if h, err = h.firstLook(ctx, guesses); err != nil {
		return nil, err
	}
	best := h.lay(drifting{reach: 0.6, step: 0.1, ends: 0.03})
	climbed := math.Inf(-1)
	for k := range mostRounds {
		by := roundsDrift[min(k, len(roundsDrift)-1)]
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		tell(0.45 + 0.5*float64(k)/mostRounds)
		was := best.earned
		if best.earned > climbed+gains {
			if now := h.lay(by).climbed(by); now.earned > best.earned {
				best = now
				*h = *best.again()
			}
			climbed = best.earned
		}
		now := h.number(by)
		*h = *now.again()
		// The fit to what was heard can be worse than the way that was found.
		h.law, _ = h.fit(h.law, h.blocks(0), 2)
		h.relay()
		if fitted := h.lay(by); fitted.earned >= now.earned {
			now = fitted
		}
		if now.earned > best.earned {
			best = now
		}
		*h = *best.again()
		// The law is better known now: the way through the design may be another.
		h.retrace(true)
		if math.IsInf(h.path.score, -1) {
			*h = *best.again()
			continue
		}
		h.play(h.halts())
		h.score = h.law.score(h.design)
		h.fine(h.resectioned())
		if other := h.lay(by); other.earned > best.earned {
			best = other
		}
		best = best.found(by).without(by).missed(by).settle(by)
		*h = *best.again()
		if best.earned < was+gains && h.numbered() {
			if best = best.lagging(by); best.earned < was+gains {
				best = best.unslipped(by)
			}
			if best.earned < was+gains {
				break
			}
			*h = *best.again()
		} else if k == mostRounds-1 {
			*h = *best.unslipped(by).again()
		}
	}
	*h = *h.retwinned(roundsDrift[len(roundsDrift)-1]).again()
	h.doubt()
	h.doubtPieces()
	h.doubtAgain()
	h.doubtOthers()
	h.untwin()
	return h, nil
}

// roundsDrift is what laying pays in each round; the last goes on.
var roundsDrift = []drifting{
	{reach: 0.6, step: 0.1, ends: 0.03},
	{reach: 0.4, step: 0.2, ends: 0.06},
	{reach: 0.3, step: 0.2, ends: 0.06},
}

// There are so many rounds at the most, and gains is what one must earn for another
// to be worth its time.
const (
	mostRounds = 4
	gains      = 1
)

// lags are the lags of a controller, in s, that are tried where the strokes run ahead of
// the law or behind it by lagDrift ms a stroke in the mean.
var lags = []float64{0.04, 0.08, 0.12, 0.17, 0.23, 0.3}

const lagDrift = 0.02

// drifts reports whether the strokes run ahead of the law or behind it.
func (h *hearing) drifts() bool {
	sum, n := 0.0, 0
	for _, l := range h.laid {
		sum, n = sum+l.drifted, n+len(l.at)
	}
	return sum > lagDrift*float64(n)
}

// lagging tries whether the shaft follows its cap with a lag, where the sheet does not
// say that it does.
func (h *hearing) lagging(by drifting) *hearing {
	best := h
	if h.opt.Known || h.law.sheet.Shaft.Lag > 0 || !h.drifts() {
		return h
	}
	for _, lag := range lags {
		try := h.again()
		try.law = try.law.clone()
		try.law.sheet.Shaft.Lag = lag
		try.relearn(2)
		if now := try.lay(by); now.earned > best.earned && now.earned > h.earned+lagEarns {
			best = now
		}
	}
	return best
}

// lagEarns is what a lag must earn to be believed, in clear strokes.
const lagEarns = 3

// haltEarns is what a stop that the design does not know must earn to be believed.
const haltEarns = 3

// fewAgain is how many stitches are sewn again after a break as a matter of course (common practice, no published
// source); each more costs a clear stroke: of a long rest's noise as many strokes as a run has can be made, none of them clear.
const fewAgain = 10

// resewn is what it costs that so many stitches are sewn again.
func resewn(halts []halt) (cost float64) {
	for _, t := range halts {
		cost += float64(max(t.last+1-t.next-fewAgain, 0))
	}
	return cost
}

// without leaves out stops that nothing speaks for: slow stitches that hardly
// have a rhythm can look like one, and so can what knocks in a rest.
func (h *hearing) without(by drifting) *hearing {
	best := h
	if len(h.halted) > 0 {
		try := h.again()
		try.retrace(false)
		if !math.IsInf(try.path.score, -1) {
			try.play(nil)
			try.score = try.law.score(try.design)
			try.fine(try.resectioned())
			if now := try.lay(by); now.earned > best.earned {
				return now
			}
		}
	}
	for k := len(h.halted) - 1; k >= 0; k-- {
		was := best
		if k >= len(was.halted) {
			continue
		}
		try := was.again()
		try.play(slices.Delete(slices.Clone(try.halted), k, k+1))
		try.score = try.law.score(try.design)
		try.fine(try.resectioned())
		for _, t := range []*hearing{try, was.joined(k, true), was.joined(k, false)} {
			if t == nil {
				continue
			}
			now := t.lay(by)
			if t != try && now.earned < best.earned && len(t.halted) > 0 {
				// One stroke that was not sewn has moved the numbers of all that are joined with it.
				sorted := now.again()
				sorted.sortHalts()
				if sorted = sorted.lay(by); sorted.earned > now.earned {
					now = sorted
				}
			}
			if t != try && now.earned < best.earned {
				// What is left over may be of the run before or after, where it was not missed as long as it stood here.
				now = now.missed(by)
			}
			if now.earned > best.earned {
				best = now
			}
		}
	}
	return best
}

// joined is the hearing without a stop: what it was the side of is all sewn where one side of it
// was heard, the one before it or the one after; nil where it cannot be played.
func (h *hearing) joined(q int, before bool) *hearing {
	k := h.after[q]
	keep := k
	if before {
		keep = k - 1
	}
	try := h.again()
	was := slices.Replace(slices.Clone(h.pieces), k-1, k+1, h.pieces[keep])
	try.laid = slices.Replace(try.laid, k-1, k+1, try.laid[keep])
	if !try.replay(slices.Delete(slices.Clone(h.halted), q, q+1), was) {
		return nil
	}
	return try
}

// lookSeconds is how much of a long recording the most promising laws are compared by.
const lookSeconds = 300

// firstLook follows the most promising laws a little further and gives the one
// by which most is heard.
func (h *hearing) firstLook(ctx context.Context, guesses []guess) (*hearing, error) {
	look := h.shortened(guesses[0].law)
	var best *hearing
	for _, g := range guesses {
		try := *look
		try.law = g.law
		for range 3 {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			if !try.look() {
				break
			}
		}
		if len(try.laid) == 0 {
			continue
		}
		if now := try.lay(drifting{reach: 0.6, step: 0.1, ends: 0.03}); best == nil || now.earned > best.earned {
			best = now
		}
	}
	if best == nil {
		return nil, TooShort
	}
	if look != h {
		h.law = best.law
		if !h.look() {
			return nil, TooShort
		}
		return h, nil
	}
	return best, nil
}

// look lays the design by the law as known so far and learns it anew; it reports
// whether there is a way through the design.
func (h *hearing) look() bool {
	was := *h
	h.retrace(true)
	if len(h.path.way) == 0 || math.IsInf(h.path.score, -1) {
		*h = was // what is laid is of the score before
		return false
	}
	h.play(h.halts())
	h.score = h.law.score(h.design)
	h.fine(h.resectioned())
	h.relearn(2)
	return true
}

// shortened is the work on as much of the design as a law sews in lookSeconds; all of
// it where that is most of the recording.
func (h *hearing) shortened(l law) *hearing {
	r := h.rhythm
	n := int(lookSeconds / r.every)
	if r.n < n*3/2 {
		return h
	}
	sc := l.score(h.whole)
	cells := sc.cells(r.every)
	way := begins(r, n, cells).way
	f := len(way) - 1
	for f > 0 && (way[f].stopped || cells[way[f].cell].passage < 0) {
		f--
	}
	if f <= 0 {
		return h
	}
	at := cells[way[f].cell]
	p := &sc.passages[at.passage]
	c := *h
	d := *h.whole
	d.Records = d.Records[:p.record[strokeAt(p, float64(at.from))]+1]
	c.whole, c.design, c.first = &d, &d, nil
	c.rhythm = &rhythm{every: r.every, n: f + 1, e: r.e[:(f+1)*gridSize], gained: r.gained[:min(f+1, len(r.gained))]}
	return &c
}

// lay lays every passage by the law and gives a copy of all that was found. What it earns
// is that of the strokes, less what speaks against so many stops, against the law, against rests as long
// as they are and against strokes that are silent, and what is heard beyond the passages' ends.
func (h *hearing) lay(by drifting) *hearing {
	h.earned = -haltEarns*float64(len(h.halted)) - resewn(h.halted) - h.unlikely(&h.law)
	h.between()
	h.hush = h.silentCosts()
	for _, l := range h.laid {
		by := by
		if l.placed {
			by.reach = min(by.reach, 0.02)
		}
		if l.placed || l.lies != by || !slices.Equal(l.liesAt, l.at) { // else it lies as it would
			l.expectByLaw()
			l.follow(h.wide, h.o, by)
			l.lies, l.liesAt = by, l.at
		}
		h.earned += l.score
		if !l.placed {
			h.earned -= h.hush * float64(h.silent(l))
		}
		if n := len(l.at); n >= shortPassage {
			h.earned -= h.blurs().beyond(l.heard[0], -l.turn[0]) + h.blurs().beyond(l.heard[n-1], l.turn[n-1])
		}
	}
	for _, z := range h.unusual() {
		h.earned -= restCost(z)
	}
	h.earned -= h.knocked()
	return h.again()
}

// again is a copy to work on.
func (h *hearing) again() *hearing {
	c := *h
	c.laid = make([]*laid, len(h.laid))
	for k, l := range h.laid {
		m := *l
		m.want, m.heard, m.gain = slices.Clone(l.want), slices.Clone(l.heard), slices.Clone(l.gain)
		c.laid[k] = &m
	}
	c.pieces, c.after, c.numberOf = slices.Clone(h.pieces), slices.Clone(h.after), slices.Clone(h.numberOf)
	c.halted = slices.Clone(h.halted)
	return &c
}

// hearing is the work on one recording.
type hearing struct {
	whole    *stitch.Design // as it is
	design   *stitch.Design // as it was sewn
	first    *score         // of whole
	halted   []halt
	pieces   []piece
	after    []int // played passages that follow a stop of the machine's own
	numberOf []int
	curve    *Curve
	o        []float32
	worth    []int16 // laying
	wide     []int16 // widened
	rhythm   *rhythm
	twice    bool // two strokes a revolution are heard as one turn
	beside   bool // refused for another machine alone: it is not for striking twice that it is not heard
	unsure   bool // which of the two strokes of each turn is the stitch's is not told
	opt      Options
	jobSpeed float64
	law      law
	sheet    *machine.Sheet // as it was given
	fitted   []term
	prior    []float64 // their values by the sheet
	blurred  *blurred
	told     *told
	score    *score
	path     *path
	laid     []*laid
	earned   float64
	hush     float64 // what a silent stroke costs
}

// Where most strokes are clear, one that is not is none: what it costs beside what any costs where
// nothing is heard, in clear strokes, at the share of clear strokes from which it does and at that from
// which it costs all of it.
const (
	silentCost = 1.0
	silentFrom = 0.96
	silentFull = 0.99
)

// silentCosts is what a silent stroke costs in this recording, by how many of the strokes well within
// its passages are clear: their numbers do not matter for that.
func (h *hearing) silentCosts() float64 {
	n, clear := 0, 0
	for _, l := range h.laid {
		for i := endStrokes; i+endStrokes < len(l.gain); i++ {
			n++
			clear += 1 - h.silentAt(l, i)
		}
	}
	if n == 0 {
		return 0
	}
	return silentCost * min(max((float64(clear)/float64(n)-silentFrom)/(silentFull-silentFrom), 0), 1)
}

// silent is how many strokes of a passage are not heard, but for what the recorder left out.
func (h *hearing) silent(l *laid) (n int) {
	for i := range l.gain {
		n += h.silentAt(l, i)
	}
	return n
}

// silentAt is 1 where stroke i of a passage is one of these, else 0.
func (h *hearing) silentAt(l *laid, i int) int {
	if t := int(l.heard[i] / Step); l.gain[i] <= clearly && l.number[i] >= 0 && (t < 0 || t >= h.curve.n || h.curve.level[t] != 0) {
		return 1
	}
	return 0
}

// fine lays every passage stroke by stroke.
func (h *hearing) fine(times, offsets [][]float64) {
	h.laid, h.earned = nil, 0
	for k := range h.score.passages {
		l := &laid{passage: &h.score.passages[k]}
		if len(times[k]) == 0 { // a piece too short for a frame: with the one before it
			times[k], offsets[k] = []float64{h.path.every}, []float64{0}
			if k > 0 {
				times[k][0] = h.laid[k-1].heard[len(h.laid[k-1].heard)-1] + 1
			}
		}
		l.expect(times[k], offsets[k])
		l.lay(h.worth, h.o, turnwise{reach: 0.35, loose: 0.05, ends: 0.25, jitter: 0.001, even: 0.25})
		h.earned += l.score
		h.laid = append(h.laid, l)
	}
}

// result is what was found, in the design's own numbers.
func (h *hearing) result() *Heard {
	out := &Heard{Seconds: h.curve.Seconds(), Sheet: h.law.sheet, Speed: h.law.job.Speed, Held: h.holdings(),
		Clear: h.signs().clear, Clipped: float64(h.curve.clip) / float64(max(h.curve.n, 1))}
	block, blocks := 0, make([]int, len(h.whole.Records))
	for i, r := range h.whole.Records {
		if r.Op == stitch.ColourStop {
			block++
		}
		blocks[i] = block
	}
	for k, l := range h.laid {
		s := Span{Start: l.heard[0] - l.at[0], End: l.heard[len(l.heard)-1] + l.total - l.at[len(l.at)-1], First: -1, Within: l.within}
		s.Record = h.first.passages[h.pieces[k].passage].record[h.pieces[k].from]
		s.Block = blocks[s.Record]
		for i, n := range l.number {
			if n < 0 {
				continue
			}
			n = h.numberOf[l.record[i]]
			if s.First < 0 {
				s.First = n
			}
			s.Stitches++
			if l.gain[i] > clearly {
				s.Counted++
			}
			out.Strokes = append(out.Strokes, Stroke{l.heard[i], n, l.within, l.gain[i]})
		}
		if k > 0 {
			e := Event{Kind: h.score.rests[k].kind, Start: out.Runs[k-1].End, End: s.Start}
			if h.interrupted(k) {
				e.Kind, e.Within = Pause, h.laid[k-1].within+l.within
				if e.Again = max(h.pieces[k-1].to-h.pieces[k].from, 0); e.Again > 0 {
					e.Kind = Break
				}
			}
			out.Events = append(out.Events, e)
		}
		out.Runs = append(out.Runs, s)
	}
	var of []int // of each stitch
	for i, r := range h.whole.Records {
		if r.Op == stitch.Sew {
			of = append(of, blocks[i])
		}
	}
	out.Sewn, out.Rested = h.stretches(of), h.rested(out)
	return out
}
