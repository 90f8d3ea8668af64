package picture

import (
	"fmt"
	"math"
	"strings"

	"needlepace/words"
)

// Use is what a machine or an operator does with time in a shift. Uses are
// drawn with the strip's own colours and hatching: the strip of a run, one
// level up.
type Use uint8

// The uses of a shift's time: work first, then what is lost, then what is not
// planned at all, which is drawn empty.
const (
	UseRunning Use = iota
	UseWaiting
	UseWaitHoop
	UseBreaks
	UseBobbins
	UseStops
	UseLoading
	UseChangeover
	UseMachines
	UseHooping
	UseWalking
	UseIdle
	UsePause
	UseNoWork
	numUses int = iota
)

var useNames = [numUses]struct {
	name  words.Message
	key   Key // whose colour, hatching and glyph it has
	empty bool
}{
	{words.Say("floor.sewing"), AtSetSpeed, false},
	{words.Say("floor.waiting"), LongStitches, false},
	{words.Say("floor.waiting-for-hoops"), Ramps, false},
	{words.Say("floor.breaks"), Trims, false},
	{words.Say("floor.bobbins"), ColourStops, false},
	{words.Say("floor.stops"), Travel, false},
	{words.Say("floor.loading"), Stops, false},
	{words.Say("floor.changeover"), StartEnd, false},
	// Operators' strips have parts of their own, and none of the above.
	{words.Say("floor.at-machines"), Stops, false},
	{words.Say("floor.hooping"), ColourStops, false},
	{words.Say("floor.walking"), Travel, false},
	{words.Say("floor.free"), AtSetSpeed, true},
	{words.Say("floor.pause"), AtSetSpeed, true},
	{words.Say("floor.no-work"), AtSetSpeed, true},
}

func (u Use) ok() bool { return int(u) < numUses }

// Name is the use in the words of the floor.
func (u Use) Name() words.Message {
	if u.ok() {
		return useNames[u].name
	}
	return words.Message{}
}

// Span is one stretch of a shift's strip.
type Span struct {
	Use     Use
	Seconds float64
}

// timed is the stretch and its time.
func (s Span) timed() words.Message {
	return words.Say("part.with-time", words.Args{"what": s.Use.Name(), "time": words.Seconds(s.seconds())})
}

func (s Span) seconds() float64 { return Part{Seconds: s.Seconds}.seconds() }

// ShiftRow is one machine's or operator's shift as a strip.
type ShiftRow struct {
	Label, Note string
	Spans       []Span
	After       string // behind the strip, e.g. "118 pieces"
}

// Shift draws a shift: a strip for every machine, or for every operator, on a
// common axis of hours.
type Shift struct {
	Name  string
	Rows  []ShiftRow
	Width float64 // px; 0 is 800
}

func (s *Shift) width() float64 {
	return sizeOr(s.Width, 800, 200)
}

// uses are those that can be seen in some row, for the legend.
func (s *Shift) uses() []Use {
	var has [numUses]bool
	for _, r := range s.Rows {
		seen := spansTotal(r.Spans) / 1000
		for _, p := range r.Spans {
			if p.Use.ok() && p.seconds() > seen {
				has[p.Use] = true
			}
		}
	}
	var out []Use
	for u := range has {
		if has[u] {
			out = append(out, Use(u))
		}
	}
	return out
}

// flow sets the legend's names one after another.
func (s *Shift) flow(at func(u Use, x float64, line int)) int {
	return max(1, flow(s.uses(), s.width()-2*stripMargin, nil, at))
}

const shiftStrip, shiftRow = 26.0, 42.0

// Size is the size in px.
func (s *Shift) Size() (w, h float64) {
	return s.width(), stripMargin + 30 + shiftRow*float64(len(s.Rows)) + 28 + float64(s.flow(nil))*legendLine +
		stripMargin
}

// Title says what the picture is.
func (s *Shift) Title() string {
	if s.Name != "" {
		return s.Name
	}
	return "Where the shift goes"
}

// Desc reads the strips out.
func (s *Shift) Desc() string {
	var b strings.Builder
	for _, r := range s.Rows {
		fmt.Fprintf(&b, "%s: ", r.Label)
		for i, p := range r.Spans {
			if i > 0 {
				b.WriteString(", ")
			}
			b.WriteString(p.timed().Text(nil))
		}
		if r.After != "" {
			fmt.Fprintf(&b, "; %s", r.After)
		}
		b.WriteString(". ")
	}
	return strings.TrimSpace(b.String())
}

func spansTotal(spans []Span) float64 {
	t := 0.0
	for _, p := range spans {
		t += p.seconds()
	}
	return t
}

