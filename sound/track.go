package sound

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
	"sort"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// Tracker follows a run while it is heard: at which stitch of the design the
// machine is believed to be, and how good the sound is. It looks ahead only: what
// was believed is not put right later (Hear does that, when all is heard). Several
// laws are followed side by side; as more is heard, others near the best of them
// are tried on what was heard so far.
type Tracker struct {
	listener *Listener
	hark     *hark
	followed []followed
	whole    *score // the design, by the law as given
	given    law
	known    bool
	heard    *rhythm   // what was heard so far, while laws are still sought
	next     int       // frames with a rhythm after which to seek again
	sewn     int       // frames with a rhythm
	frames   int       // taken into account
	recent   []moment  // the newest frames, at most signalFrames
	e        []float32 // of one frame
}

// followed is a law that is followed.
type followed struct {
	law   law
	score *score
	ahead *ahead
}

// moment is what a frame of sound was like.
type moment struct {
	ms, clip, low int     // of the curve, at its end
	speed         float64 // rev/s that is heard most
	rhythm, own   float64 // evidence of it, and of the speed of the design where the machine is believed to be
	level         float64 // in quarters of a dB, the loudest
}

// How a run is followed.
const (
	trackEvery   = 0.2   // s from one frame to the next
	trackPast    = 60000 // ms of sound that strokes are weighed by
	signalFrames = 25    // what the signal is judged by: 5 s
	unlikelyBy   = 3.0   // earned less than the best: no longer believed
	trackSlack   = 3.0   // to stay in a cell of sewing or skip one
	trackResting = 1.5   // to rest while something has the rhythm of a machine
)

// When laws are sought: as often as the frames with a rhythm have doubled.
const (
	seekFirst = 25   // 5 s
	seekLast  = 400  // 80 s
	seekKeeps = 8    // laws
	seekMost  = 6000 // frames that are kept for it: 20 minutes
)

// seekSteps are by how much (ln) laws are varied, one seeking after another.
var seekSteps = []float64{0.4, 0.25, 0.15, 0.1, 0.06}

// NewTracker follows a design on a machine like the sheet's from sound at a rate in
// Hz, LeastRate to MostRate (else ErrRate). A speed of 0 in the job is to be heard.
func NewTracker(rate int, d *stitch.Design, s *machine.Sheet, job clock.Job) (*Tracker, error) {
	l, err := NewListener(rate)
	if err != nil {
		return nil, err
	}
	t := &Tracker{listener: l, hark: newHark(), e: make([]float32, gridSize), known: s.Fit != nil, next: seekFirst,
		heard: &rhythm{every: trackEvery}, given: law{sheet: s.Clone(), job: job, phase: 0.7}}
	t.given.sheet.MaxSpeed = max(s.MaxSpeed, job.Speed)
	by := t.given
	if job.Speed == 0 {
		by.job.Speed = s.MaxSpeed
	}
	t.whole = by.score(d)
	t.followed = []followed{t.followLaw(by)}
	return t, nil
}

// followLaw follows a law through what was heard so far.
func (t *Tracker) followLaw(l law) followed {
	sc := t.whole.by(l)
	a := aheadOf(sc.cells(trackEvery), trackEvery, true)
	a.slack, a.resting = trackSlack, trackResting
	for f := range t.heard.n {
		a.widen()
		a.frame(t.heard.at(f), nil)
	}
	return followed{l, sc, a}
}

// seek tries other laws: the first time over set speeds and accelerations, then
// near the best.
func (t *Tracker) seek() {
	step := seekSteps[min(bitsOf(t.sewn/seekFirst), len(seekSteps)-1)]
	try := func(l law) { t.followed = append(t.followed, t.followLaw(l)) }
	h := hearing{sheet: t.given.sheet, law: t.given, jobSpeed: t.given.job.Speed, opt: Options{Known: t.known}}
	for _, speed := range h.speeds(t.heard, 0.012) {
		for _, g := range h.stiffness() {
			l := t.given.changed(1, g, g, 1)
			l.job.Speed = speed
			try(l)
		}
	}
	for range 2 {
		t.keep(3)
		for _, f := range t.followed {
			if t.given.job.Speed == 0 {
				try(f.law.changed(math.Exp(step/8), 1, 1, 1))
				try(f.law.changed(math.Exp(-step/8), 1, 1, 1))
			}
			if t.known {
				continue
			}
			up, down := math.Exp(step), math.Exp(-step)
			for _, by := range [][3]float64{{up, 1, 1}, {down, 1, 1}, {1, up, 1}, {1, down, 1}, {1, 1, up}, {1, 1, down}} {
				try(f.law.changed(1, by[0], by[1], by[2]))
			}
		}
	}
	t.keep(seekKeeps)
	if t.next *= 2; t.next > seekLast || t.heard.n >= seekMost {
		t.next = seekLast + 1
		t.heard = nil // it is known as well as it needs to be
	}
}

