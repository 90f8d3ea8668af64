package picture

import (
	"math"

	"needlepace/words"
)

// speedBins is in how many steps the speed scale is cut: fine enough to read as
// one scale, few enough for small files.
const speedBins = 32

// SpeedScale maps shaft speeds (stitches/min) onto cividis.
type SpeedScale struct{ Low, High float64 }

// ScaleFor is a scale from a round speed below nearly all (99 %) of the given
// held speeds up to set, in stitches/min.
func ScaleFor(speeds []float32, set float64) SpeedScale {
	if !(set > 0) || math.IsInf(set, 1) {
		set = 1
		for _, v := range speeds {
			if float64(v) > set {
				set = float64(v)
			}
		}
	}
	const n = 200 // counting is enough: no sort of 200,000 numbers
	var count [n + 1]int
	for _, v := range speeds {
		t := float64(v) / set
		if !(t > 0) {
			t = 0
		}
		count[int(min(t, 1)*n)]++
	}
	below, k := 0, 0
	for ; k < n && (below+count[k])*100 <= len(speeds); k++ {
		below += count[k]
	}
	step := 100.0
	if set < 400 {
		step = niceStep(set, 8)
	}
	lo := math.Floor(float64(k)/n*set/step) * step
	// A scale of less than half the set speed would make small differences loud.
	lo = min(lo, math.Floor(set/2/step)*step)
	return SpeedScale{max(lo, 0), set}
}

func (s SpeedScale) bin(speed float64) int {
	if !(s.High > s.Low) {
		return speedBins - 1
	}
	t := (speed - s.Low) / (s.High - s.Low)
	if !(t > 0) {
		return 0
	}
	return int(min(t*speedBins, speedBins-1))
}

// paint is a step's colour; the first and last steps are the ends of the scale.
func (s SpeedScale) paint(bin int) Paint {
	return Paint{Tone: Speed, Level: float64(bin) / (speedBins - 1)}
}

func (s SpeedScale) pens() []Paint {
	out := make([]Paint, speedBins)
	for i := range out {
		out[i] = s.paint(i)
	}
	return out
}

// legend draws the scale as a bar with its speeds, w px wide, 40 px high.
func (s SpeedScale) legend(c Canvas, x, y, w float64, as *words.Writer) {
	c.Text(x, y+10, words.Say("picture.held-speed").Text(as), face(11, Quiet))
	bw := w / speedBins
	for i := range speedBins {
		c.Rect(x+float64(i)*bw, y+16, bw+0.3, 10, s.paint(i))
	}
	span := s.High - s.Low
	if !(span > 0) {
		c.Text(x+w, y+39, words.Fixed(s.High, 0).Text(nil), face(11, Ink).to(End))
		return
	}
	step := niceStep(span, max(2, int(w/50)))
	var marks []Seg
	for _, v := range append(ticks(s.Low, s.High-step*0.45, step), s.High) {
		px := x + (v-s.Low)/span*w
		marks = append(marks, Seg{Pt{px, y + 26}, Pt{px, y + 29}})
		a := Middle
		switch {
		case px < x+8:
			a = Start
		case px > x+w-8:
			a = End
		}
		c.Text(px, y+40, words.Fixed(v, 0).Text(nil), face(11, Ink).to(a))
	}
	c.Lines(marks, stroke(Quiet, 1))
}

// speedThreads colours the segments by speed (stitches/min, one a segment;
// a segment without one is drawn in grey).
func speedThreads(segs []Segment, speeds []float32, sc SpeedScale, p place, width float64) *Threads {
	t := &Threads{Segs: segs, Pen: make([]uint16, len(segs)), Pens: append(sc.pens(), Solid(RGB{0x8b, 0x8f, 0x92})),
		X: p.ox, Y: p.oy, Scale: p.k / 10, Width: width}
	for i := range segs {
		t.Pen[i] = speedBins
		if i < len(speeds) {
			t.Pen[i] = uint16(sc.bin(float64(speeds[i])))
		}
	}
	return t
}
