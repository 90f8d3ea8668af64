package sound

import (
	"cmp"
	"context"
	"encoding/binary"
	"hash/fnv"
	"math"
	"slices"

	"needlepace/stitch"
)

// guess is a law and what it earns by rhythm alone.
type guess struct {
	law  law
	x    [searchDims]float64 // ln of what the law's constants are, over the sheet's
	earn float64
}

// What the search varies: the set speed, the frame's accelerations and top speeds,
// and how fast the shaft rises and slows.
const (
	searchSpeed = iota
	searchAccelX
	searchAccelY
	searchTopX
	searchTopY
	searchRamps
	searchDims
)

// searchSpreads are by how much (ln) each differs from one machine of a class to
// another, about; the set speed is not of the class.
var searchSpreads = [searchDims]float64{math.Inf(1), 0.5, 0.5, 0.35, 0.35, 0.35}

// searchShare is how large a step of each is, over the step of the frame's
// acceleration: a little speed changes the rhythm more than much acceleration.
var searchShare = [searchDims]float64{1. / 7, 1, 1, 0.7, 0.7, 0.5}

// stage is one round of the search: first on evidence so blurred that what is near
// right earns nearly as much as what is right, then on ever sharper evidence
// (graduated non-convexity: A. Blake and A. Zisserman, Visual Reconstruction, 1987,
// chapter 7).
type stage struct {
	blur    int     // places on the grid of speeds
	seconds float64 // of the recording that are heard, from where something sews
	keep    int     // laws to go on with
	apart   float64 // by how much they differ, as a step does
	steps   []float64
}

var searchStages = []stage{
	{4, 80, 8, 0.5, []float64{0.25, 0.2, 0.12}},
	{2, 100, 5, 0.3, []float64{0.15, 0.3, 0.1}},
	{1, 240, 3, 0.05, []float64{0.08, 0.15, 0.05}},
}

// search tries laws on the beginning of a recording.
type search struct {
	*hearing
	rhythm *rhythm // blurred
	frames int
	score  *score          // of as much of the design as can be sewn in the frames
	full   *score          // of all of it, or of passages spread over it
	share  float64         // what of its strokes these have
	rests  float64         // s, that its rests take at the least
	ends   bool            // the frames are the whole recording: by then the design must be sewn
	seen   map[uint64]bool // what the design's cells look like: many laws are one
	all    []guess
}

// lawAt is the law of a point of the search.
func (s *search) lawAt(x *[searchDims]float64) law {
	l := s.law.clone()
	if l.job.Speed = s.jobSpeed; s.jobSpeed == 0 {
		l.job.Speed = s.sheet.MaxSpeed
	}
	l.job.Speed *= math.Exp(x[searchSpeed])
	l.sheet.MaxSpeed = max(l.sheet.MaxSpeed, l.job.Speed)
	l.sheet.Frame.AccelX *= math.Exp(x[searchAccelX])
	l.sheet.Frame.AccelY *= math.Exp(x[searchAccelY])
	l.sheet.Frame.SpeedX *= math.Exp(x[searchTopX])
	l.sheet.Frame.SpeedY *= math.Exp(x[searchTopY])
	l.sheet.Shaft.AccelUp *= math.Exp(x[searchRamps])
	l.sheet.Shaft.AccelDown *= math.Exp(x[searchRamps])
	return l
}

// leastSounds is of what part of a stage's seconds something sews at the least, in as many times its seconds at the most: colours that are
// changed by hand take minutes.
const leastSounds = 4

// closes is how long, in s, a recording may be of which every stage hears all: that
// the design must end with it tells laws from one another as nothing else does.
const closes = 600

// fitsIn is the part of a law's time for the whole design that must fit into the
// recording: the steps of the search are no finer.
const fitsIn = 0.85

// leastOf is how many strokes of a long design are sewn to know how long it takes by a law.
const leastOf = 3000

// sample makes ready for least.
func (s *search) sample(full *score) {
	n, strokes := 0, 0
	for k := range full.passages {
		n += len(full.passages[k].record)
		if k > 0 {
			s.rests += full.rests[k].least()
		}
	}
	some, every := *full, n/leastOf+1
	some.passages = nil
	for k := every / 2; k < len(full.passages); k += every {
		some.passages = append(some.passages, full.passages[k])
		strokes += len(full.passages[k].record)
	}
	if s.full, s.share = &some, float64(strokes)/float64(max(n, 1)); s.share < 0.5/float64(every) { // few, of all lengths
		s.full, s.share = full, 1
	}
}

// least is the seconds that the whole takes by a law at the least, from the first stroke on:
// rests may be shorter than the law says.
func (s *search) least(l law) float64 {
	sc := s.full.by(l)
	defer sc.done()
	sum := 0.0
	for k := range sc.passages {
		sum += sc.passages[k].total
	}
	return sum/s.share + s.rests
}

