package picture

import "math"

// cividisTable is the colour map cividis: 256 sRGB colours, slow dark to fast
// bright, perceptually uniform and the same to eyes with red-green
// deficiency. Nuñez, Anderton, Renslow, "Optimizing colormaps with
// consideration for color vision deficiency to enable accurate interpretation
// of scientific data", PLoS ONE 13(7): e0199239, 2018 (CC0). Values as published, rounded
// to 8 bits.
const cividisTable = "" +
	"00224e00234f002451002553002554002656002758002859" +
	"00285b00295d002a5f002a61002b62002c64002c66002d68" +
	"002e6a002e6c002f6d00306f003070003170003171013271" +
	"0533710833700c34700f357012357014367016377018376f" +
	"1a386f1c396f1e3a6f203a6f213b6e233c6e243c6e263d6e" +
	"273e6e293f6e2a3f6d2b406d2d416d2e416d2f426d31436d" +
	"32436d33446d34456c35456c36466c38476c39486c3a486c" +
	"3b496c3c4a6c3d4a6c3e4b6c3f4c6c404c6c414d6c424e6c" +
	"434e6c444f6c45506c46516c47516c48526c49536c4a536c" +
	"4b546c4c556c4d556c4e566c4f576c50576c51586d52596d" +
	"535a6d545a6d555b6d555c6d565c6d575d6d585e6d595e6e" +
	"5a5f6e5b606e5c616e5d616e5e626e5e636f5f636f60646f" +
	"61656f62656f636670646770656870656870666970676a71" +
	"686a71696b716a6c716b6d726c6d726c6e726d6f726e6f73" +
	"6f7073707173717274727274727374737475747475757575" +
	"7676767777767777777878777979777a7a787b7a787c7b78" +
	"7d7c787e7c787e7d787f7e78807f78817f78828079838179" +
	"8482798582798683798784788885788985788a86788b8778" +
	"8c88788d88788e89788f8a78908b78918b78928c78928d78" +
	"938e78948e77958f779690779791779892779992779a9376" +
	"9b94769c95769d95769e96769f9775a09875a19975a29975" +
	"a39a74a49b74a59c74a69c74a79d73a89e73a99f73aaa073" +
	"aba072aca172ada272aea371afa471b0a571b1a570b3a670" +
	"b4a76fb5a86fb6a96fb7a96eb8aa6eb9ab6dbaac6dbbad6d" +
	"bcae6cbdae6cbeaf6bbfb06bc0b16ac1b26ac2b369c3b369" +
	"c4b468c5b568c6b667c7b767c8b866c9b965cbb965ccba64" +
	"cdbb63cebc63cfbd62d0be62d1bf61d2c060d3c05fd4c15f" +
	"d5c25ed6c35dd7c45cd9c55cdac65bdbc75adcc859ddc858" +
	"dec958dfca57e0cb56e1cc55e2cd54e4ce53e5cf52e6d051" +
	"e7d150e8d24fe9d34eead34cebd44bedd54aeed649efd748" +
	"f0d846f1d945f2da44f3db42f5dc41f6dd3ff7de3ef8df3c" +
	"f9e03afbe138fce236fde334fee434fee535fee636fee838"

// Cividis is the speed scale: t from 0 (slow, dark) to 1 (fast, bright),
// clamped; what is not a number is 0.
func Cividis(t float64) RGB {
	if !(t > 0) {
		t = 0
	}
	i := int(math.Round(min(t, 1)*255)) * 6
	nib := func(k int) uint8 {
		c := cividisTable[i+k]
		if c >= 'a' {
			return c - 'a' + 10
		}
		return c - '0'
	}
	return RGB{nib(0)<<4 | nib(1), nib(2)<<4 | nib(3), nib(4)<<4 | nib(5)}
}

// LAB is a colour in CIELAB (CIE 15:2004, D65 white, 2° observer).
type LAB struct{ L, A, B float64 }

// Lab turns an sRGB colour (IEC 61966-2-1) into CIELAB.
func (c RGB) Lab() LAB {
	lin := func(u uint8) float64 {
		v := float64(u) / 255
		if v <= 0.04045 {
			return v / 12.92
		}
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	r, g, b := lin(c.R), lin(c.G), lin(c.B)
	x := f((0.4124564*r + 0.3575761*g + 0.1804375*b) / 0.95047)
	y := f(0.2126729*r + 0.7151522*g + 0.0721750*b)
	z := f((0.0193339*r + 0.1191920*g + 0.9503041*b) / 1.08883)
	return LAB{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// Distance is the CIE 1976 colour difference; about 2.3 is just noticeable.
func (l LAB) Distance(m LAB) float64 {
	return math.Sqrt((l.L-m.L)*(l.L-m.L) + (l.A-m.A)*(l.A-m.A) + (l.B-m.B)*(l.B-m.B))
}

// mix is the sRGB mixture, t of b.
func mix(a, b RGB, t float64) RGB {
	m := func(x, y uint8) uint8 { return uint8(math.Round(float64(x) + (float64(y)-float64(x))*t)) }
	return RGB{m(a.R, b.R), m(a.G, b.G), m(a.B, b.B)}
}
