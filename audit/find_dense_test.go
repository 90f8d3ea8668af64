package audit

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// ofKind are the findings of a kind in a design, unbundled.
func ofKind(t *testing.T, d *stitch.Design, kind Kind) (out []Finding) {
	t.Helper()
	lim := DefaultLimits()
	lim.LongList = 1e6
	r, err := Check(context.Background(), d, class(t, "single-15-light"), clock.Job{}, Options{Limits: &lim})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.Findings {
		if f.Kind == kind {
			out = append(out, f)
		}
	}
	return out
}

// A lock on the corner of a column is no dense spot; as many holes over four
// square millimetres, or many more in one, are. Holes lie evenly over a square.
func TestALockIsNoDenseSpot(t *testing.T) {
	for _, c := range []struct {
		side  int // 0.1 mm
		holes int // along a side
		want  bool
	}{
		{6, 3, false},  // 9 within a square millimetre: a lock
		{6, 4, true},   // 16
		{20, 5, false}, // 25 on 4 mm²
		{20, 8, true},  // 64 on 4 mm²: nobody locks so wide
		{30, 10, true},
	} {
		s := (&sketch{}).dash(0, 0, 30)
		for y := range c.holes {
			for x := range c.holes {
				s.to(600+x*c.side/c.holes, 303+y*c.side/c.holes, stitch.Sew)
			}
		}
		if got := len(ofKind(t, s.design(), DenseSpot)) > 0; got != c.want {
			t.Errorf("%d × %d holes on %.1f mm a side: found %v", c.holes, c.holes, float64(c.side)/10, got)
		}
	}
}

// How many holes lie around each, counted one by one.
func TestCrowdCountsEveryHoleAround(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, wide := range []int{8, 30, 300} { // 0.1 mm
		s := &sketch{}
		for range 400 {
			s.to(r.IntN(wide)-wide/3, r.IntN(wide)-wide/3, stitch.Sew)
		}
		d := s.design()
		l, err := lay(d.Records, 3)
		if err != nil {
			t.Fatal(err)
		}
		v := &survey{d: d, l: l, lim: DefaultLimits(), bounds: d.Count().Bounds}
		near, places := v.crowd(), v.places()
		dense := 0
		for i, p := range places.at {
			n := int32(0)
			for _, q := range l.holes { // π·0.5642² = 1 mm²
				if dx, dy := float64(p.x-q.x)/10, float64(p.y-q.y)/10; dx*dx+dy*dy <= 0.5642*0.5642 {
					n++
				}
			}
			if near[i] != n && n > 8 || near[i] > 8 && n <= 8 {
				t.Fatalf("%d wide, at %d, %d: %d around, want %d", wide, p.x, p.y, near[i], n)
			}
			if n > 8 {
				dense++
			}
		}
		if (dense > 0) == (wide == 300) {
			t.Errorf("%d wide: %d dense places", wide, dense)
		}
	}
}