// try weighs one law, once.
func (s *search) try(x [searchDims]float64) {
	l := s.lawAt(&x)
	if fitsIn*s.least(l) > s.curve.Seconds() {
		return
	}
	part := s.score.by(l)
	cells := part.cells(s.rhythm.every)
	part.done()
	key := fnv.New64a()
	var b [8]byte
	for i := range cells {
		binary.LittleEndian.PutUint32(b[:], uint32(cells[i].speed))
		binary.LittleEndian.PutUint32(b[4:], uint32(cells[i].passage))
		key.Write(b[:]) //nolint:errcheck // it never fails
	}
	if k := key.Sum64(); !s.seen[k] {
		s.seen[k] = true
		far := 0.0
		for k, v := range x {
			far += v * v / (2 * searchSpreads[k] * searchSpreads[k])
		}
		p := follow(s.rhythm, s.frames, cells, true, true)
		if s.ends {
			p.score = p.end
		}
		s.all = append(s.all, guess{l, x, p.score - far})
	}
}

// changed is a law with its set speed, accelerations and top speeds times so
// much.
func (l law) changed(speed, x, y, top float64) law {
	l = l.clone()
	l.job.Speed *= speed
	l.sheet.MaxSpeed = max(l.sheet.MaxSpeed, l.job.Speed)
	l.sheet.Frame.AccelX *= x
	l.sheet.Frame.AccelY *= y
	l.sheet.Frame.SpeedX *= top
	l.sheet.Frame.SpeedY *= top
	return l
}

// best are the laws that earn most, none within a step of a better one.
func (s *search) best(n int, step float64) (out []guess) {
	slices.SortStableFunc(s.all, func(a, b guess) int { return cmp.Compare(b.earn, a.earn) })
next:
	for _, g := range s.all {
		for _, have := range out {
			far := 0.0
			for k := range g.x {
				far = max(far, math.Abs(g.x[k]-have.x[k])/searchShare[k])
			}
			if far < 0.7*step {
				continue next
			}
		}
		if out = append(out, g); len(out) == n {
			break
		}
	}
	return out
}

// The first laws gone on with are so many, each in a valley of its own: what lies near
// the best of all is the same law again.
const (
	valleys = 16
	valley  = 0.8 // by which they differ, as a step does
)

// hearAt makes ready for a stage: what is tried is weighed by it.
func (s *search) hearAt(r *rhythm, st stage) {
	first, sounds := r.n, 0
	s.frames = r.n
	for f := 0; f < r.n && float64(r.n)*r.every >= closes; f++ {
		if slices.Max(r.at(f)) >= leastOfRhythm {
			first, sounds = min(first, f), sounds+1
		}
		if n := int(st.seconds / r.every); f+1 >= first+n && (sounds >= n/leastSounds || f+1 >= first+leastSounds*n) {
			s.frames = f + 1
			break
		}
	}
	s.rhythm = r.blurred(st.blur, s.frames)
	s.seen, s.all = map[uint64]bool{}, nil
	most := int((float64(s.frames)*r.every)*s.sheet.MaxSpeed*1.1/60) + 100
	s.score = s.law.score(beginning(s.whole, most))
	s.ends = s.frames == r.n && s.score.design == s.whole
}

// coarse finds laws by the evidence of rhythm alone: over set speeds and
// accelerations first, then near the best of these.
func (h *hearing) coarse(ctx context.Context) ([]guess, error) {
	h.rhythm = rhythmOf(h.o, coarseEvery)
	if h.twice {
		h.rhythm.orBy(harkAt(2).rhythmOf(h.o, coarseEvery))
	}
	if h.still() {
		return nil, NoMachine
	}
	h.rhythm.keep()
	r := h.rhythm.second()
	s := search{hearing: h}
	s.sample(h.law.score(h.whole))
	var found []guess
	for k, st := range searchStages {
		s.hearAt(r, st)
		if k == 0 {
			s.first(r)
		}
		for _, g := range found {
			s.try(g.x)
		}
		for i, step := range st.steps {
			from := s.best(st.keep, step)
			switch {
			case k+i == 0:
				from = s.best(valleys, valley)
			case i == 0: // on sharper evidence what is right earns less than what is wrong, until it is right by a finer step
				from = found
			}
			for _, g := range from {
				s.near(&g.x, step)
			}
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
		}
		found = s.best(st.keep, st.apart)
	}
	found = s.best(3, apart)
	switch {
	case len(found) == 0 || math.IsInf(found[0].earn, -1):
		return nil, TooShort
	case found[0].earn <= 0 && h.rhythm.share() > sewsRhythm:
		return nil, NotThis
	case found[0].earn <= 0: // rest alone explains as much
		return nil, NoMachine
	}
	for k := range found { // by less than two thirds of the best nothing is believed
		if found[k].earn < found[0].earn*2/3 {
			return found[:k], nil
		}
	}
	return found, nil
}

// apart is by how much (ln, of the frame's acceleration) laws differ that are
// followed one beside another.
const apart = 0.4

// coarseEvery is the step of the evidence that the design is laid on, in s.
const coarseEvery = 0.1

