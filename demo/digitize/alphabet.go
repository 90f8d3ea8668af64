package digitize

import (
	_ "embed"
	"fmt"
	"strings"
)

// glyph is a letter as centre lines of its strokes, in a box of height 1. Where
// two strokes end in one corner, the later one has the corner.
type glyph struct {
	width   float64
	strokes [][]Pt
}

// letterTable has a line for each letter: the letter, its width, then its
// strokes after bars. A stroke is pieces between commas: points as x y x y …,
// or a bow (cx cy rx ry from to), see [Arc].
//
//go:embed alphabet.txt
var letterTable string

var alphabet = readAlphabet(letterTable)

// readAlphabet panics on what is no such table: it is part of the program.
func readAlphabet(table string) map[rune]glyph {
	out := map[rune]glyph{}
	for line := range strings.Lines(table) {
		head, rest, _ := strings.Cut(line, "|")
		f := strings.Fields(head)
		g := glyph{width: floats(f[1:])[0]}
		for stroke := range strings.SplitSeq(rest, "|") {
			var pts []Pt
			for piece := range strings.SplitSeq(stroke, ",") {
				bow := strings.Contains(piece, "(")
				n := floats(strings.Fields(strings.Trim(piece, " ()\n")))
				if bow {
					pts = append(pts, Arc(Pt{n[0], n[1]}, n[2], n[3], n[4], n[5])...)
				} else {
					pts = append(pts, Path(n...)...)
				}
			}
			g.strokes = append(g.strokes, pts)
		}
		out[[]rune(f[0])[0]] = g
	}
	return out
}

func floats(text []string) []float64 {
	out := make([]float64, len(text))
	for i, s := range text {
		if _, err := fmt.Sscan(s, &out[i]); err != nil {
			panic("digitize: the table of letters: " + err.Error())
		}
	}
	return out
}
