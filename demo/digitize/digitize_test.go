package digitize

import (
	"math"
	"reflect"
	"testing"

	"needlepace/stitch"
)

// path gives the penetrations in mm.
func path(d *stitch.Design) []Pt {
	var out []Pt
	x, y := 0, 0
	for _, r := range d.Records {
		x, y = x+int(r.DX), y+int(r.DY)
		if r.Op.Penetrates() {
			out = append(out, Pt{float64(x) / 10, float64(y) / 10})
		}
	}
	return out
}

func kinds(d *stitch.Design) []stitch.EventKind {
	var out []stitch.EventKind
	for e := range d.Events(3) {
		out = append(out, e.Kind)
	}
	return out
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.3f, want %.3f ± %.3f", what, got, want, tol)
	}
}

func TestRunHasEqualStitchesAndKeepsCorners(t *testing.T) {
	var p Piece
	p.Run(Path(0, 0, 30, 0, 30, 14), 2.5)
	pts := path(p.Design())
	if len(pts) != 12+6 {
		t.Fatalf("%d stitches, want 12 along 30 mm and 6 along 14 mm", len(pts))
	}
	if pts[11] != (Pt{30, 0}) || pts[17] != (Pt{30, 14}) {
		t.Errorf("corner at %v, end at %v", pts[11], pts[17])
	}
	for i := 1; i < 12; i++ {
		near(t, "stitch", pts[i-1].Dist(pts[i]), 2.5, 0.05)
	}
}

func TestNoRecordIsLongerThanTheTapeHolds(t *testing.T) {
	var p Piece
	p.MoveTo(Pt{200, -150})
	p.Stitch(Pt{170, -149}) // 30 mm: three stitches
	p.Satin(Path(0, 0, 40, 0), Path(0, 20, 40, 20), 0.4)
	p.Trim()
	p.MoveTo(Pt{-300, 300})
	p.Run(Path(-300, 300, -250, 300), 40)
	for i, r := range p.Design().Records {
		if max(r.DX, -r.DX) > 121 || max(r.DY, -r.DY) > 121 {
			t.Fatalf("record %d moves (%d, %d)", i, r.DX, r.DY)
		}
	}
	if at := p.At(); at != (Pt{-250, 300}) {
		t.Errorf("the piece ends at %v", at)
	}
	if n := len(path(p.Design())); n != p.Stitches() {
		t.Errorf("%d penetrations, Stitches says %d", n, p.Stitches())
	}
}

func TestTrimIsReadAsATrimHoweverShortTheWay(t *testing.T) {
	for _, way := range []float64{0, 0.5, 5, 12.1, 24.3, 90} {
		var p Piece
		p.Run(Path(0, 0, 10, 0), 2.5)
		p.Trim()
		p.Run(Path(10+way, 0, 20+way, 0), 2.5)
		got := kinds(p.Design())
		want := []stitch.EventKind{stitch.Run, stitch.TrimCut, stitch.Travel, stitch.Run}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("way of %v mm: events %v, want %v", way, got, want)
		}
	}
	var p Piece
	p.Trim() // no thread to cut
	p.Run(Path(5, 0, 20, 0), 2.5)
	if got := kinds(p.Design()); !reflect.DeepEqual(got, []stitch.EventKind{stitch.Travel, stitch.Run}) {
		t.Errorf("trim with no thread: events %v", got)
	}
}

func TestColourStopCutsAndTheNextObjectTravels(t *testing.T) {
	var p Piece
	p.Run(Path(0, 0, 10, 0), 2.5)
	p.ColourStop()
	p.Run(Path(50, 0, 60, 0), 2.5)
	want := []stitch.EventKind{stitch.Run, stitch.ColourCut, stitch.Travel, stitch.Run}
	if got := kinds(p.Design()); !reflect.DeepEqual(got, want) {
		t.Errorf("events %v, want %v", got, want)
	}
	if p.Block() != 1 {
		t.Errorf("block %d", p.Block())
	}
}

func TestConnectorIsSewnWhereTheThreadRunsOn(t *testing.T) {
	var p Piece
	p.Run(Path(0, 0, 10, 0), 2.5)
	p.Run(Path(10, 6, 20, 6), 2.5)
	if got := kinds(p.Design()); !reflect.DeepEqual(got, []stitch.EventKind{stitch.Run}) {
		t.Errorf("events %v, want one run", got)
	}
}

func TestLocksAreSmallAndStrikeNoHoleTwice(t *testing.T) {
	var p Piece
	p.Lock()
	p.Run(Path(3, 4, 33, 4), 3)
	p.Lock()
	pts := path(p.Design())
	if len(pts) != 4+10+3 {
		t.Fatalf("%d stitches, want 4 to tie in, 10, and 3 to tie off", len(pts))
	}
	seen := map[Pt]bool{}
	for i, q := range pts {
		if seen[q] {
			t.Errorf("hole %v struck twice", q)
		}
		seen[q] = true
		if l := q.Dist(pts[max(i-1, 0)]); i > 0 && (i < 4 || i >= 14) && (l < 0.8 || l > 1.3) {
			t.Errorf("lock stitch %d is %.2f mm", i, l)
		}
	}
}

func TestSatinNeverSewsTinyStitchesAtSharpEnds(t *testing.T) {
	var p Piece
	p.Column(Path(0, 0, 15, 2, 30, 0), Path(0, 0, 15, -2, 30, 0), 0.4)
	pts := path(p.Design())
	for i := 1; i < len(pts); i++ {
		if l := pts[i-1].Dist(pts[i]); l < 0.75 {
			t.Errorf("stitch %d is %.2f mm", i, l)
		}
	}
}