func bitsOf(n int) int { return max(0, bits.Len(uint(n))-1) }

// keep leaves the n laws that earn most.
func (t *Tracker) keep(n int) {
	slices.SortStableFunc(t.followed, func(a, b followed) int { return cmp.Compare(b.ahead.most(), a.ahead.most()) })
	t.followed = slices.Clone(t.followed[:min(n, len(t.followed))])
}

// Hear takes samples of one channel, −1…1, in any number.
func (t *Tracker) Hear(samples []float64) {
	t.listener.Hear(samples)
	c := &t.listener.curve
	mid := func(frame int) int { return int(math.Round(float64(frame) * trackEvery / Step)) }
	if mid(t.frames)+rhythmWindow/2 > c.n {
		return
	}
	from := max(0, min(c.n-trackPast, mid(t.frames)-trackPast/2))
	o := c.since(from).pulses(&evenBands)
	usual := t.hark.usual(o)
	for mid(t.frames)+rhythmWindow/2 <= c.n {
		t.hark.frame(o, mid(t.frames)-from, usual, t.e)
		for i := range t.followed {
			t.followed[i].ahead.widen()
			t.followed[i].ahead.frame(t.e, nil)
		}
		t.note(c, mid(t.frames))
		t.frames++
		if t.next > seekLast {
			continue
		}
		t.heard.e, t.heard.n = append(t.heard.e, t.e...), t.heard.n+1
		if t.recent[len(t.recent)-1].rhythm > faintRhythm {
			t.sewn++
		}
		if t.sewn >= t.next || t.heard.n >= seekMost {
			t.seek()
		}
	}
}

// since is the curve from a millisecond on.
func (c *Curve) since(ms int) *Curve {
	out := &Curve{n: c.n - ms, level: c.level[ms:], rate: c.rate}
	for b := range c.bands {
		out.bands[b] = c.bands[b][ms:]
	}
	return out
}

// note keeps what the frame around a millisecond is like.
func (t *Tracker) note(c *Curve, mid int) {
	best := 0
	for k, e := range t.e {
		if e > t.e[best] {
			best = k
		}
	}
	m := moment{ms: mid, clip: c.clip, low: c.low, speed: gridSpeed(best), rhythm: float64(t.e[best])}
	_, own, at := t.believed()
	if k := own.ahead.cells[at.cell].speed; k >= 0 && at.sews {
		m.own = float64(t.e[k])
	} else if at.sews {
		m.own = m.rhythm // a few slow stitches: nothing speaks against them
	}
	for ms := max(0, mid-100); ms < min(c.n, mid+100); ms++ {
		m.level = max(m.level, float64(c.level[ms]))
	}
	if len(t.recent) == signalFrames {
		t.recent = append(t.recent[:0], t.recent[1:]...)
	}
	t.recent = append(t.recent, m)
}

// Signal says how a recording under way sounds.
type Signal string

// The signals, the first that holds is said.
const (
	SignalNone    Signal = "none"    // nothing comes in
	SignalClipped Signal = "clipped" // too loud for the recorder
	SignalForeign Signal = "foreign" // another machine is heard as well
	SignalFaint   Signal = "faint"   // something is heard, without a rhythm: too far, or the machine stands
	SignalGood    Signal = "good"    // a machine sews
)

// Where one signal ends and the next begins; the synthesised recordings of
// track_test.go hold them.
const (
	faintRhythm  = 0.35
	clippedShare = 0.02
)

// Whereabouts is what a Tracker believes.
type Whereabouts struct {
	Seconds   float64 // heard so far
	Signal    Signal
	Level     float64 // dB under full scale, the loudest of the last seconds; −64: nothing
	Sewing    bool
	Done      bool    // the design's last stitch was sewn
	Speed     float64 // stitches/min just heard; 0 at rest
	SetSpeed  float64 // stitches/min, as given or as it fits best so far
	Stitch    int     // of the design, from 0: the last one sewn; −1 before the first
	Low, High int     // stitches between which it is likely to be
}

