package pages

import (
	"fmt"
	"html/template"
	"strings"

	"needlepace/ask"
	"needlepace/picture"
	"needlepace/stitch"
	"needlepace/words"
)

// kindColumns is how finely the margin of the kinds is drawn.
const kindColumns = 1000

// kindLane draws which kind of stitches is sewn when.
func kindLane(spans []picture.KindSpan, top float64) template.HTML {
	var b svg
	b.WriteString(`<svg class="kindlane" aria-hidden="true">`)
	cols := picture.KindColumns(spans, top, kindColumns)
	for i := 0; i < len(cols); {
		to := i + 1
		for to < len(cols) && cols[to] == cols[i] {
			to++
		}
		if cols[i] != stitch.NotSewn {
			b.add(`<rect x="%.1f%%" width="%.1f%%" height="100%%" fill="%s"/>`, float64(i)*100/kindColumns,
				float64(to-i)*100/kindColumns, picture.KindRGB(cols[i]).Hex())
		}
		i = to
	}
	return b.end()
}

// kindLegend names the kinds of stitches that a run has, and gives the colours
// of all kinds in the order of their numbers.
func kindLegend(has []ask.ClockKind, w *words.Writer) (template.HTML, string) {
	var b strings.Builder
	var colours []string
	for n := range stitch.NumKinds {
		k := stitch.Kind(n)
		rgb := picture.KindRGB(k).Hex()
		colours = append(colours, rgb)
		for _, h := range has {
			if h.Kind == k.String() {
				fmt.Fprintf(&b, `<svg aria-hidden="true"><rect width="100%%" height="100%%" fill="%s"/></svg>%s`, rgb,
					template.HTMLEscapeString(k.Name().Text(w)))
			}
		}
	}
	return template.HTML(b.String()), strings.Join(colours, " ")
}
