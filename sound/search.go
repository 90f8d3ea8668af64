package sound

import (
	"cmp"
	"context"
	"encoding/binary"
	"hash/fnv"
	"math"
	"slices"
)

// guess is a law and what it earns by rhythm alone.
type guess struct {
	law  law
	earn float64
}

// search tries laws on the beginning of a recording.
type search struct {
	*hearing
	rhythm *rhythm
	frames int
	seen   map[uint64]bool // what the design's cells look like: many laws are one
	all    []guess
}

// searchSeconds is how much of a recording the search hears.
const searchSeconds = 240

// try weighs one law, once.
func (s *search) try(l law) {
	cells := l.score(s.design).cells(s.rhythm.every)
	key := fnv.New64a()
	var b [8]byte
	for i := range cells {
		binary.LittleEndian.PutUint32(b[:], uint32(cells[i].speed))
		binary.LittleEndian.PutUint32(b[4:], uint32(cells[i].passage))
		key.Write(b[:]) //nolint:errcheck // it never fails
	}
	if k := key.Sum64(); !s.seen[k] {
		s.seen[k] = true
		s.all = append(s.all, guess{l, follow(s.rhythm, s.frames, cells, true, true).score})
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

// best are the laws that earn most.
func (s *search) best(n int) []guess {
	slices.SortStableFunc(s.all, func(a, b guess) int { return cmp.Compare(b.earn, a.earn) })
	return slices.Clone(s.all[:min(n, len(s.all))])
}

// coarse finds laws by the evidence of rhythm alone: over set speeds and
// accelerations first, then near the best of these.
func (h *hearing) coarse(ctx context.Context) ([]guess, error) {
	s := search{hearing: h, rhythm: rhythmOf(h.o, 0.2), seen: map[uint64]bool{}}
	s.frames = min(s.rhythm.n, int(searchSeconds/s.rhythm.every))
	for _, speed := range h.speeds(s.rhythm) {
		for _, g := range h.stiffness() {
			l := h.law.clone()
			l.job.Speed = speed
			s.try(l.changed(1, g, g, 1))
		}
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	for _, step := range []float64{0.5, 0.25, 0.12} {
		for _, g := range s.best(3) {
			up, down := math.Exp(step), math.Exp(-step)
			if h.jobSpeed == 0 {
				s.try(g.law.changed(math.Exp(step/8), 1, 1, 1))
				s.try(g.law.changed(math.Exp(-step/8), 1, 1, 1))
			}
			if h.opt.Known {
				continue
			}
			for _, f := range [][3]float64{{up, 1, 1}, {down, 1, 1}, {1, up, 1}, {1, down, 1}, {1, 1, up}, {1, 1, down},
				{up, down, 1}, {down, up, 1}, {up, up, down}, {down, down, up}} {
				s.try(g.law.changed(1, f[0], f[1], f[2]))
			}
		}
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	long := h.curve.Seconds()
	every := 0.1
	for every < 0.4 && long/every*(s.best(1)[0].law.score(h.design).sewing()/every) > 45e6 {
		every *= 1.26
	}
	h.rhythm = rhythmOf(h.o, every)
	return s.best(3), nil
}

// retrace lays the law as learned so far on the rhythm; stops: the machine may
// have stopped where the design does not.
func (h *hearing) retrace(stops bool) {
	h.first = h.law.score(h.whole)
	h.score = h.first
	h.path = follow(h.rhythm, h.rhythm.n, h.score.cells(h.rhythm.every), false, stops)
}

// speeds are the set speeds to try, stitches/min: where the whole recording's
// evidence peaks, and the half and double of that.
func (h *hearing) speeds(r *rhythm) []float64 {
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
			if math.Abs(v/have-1) < 0.012 {
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
