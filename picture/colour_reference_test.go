package picture

import (
	"math"
	"testing"
)

func TestCividisAgreesWithItsPublishedPolynomials(t *testing.T) {
	// Source: the polynomial approximation of cividis in general use in open plotting libraries (coefficients from memory), of the map of Nuñez, Anderton, Renslow, PLoS ONE 13(7) e0199239, 2018.
	poly := func(t float64, c ...float64) float64 {
		v := 0.0
		for i := len(c) - 1; i >= 0; i-- {
			v = v*t + c[i]
		}
		return min(max(v, 0), 255)
	}
	for i := range 256 {
		x := float64(i) / 255
		want := [3]float64{
			poly(x, -4.54, -35.34, 2381.73, -6402.7, 7024.72, -2710.57),
			poly(x, 32.49, 170.73, 52.82, -131.46, 176.58, -67.37),
			poly(x, 81.24, 442.36, -2482.43, 6167.24, -6614.94, 2475.67),
		}
		c := Cividis(x)
		for k, got := range [3]float64{float64(c.R), float64(c.G), float64(c.B)} {
			if d := math.Abs(got - want[k]); d > 22 {
				t.Errorf("colour %d channel %d: %v, the polynomial has %.0f", i, k, got, want[k])
			}
		}
	}
}

func TestCividisGrowsEvenlyLighter(t *testing.T) {
	// Source: Nuñez, Anderton, Renslow 2018: the map is made to rise linearly in lightness.
	var l [256]float64
	for i := range l {
		l[i] = Cividis(float64(i) / 255).Lab().L
		// 8-bit rounding may take back a quarter of a unit, no more.
		if i > 0 && l[i] < l[i-1]-0.25 {
			t.Errorf("colour %d is darker than the one before: %.2f, %.2f", i, l[i], l[i-1])
		}
		if i >= 4 && l[i] <= l[i-4] {
			t.Errorf("colours %d and %d: lightness does not rise", i-4, i)
		}
	}
	for i, v := range l {
		if line := l[0] + (l[255]-l[0])*float64(i)/255; math.Abs(v-line) > 3.5 {
			t.Errorf("colour %d: lightness %.1f is far from the straight line's %.1f", i, v, line)
		}
	}
}

func TestLabOfTheSRGBPrimaries(t *testing.T) {
	// Source: B. Lindbloom's CIE calculator, sRGB to CIELAB, D65 (values from memory).
	for _, c := range []struct {
		rgb  RGB
		want LAB
	}{
		{RGB{255, 255, 255}, LAB{100, 0, 0}},
		{RGB{0, 0, 0}, LAB{0, 0, 0}},
		{RGB{255, 0, 0}, LAB{53.24, 80.09, 67.20}},
		{RGB{0, 255, 0}, LAB{87.73, -86.18, 83.18}},
		{RGB{0, 0, 255}, LAB{32.30, 79.19, -107.86}},
	} {
		if got := c.rgb.Lab(); got.Distance(c.want) > 0.05 {
			t.Errorf("%v: %.2f, want %.2f", c.rgb, got, c.want)
		}
	}
}

func TestContrastOfKnownPairs(t *testing.T) {
	// Source: WCAG 2.2, definition of contrast ratio: black on white is 21:1; grey #767676 is known as the lightest that passes 4.5:1 on white.
	white := RGB{255, 255, 255}
	if got := contrast(white, RGB{}); math.Abs(got-21) > 0.01 {
		t.Errorf("black on white %.2f", got)
	}
	if a, b := contrast(RGB{0x76, 0x76, 0x76}, white), contrast(RGB{0x77, 0x77, 0x77}, white); a < 4.5 || b >= 4.5 {
		t.Errorf("#767676 %.3f, #777777 %.3f: want one above and one below 4.5", a, b)
	}
}

func TestPartColoursAreOkabeAndIto(t *testing.T) {
	// Source: M. Okabe, K. Ito, "Color Universal Design", 2008: vermilion 213 94 0, orange 230 159 0, yellow 240 228 66, reddish purple 204 121 167, blue 0 114 178, sky blue 86 180 233, bluish green 0 158 115.
	l := Light()
	for k, want := range map[Key]RGB{
		LongStitches: {0, 114, 178}, Ramps: {86, 180, 233}, Trims: {213, 94, 0},
		ColourStops: {230, 159, 0}, Travel: {240, 228, 66}, Stops: {204, 121, 167},
		Control: {0, 158, 115},
	} {
		if got := l.Of(k.Tone()); got != want {
			t.Errorf("%v is %v, want %v", k, got, want)
		}
	}
}

