package picture

import (
	"math"
	"sort"

	"needlepace/words"
)

// TracePoint is the shaft speed at a time of the run.
type TracePoint struct {
	T     float64 // s from the start of the run
	Speed float64 // stitches/min
}

// Rest is a time at which the shaft stands (or the frame travels), and for
// which part: a trim, a colour stop, travel, a stop, start or end.
type Rest struct {
	From, To float64 // s
	Key      Key
	Label    string // e.g. the number of the colour block a stop opens; may be empty
}

// column is what a px column of the trace has seen: the least, the greatest
// and the mean speed over its time.
type column struct {
	lo, hi, mean float64
	seen         bool
}

// columns sums the trace up by px columns: min and max keep every dip in
// sight however long the run, the mean is over time. Points go up in time;
// between two of them the speed is a straight line.
func columns(trace []TracePoint, top float64, n int) []column {
	out := make([]column, n)
	if !(top > 0) || n == 0 {
		return out
	}
	if !sort.SliceIsSorted(trace, func(i, j int) bool { return trace[i].T < trace[j].T }) {
		trace = append([]TracePoint(nil), trace...)
		sort.SliceStable(trace, func(i, j int) bool { return trace[i].T < trace[j].T })
	}
	weight := make([]float64, n)
	dt := top / float64(n)
	see := func(k int, v float64) {
		c := &out[k]
		if !c.seen {
			c.lo, c.hi, c.seen = v, v, true
			return
		}
		c.lo, c.hi = min(c.lo, v), max(c.hi, v)
	}
	at := func(t float64) int { return min(max(int(t/dt), 0), n-1) }
	for i := range trace {
		p := trace[i]
		if !(p.T >= 0 && p.T <= top*(1+1e-9)) || math.IsNaN(p.Speed) {
			continue
		}
		see(at(p.T), p.Speed)
		if i == 0 || !(trace[i-1].T >= 0) || math.IsNaN(trace[i-1].Speed) {
			continue
		}
		q := trace[i-1]
		if !(p.T > q.T) {
			continue
		}
		slope := (p.Speed - q.Speed) / (p.T - q.T)
		for k := at(q.T); k <= at(p.T); k++ {
			a, b := max(q.T, float64(k)*dt), min(p.T, float64(k+1)*dt)
			if b <= a {
				continue
			}
			// Held between its ends: rounding must not make a speed of its own.
			lo, hi := min(p.Speed, q.Speed), max(p.Speed, q.Speed)
			va, vb := min(max(q.Speed+slope*(a-q.T), lo), hi), min(max(q.Speed+slope*(b-q.T), lo), hi)
			see(k, va)
			see(k, vb)
			out[k].mean += (va + vb) / 2 * (b - a)
			weight[k] += b - a
		}
	}
	for k := range out {
		if weight[k] > 0 {
			out[k].mean /= weight[k]
		} else {
			out[k].mean = (out[k].lo + out[k].hi) / 2
		}
	}
	return out
}

