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

// atTop is the usual piece sewn at the machine's maximum, as where the machine has no setting just below it.
func atTop(s *machine.Sheet) PieceOptions {
	opt := usual
	opt.SetSpeed = s.MaxSpeed
	return opt
}

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

// A piece of the usual minutes has stitches that turn by each ten degrees from 40 to 150, some of each (a machine that is slow
// at turns is slow from some angle on); one of fewer minutes has none, and goes to the law's constants.
func TestAPieceHasTurns(t *testing.T) {
	for _, id := range []string{"compact-8", "multi-20"} {
		s := mustClass(t, id)
		for _, c := range []struct{ minutes, least, most float64 }{{0, 24, 60}, {3, 0, 10}} {
			d := piece(t, s, PieceOptions{HoopX: 100, HoopY: 100, Minutes: c.minutes}).Design
			turns := map[int]int{}
			for i := 1; i < len(d.Records); i++ {
				p, q := d.Records[i-1], d.Records[i]
				a, b := stitch.LengthMM(int(p.DX), int(p.DY)), stitch.LengthMM(int(q.DX), int(q.DY))
				if p.Op != stitch.Sew || q.Op != stitch.Sew || a < 1.5 || b < 1.5 || a > 3 || b > 3 {
					continue
				}
				cos := (float64(p.DX)*float64(q.DX) + float64(p.DY)*float64(q.DY)) / (a * b * stitch.UnitsPerMM * stitch.UnitsPerMM)
				turns[10*int(math.Round(math.Acos(max(min(cos, 1), -1))*18/math.Pi))]++
			}
			for angle := 40; angle <= 150; angle += 10 {
				if n := float64(turns[angle]); n < c.least || n > c.most {
					t.Errorf("%s, %v minutes: %v stitches turn by about %d°, want %v to %v", id, c.minutes, n, angle, c.least, c.most)
				}
			}
		}
	}
}

// Where speeds go in steps of 50 or 100, what a piece is sewn at is none.
func TestAPieceIsSewnBetweenRoundSpeeds(t *testing.T) {
	for _, c := range []struct{ most, want float64 }{{1000, 990}, {1200, 1190}, {850, 840}, {860, 840}, {855, 840}, {812, 810}, {105, 105}} {
		if got := belowTop(c.most); got != c.want {
			t.Errorf("up to %v/min: %v, want %v", c.most, got, c.want)
		}
	}
	s := mustClass(t, "single-15-light") // up to 1000/min
	if p := piece(t, s, PieceOptions{HoopX: 100, HoopY: 100, Minutes: 3}); p.SetSpeed != 990 {
		t.Errorf("sewn at %v/min", p.SetSpeed)
	}
	p := piece(t, s, PieceOptions{HoopX: 100, HoopY: 100, Minutes: 3, SetSpeed: 700})
	if p.SetSpeed != 700 {
		t.Errorf("asked for 700/min, sewn at %v/min", p.SetSpeed)
	}
}
