package thread

import (
	"math"
	"testing"

	"needlepace/stitch"
)

// line is n stitches of units tenths of a millimetre along x.
func line(n, units int) *stitch.Design {
	d := &stitch.Design{}
	for range n {
		d.Records = append(d.Records, stitch.Record{DX: int16(units), Op: stitch.Sew})
	}
	return d
}

var bare = Law{Thickness: 1, Tex: 27} // no tails, no waste

func use(t *testing.T, d *stitch.Design, l Law) Use {
	t.Helper()
	u, err := Of(d, l, 3)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

func TestLockstitchFormula(t *testing.T) {
	// ISO 4915 type 301 in textile text books: thread per unit of seam C = 2 + 2·T·S; T = 0.01 in, S = 10 per inch: 2.2 in per inch.
	u := use(t, line(1000, 25), Law{Thickness: .25, PullIn: .1, Tex: 27}) // 10 stitches per 25 mm "inch", T a hundredth of it
	seam := 1000 * 2.5
	near(t, "thread per seam", (u.Total.Top+u.Total.Bobbin)*1000/seam, 2.2, 1e-9)
}

func TestThreadMakersRule(t *testing.T) {
	// Thread makers' glossaries and rules of thumb: 5 m of top and about 3 m of bobbin thread per 1,000 stitches.
	p := use(t, line(1000, 30), bare).PerThousand()
	near(t, "top", p.Top, 5, 1e-9)
	near(t, "bobbin", p.Bobbin, 3, 1e-9)
	for units, want := range map[int]Metres{20: {4, 2}, 40: {6, 4}, 50: {7, 5}, 70: {9, 7}} {
		p := use(t, line(1000, units), bare).PerThousand()
		near(t, "top", p.Top, want.Top, 1e-9)
		near(t, "bobbin", p.Bobbin, want.Bobbin, 1e-9)
	}
}

func TestBalanceByLength(t *testing.T) {
	// Trade text on embroidery thread: balance by length is two thirds needle thread to one third bobbin thread; u = 0.17 mm at L = 3, T = 1 gives it.
	p := use(t, line(1000, 30), Law{Thickness: 1, PullIn: .17, Tex: 27}).PerThousand()
	near(t, "share of the top thread", p.Top/(p.Top+p.Bobbin), 2.0/3, .003)
	near(t, "total does not depend on u", p.Top+p.Bobbin, 8, 1e-9)
}

func TestPackagesInPrint(t *testing.T) {
	// Thread packages in print: 22 yd of 40 weight sew 4,000 stitches, 250 yd 44,000, 850 yd 156,000, 5,500 yd about a million: 4.98 to 5.20 m per 1,000.
	const yard = .9144
	p := use(t, line(1000, 30), bare).PerThousand()
	for yards, stitches := range map[float64]float64{22: 4000, 250: 44000, 850: 156000, 5500: 1e6} {
		near(t, "m per 1,000", p.Top, yards*yard/stitches*1000, .21)
	}
	n, err := ForOrder(line(1000, 30), use(t, line(1000, 30), bare), 1000, 1, Supply{Bobbin: 130, Cone: 5500 * yard})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "cones for a million stitches", n.Colours[0].Used, 1, .01)
}

func TestStitchesOnOneBobbin(t *testing.T) {
	// A decorated-apparel guide: an L-size bobbin holds 130 to 154 yd (119 to 141 m): 40,000 to 47,000 stitches at 3.0 m per 1,000.
	u := use(t, line(1000, 30), bare)
	for metres, want := range map[float64]float64{119: 39.7, 141: 47} {
		n, _ := ForOrder(line(1000, 30), u, 10, 1, Supply{Bobbin: metres, Cone: 5000})
		near(t, "thousand stitches a bobbin", n.PerBobbin, want, .05)
	}
}

func TestThreadCount(t *testing.T) {
	// Thread weight guides: 40 weight is 120 denier two-ply, 240 denier, Tex 26.7; about 0.135 g of top thread per 1,000 stitches at 5 m.
	// Denier is grams per 9,000 m, Tex per 1,000 m.
	near(t, "Tex", Default.Tex, 2*120/9., .5)
	near(t, "grams", use(t, line(1000, 30), bare).Grams(), .135, 5e-4)
}
