package rough

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"

	"needlepace/stitch"
)

// With many examples the prior is outweighed: the line is that of least squares
// (gonum's, of one input), and what is foretold covers what it says.
func TestManyExamplesOutweighThePrior(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	var all []Example
	var x, y []float64
	for range 3000 {
		side := math.Exp(3 + 2*rng.Float64())
		d := Design{Width: side, Height: side, Kind: Badge, Cover: Half, Colours: 4}
		n := math.Exp(math.Log(.6) + .3*math.Log(side*side/6400) + .25*rng.NormFloat64())
		all = append(all, Example{Design: d, Stitches: max(1, int(n*d.covered())), Seconds: .1 * n * d.covered(), Weight: 1})
		x = append(x, math.Log(side*side/6400))
		y = append(y, math.Log(n))
	}
	m := Learn(all)
	a, b := stat.LinearRegression(x, y, nil, false)
	if math.Abs(m.density.beta[0]-a) > .01 || math.Abs(m.density.beta[1]-b) > .01 {
		t.Errorf("line %v + %v x, by least squares %v + %v x", m.density.beta[0], m.density.beta[1], a, b)
	}
	in := 0
	for range 2000 {
		side := math.Exp(3 + 2*rng.Float64())
		d := Design{Width: side, Height: side, Kind: Badge, Cover: Half, Colours: 4}
		n := math.Exp(math.Log(.6)+.3*math.Log(side*side/6400)+.25*rng.NormFloat64()) * d.covered()
		if r := m.Stitches(d, .8); n >= r.Low && n <= r.High {
			in++
		}
		if s, ok := m.Seconds(d, .8); !ok || !(s.Low < s.Mid && s.Mid < s.High) {
			t.Fatalf("time %+v, %v", s, ok)
		}
	}
	if in < 1540 || in > 1660 {
		t.Errorf("%d of 2,000 in the range of 80 %%", in)
	}
}

// The fewer examples, the wider: with none it is the prior's.
func TestFewExamplesLeaveTheRangeWide(t *testing.T) {
	d := Design{Width: 80, Height: 80, Kind: Badge, Cover: Half, Colours: 4}
	width := func(r Range) float64 { return math.Log(r.High / r.Low) }
	var all []Example
	last := math.Inf(1)
	for range 4 {
		r := Learn(all).Stitches(d, .8)
		if w := width(r); w >= last {
			t.Errorf("with %d examples the range is %v wide, before %v", len(all), w, last)
		} else {
			last = w
		}
		for range 6 {
			all = append(all, Example{Design: d, Stitches: 3000, Weight: 1})
		}
	}
	if _, ok := Learn(all).Seconds(d, .8); ok {
		t.Error("a time is foretold and none was ever seen")
	}
	none, some := Learn([]Example{{Design: d, Stitches: 30_000, Weight: 0}}).Stitches(d, .8), Learn(nil).Stitches(d, .8)
	if math.Abs(none.Mid-some.Mid) > 1e-9 {
		t.Error("an example without weight teaches")
	}
}

// A design is read for what people would say of it: size, cover by squares, kind by shape.
func TestWhatADesignShows(t *testing.T) {
	rows := func(w, h, apart int) *stitch.Design { // tenths of mm
		d := &stitch.Design{}
		dir := int16(1)
		for y := 0; y <= h; y += apart {
			for x := 0; x < w; x += 50 {
				d.Records = append(d.Records, stitch.Record{Op: stitch.Sew, DX: dir * 50})
			}
			d.Records = append(d.Records, stitch.Record{Op: stitch.Sew, DY: int16(apart)})
			dir = -dir
		}
		return d
	}
	for _, c := range []struct {
		d     *stitch.Design
		kind  Kind
		cover Cover
	}{
		{rows(600, 600, 5), Badge, Full}, {rows(600, 600, 50), Badge, Light}, {rows(1000, 200, 5), Lettering, Full},
		{rows(2000, 2000, 20), JacketBack, Half},
	} {
		is, n, ok := Of(c.d)
		if !ok || n == 0 || is.Kind != c.kind || is.Cover != c.cover || is.Colours != 1 {
			t.Errorf("%+v, want %s, %s", is, c.kind, c.cover)
		}
	}
	if _, _, ok := Of(&stitch.Design{}); ok {
		t.Error("an empty design shows something")
	}
}
