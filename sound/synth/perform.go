package synth

import (
	"math"
	"math/rand/v2"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// Stroke is one stitch that was sewn.
type Stroke struct {
	At     float64 // s
	Speed  float64 // rev/s
	Stitch int     // of the design, from 0, jumps not counted; −1: a revolution without a stitch
}

// Happening is what was not sewing: key of an event, from … to in s.
type Happening struct {
	Kind       string // trim, colour_stop, stop, break, pause
	Start, End float64
}

// Performance is one run of a design.
type Performance struct {
	Strokes    []Stroke
	Happenings []Happening
	Runs       [][2]float64 // start and end of each stretch of sewing, s
	Seconds    float64
}

// Interruption is a stop that the design does not know.
type Interruption struct {
	Stitch  int     // after which stitch, from 0
	Back    int     // stitches sewn again
	Seconds float64 // at rest
}

// Script says how a run goes.
type Script struct {
	Job          clock.Job
	Jitter       float64 // s, standard deviation of each stroke
	Phase        float64 // of the revolution at which the needle strikes, 0…1
	RestSpread   float64 // log spread of each rest
	Lead, Tail   float64 // s recorded before the start and after the end
	Interrupted  []Interruption
	Rest         func(kind string, seconds float64) float64 // replaces a rest's time; nil: as the sheet says
	RevolutionBy func(record int, seconds float64) float64  // replaces a revolution's time; nil: the clock's
}

// Perform sews a design on a machine.
func Perform(d *stitch.Design, s *machine.Sheet, sc Script, rng *rand.Rand) *Performance {
	played, number, breaks := interrupt(d, sc.Interrupted)
	tr := clock.New(s, sc.Job).Trace(played)
	p := &Performance{}
	now := sc.Lead
	spread := func(kind string, t float64) float64 {
		if sc.Rest != nil {
			t = sc.Rest(kind, t)
		}
		return t * math.Exp(sc.RestSpread*rng.NormFloat64())
	}
	moment := 0
	now += s.Rest.Start
	var rest string
	restFrom := 0.0
	endRest := func() {
		if rest != "" {
			p.Happenings = append(p.Happenings, Happening{rest, restFrom, now})
		}
		rest = ""
	}
	for i := 0; i <= len(played.Records); i++ {
		for moment < len(tr.Moments) && tr.Moments[moment].From <= i {
			m := tr.Moments[moment]
			if m.From < i && m.To > m.From && m.To < i {
				moment++
				continue
			}
			t, kind := m.Seconds, rest
			switch m.Kind {
			case stitch.TrimCut:
				kind = "trim"
			case stitch.ColourCut:
				kind = "colour_stop"
			case stitch.OperatorStop:
				kind = "stop"
				if k, ok := breaks[m.From]; ok {
					t = sc.Interrupted[k].Seconds
					kind = "pause"
					if sc.Interrupted[k].Back > 0 {
						kind = "break"
					}
				}
			}
			if rest == "" && len(p.Strokes) > 0 {
				restFrom = now
			}
			if len(p.Strokes) > 0 {
				rest = kind
			}
			now += spread(kind, t)
			moment++
		}
		if i == len(played.Records) || tr.Seconds[i] <= 0 {
			continue
		}
		fresh := rest != "" || len(p.Runs) == 0
		endRest()
		t := tr.Seconds[i]
		if sc.RevolutionBy != nil {
			t = sc.RevolutionBy(i, t)
		}
		if fresh {
			p.Runs = append(p.Runs, [2]float64{now, now})
		}
		next := 0.0
		if i+1 < len(tr.Seconds) {
			next = tr.Seconds[i+1]
		}
		at := now + within(sc.Phase, before(tr, i), t, next, s.Shaft.CreepSpeed/60)
		p.Strokes = append(p.Strokes, Stroke{at + sc.Jitter*rng.NormFloat64(), 1 / t, number[i]})
		now += t
		p.Runs[len(p.Runs)-1][1] = now
	}
	p.Seconds = now + s.Rest.End + sc.Tail
	return p
}

func before(tr *clock.Trace, i int) float64 {
	if i == 0 {
		return 0
	}
	return tr.Seconds[i-1]
}

// within is when in a revolution of t seconds the needle strikes, at an even
// acceleration through it: its speeds at either end are taken from its
// neighbours' times, creep where there is none.
func within(phase, last, t, next, creep float64) float64 {
	u, v := min(creep, 1/t), min(creep, 1/t)
	if last > 0 {
		u = 2 / (last + t)
	}
	if next > 0 {
		v = 2 / (next + t)
	}
	// angle = u·x + (v−u)·x²/2 over x in 0…1 of time, scaled to one turn.
	full := (u + v) / 2
	a := (v - u) / 2 / full
	b := u / full
	if math.Abs(a) < 1e-9 {
		return phase * t
	}
	x := (-b + math.Sqrt(b*b+4*a*phase)) / (2 * a)
	return x * t
}

// interrupt puts stops into a design: the record that is stopped at, the
// stitches sewn again. It gives each record's stitch number and the stops'.
func interrupt(d *stitch.Design, all []Interruption) (out *stitch.Design, number []int, at map[int]int) {
	out = &stitch.Design{Name: d.Name, Format: d.Format, Threads: d.Threads}
	at = map[int]int{}
	n := 0
	var records []int // of stitches
	for i, r := range d.Records {
		out.Records = append(out.Records, r)
		if r.Op != stitch.Sew {
			number = append(number, -1)
			continue
		}
		number = append(number, n)
		records = append(records, i)
		for k, in := range all {
			if in.Stitch != n {
				continue
			}
			at[len(out.Records)] = k
			out.Records = append(out.Records, stitch.Record{Op: stitch.Stop})
			number = append(number, -1)
			for back := in.Back - 1; back >= 0; back-- {
				j := n - back
				if j < 0 {
					continue
				}
				out.Records = append(out.Records, d.Records[records[j]])
				number = append(number, j)
			}
		}
		n++
	}
	return out, number, at
}