// Draw draws the strips.
func (s *Shift) Draw(c Canvas) {
	w := s.width()
	y := stripMargin
	head := bold(16, Ink)
	c.Text(stripMargin, y+13, fit(s.Title(), head, w-2*stripMargin), head)
	y += 30
	afterFace := bold(13, Ink)
	label, after, top := 0.0, 0.0, 0.0
	for _, r := range s.Rows {
		label = max(label, TextWidth(r.Label, labelFace), TextWidth(r.Note, noteFace))
		after = max(after, TextWidth(r.After, afterFace))
		top = max(top, spansTotal(r.Spans))
	}
	if !(top > 0) || math.IsInf(top, 1) {
		top = 1
	}
	label = min(label, w*.3) + 14
	x := stripMargin + label
	area := Box{x, y, max(w-stripMargin-after-12-x, 40), shiftRow * float64(len(s.Rows))}
	drawTimeAxis(c, area, top, true, nil)
	for _, r := range s.Rows {
		mid := y + shiftRow/2
		c.Begin(Group{Class: "np-shift", Title: r.Label})
		rowLabel(c, mid, label-10, r.Label, r.Note)
		at := 0.0
		for _, p := range r.Spans {
			sec := p.seconds()
			if sec == 0 || !p.Use.ok() {
				continue
			}
			b := Box{area.X + at/top*area.W, mid - shiftStrip/2, sec / top * area.W, shiftStrip}
			at += sec
			c.Begin(Group{Class: "np-use", Title: p.timed().Text(nil)})
			if b.W > 3 {
				b.W -= .75
			}
			fillUse(c, b, p.Use)
			c.End()
		}
		c.Text(area.Right()+8, mid+4.5, r.After, afterFace)
		c.End()
		y += shiftRow
	}
	y += 28
	s.flow(func(u Use, dx float64, line int) {
		ly := y + float64(line)*legendLine
		fillUse(c, Box{stripMargin + dx, ly + 2, 18, 12}, u)
		c.Text(stripMargin+dx+24, ly+12.5, u.Name().Text(nil), legendFace)
	})
}

// fillUse paints a use; an empty one is a hairline frame, and a pause has a
// line through it, so that the two empty ones are told apart.
func fillUse(c Canvas, b Box, u Use) {
	n := useNames[u]
	if !n.empty {
		fillPart(c, b, n.key)
		return
	}
	f := b.inset(.5)
	if f.W <= 0 {
		return
	}
	hair := stroke(Quiet, .75)
	outline(c, f, hair)
	if u == UsePause {
		c.Lines([]Seg{{Pt{f.X, f.Y + f.H/2}, Pt{f.Right(), f.Y + f.H/2}}}, hair)
	}
	if u == UseNoWork {
		c.Lines([]Seg{{Pt{f.X, f.Bottom()}, Pt{f.Right(), f.Y}}}, hair)
	}
}

// ShiftBar draws a shift's strip for a terminal with the glyphs of TextStrip;
// free time and no work are dots, a pause is a line.
func (t TextStrip) ShiftBar(spans []Span) string {
	w, top := t.width(), t.Max
	if !(top > 0) || math.IsInf(top, 1) {
		top = spansTotal(spans)
	}
	if top <= 0 {
		return ""
	}
	var b strings.Builder
	at, cell := 0.0, 0
	for _, p := range spans {
		at += p.seconds()
		n := min(int(math.Round(at/top*float64(w))), w) - cell
		if n <= 0 || !p.Use.ok() {
			continue
		}
		cell += n
		g := strings.Repeat(t.useGlyph(p.Use), n)
		if u := useNames[p.Use]; t.Colour && !u.empty {
			g = fmt.Sprintf("\x1b[38;5;%dm%s\x1b[0m", partLooks[u.key].ansi, g)
		}
		b.WriteString(g)
	}
	return b.String()
}

func (t TextStrip) useGlyph(u Use) string {
	switch u {
	case UseIdle, UseNoWork:
		if t.ASCII {
			return ","
		}
		return "·"
	case UsePause:
		if t.ASCII {
			return "-"
		}
		return "─"
	}
	return t.Glyph(useNames[u].key)
}

// ShiftLegend names the glyphs of the uses that occur.
func (t TextStrip) ShiftLegend(rows ...[]Span) string {
	s := Shift{}
	for _, r := range rows {
		s.Rows = append(s.Rows, ShiftRow{Spans: r})
	}
	var out []string
	for _, u := range s.uses() {
		out = append(out, t.useGlyph(u)+" "+u.Name().Text(nil))
	}
	return strings.Join(out, "   ")
}