func TestNeighboursOnTheStripDifferForColourBlindEyes(t *testing.T) {
	// Source: Machado, Oliveira, Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE TVCG 15(6), 2009, matrices for severity 1.0 (from memory).
	sims := map[string][9]float64{
		"protan": {0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998},
		"deutan": {0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881},
		"tritan": {1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900},
		"none":   {1, 0, 0, 0, 1, 0, 0, 0, 1},
	}
	lin := func(u uint8) float64 {
		v := float64(u) / 255
		if v <= 0.04045 {
			return v / 12.92
		}
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	enc := func(v float64) uint8 {
		v = min(max(v, 0), 1)
		if v <= 0.0031308 {
			return uint8(math.Round(255 * 12.92 * v))
		}
		return uint8(math.Round(255 * (1.055*math.Pow(v, 1/2.4) - 0.055)))
	}
	for _, th := range []*Theme{Light(), Dark(), Print()} {
		for name, m := range sims {
			see := func(c RGB) LAB {
				r, g, b := lin(c.R), lin(c.G), lin(c.B)
				return RGB{enc(m[0]*r + m[1]*g + m[2]*b), enc(m[3]*r + m[4]*g + m[5]*b), enc(m[6]*r + m[7]*g + m[8]*b)}.Lab()
			}
			for i := 1; i < numParts; i++ {
				a, b := Keys[i-1], Keys[i]
				if d := see(th.Of(a.Tone())).Distance(see(th.Of(b.Tone()))); d < 11 {
					t.Errorf("%s, %s: %v and %v differ by only %.1f", th.Name, name, a, b, d)
				}
			}
			// The cloth keeps every speed in sight.
			for i := range speedBins {
				p := SpeedScale{}.paint(i)
				if d := see(th.colour(p)).Distance(see(th.Of(Cloth))); d < 11 {
					t.Errorf("%s, %s: speed step %d differs from the cloth by only %.1f", th.Name, name, i, d)
				}
			}
		}
	}
}

func TestTextStandsOutOnItsGround(t *testing.T) {
	// Source: WCAG 2.2, success criterion 1.4.3: text at least 4.5:1.
	for _, th := range []*Theme{Light(), Dark(), Print()} {
		for _, tone := range []Tone{Ink, Quiet, Accent, Warn} {
			if c := contrast(th.Of(tone), th.Of(Ground)); c < 4.5 {
				t.Errorf("%s: %s on the ground is %.2f:1", th.Name, toneNames[tone], c)
			}
		}
		for _, c := range []RGB{clothInk, clothWarn} {
			if r := contrast(c, th.Of(Cloth)); r < 3 {
				t.Errorf("%s: %v on the cloth is %.2f:1", th.Name, c, r)
			}
		}
		if c := contrast(clothInk, th.Of(Cloth)); c < 4.5 {
			t.Errorf("%s: text on the cloth is %.2f:1", th.Name, c)
		}
	}
}

func TestInPrintAndGreyTheScaleStillRisesAndLeavesTheCloth(t *testing.T) {
	// Source: the same lightness argument as cividis; a grey print keeps L* only.
	th, last := Print(), -1.0
	cloth := th.Of(Cloth).Lab().L
	for i := range speedBins {
		l := th.colour(SpeedScale{}.paint(i)).Lab().L
		if l <= last {
			t.Errorf("step %d: L* %.1f after %.1f", i, l, last)
		}
		last = l
		if cloth-l < 12 {
			t.Errorf("step %d: L* %.1f fades into the cloth's %.1f", i, l, cloth)
		}
	}
}

// contrast is the ratio of relative luminances of WCAG 2.2, 1 to 21.
func contrast(a, b RGB) float64 {
	y := func(c RGB) float64 { // CIELAB L* undone: Y
		l := (c.Lab().L + 16) / 116
		if l > 6.0/29 {
			return l * l * l
		}
		return (l - 4.0/29) * 3 * 36 / 841
	}
	p, q := y(a), y(b)
	return (max(p, q) + 0.05) / (min(p, q) + 0.05)
}
