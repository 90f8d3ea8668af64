package thread

import (
	"errors"
	"math"
	"testing"

	"needlepace/stitch"

	"pgregory.net/rapid"
)

func TestJumpsBetweenStitchesAreDrawnStraight(t *testing.T) {
	d := &stitch.Design{Records: []stitch.Record{
		{DX: 10, Op: stitch.Sew},
		{DX: 30, Op: stitch.Jump}, {DY: 40, Op: stitch.Sew}, // one jump of three: no trim; 5 mm of thread
	}}
	u := use(t, d, bare)
	near(t, "bobbin", u.Total.Bobbin, (1+5)/1000.0, 1e-12)
	near(t, "top", u.Total.Top, (1+2+5+2)/1000.0, 1e-12)
}

func TestTrimmedTravelTakesNoThreadButTails(t *testing.T) {
	d := &stitch.Design{Records: []stitch.Record{
		{DX: 10, Op: stitch.Sew},
		{DX: 100, Op: stitch.Jump}, {DX: 100, Op: stitch.Jump}, {DX: 100, Op: stitch.Jump},
		{DX: 10, Op: stitch.Sew},
		{Op: stitch.ColourStop},
		{DX: 20, Op: stitch.Sew},
	}}
	l := bare
	l.TailTop, l.TailBobbin = 50, 25
	u := use(t, d, l)
	if len(u.Blocks) != 2 || u.Blocks[0].Trims != 2 || u.Blocks[1].Trims != 1 {
		t.Fatalf("cuts: %+v", u.Blocks)
	}
	near(t, "block 1 top", u.Blocks[0].Top, (1+2+1+2+2*50)/1000.0, 1e-12)
	near(t, "block 2 bobbin", u.Blocks[1].Bobbin, (2+25)/1000.0, 1e-12)
}

func TestThreadTableJoinsBlocks(t *testing.T) {
	d := &stitch.Design{Records: []stitch.Record{
		{DX: 10, Op: stitch.Sew}, {Op: stitch.ColourStop},
		{DX: 10, Op: stitch.Sew}, {Op: stitch.ColourStop},
		{DX: 10, Op: stitch.Sew},
	}, Threads: []stitch.Thread{{Name: "Red", R: 255, Known: true}, {Name: "Blue", B: 255, Known: true}, {Name: "red",
		R: 255, Known: true}}}
	n, err := ForOrder(d, use(t, d, bare), 5, 2, DefaultSupply)
	if err != nil {
		t.Fatal(err)
	}
	if len(n.Colours) != 2 || n.Colours[0].Name != "Red" || len(n.Colours[0].Blocks) != 2 || n.Colours[0].Cones != 2 {
		t.Fatalf("colours: %+v", n.Colours)
	}
}

func TestBobbinsCountWhatEachHeadSews(t *testing.T) {
	d := line(1000, 30) // 3 m of bobbin thread a piece
	u := use(t, d, bare)
	// 7 pieces on 3 heads: 3, 2 and 2 pieces: 9, 6 and 6 m of a 6 m bobbin.
	n, _ := ForOrder(d, u, 7, 3, Supply{Bobbin: 6, Cone: 1e6})
	if n.Bobbins != 4 {
		t.Errorf("bobbins %d, want 2+1+1", n.Bobbins)
	}
	// More heads than pieces: only as many heads sew.
	n, _ = ForOrder(d, u, 2, 12, DefaultSupply)
	if n.Bobbins != 2 || n.Colours[0].Loaded != 2 {
		t.Errorf("2 pieces on 12 heads: %+v", n)
	}
}

func TestNonsenseIsRefusedByName(t *testing.T) {
	for _, l := range []Law{{Thickness: -1, Tex: 27}, {PullIn: math.NaN(), Tex: 27}, {Tex: 0}, {Waste: -.1, Tex: 27}} {
		var out *RangeError
		if _, err := Of(line(1, 10), l, 3); !errors.As(err, &out) {
			t.Errorf("%+v: %v", l, err)
		}
	}
	u := use(t, line(1, 10), bare)
	for _, e := range []struct {
		p, h int
		s    Supply
	}{{0, 1, DefaultSupply}, {1, 0, DefaultSupply}, {1, 1, Supply{0, 1}}, {1, 1, Supply{1, math.NaN()}}} {
		if _, err := ForOrder(line(1, 10), u, e.p, e.h, e.s); err == nil {
			t.Errorf("%+v gave no error", e)
		}
	}
	if u := use(t, &stitch.Design{}, Default); u.Total.Top != 0 || u.PerThousand() != (Metres{}) {
		t.Errorf("an empty design takes thread: %+v", u)
	}
}

// Whatever the records: blocks add up, nothing is negative, and the total of
// both threads does not depend on where the lock lies.
func TestUseIsAdditiveAndBalanced(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 60).Draw(t, "n")
		d := &stitch.Design{}
		for range n {
			d.Records = append(d.Records, stitch.Record{
				DX: int16(rapid.IntRange(-121, 121).Draw(t, "dx")), DY: int16(rapid.IntRange(-121, 121).Draw(t, "dy")),
				Op: stitch.Op(rapid.IntRange(0, 5).Draw(t, "op"))})
		}
		l := Default
		a, err := Of(d, l, 3)
		if err != nil {
			t.Fatal(err)
		}
		l.PullIn = rapid.Float64Range(0, 5).Draw(t, "u")
		b, _ := Of(d, l, 3)
		var top, bobbin float64
		for _, x := range b.Blocks {
			if x.Top < 0 || x.Bobbin < 0 {
				t.Fatalf("negative: %+v", x)
			}
			top += x.Top
			bobbin += x.Bobbin
		}
		if math.Abs(top-b.Total.Top) > 1e-9 || math.Abs(bobbin-b.Total.Bobbin) > 1e-9 {
			t.Fatal("blocks do not add up")
		}
		if math.Abs(a.Total.Top+a.Total.Bobbin-b.Total.Top-b.Total.Bobbin) > 1e-9 {
			t.Fatal("the total depends on u")
		}
		if b.Total.Stitches != d.Count().Stitches {
			t.Fatalf("stitches %d, want %d", b.Total.Stitches, d.Count().Stitches)
		}
	})
}

// PerThousand is the use in metres per 1,000 stitches; zero for no stitches.
func (u Use) PerThousand() Metres {
	if u.Total.Stitches == 0 {
		return Metres{}
	}
	k := 1000 / float64(u.Total.Stitches)
	return Metres{u.Total.Top * k, u.Total.Bobbin * k}
}
