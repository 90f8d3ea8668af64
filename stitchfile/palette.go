package stitchfile

import (
	"fmt"
	"math"
	"slices"

	"needlepace/stitch"
)

// A palette is a format's fixed table of colours, 0xRRGGBB by number from 1.
// The values are approximations from memory and are only hints for pictures;
// what is on the needle is what the shop puts there.
type palette []uint32

// numberedThread is what a thread is called that is only a number in a table.
const numberedThread = "colour %d"

func (p palette) thread(n int) stitch.Thread {
	if n < 1 || n > len(p) {
		return stitch.Thread{}
	}
	v := p[n-1]
	return stitch.Thread{Name: fmt.Sprintf(numberedThread, n), R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v),
		Known: true}
}

// pecCloth is the number in the table of .pes and .pec that is no thread but appliqué. From memory.
const pecCloth = 64

// Cloth is the first colour block of a design, from 0, whose number in its format's table stands for appliqué, where cloth
// is laid by hand; −1 where there is none, or the format does not say.
func Cloth(d *stitch.Design) int {
	if d.Format != pesFormat.name && d.Format != pecFormat.name {
		return -1
	}
	name := fmt.Sprintf(numberedThread, pecCloth)
	return slices.IndexFunc(d.Threads, func(t stitch.Thread) bool { return t.Name == name })
}

var pecPalette = palette{
	0x0E1F7C, 0x0A55A3, 0x008777, 0x4B6BAF, 0xED171F, 0xD15C00, 0x913697, 0xE49ACB,
	0x915FAC, 0x9ED67D, 0xE8A900, 0xFEBA35, 0xFFFF00, 0x70BC1F, 0xBA9800, 0xA8A8A8,
	0x7D6F00, 0xFFFFB3, 0x4F5556, 0x000000, 0x0B3D91, 0x770176, 0x293133, 0x2A1301,
	0xF64A8A, 0xB27624, 0xFCBBC5, 0xFE370F, 0xF0F0F0, 0x6A1C8A, 0xA8DDC4, 0x2584BB,
	0xFEB343, 0xFFF36B, 0xD0A660, 0xD15400, 0x66BA49, 0x134A46, 0x878787, 0xD8CCC6,
	0x435607, 0xFDD9DE, 0xF993BC, 0x003822, 0xB2AFD4, 0x686AB0, 0xEFE3B9, 0xF73866,
	0xB54B64, 0x132B1A, 0xC70156, 0xFE9E32, 0xA8DEEB, 0x00673E, 0x4E2990, 0x2F7E20,
	0xFFCCCC, 0xFFD911, 0x095BA6, 0xF0F970, 0xE3F35B, 0xFF9900, 0xFFF08D, 0xFFC8C8,
}

var jefPalette = palette{
	0x000000, 0xFFFFFF, 0xFFFF17, 0xFF6600, 0x2F5933, 0x237336, 0x65C2C8, 0xAB5A96,
	0xF669A0, 0xFF0000, 0xB1704E, 0x0B2F84, 0xE4C35D, 0x481A05, 0xAC9CC7, 0xFCF294,
	0xF999B7, 0xFAB381, 0xC9A480, 0x970533, 0xA0B8CC, 0x7FC21C, 0xE5E5E5, 0x889B9B,
	0x98D6BD, 0xB2E1E3, 0x368BA0, 0x4F83AB, 0x386A91, 0x071650, 0xF999A2, 0xF9676B,
	0xE3311F, 0xE2A188, 0xB59474, 0xE4CF99, 0xFFCB00, 0xE1ADD4, 0xC3007E, 0x80004B,
	0x540571, 0xB10525, 0xCAE0C0, 0x899856, 0x5C941A, 0x003114, 0x5DAE94, 0x4CBF8F,
	0x007772, 0x595B61, 0xFFFFF2, 0xB15818, 0xCB8A07, 0x986C80, 0x98692D, 0x4D3419,
	0x4C330B, 0x33200A, 0x523A97, 0x0D217E, 0x1E77AC, 0xB2DD53, 0xF33689, 0xDE649E,
	0x984161, 0x4C5612, 0x4C881F, 0xE4DE79, 0xCB8A1A, 0xCBA21C, 0xFF9805, 0xFCB257,
	0xFFE505, 0xF0331F, 0x1A842D, 0x386CAE, 0xE3C4B4, 0xE3AC81,
}

// looks is a colour as it looks: lightness, green to red, blue to yellow. Colours
// that look alike lie near each other. Source: B. Ottosson, A perceptual color
// space for image processing (2020), OKLab.
type looks [3]float64