// drawTrace draws shaft speed against time in area (0 to top seconds, 0 to the
// scale's high speed): under the curve the colours of the drawing, so that the
// eye finds a slow stretch again on the cloth.
func drawTrace(c Canvas, area Box, trace []TracePoint, top float64, sc SpeedScale) {
	n := int(area.W)
	cols := columns(trace, top, n)
	high := max(sc.High, 1)
	for _, p := range trace {
		if p.Speed > high && !math.IsInf(p.Speed, 1) {
			high = p.Speed
		}
	}
	fillBox(c, area, Of(Cloth))
	y := func(v float64) float64 { return area.Bottom() - min(max(v/high, 0), 1)*area.H }
	bins := make([][]Box, speedBins)
	var line []Pt
	var spans []Seg
	for k := 0; k < n; {
		// Equal neighbours make one box: a cruise is one rectangle, not hundreds.
		to := k + 1
		for to < n && cols[to] == cols[k] {
			to++
		}
		if m := cols[k]; m.seen {
			b := sc.bin(m.mean)
			if m.mean > 0 {
				bins[b] = append(bins[b], Box{area.X + float64(k), y(m.mean), float64(to-k) + 0.4,
					area.Bottom() - y(m.mean)})
			}
			if m.hi-m.lo > high/200 {
				spans = append(spans, Seg{Pt{area.X + float64(k) + 0.5, y(m.lo)},
					Pt{area.X + float64(k) + 0.5, y(m.hi)}})
			}
		}
		k = to
	}
	for i, bs := range bins {
		c.Rects(bs, sc.paint(i))
	}
	c.Lines(spans, Stroke{Paint: Paint{Tone: Fixed, RGB: clothInk, Opacity: 0.28}, Width: 1})
	for k := range n {
		if !cols[k].seen {
			continue
		}
		p := Pt{area.X + float64(k) + 0.5, y(cols[k].mean)}
		if l := len(line); l >= 2 && line[l-1].Y == p.Y && line[l-2].Y == p.Y {
			line[l-1] = p
			continue
		}
		line = append(line, p)
	}
	c.Polyline(line, Stroke{Paint: Solid(clothInk), Width: 0.9})
	step := niceStep(high, 4)
	f := face(11, Quiet).to(End)
	var grid []Seg
	for _, v := range ticks(0, high, step) {
		c.Text(area.X-7, y(v)+4, words.Fixed(v, 0).Text(nil), f)
		grid = append(grid, Seg{Pt{area.X - 4, y(v)}, Pt{area.X, y(v)}})
	}
	c.Lines(grid, stroke(Quiet, 1))
}

// drawRests draws, in a lane, when the shaft stood and for what; colour stops
// also rise through the trace above (up to top of area) with their label.
func drawRests(c Canvas, area, lane Box, rests []Rest, top float64) {
	if !(top > 0) {
		return
	}
	// Many rests of one part lie within a px of each other: gather them, and
	// give each at least 1 px, so that not one of them is lost.
	var by [numParts][]Box
	for _, r := range rests {
		if !r.Key.ok() || !(r.To >= r.From) || r.From < 0 {
			continue
		}
		x0, x1 := lane.X+min(r.From/top, 1)*lane.W, lane.X+min(r.To/top, 1)*lane.W
		if x1-x0 < 1 {
			x1 = x0 + 1
		}
		bs := by[r.Key]
		if l := len(bs); l > 0 && x0 <= bs[l-1].Right()+0.2 && x0 >= bs[l-1].X {
			bs[l-1].W = max(bs[l-1].W, x1-bs[l-1].X)
			continue
		}
		by[r.Key] = append(bs, Box{x0, lane.Y, x1 - x0, lane.H})
	}
	// Travel first: a trim or a stop must never be hidden by it.
	for _, k := range RestKeys() {
		if len(by[k]) == 0 {
			continue
		}
		c.Begin(Group{Class: "np-rests", Title: k.Name().Text(nil), Data: map[string]string{"part": k.String()}})
		// Height tells them apart too: a colour stop fills the lane, a trim two
		// thirds of it, the rest a third.
		for i := range by[k] {
			by[k][i].Y += lane.H * (1 - k.Lane())
			by[k][i].H = lane.H * k.Lane()
		}
		c.Rects(by[k], Of(k.Tone()))
		c.End()
	}
	var rises []Seg
	last := math.Inf(-1)
	f := face(10, Quiet).to(Middle)
	for _, r := range rests {
		if r.Key != ColourStops && r.Key != Stops || !(r.To >= r.From) || r.From < 0 || r.From > top {
			continue
		}
		x := lane.X + (r.From+min(r.To, top))/2/top*lane.W
		rises = append(rises, Seg{Pt{x, area.Y - 3}, Pt{x, lane.Y}})
		if w := TextWidth(r.Label, f); r.Label != "" && x-w/2 > last+3 {
			c.Text(x, area.Y-6, r.Label, f)
			last = x + w/2
		}
	}
	c.Lines(rises, Stroke{Paint: Paint{Tone: Fixed, RGB: clothInk, Opacity: 0.75}, Width: 1, Dash: []float64{1.5, 2}})
}
