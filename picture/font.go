package picture

import (
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
)

// The type of pictures is Go Regular and Go Medium (Bigelow & Holmes, BSD
// licence): tabular figures, Latin, Greek and Cyrillic. Layout measures with
// it in every backend; other scripts show as boxes in PNG.

type faceKey struct {
	px   float64
	bold bool
}

var fonts = sync.OnceValue(func() [2]*opentype.Font {
	var out [2]*opentype.Font
	for i, ttf := range [][]byte{goregular.TTF, gomedium.TTF} {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic("picture: the embedded font does not parse: " + err.Error()) // a broken build, not bad input
		}
		out[i] = f
	}
	return out
})

func newFace(k faceKey) font.Face {
	f := fonts()[0]
	if k.bold {
		f = fonts()[1]
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: max(k.px, 1), DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic("picture: the embedded font gives no face: " + err.Error())
	}
	return face
}

// widths are the advances of the runes at 1 px, found once.
var widths = struct {
	sync.Mutex
	face [2]font.Face
	of   [2]map[rune]float64
}{}

// TextWidth is the width of s in px when set in f.
func TextWidth(s string, f Face) float64 {
	const at = 1000
	widths.Lock()
	defer widths.Unlock()
	i := 0
	if f.Bold {
		i = 1
	}
	if widths.of[i] == nil {
		widths.of[i] = map[rune]float64{}
		widths.face[i] = newFace(faceKey{at, f.Bold})
	}
	sum := 0.0
	for _, r := range s {
		w, ok := widths.of[i][r]
		if !ok {
			adv, _ := widths.face[i].GlyphAdvance(r)
			w = float64(adv) / 64 / at
			if len(widths.of[i]) < 4096 {
				widths.of[i][r] = w
			}
		}
		sum += w
	}
	return sum * f.Size
}

// leastLabel is the smallest type that a label is set in before it is cut, px.
const leastLabel = 9

// shrunk is a label in smaller type where it would not fit, and cut only where it does not in
// the smallest.
func shrunk(s string, f Face, width float64) (string, Face) {
	for f.Size > leastLabel && TextWidth(s, f) > width {
		f.Size -= 0.5
	}
	return fit(s, f, width), f
}

// fit shortens s with an ellipsis until it is at most width px.
func fit(s string, f Face, width float64) string {
	if TextWidth(s, f) <= width {
		return s
	}
	rs := []rune(s)
	lo, hi := 0, len(rs) // longest prefix that fits with its ellipsis
	for lo < hi {
		m := (lo + hi + 1) / 2
		if TextWidth(string(rs[:m])+"…", f) <= width {
			lo = m
		} else {
			hi = m - 1
		}
	}
	if lo == 0 {
		return ""
	}
	return string(rs[:lo]) + "…"
}
