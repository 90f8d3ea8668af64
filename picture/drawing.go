package picture

import (
	"math"

	"needlepace/stitch"
	"needlepace/words"
)

// Segment is thread lying on the fabric: one revolution of the shaft, from one
// place of the needle to the next, in units of 0.1 mm, y up. Layer counts the
// colour blocks: a later layer covers an earlier one.
type Segment struct {
	X0, Y0, X1, Y1 int32
	Layer          int32
}

// Sewn is the thread of a design in sewing order: exactly one segment for each
// revolution of its runs, so that segment i belongs to revolution i of the
// clock. trimAfter is the machine's reading of jumps (MODEL section 1). The
// first revolution after a cut has no thread behind it: its segment is a
// point. Places beyond ±100 m are held there.
func Sewn(d *stitch.Design, trimAfter int) []Segment {
	out := make([]Segment, 0, d.Count().Stitches)
	x, y := 0, 0
	thread := false
	next := 0 // records before next are already added to x, y
	advance := func(to int) {
		for ; next < to; next++ {
			x += int(d.Records[next].DX)
			y += int(d.Records[next].DY)
		}
	}
	for e := range d.Events(trimAfter) {
		switch e.Kind {
		case stitch.TrimCut, stitch.ColourCut:
			thread = false
		case stitch.Run:
			advance(e.From)
			for i := e.From; i < e.To; i++ {
				s := Segment{X0: unit(x), Y0: unit(y), Layer: int32(e.Block)}
				advance(i + 1)
				s.X1, s.Y1 = unit(x), unit(y)
				if !thread {
					s.X0, s.Y0 = s.X1, s.Y1
				}
				thread = true
				out = append(out, s)
			}
		}
	}
	return out
}

func unit(v int) int32 {
	const far = 1_000_000 // 100 m
	return int32(min(max(v, -far), far))
}

// extent is the box of the segments in units of 0.1 mm; ok is false where
// there is none.
func extent(segs []Segment) (b stitch.Bounds, ok bool) {
	if len(segs) == 0 {
		return b, false
	}
	b = stitch.Bounds{MinX: math.MaxInt, MinY: math.MaxInt, MaxX: math.MinInt, MaxY: math.MinInt}
	for i := range segs {
		s := &segs[i]
		b.MinX, b.MaxX = min(b.MinX, int(s.X0), int(s.X1)), max(b.MaxX, int(s.X0), int(s.X1))
		b.MinY, b.MaxY = min(b.MinY, int(s.Y0), int(s.Y1)), max(b.MaxY, int(s.Y0), int(s.Y1))
	}
	return b, true
}

// place is where a design stands on the canvas: a point (X, Y) in mm, y up, is
// at (ox + X·k, oy − Y·k).
type place struct {
	ox, oy float64
	k      float64 // px per mm
}

func (p place) at(xmm, ymm float64) Pt { return Pt{p.ox + xmm*p.k, p.oy - ymm*p.k} }

// fitDesign sets the box b of a design into area, centred, as large as it goes
// but not above most px per mm.
func fitDesign(b stitch.Bounds, area Box, most float64) place {
	w, h := max(b.WidthMM(), 0.1), max(b.HeightMM(), 0.1)
	k := min(area.W/w, area.H/h)
	if most > 0 {
		k = min(k, most)
	}
	cx, cy := float64(b.MinX+b.MaxX)/20, float64(b.MinY+b.MaxY)/20
	return place{area.X + area.W/2 - cx*k, area.Y + area.H/2 + cy*k, k}
}

// threadWidth is how wide a stitch is drawn: a common 40-weight thread lies
// about 0.4 mm wide (assumed); never so thin that it cannot be seen.
func threadWidth(k, share float64) float64 { return max(0.4*share*k, 0.55) }

// onCloth is where on its cloth a design may stand: a margin, and room for the
// scale bar below.
func onCloth(cloth Box, margin float64) Box {
	foot := max(margin, 32)
	return Box{cloth.X + margin, cloth.Y + margin, cloth.W - 2*margin, cloth.H - margin - foot}
}

// scaleBar draws a bar of a round number of mm, or inches, at the lower left of area.
func scaleBar(c Canvas, area Box, k float64, w *words.Writer) {
	n := niceStep(w.Lengths(area.W * 0.36 / k)[0], 2)
	long := w.MMOf(n) * k
	x, y := area.X+12, area.Bottom()-14
	ink := Paint{Tone: Fixed, RGB: clothInk}
	c.Lines([]Seg{{Pt{x, y}, Pt{x + long, y}}, {Pt{x, y - 4}, Pt{x, y + 4}}, {Pt{x + long, y - 4}, Pt{x + long, y + 4}}},
		Stroke{Paint: ink, Width: 1.2})
	c.Text(x+long+7, y+4, tickText(n, n, w)+" "+words.LengthUnit{}.Text(w), Face{Size: 11, Paint: ink})
}

// clothInk is the ink on the cloth, which is light in every theme: cividis
// from dark to bright must stand out from it.
var clothInk = RGB{0x1d, 0x21, 0x24}

// maxScale is the largest magnification of a drawing: 16 px per mm.
const maxScale = 16