func TestColumnBackEndsWhereItBegan(t *testing.T) {
	for _, w := range []float64{1.6, 4} {
		var p Piece
		a, b := Rails(Path(0, 0, 30, 0), w)
		p.ColumnBack(a, b, 0.4)
		if d := p.At().Dist(Pt{0, 0}); d > w/2+0.3 {
			t.Errorf("width %v: ends %.1f mm from its start", w, d)
		}
		var q Piece
		q.Column(a, b, 0.4)
		if d := q.At().Dist(Pt{30, 0}); d > w/2+0.3 {
			t.Errorf("width %v: column ends %.1f mm from its end", w, d)
		}
	}
}

func TestFillStaysInsideAndLeavesNoRowOut(t *testing.T) {
	ring := Circle(Pt{0, 0}, 25)
	hole := Circle(Pt{4, 3}, 9)
	for _, angle := range []float64{0, 37, 90, 135} {
		var p Piece
		p.Fill(Area(ring, hole), angle, 0.4, 4)
		pts := path(p.Design())
		rows := map[int]bool{}
		for i, q := range pts {
			if q.Dist(Pt{}) > 25.1 || q.Dist(Pt{4, 3}) < 8.9 {
				t.Fatalf("angle %v: penetration %v lies outside", angle, q)
			}
			rows[int(math.Round((q.Rotate(-angle).Y+25)/0.4-0.5))] = true
			if i == 0 {
				continue
			}
			if l := pts[i-1].Dist(q); l > 5.6 || l < 0.7 {
				t.Errorf("angle %v: stitch %d is %.2f mm", angle, i, l)
			}
			// the thread itself crosses neither the edge nor the hole by much
			if mid := pts[i-1].Lerp(q, 0.5); mid.Dist(Pt{}) > 25.1 || mid.Dist(Pt{4, 3}) < 8.2 {
				t.Errorf("angle %v: stitch %d runs through %v", angle, i, mid)
			}
		}
		if n := len(rows); n < 122 {
			t.Errorf("angle %v: %d of 125 rows", angle, n)
		}
	}
}

func TestUnderlayStaysUnderTheFill(t *testing.T) {
	var p Piece
	p.FillUnderlay(Area(Rect(0, 0, 30, 20)), 0)
	for _, q := range path(p.Design()) {
		if q.X < 0.5 || q.X > 29.5 || q.Y < 0.5 || q.Y > 19.5 {
			t.Errorf("underlay penetration at %v shows at the edge", q)
		}
	}
}

func TestEveryLetterKeepsItsHeightAndWidth(t *testing.T) {
	for r := range alphabet {
		if r == '-' || r == '.' || r == '\'' || r == 'Q' { // Q has a tail
			continue
		}
		var p Piece
		l := Lettering{Height: 12}
		p.Lock()
		p.Text(string(r), l)
		b := p.Design().Count().Bounds
		near(t, string(r)+": top", float64(b.MaxY)/10, 12, 0.5)
		near(t, string(r)+": foot", float64(b.MinY)/10, 0, 0.5)
		near(t, string(r)+": left", float64(b.MinX)/10, 0, 0.9)
		near(t, string(r)+": right", float64(b.MaxX)/10, l.Width(string(r)), 0.9)
	}
}

func TestLettersRunOnWithoutACut(t *testing.T) {
	var p Piece
	p.Lock()
	p.Text("HARBOUR 17", Lettering{Height: 8})
	for e := range p.Design().Events(3) {
		if e.Kind == stitch.TrimCut {
			t.Fatal("a cut inside the lettering")
		}
	}
}

func TestCentredStartsInTheMiddle(t *testing.T) {
	var p Piece
	p.Run(Path(100, 50, 160, 50, 160, 90), 3)
	b := p.Centred().Count().Bounds
	if abs(b.MinX+b.MaxX) > 1 || abs(b.MinY+b.MaxY) > 1 {
		t.Errorf("box %+v is not centred", b)
	}
}

func TestSameCallsSameRecords(t *testing.T) {
	sew := func() *stitch.Design {
		p := New("SAME")
		p.Lock()
		p.Text("PELLSAND & CO 3", Lettering{Height: 9, Bend: OnArc(Pt{}, 60, 90, 80, true)})
		p.ColourStop()
		p.Fill(Area(Circle(Pt{}, 20), Circle(Pt{3, 2}, 6)), 30, 0.4, 4)
		return p.Design()
	}
	a := sew()
	for range 5 {
		if !reflect.DeepEqual(a, sew()) {
			t.Fatal("two sewings differ")
		}
	}
}

func TestOddInputSewsNothingOrLittle(t *testing.T) {
	var p Piece
	p.Run(nil, 2)
	p.Run(Path(1, 1), 2)
	p.Run(Path(1, 1, 1, 1), 2)
	p.Satin(nil, nil, 0.4)
	p.Satin(Path(0, 0), Path(1, 1), 0.4)
	p.Fill(nil, 0, 0.4, 4)
	p.Fill(Area(nil, Path(0, 0, 1, 1)), 0, 0.4, 4)
	p.FillUnderlay(Area(nil), 0)
	p.Column(nil, nil, 0.4)
	p.ColumnBack(Path(0, 0), nil, 0.4)
	p.Text("", Lettering{Height: 8})
	p.Text("ñ?", Lettering{Height: 8})
	if n := len(p.Design().Records); n != 0 {
		t.Errorf("%d records from nothing", n)
	}
	p.Fill(Area(Rect(0, 0, 5, 5)), 0, 0, 0) // no spacing, no length: the least of each
	p.Run(Path(0, 0, 5, 0), 0)
	if n := p.Stitches(); n < 50 || n > 2000 {
		t.Errorf("%d stitches from settings of zero", n)
	}
}