func looksOf(r, g, b uint8) looks {
	linear := func(v uint8) float64 { // sRGB undone
		if c := float64(v) / 255; c > 0.04045 {
			return math.Pow((c+0.055)/1.055, 2.4)
		}
		return float64(v) / 255 / 12.92
	}
	x, y, z := linear(r), linear(g), linear(b)
	l := math.Cbrt(0.4122214708*x + 0.5363325363*y + 0.0514459929*z)
	m := math.Cbrt(0.2119034982*x + 0.6806995451*y + 0.1073969566*z)
	s := math.Cbrt(0.0883024619*x + 0.2817188376*y + 0.6299787005*z)
	return looks{0.2104542553*l + 0.7936177850*m - 0.0040720468*s, 1.9779984951*l - 2.4285922050*m + 0.4505937099*s,
		0.0259040371*l + 0.7827717662*m - 0.8086757660*s}
}

// far is how far apart two colours look, squared. A difference in hue counts twice
// one in lightness: a thread that is paler is taken for the same sooner than one of
// another colour (the measure that is called ΔE OK2).
func (c looks) far(o looks) float64 {
	l, a, b := c[0]-o[0], 2*(c[1]-o[1]), 2*(c[2]-o[2])
	return l*l + a*a + b*b
}

// numbers gives each of so many colour blocks a number: different threads have
// different ones as long as there are any left, those that look most alike first.
func (p palette) numbers(threads []stitch.Thread, blocks int, w *Written) []int {
	out := make([]int, blocks)
	given := map[stitch.Thread]int{}
	taken := make([]bool, len(p)+1)
	shades := make([]looks, len(p))
	for i, v := range p {
		shades[i] = looksOf(uint8(v>>16), uint8(v>>8), uint8(v))
	}
	nearest := func(t stitch.Thread) (far float64, at int) {
		far = math.Inf(1)
		of := looksOf(t.R, t.G, t.B)
		for i, shade := range shades {
			if f := of.far(shade); !taken[i+1] && f < far {
				far, at = f, i+1
			}
		}
		return far, at
	}
	known := threads[:min(len(threads), blocks)]
	for {
		best, at, of := math.Inf(1), 0, stitch.Thread{}
		for _, t := range known {
			if _, again := given[t]; t.Known && !again {
				if far, n := nearest(t); far < best {
					best, at, of = far, n, t
				}
			}
		}
		if at == 0 {
			break
		}
		given[of], taken[at] = at, true
		w.loses(LossShades, best > 0)
	}
	for k := range out {
		if k < len(known) && known[k].Known {
			out[k] = given[known[k]]
			continue
		}
		w.loses(LossMadeUp, true)
		_, out[k] = nearest(stitch.Thread{})
		taken[out[k]] = true
	}
	for k, n := range out {
		if n == 0 { // none left
			w.loses(LossShared, true)
			clear(taken)
			t := stitch.Thread{}
			if k < len(known) {
				t = known[k]
			}
			_, out[k] = nearest(t)
		}
	}
	w.loses(LossNames, hasNames(threads))
	return out
}

// hasNames reports whether a thread has a name that is not only a number in a
// format's table.
func hasNames(threads []stitch.Thread) bool {
	for _, t := range threads {
		var n int
		if t.Name == "" {
			continue
		}
		if _, err := fmt.Sscanf(t.Name, numberedThread, &n); err != nil || t.Name != fmt.Sprintf(numberedThread, n) {
			return true
		}
	}
	return false
}

// knownThreads gives each of so many blocks a thread with a shade: its own, or
// one made up that no other block has.
func knownThreads(threads []stitch.Thread, blocks int, w *Written) []stitch.Thread {
	out := make([]stitch.Thread, blocks)
	shade := func(t stitch.Thread) int { return int(t.R)<<16 | int(t.G)<<8 | int(t.B) }
	first := map[int]stitch.Thread{} // by shade
	for k := range out {
		if k >= len(threads) || !threads[k].Known {
			continue
		}
		out[k] = threads[k]
		if t, again := first[shade(out[k])]; again && t != out[k] {
			w.loses(LossShared, true)
		}
		first[shade(out[k])] = out[k]
	}
	next := 0x808080
	for k := range out {
		for !out[k].Known {
			w.loses(LossMadeUp, true)
			t := stitch.Thread{R: uint8(next >> 16), G: uint8(next >> 8), B: uint8(next), Known: true}
			if _, taken := first[shade(t)]; !taken {
				out[k], first[shade(t)] = t, t
			}
			next = (next + 0x3D5B79) & 0xFFFFFF
		}
	}
	return out
}
