package learn

import (
	"context"
	"math"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

func piece(t testing.TB, s *machine.Sheet, opt PieceOptions) *Piece {
	t.Helper()
	p, err := TestPiece(context.Background(), s, opt)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

var usual = PieceOptions{HoopX: 100, HoopY: 100, Minutes: 6}

// For every class: in the hoop, in the time, every block with its stitches and
// locks, no stitch longer than the tape format holds, no hole struck over and
// over, never more than two layers of thread in a square millimetre or so.
func TestPieceIsSewable(t *testing.T) {
	for _, s := range machine.Classes() {
		p := piece(t, s, usual)
		d := p.Design
		c := d.Count()
		b := c.Bounds
		if b.WidthMM() > usual.HoopX-10 || b.HeightMM() > usual.HoopY-10 ||
			b.MaxX > 450 || b.MinX < -450 || b.MaxY > 450 || b.MinY < -450 {
			t.Errorf("%s: outside the hoop: %+v", s.Name, b)
		}
		if c.ColourStops != len(p.Blocks)-1 {
			t.Errorf("%s: %d colour stops for %d blocks", s.Name, c.ColourStops, len(p.Blocks))
		}
		r := clock.Run(d, s, clock.Job{Speed: p.SetSpeed})
		if r.Seconds > 60*usual.Minutes*1.02 {
			t.Errorf("%s: takes %.0f s", s.Name, r.Seconds)
		}
		cells := map[[2]int]int{}
		holes := map[[2]int]int{}
		x, y := 0, 0
		for i, q := range d.Records {
			x += int(q.DX)
			y += int(q.DY)
			if abs(int(q.DX)) > 121 || abs(int(q.DY)) > 121 {
				t.Fatalf("%s: record %d moves %d, %d", s.Name, i, q.DX, q.DY)
			}
			if q.Op == stitch.Sew {
				if l := stitch.LengthMM(int(q.DX), int(q.DY)); l > 9.6 || (l < 0.25 && i > 0) {
					t.Errorf("%s: record %d sews %.2f mm", s.Name, i, l)
				}
				cells[[2]int{int(math.Floor(float64(x) / 20)), int(math.Floor(float64(y) / 20))}]++
				holes[[2]int{x, y}]++
			}
		}
		for k, n := range holes {
			if n > 3 {
				t.Errorf("%s: the needle strikes (%d, %d) %d times", s.Name, k[0], k[1], n)
			}
		}
		for k, n := range cells {
			if n > 30 { // of 4 mm²: a satin edge is 20 in 2 × 2 mm at 0.4 mm spacing
				t.Errorf("%s: %d penetrations in the 2 mm square at %v", s.Name, n, k)
			}
		}
		sum := 0
		for _, pb := range p.Blocks {
			sum += pb.Stitches
			if pb.Stitches < 20 || pb.Seconds < 5 {
				t.Errorf("%s: block %q: %d stitches, %.1f s", s.Name, pb.What, pb.Stitches, pb.Seconds)
			}
		}
		if sum != c.Stitches {
			t.Errorf("%s: blocks have %d stitches, the design %d", s.Name, sum, c.Stitches)
		}
		t.Logf("%s: %d blocks, %d stitches, %.0f s, %.0f × %.0f mm", s.Name, len(p.Blocks), c.Stitches, r.Seconds, b.WidthMM(), b.HeightMM())
		for _, pb := range p.Blocks {
			t.Logf("    %5.1f s  %s", pb.Seconds, pb.What)
		}
		for _, e := range p.Spread {
			t.Logf("        %-24s %.2f -> %.2f", e.Path, e.Before, e.After)
		}
	}
}