// Where says where the machine is believed to be. What is heard is half a window of
// rhythm behind, 0.45 s.
func (t *Tracker) Where() Whereabouts {
	w := Whereabouts{Seconds: t.listener.curve.Seconds(), Signal: SignalNone, Level: -64, Stitch: -1, Low: -1, High: -1}
	best, f, at := t.believed()
	w.SetSpeed = f.law.job.Speed
	if t.frames == 0 {
		return w
	}
	t.signal(&w)
	a := f.ahead
	first := true
	for c := range a.cells {
		v := max(a.v[c], a.halt[c])
		if v < best-inUnits(unlikelyBy) {
			continue
		}
		n := f.score.sewnBy(a.cells, c)
		if first {
			w.Low, first = n, false
		}
		w.High = n
	}
	w.Stitch, w.Sewing, w.Done = f.score.sewnBy(a.cells, at.cell), at.sews, at.cell == len(a.cells)-1
	if w.Sewing && len(t.recent) > 0 {
		w.Speed = 60 * t.recent[len(t.recent)-1].speed
		if k := a.cells[at.cell].speed; k >= 0 { // half and double are the same rhythm
			by := 60 * gridSpeed(int(k))
			for _, part := range []float64{2, 0.5} {
				if math.Abs(w.Speed*part/by-1) < math.Abs(w.Speed/by-1) {
					w.Speed *= part
				}
			}
		}
	}
	return w
}

// place is a cell, and whether the machine sews there.
type place struct {
	cell int
	sews bool
}

// believed is the law that earns most so far, what that is, and where it ends.
func (t *Tracker) believed() (best int32, f *followed, at place) {
	best = never
	for i := range t.followed {
		a := t.followed[i].ahead
		for c, v := range a.v {
			if v > best {
				best, f, at = v, &t.followed[i], place{c, a.cells[c].sews}
			}
			if h := a.halt[c]; h > best {
				best, f, at = h, &t.followed[i], place{c, false}
			}
		}
	}
	return best, f, at
}

// most is what the best way so far earns.
func (a *ahead) most() int32 { return max(slices.Max(a.v), slices.Max(a.halt)) }

// sewnBy is the last stitch that is sewn by a cell, −1 for none.
func (s *score) sewnBy(cells []cell, c int) int {
	for c >= 0 && cells[c].passage < 0 {
		c--
	}
	if c < 0 {
		return -1
	}
	p := &s.passages[cells[c].passage]
	i := len(p.at)
	if c+1 < len(cells) && cells[c+1].passage == cells[c].passage {
		i = sort.SearchFloat64s(p.at, float64(cells[c].from))
	}
	for i--; i >= 0; i-- {
		if p.number[i] >= 0 {
			return p.number[i]
		}
	}
	if first := slices.IndexFunc(p.number, func(n int) bool { return n >= 0 }); first >= 0 {
		return p.number[first] - 1
	}
	return -1
}

// signal judges the newest frames.
func (t *Tracker) signal(w *Whereabouts) {
	var rhythm []float64
	level, sewn, foreign := 0.0, 0, 0
	for i := range t.recent {
		m := &t.recent[i]
		rhythm = append(rhythm, m.rhythm)
		level = max(level, m.level)
		if m.rhythm > faintRhythm {
			sewn++
			if m.own < m.rhythm/2 {
				foreign++
			}
		}
	}
	slices.Sort(rhythm)
	a, b := &t.recent[0], &t.recent[len(t.recent)-1]
	span := float64(max(b.ms-a.ms, 1))
	w.Level = level/4 - 64
	half := len(rhythm) / 2
	switch {
	case level == 0 || float64(b.low-a.low) > 0.5*span:
		w.Signal = SignalNone
	case float64(b.clip-a.clip) > clippedShare*span:
		w.Signal = SignalClipped
	case sewn > len(rhythm)/3 && 2*foreign > sewn:
		w.Signal = SignalForeign
	case rhythm[half] < faintRhythm:
		w.Signal = SignalFaint
	default:
		w.Signal = SignalGood
	}
}

// Curve ends the recording and gives its curve, for Hear.
func (t *Tracker) Curve() *Curve { return t.listener.Curve() }