// What is too dense, and what lies in too many layers, hangs neither on where a design
// lies nor on how it is turned or mirrored: 32 penetrations are a danger on a line of a grid too.
func TestSpotsStayWithTheDesign(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	s := &sketch{}
	for range 12 { // clusters, of a few and of many, and another near them
		x, y := r.IntN(1500), r.IntN(1500)
		for range 8 + r.IntN(40) {
			s.to(x+r.IntN(9), y+r.IntN(6), stitch.Sew)
		}
		for x += 25 + r.IntN(15); r.IntN(20) > 0; {
			s.to(x+r.IntN(9), y+r.IntN(6), stitch.Sew)
		}
		s.to(x, y, stitch.Trim)
	}
	for range 4 {
		s.satin(300, 1600, 120, 60, 4)
	}
	type seen struct {
		peak  float64
		count int
		over  Severity
	}
	look := func(d *stitch.Design, kind Kind) (out []seen) {
		for _, f := range ofKind(t, d, kind) {
			out = append(out, seen{f.Peak, f.Count, f.Severity})
		}
		slices.SortFunc(out, func(a, b seen) int {
			return slices.Compare([]float64{a.peak, float64(a.count)}, []float64{b.peak, float64(b.count)})
		})
		return out
	}
	moved := func(dx, dy int, turn func(x, y int16) (int16, int16)) *stitch.Design {
		d := &stitch.Design{Records: slices.Clone(s.design().Records)}
		for i := range d.Records {
			c := &d.Records[i]
			c.DX, c.DY = turn(c.DX, c.DY)
		}
		d.Records = slices.Insert(d.Records, 0, stitch.Record{DX: int16(dx), DY: int16(dy), Op: stitch.Jump})
		return d
	}
	as := func(x, y int16) (int16, int16) { return x, y }
	want := look(moved(0, 0, as), DenseSpot)
	if len(want) < 5 {
		t.Fatalf("%d dense spots to look at", len(want))
	}
	layers := look(moved(0, 0, as), StackedLayers)
	if len(layers) == 0 {
		t.Fatal("no layers to look at")
	}
	for k := range 10 {
		d := moved(k, 3*k%10, as)
		if got := look(d, DenseSpot); !slices.Equal(got, want) {
			t.Errorf("moved by 0.%d mm: dense spots %v, want %v", k, got, want)
		}
		if got := look(d, StackedLayers); !slices.Equal(got, layers) {
			t.Errorf("moved by 0.%d mm: layers %v, want %v", k, got, layers)
		}
	}
	for name, turn := range map[string]func(x, y int16) (int16, int16){
		"turned": func(x, y int16) (int16, int16) { return -y, x }, "mirrored": func(x, y int16) (int16, int16) { return -x, y },
	} {
		if got := look(moved(0, 0, turn), DenseSpot); fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s: dense spots %v, want %v", name, got, want)
		}
		if got := look(moved(0, 0, turn), StackedLayers); len(got) != len(layers) {
			t.Errorf("%s: layers %v, want %v", name, got, layers)
		}
	}
}

// Four columns of wide satin over one another are a stack in their middle too, where
// the needle strikes nowhere. 0.2 mm from thread to thread and 0.4 mm of thread cover twice.
func TestAStackOfSatinIsOneWhereNoNeedleStrikes(t *testing.T) {
	s := &sketch{}
	for range 4 {
		s.satin(0, 0, 200, 60, 4)
	}
	found := ofKind(t, s.design(), StackedLayers)
	if len(found) != 1 {
		t.Fatalf("%d findings, want 1", len(found))
	}
	// 400 × 60 in 0.1 mm less half a millimetre and more at each side.
	if f := found[0]; f.Peak < 8 || f.Peak > 10 || f.Count < 150 || f.Count > 240 {
		t.Errorf("%.1f layers over %d mm², want 8, and three ways back, over about 190", f.Peak, f.Count)
	}
}

// A hole struck six times costs four turns of the shaft: a second strike locks or turns a line, and is not counted.
func TestStrikesCostFromTheThirdOn(t *testing.T) {
	s := (&sketch{}).dash(0, 0, 60)
	for range 5 {
		s.to(s.at.X, s.at.Y, stitch.Sew)
	}
	for k := range 60 {
		s.to(1200+20*(k+1), 0, stitch.Sew)
	}
	sheet := class(t, "single-15-light")
	r, err := Check(context.Background(), s.design(), sheet, clock.Job{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	turn := 60 / float64(sheet.MaxSpeed)
	for _, f := range r.Findings {
		if f.Kind == SameHole {
			if turns := f.Alone / turn; math.Abs(turns-4) > 0.2 {
				t.Errorf("six strikes cost %.2f turns of %.3f s", turns, turn)
			}
			return
		}
	}
	t.Error("not found")
}

// A spot smaller than a stack counts from twelve penetrations on.
func TestASmallSpotCountsFromTwelveOn(t *testing.T) {
	for n, want := range map[int]bool{11: false, 12: true} {
		s := (&sketch{}).dash(-1000, 0, 20)
		for k := range n {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			s.to(int(60*cos), int(60*sin), stitch.Sew).to(k%3, k/3, stitch.Sew)
		}
		s.to(100, 100, stitch.Sew).to(200, 100, stitch.Sew)
		r, err := Check(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if found := slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.Kind == DenseSpot }); found != want {
			t.Errorf("%d in a square millimetre: found is %v", n, found)
		}
	}
}
