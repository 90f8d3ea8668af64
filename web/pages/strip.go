package pages

import (
	"fmt"
	"html/template"
	"strings"

	"needlepace/picture"
	"needlepace/words"
)

// svg is a drawing of a page being written.
type svg struct{ strings.Builder }

func (s *svg) add(format string, args ...any) { fmt.Fprintf(s, format, args...) }

func (s *svg) end() template.HTML {
	s.add("</svg>")
	return template.HTML(s.String())
}

// bar is one strip on the page. Its places are shares of the width, so it is
// as wide as the column; the hatchings are the patterns of the page (stripDefs).
type bar struct {
	Parts     []picture.Part
	Max       float64 // seconds at the right end
	Low, High float64 // interval, 0 for none
	Saved     float64 // seconds a mend took away, as an outline behind
	Now       float64 // seconds at which a run is now; 0: none
	Thin      bool
	Label     string // read out; "" hides it from readers, where figures stand beside
	W         *words.Writer
}

// HTML draws it. All parts are always there, so that a change of machine
// slides them instead of drawing anew; a thin one stands in lists and tables, where
// nothing slides and there are many: what cannot be seen is left out of it.
func (b bar) HTML() template.HTML {
	var s svg
	class := "strip"
	if b.Thin {
		class += " thin"
	}
	s.add(`<svg class="%s" `, class)
	if b.Label == "" {
		s.WriteString(`aria-hidden="true">`)
	} else {
		s.add(`role="img" aria-label="%s">`, template.HTMLEscapeString(b.Label))
	}
	of := func(v float64) float64 {
		if !(b.Max > 0) {
			return 0
		}
		return min(max(v/b.Max*100, 0), 100)
	}
	height := "100%"
	if b.High > b.Low && !b.Thin {
		height = "82%"
	}
	var seconds [len(picture.Keys)]float64
	for _, p := range b.Parts {
		seconds[p.Key] += p.Seconds
	}
	x := 0.0
	for k, v := range seconds {
		key := picture.Key(k)
		if b.Thin && of(v) < 0.005 {
			x += v
			continue
		}
		says := ""
		if v > 0 {
			says = template.HTMLEscapeString(picture.TimedParts([]picture.Part{{Key: key, Seconds: v}}).Text(b.W))
		}
		switch {
		case says != "" && b.Thin: // page.js makes it a title under the pointer: of hundreds of strips few are pointed at
			s.add(`<rect class="p-%s" x="%.2f%%" width="%.2f%%" height="%s" data-part-says="%s"/>`, key, of(x), of(v), height, says)
		case says != "":
			s.add(`<rect class="p-%s" x="%.2f%%" width="%.2f%%" height="%s"><title>%s</title></rect>`, key, of(x), of(v), height, says)
		default:
			s.add(`<rect class="p-%s" x="%.2f%%" width="%.2f%%" height="%s"/>`, key, of(x), of(v), height)
		}
		if key.Hatched() {
			s.add(`<rect fill="url(#h-%s)" pointer-events="none" x="%.2f%%" width="%.2f%%" height="%s"/>`,
				key, of(x), of(v), height)
		}
		x += v
	}
	if b.Saved > 0 {
		s.add(`<rect class="saved" x="%.3f%%" width="%.3f%%" y="1" height="%s"><title>%s</title></rect>`, of(x),
			of(b.Saved), height,
			template.HTMLEscapeString(words.Say("picture.saved", words.Args{"time": words.Seconds(b.Saved)}).Text(b.W)))
	}
	if height != "100%" {
		s.add(`<rect class="whisk" x="%.3f%%" width="%.3f%%" y="93%%" height="1.5"/>`, of(b.Low),
			of(b.High-b.Low))
		s.add(`<rect class="whisk" x="%.3f%%" width="1.5" y="86%%" height="16%%"/><rect class="whisk" x="%.3f%%" width="1.5" y="86%%" height="16%%"/>`, of(b.Low), of(b.High))
	}
	if b.Now > 0 {
		s.add(`<rect class="passed" width="%.3f%%" height="100%%"/><rect class="now" x="%.3f%%" width="3" y="-15%%" height="130%%"/>`,
			of(b.Now), of(b.Now))
	}
	return s.end()
}

// stripDefs are the hatchings, once a page.
var stripDefs = template.HTML(`<svg class="defs" aria-hidden="true"><defs>` + picture.Patterns() + `</defs></svg>`)

// key is a part's colour and hatching, for tables.
func key(k picture.Key) template.HTML {
	h := ""
	if k.Hatched() {
		h = fmt.Sprintf(`<rect fill="url(#h-%s)" width="100%%" height="100%%"/>`, k)
	}
	return template.HTML(fmt.Sprintf(`<span class="key"><svg aria-hidden="true"><rect class="p-%s" width="100%%" height="100%%"/>%s</svg></span>`, k, h))
}

// axis is the time axis under strips: marks at round times.
func axis(top float64, w *words.Writer) template.HTML {
	ticks := picture.TimeTicks(top, 6, w)
	if len(ticks) == 0 {
		return ""
	}
	var b svg
	b.WriteString(`<svg class="axis" aria-hidden="true">`)
	for _, t := range ticks {
		x := t.At / top * 100
		anchor := "middle"
		switch {
		case t.At == 0:
			anchor = "start"
		case x > 96:
			anchor = "end"
		}
		b.add(`<line x1="%.2f%%" x2="%.2f%%" y1="0" y2="4"/><text x="%.2f%%" y="16" text-anchor="%s">%s</text>`,
			x, x, x, anchor, template.HTMLEscapeString(t.Text))
	}
	return b.end()
}
