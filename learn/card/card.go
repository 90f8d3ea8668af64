// Package card draws the card that goes with a test piece: where each block
// lies in the hoop, and a line for each time. A picture for package picture;
// one A4 page or less, good in black and white.
package card

import (
	"fmt"
	"math"
	"strings"

	"needlepace/learn"
	"needlepace/picture"
	"needlepace/words"
)

// Card is the printable card of a test piece.
type Card struct {
	Piece   *learn.Piece
	Machine string        // the sheet's name
	File    string        // the stitch file's name
	CSV     string        // the file to copy the times into
	W       *words.Writer // how the reader wants figures and sentences
}

// The page is A4 at 96 px an inch; the rest is in px too.
const (
	pageW, pageH = 794.0, 1123.0
	margin       = 48.0
	mapSize      = 330.0
	line         = 25.0
	small        = 11.0
	text         = 13.0
)

// Size is the page's.
func (k *Card) Size() (w, h float64) {
	return pageW, max(pageH, k.top()+line*float64(len(k.Piece.Blocks)+3)+140)
}

// Title names the piece and the machine.
func (k *Card) Title() string {
	return k.text(words.Say("testpiece.for", words.Args{"machine": words.Name(k.Machine)}))
}

// Desc says what the card is for.
func (k *Card) Desc() string {
	return k.text(words.Say("testpiece.card-about", words.Args{"blocks": words.Count(len(k.Piece.Blocks), "block")}))
}

func (k *Card) text(m words.Message) string { return m.Text(k.W) }

// top is where the lines begin.
func (k *Card) top() float64 {
	return margin + 96 + k.mapHeight() + 40
}

func (k *Card) scale() float64 { return mapSize / max(k.Piece.W, k.Piece.H) }

func (k *Card) mapHeight() float64 { return k.scale() * k.Piece.H }

// Draw draws the card.
func (k *Card) Draw(c picture.Canvas) {
	p := k.Piece
	ink, quiet := picture.Of(picture.Ink), picture.Of(picture.Quiet)
	hair := picture.Stroke{Paint: picture.Of(picture.Hair), Width: 1}
	say := func(x, y float64, s string, size float64, bold bool, paint picture.Paint) {
		c.Text(x, y, s, picture.Face{Size: size, Bold: bold, Paint: paint})
	}
	say(margin, margin+22, k.Title(), 24, true, ink)
	say(margin, margin+46, k.text(words.Say("testpiece.card-set", words.Args{
		"file": words.Name(k.File), "speed": words.PerMinute(p.SetSpeed),
		"blocks": words.Count(len(p.Blocks), "block"), "time": words.Seconds(p.Seconds),
	})), text, false, ink)
	say(margin, margin+66, k.text(words.Say("testpiece.card-cloth")), small, false, quiet)
	say(margin, margin+82, k.text(words.Say("testpiece.card-hands")), small, false, quiet)

	// Where the blocks lie.
	x0, y0, s := margin, margin+100.0, k.scale()
	right := x0 + s*p.W
	c.Rects([]picture.Box{{X: x0 - 6, Y: y0 - 6, W: s*p.W + 12, H: s*p.H + 12}}, picture.Of(picture.Cloth))
	for i, b := range p.Blocks {
		x, y := x0+s*(b.X+p.W/2), y0+s*(p.H/2-b.Y-b.H)
		w, h := s*b.W, max(s*b.H, 3)
		box := []picture.Pt{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}, {X: x, Y: y}}
		c.Rect(x, y, w, h, picture.Of(picture.Ground))
		c.Polyline(box, picture.Stroke{Paint: ink, Width: 1})
		c.Text(x+w/2, y+h/2+5, fmt.Sprint(i+1), picture.Face{Size: 15, Bold: true, Align: picture.Middle, Paint: ink})
	}
	mid := picture.Pt{X: x0 + s*p.W/2, Y: y0 + s*p.H/2}
	c.Lines([]picture.Seg{{A: picture.Pt{X: mid.X - 6, Y: mid.Y}, B: picture.Pt{X: mid.X + 6, Y: mid.Y}},
		{A: picture.Pt{X: mid.X, Y: mid.Y - 6}, B: picture.Pt{X: mid.X, Y: mid.Y + 6}}},
		picture.Stroke{Paint: picture.Of(picture.Accent), Width: 1.5})

	// How to time it.
	tx, ty := math.Max(right, x0+mapSize)+28, y0+14
	say(tx, ty, k.text(words.Say("testpiece.card-how")), text-1, true, ink)
	for i, step := range []words.Message{
		words.Say("testpiece.card-start"), words.Say("testpiece.card-lap"), words.Say("testpiece.card-lap-again"),
		words.Say("testpiece.card-block-time"), words.Say("testpiece.card-end"), words.Say("testpiece.card-broken"),
		words.Say("testpiece.card-copy", words.Args{"file": words.Name(k.CSV)}),
	} {
		ty += 6
		for j, l := range lines(step.Text(k.W), picture.Face{Size: text - 1}, pageW-margin-tx-18) {
			ty += 16
			if j == 0 {
				say(tx, ty, fmt.Sprint(i+1), text-1, false, ink)
			}
			say(tx+18, ty, l, text-1, false, ink)
		}
	}
	// A line for each time.
	y := k.top()
	cols := []float64{margin, margin + 58, margin + 500, margin + 600}
	for i, h := range []string{k.text(words.Say("testpiece.card-block")), k.text(words.Say("testpiece.sews")),
		k.text(words.Say("testpiece.card-time")), k.text(words.Say("testpiece.card-note"))} {
		say(cols[i], y-8, h, small, false, quiet)
	}
	rule := func(y float64) {
		c.Lines([]picture.Seg{{A: picture.Pt{X: margin, Y: y}, B: picture.Pt{X: pageW - margin, Y: y}}}, hair)
	}
	rule(y)
	rows := len(p.Blocks) + 1
	for i := range rows {
		base := y + line*float64(i) + 17
		if i < len(p.Blocks) {
			say(cols[0], base, fmt.Sprint(i+1), text, true, ink)
			say(cols[1], base, p.Blocks[i].What.Text(k.W), text, false, ink)
		} else {
			say(cols[0], base, k.text(words.Say("testpiece.card-whole")), text, true, ink)
			say(cols[1], base, k.text(words.Say("testpiece.card-from-start")), text, false, ink)
		}
		c.Lines([]picture.Seg{{A: picture.Pt{X: cols[2], Y: base + 3}, B: picture.Pt{X: cols[2] + 90, Y: base + 3}}},
			picture.Stroke{Paint: ink, Width: 1})
		rule(y + line*float64(i+1))
	}
	y += line*float64(rows) + 34
	for i, s := range []string{k.text(words.Say("testpiece.card-date")), k.text(words.Say("testpiece.card-operator")),
		k.text(words.Say("testpiece.card-speed"))} {
		say(margin+float64(i)*232, y, s+" ____________________", text, false, ink)
	}
}

// lines breaks a text into lines of at most so many px.
func lines(s string, f picture.Face, width float64) (out []string) {
	for _, word := range strings.Fields(s) {
		if n := len(out) - 1; n >= 0 && picture.TextWidth(out[n]+" "+word, f) <= width {
			out[n] += " " + word
		} else {
			out = append(out, word)
		}
	}
	return out
}
