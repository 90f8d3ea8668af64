package picture

import (
	"fmt"
	"math"
	"strings"

	"needlepace/words"
)

// TextStrip draws strips for a terminal, in block characters: a glyph of its
// own for each part, so that colour is never needed.
type TextStrip struct {
	Width  int     // cells of the longest strip; 0 is 60
	Max    float64 // seconds of the full width; 0: the strip's own length
	Colour bool    // ANSI colours (256-colour codes near the light theme's)
	ASCII  bool    // letters and signs instead of block characters
}

// Glyph is the sign of a part.
func (t TextStrip) Glyph(k Key) string {
	if !k.ok() {
		return "?"
	}
	if t.ASCII {
		return string(partLooks[k].ascii)
	}
	return string(partLooks[k].glyph)
}

func (t TextStrip) width() int {
	if t.Width <= 0 {
		return 60
	}
	return min(t.Width, 1000)
}

// Bar is one strip: each part's cells, rounded so that the cuts stand where
// they belong to half a cell and the whole has the right length. saved seconds
// follow as dots. A part of less than half a cell may have none: the legend
// has its seconds.
func (t TextStrip) Bar(parts []Part, saved float64) string {
	w := t.width()
	top := t.Max
	if !(top > 0) || math.IsInf(top, 1) {
		top = total(parts) + max(finite(saved), 0)
	}
	if top <= 0 {
		return ""
	}
	var b strings.Builder
	at, cell := 0.0, 0
	upTo := func(sec float64) int { return min(int(math.Round(sec/top*float64(w))), w) }
	for _, p := range parts {
		at += p.seconds()
		n := upTo(at) - cell
		if n <= 0 {
			continue
		}
		cell += n
		g := strings.Repeat(t.Glyph(p.Key), n)
		if t.Colour && p.Key.ok() {
			g = fmt.Sprintf("\x1b[38;5;%dm%s\x1b[0m", partLooks[p.Key].ansi, g)
		}
		b.WriteString(g)
	}
	if saved > 0 {
		dot := "┄"
		if t.ASCII {
			dot = "-"
		}
		if n := upTo(at+saved) - cell; n > 0 {
			b.WriteString(strings.Repeat(dot, n))
		}
	}
	return b.String()
}

// Legend names the glyphs of the parts that occur, in one line; with seconds,
// each with its time.
func (t TextStrip) Legend(parts []Part, seconds bool) string {
	var out []string
	for _, p := range SumParts(parts) {
		g := t.Glyph(p.Key)
		if t.Colour {
			g = fmt.Sprintf("\x1b[38;5;%dm%s\x1b[0m", partLooks[p.Key].ansi, g)
		}
		s := g + " " + p.Key.Name().Text(nil)
		if seconds {
			s += " " + words.Seconds(p.Seconds).Text(nil)
		}
		out = append(out, s)
	}
	return strings.Join(out, "  ")
}