// first tries set speeds and accelerations over their whole range.
func (s *search) first(r *rhythm) {
	given := s.jobSpeed
	if given == 0 {
		given = s.sheet.MaxSpeed
	}
	for _, speed := range s.speeds(r, 0.045) {
		x := [searchDims]float64{searchSpeed: math.Log(speed / given)}
		if s.opt.Known {
			s.try(x)
			continue
		}
		for stiff := -1.5; stiff < 1; stiff += 0.3 {
			for _, aside := range []float64{-1, -0.5, 0, 0.4} { // one way's against the other's
				for _, top := range []float64{-0.35, 0, 0.4} {
					x[searchAccelX], x[searchAccelY], x[searchTopX], x[searchTopY] = stiff, stiff+aside, top, top
					s.try(x)
				}
			}
		}
	}
}

// near tries what is a step from a law: one constant changed, or the frame's ways
// against one another.
func (s *search) near(x *[searchDims]float64, step float64) {
	for k := range x {
		if k == searchSpeed && s.jobSpeed != 0 || k != searchSpeed && s.opt.Known {
			continue
		}
		for _, f := range []float64{-1, 1} {
			y := *x
			y[k] += f * step * searchShare[k]
			s.try(y)
		}
	}
	if s.opt.Known {
		return
	}
	for _, p := range [][2]int{{searchAccelX, searchAccelY}, {searchTopX, searchTopY}, {searchAccelX, searchTopX},
		{searchAccelY, searchTopY}, {searchSpeed, searchAccelX}, {searchSpeed, searchAccelY}} {
		if p[0] == searchSpeed && s.jobSpeed != 0 {
			continue
		}
		for _, f := range []float64{1, -1} {
			y := *x
			y[p[0]] += f * step * searchShare[p[0]]
			y[p[1]] -= f * step * searchShare[p[1]]
			s.try(y)
		}
	}
}

// blurred is the evidence of the first n frames, with each speed's the best within
// so many places of it, and what each frame earns.
func (r *rhythm) blurred(by, n int) *rhythm {
	out := &rhythm{every: r.every, n: n, e: make([]float32, n*gridSize)}
	for f := range n {
		from, to := r.at(f), out.at(f)
		for k := range to {
			to[k] = slices.Max(from[max(0, k-by):min(gridSize, k+by+1)])
		}
	}
	out.keep()
	return out
}

// keep reckons what each frame earns, for all laws that are tried on it.
func (r *rhythm) keep() {
	r.gained = make([]earnings, r.n)
	for f := range r.gained {
		r.gained[f].of(r.at(f), float32(r.every/0.1))
	}
}

// retrace lays the law as learned so far on the rhythm; stops: the machine may
// have stopped where the design does not.
func (h *hearing) retrace(stops bool) {
	if h.first == nil {
		h.first = h.law.score(h.whole)
	} else {
		h.first = h.first.by(h.law)
	}
	h.score = h.first
	h.path = follow(h.rhythm, h.rhythm.n, h.score.cells(h.rhythm.every), false, stops)
}

// speeds are the set speeds to try, stitches/min: where the whole recording's
// evidence peaks, and the half and double of that, none as near to another as a
// part apart of it.
func (h *hearing) speeds(r *rhythm, apart float64) []float64 {
	if h.jobSpeed > 0 {
		return []float64{h.jobSpeed}
	}
	sum := make([]float64, gridSize)
	for f := range r.n {
		for k, e := range r.at(f) {
			if e > 0.1 {
				sum[k] += float64(e) * float64(e)
			}
		}
	}
	type peak struct {
		k int
		v float64
	}
	var peaks []peak
	for k := 1; k+1 < gridSize; k++ {
		if sum[k] >= sum[k-1] && sum[k] > sum[k+1] {
			peaks = append(peaks, peak{k, sum[k]})
		}
	}
	slices.SortFunc(peaks, func(a, b peak) int {
		if a.v > b.v {
			return -1
		}
		return 1
	})
	var out []float64
	add := func(v float64) {
		if v < 250 || v > h.law.sheet.MaxSpeed*1.03 {
			return
		}
		for _, have := range out {
			if math.Abs(v/have-1) < apart {
				return
			}
		}
		out = append(out, v)
	}
	for _, p := range peaks[:min(6, len(peaks))] {
		v := 60 * gridSpeed(p.k)
		for _, f := range []float64{1, 0.5, 2} {
			add(v * f)
		}
	}
	for _, f := range []float64{1, 0.9, 0.8, 0.7} { // it may never be reached
		add(h.law.sheet.MaxSpeed * f)
	}
	return out
}

// stiffness are the factors on the frame's acceleration to try.
func (h *hearing) stiffness() []float64 {
	if h.opt.Known {
		return []float64{1}
	}
	sd := classSpread
	for c := range h.sheet.Constants() {
		if c.Path == "frame.accel_x" {
			sd = max(sd, h.sheet.Spread(c))
		}
	}
	var out []float64
	for z := -1.8; z <= 1.81; z += 0.6 {
		out = append(out, math.Exp(z*sd))
	}
	return out
}

// beginning is a design's first so many stitches.
func beginning(d *stitch.Design, stitches int) *stitch.Design {
	for i, r := range d.Records {
		if r.Op == stitch.Sew {
			if stitches--; stitches < 0 {
				c := *d
				c.Records = d.Records[:i]
				return &c
			}
		}
	}
	return d
}
