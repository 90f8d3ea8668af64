package sound

import (
	"cmp"
	"math"
	"slices"

	"needlepace/clock"
	"needlepace/stitch"
)

// Holding is the speed that the shaft held on stitches of one length along the x
// axis, wherever in the run it held it: what a person would read off the
// machine's display there.
type Holding struct {
	LengthMM float64
	Zigzag   bool    // to and fro, not straight on
	Speed    float64 // stitches/min, as heard
	Error    float64 // its standard error, stitches/min
	Stitches int     // that it was heard on
}

// When a speed counts as held.
const (
	leastHolding  = 4     // stitches in a row
	leastHeldOn   = 12    // stitches of one length in all
	ownSpeed      = 0.004 // relative: the law's turn is its speed's, it neither rises nor slows
	otherAxis     = 0.003 // relative: what the y axis changes of it
	setSpeedIsNot = 0.995 // of the set speed: there it says nothing of the length
	heldOff       = 0.05  // relative: heard to differ so much from the law, it was misheard
	mostHoldings  = 24    // the lengths heard on most stitches
)

// holdings are the speeds held, those heard on most stitches first. Which stitches
// hold a speed is by the law as heard; the speed is by the strokes alone.
func (h *hearing) holdings() []Holding {
	type length struct {
		units  int
		zigzag bool
	}
	type sum struct {
		turns, stretches int
		seconds          float64
	}
	c := clock.New(h.law.sheet, h.law.job)
	all := map[length]sum{}
	for _, l := range h.laid {
		var now length
		from, last := -1, -1 // strokes between which a speed is held
		end := func() {
			if from >= 0 && last-from >= leastHolding && l.gain[from] > clearly && l.gain[last] > clearly {
				t, by := l.heard[last]-l.heard[from], l.at[last]-l.at[from]
				if math.Abs(t/by-1) < heldOff {
					s := all[now]
					all[now] = sum{s.turns + last - from, s.stretches + 1, s.seconds + t}
				}
			}
			from = -1
		}
		for i := 1; i < len(l.record); i++ {
			r, p := h.design.Records[l.record[i]], h.design.Records[l.record[i-1]]
			dx, px := int(r.DX), int(p.DX)
			kind := length{max(dx, -dx), dx*px < 0}
			if r.Op != stitch.Sew || p.Op != stitch.Sew || dx == 0 || px == 0 || !h.holds(c, l, i, dx, int(r.DY), px, int(p.DY)) {
				end()
				continue
			}
			if from < 0 || kind != now {
				end()
				now, from = kind, i-1
			}
			last = i
		}
		end()
	}
	var out []Holding
	for k, s := range all {
		if s.turns < leastHeldOn {
			continue
		}
		v := float64(s.turns) / s.seconds * 60
		out = append(out, Holding{float64(k.units) / stitch.UnitsPerMM, k.zigzag, v,
			v * strokeJitter * math.Sqrt(2*float64(s.stretches)) / s.seconds, s.turns})
	}
	slices.SortFunc(out, func(a, b Holding) int {
		return cmp.Or(cmp.Compare(b.Stitches, a.Stitches), cmp.Compare(a.LengthMM, b.LengthMM))
	})
	return out[:min(mostHoldings, len(out))]
}

// holds reports whether the law holds on stroke i of a passage, of (dx, dy) units
// after (px, py), the speed of its length along x.
func (h *hearing) holds(c *clock.Clock, l *laid, i, dx, dy, px, py int) bool {
	long, before := max(dx, -dx), max(dx, -dx)
	if dx*px < 0 {
		before = -before
	}
	v, along := c.HoldsOn(dx, dy, px, py), c.HoldsOn(long, 0, before, 0)
	return v < setSpeedIsNot*h.law.job.Speed && math.Abs(v/along-1) < otherAxis && math.Abs(l.turn[i]*v/60-1) < ownSpeed
}
