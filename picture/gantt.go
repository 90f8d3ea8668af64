package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"needlepace/words"
)

// Gantt is a plan as strips: a row a machine, a bar a lot, over the time in
// which the shop works. Time in which no row is open is squeezed to a gap, so
// that nights and Sundays take no room; a bar goes on behind it. Times are
// seconds after the plan's beginning.
type Gantt struct {
	Name, Text string
	Note       string // a line under the head, e.g. that the plan is out of date
	Rows       []GanttRow
	Ticks      []GanttTick   // days, in order
	Width      float64       // px; 0 is 960
	W          *words.Writer // the language of its marks; nil: English
}

// GanttRow is one machine.
type GanttRow struct {
	Label, Note string
	Open        []GanttSpan // when it may run, ascending; none: always
	Bars        []GanttBar
}

// GanttSpan is a stretch of time.
type GanttSpan struct{ From, To float64 }

// GanttBar is one lot: set-up, then work.
type GanttBar struct {
	Label           string  // e.g. the order's number
	Title           string  // what is shown when it is pointed at
	Setup, From, To float64 // set-up begins; sewing begins and ends
	Ready           float64 // set-up ends, where that is before From; 0: at From
	Late            bool    // its order is: a heavy foot and "!"
	Held            bool    // put there by hand: a dot
	Running         bool    // on the machine now: a heavy edge
	Other           bool    // not the lot that is asked about: drawn pale
}

// GanttTick names a time.
type GanttTick struct {
	At    float64
	Label string
}

const (
	ganttRow, ganttStrip = 40.0, 26.0
	ganttGap             = 5.0 // px of a squeezed night
	ganttHead            = 50.0
	ganttNote            = 16.0 // more of it with a note
)

func (g *Gantt) width() float64 {
	return sizeOr(g.Width, 960, 300)
}

// Size is the size in px.
func (g *Gantt) Size() (w, h float64) {
	return g.width(), stripMargin + g.head() + ganttRow*float64(len(g.Rows)) + 14 + legendLine + stripMargin
}

// head is the height of what stands above the rows.
func (g *Gantt) head() float64 {
	if g.Note != "" {
		return ganttHead + ganttNote
	}
	return ganttHead
}

// Title says what the picture is.
func (g *Gantt) Title() string {
	if g.Name != "" {
		return g.Name
	}
	return words.Say("plan-page.title").Text(g.W)
}

// Desc reads the plan out.
func (g *Gantt) Desc() string {
	var b strings.Builder
	if g.Text != "" {
		b.WriteString(g.Text + " ")
	}
	if g.Note != "" {
		b.WriteString(g.Note + " ")
	}
	for _, r := range g.Rows {
		fmt.Fprintf(&b, "%s: ", r.Label)
		if len(r.Bars) == 0 {
			b.WriteString(words.Say("today.nothing-on").Text(g.W))
		}
		for i, x := range r.Bars {
			if i > 0 {
				b.WriteString(", ")
			}
			b.WriteString(x.Title)
		}
		b.WriteString(". ")
	}
	return strings.TrimSpace(b.String())
}

// squeezed maps time to 0…1 of the width with what is closed for all rows
// taken out.
type squeezed struct {
	spans []GanttSpan
	upTo  []float64 // open seconds before span i
	open  float64
}

// squeeze lays the rows' open times over each other, as far as bars and ticks
// reach.
func (g *Gantt) squeeze() *squeezed {
	end := 0.0
	for _, r := range g.Rows {
		for _, b := range r.Bars {
			if !math.IsInf(b.To, 0) && !math.IsNaN(b.To) {
				end = max(end, b.To)
			}
		}
	}
	if end <= 0 {
		end = 8 * 3600
	}
	var all []GanttSpan
	for _, r := range g.Rows {
		if len(r.Open) == 0 {
			all = append(all, GanttSpan{0, end})
		}
		for _, o := range r.Open {
			if o.From < end && o.To > 0 && o.To > o.From {
				all = append(all, GanttSpan{max(o.From, 0), o.To})
			}
		}
		for _, b := range r.Bars { // what is beyond the hours entered
			if n := len(r.Open); n > 0 && b.To > r.Open[n-1].To {
				all = append(all, GanttSpan{max(b.Setup, r.Open[n-1].To), b.To})
			}
		}
	}
	if len(all) == 0 {
		all = []GanttSpan{{0, end}}
	}
	slices.SortFunc(all, func(a, b GanttSpan) int { return cmp.Compare(a.From, b.From) })
	q := &squeezed{}
	for _, s := range all {
		if n := len(q.spans); n > 0 && s.From <= q.spans[n-1].To+1800 { // a pause is no night
			q.spans[n-1].To = max(q.spans[n-1].To, s.To)
			continue
		}
		q.spans = append(q.spans, s)
	}
	for _, s := range q.spans {
		q.upTo = append(q.upTo, q.open)
		q.open += s.To - s.From
	}
	return q
}

// at gives the open seconds before t and the number of gaps before it.
func (q *squeezed) at(t float64) (open float64, gaps int) {
	for i, s := range q.spans {
		if t < s.From {
			return q.upTo[i], i
		}
		if t <= s.To || i == len(q.spans)-1 {
			return q.upTo[i] + min(t, s.To) - s.From, i
		}
	}
	return q.open, max(0, len(q.spans)-1)
}

// x places a time on a width with gaps of a size.
func (q *squeezed) x(t, width, gap float64) float64 {
	open, gaps := q.at(t)
	room := width - gap*float64(len(q.spans)-1)
	return open/q.open*room + gap*float64(gaps)
}

// Draw draws the rows.
func (g *Gantt) Draw(c Canvas) {
	w := g.width()
	y := stripMargin
	head := bold(16, Ink)
	small := face(11, Quiet)
	c.Text(stripMargin, y+13, fit(g.Title(), head, w-2*stripMargin), head)
	c.Text(stripMargin, y+29, fit(g.Text, small, w-2*stripMargin), small)
	if g.Note != "" {
		c.Text(stripMargin, y+29+ganttNote, fit("! "+g.Note, small, w-2*stripMargin), small)
	}
	y += g.head()
	label := 0.0
	for _, r := range g.Rows {
		label = max(label, TextWidth(r.Label, labelFace), TextWidth(r.Note, small))
	}
	label = min(label, w*.25) + 14
	q := g.squeeze()
	area := Box{stripMargin + label, y, w - 2*stripMargin - label, ganttRow * float64(len(g.Rows))}
	gap := min(ganttGap, area.W/3/max(1, float64(len(q.spans))))
	at := func(t float64) float64 { return area.X + q.x(t, area.W, gap) }
	var grid []Seg
	room := area.X - 100
	for _, t := range g.Ticks {
		x := at(t.At)
		grid = append(grid, Seg{Pt{x, area.Y - 4}, Pt{x, area.Bottom() + 4}})
		if x >= room && x+TextWidth(t.Label, small) <= w-4 {
			c.Text(x+2, area.Y-7, t.Label, small)
			room = x + TextWidth(t.Label, small) + 10
		}
	}
	for _, r := range g.Rows {
		mid := y + ganttRow/2
		c.Begin(Group{Class: "np-machine", Title: r.Label})
		rowLabel(c, mid, label-10, r.Label, r.Note)
		// A hairline where the machine may run, broken where it may not.
		var open []Seg
		for _, o := range r.Open {
			if a, b := at(max(o.From, 0)), at(o.To); b > a {
				open = append(open, Seg{Pt{a, mid}, Pt{b, mid}})
			}
		}
		if len(r.Open) == 0 {
			open = append(open, Seg{Pt{area.X, mid}, Pt{area.Right(), mid}})
		}
		c.Lines(open, stroke(Hair, 2))
		c.End()
		y += ganttRow
	}
	c.Lines(grid, stroke(Hair, 1))
	y = area.Y
	for _, r := range g.Rows {
		for i := range r.Bars {
			drawGanttBar(c, &r.Bars[i], at, y+ganttRow/2)
		}
		y += ganttRow
	}
	g.legend(c, y+14)
}

// ready is when the set-up ends.
func (b *GanttBar) ready() float64 {
	if b.Ready > b.Setup && b.Ready < b.From {
		return b.Ready
	}
	return b.From
}

func drawGanttBar(c Canvas, b *GanttBar, at func(float64) float64, mid float64) {
	x0, x1, x2 := at(b.Setup), at(b.From), at(b.To)
	if x2-x1 < 1.5 {
		x2 = x1 + 1.5
	}
	top := mid - ganttStrip/2
	c.Begin(Group{Class: "np-lot", Title: b.Title, Data: map[string]string{"lot": b.Label}})
	if x := at(b.ready()); x-x0 > .3 {
		fillPart(c, Box{x0, top, x - x0, ganttStrip}, StartEnd)
	}
	bar := Box{x1, top, x2 - x1 - .75, ganttStrip}
	if b.Other {
		fillBox(c, bar, Paint{Tone: AtSetSpeed.Tone(), Opacity: .35})
	} else {
		fillPart(c, bar, AtSetSpeed)
	}
	frame := stroke(Quiet, .75)
	outline(c, bar, frame)
	text := b.Label
	if b.Late {
		c.Rect(bar.X, bar.Bottom()-4, bar.W, 4, Of(Warn))
		text += " !"
	}
	if b.Running {
		c.Rect(bar.X, bar.Y, 3, bar.H, Of(Ink))
	}
	if b.Held {
		c.Rect(bar.Right()-7, bar.Y+3, 4, 4, Of(Ink))
	}
	f := Face{Size: 11, Bold: b.Late, Paint: Of(Ink)}
	if s := fit(text, f, bar.W-8); s == text {
		c.Text(bar.X+5, mid+3, s, f)
	}
	c.End()
}

// legend names the marks that occur.
func (g *Gantt) legend(c Canvas, y float64) {
	var setup, late, held, running bool
	for _, r := range g.Rows {
		for _, b := range r.Bars {
			setup = setup || b.From > b.Setup
			late, held, running = late || b.Late, held || b.Held, running || b.Running
		}
	}
	x := stripMargin
	key := func(name string, draw func(b Box)) {
		b := Box{x, y + 1, 18, 13}
		draw(b)
		c.Text(x+24, y+12, name, legendFace)
		x += 24 + TextWidth(name, legendFace) + 20
	}
	key(words.Say("bars.sewing").Text(g.W), func(b Box) { fillPart(c, b, AtSetSpeed) })
	if setup {
		key(words.Say("column.set-up").Text(g.W), func(b Box) { fillPart(c, b, StartEnd) })
	}
	if running {
		key(words.Say("bars.running").Text(g.W), func(b Box) { fillPart(c, b, AtSetSpeed); c.Rect(b.X, b.Y, 3, b.H, Of(Ink)) })
	}
	if held {
		key(words.Say("bars.held").Text(g.W), func(b Box) { fillPart(c, b, AtSetSpeed); c.Rect(b.Right()-7, b.Y+3, 4, 4, Of(Ink)) })
	}
	if late {
		key(words.Say("bars.late").Text(g.W)+" !", func(b Box) { fillPart(c, b, AtSetSpeed); c.Rect(b.X, b.Bottom()-4, b.W, 4, Of(Warn)) })
	}
}

// GanttBars draws a plan for a terminal: a line of days, then a line a
// machine. A lot is [ its label and a rule up to ], ! in place of ] where it
// is late; set-up is ▒, a machine that stands is ·, a closed one is blank, and
// a squeezed night is a blank too.
func (t TextStrip) GanttBars(g *Gantt) (days string, rows []string) {
	w := t.width()
	q := g.squeeze()
	cell := func(x float64) int { return min(int(math.Round(q.x(x, float64(w), 1))), w) }
	line := []rune(strings.Repeat(" ", w+12))
	free := 0
	for _, k := range g.Ticks {
		at := cell(k.At)
		if at < free || at+len([]rune(k.Label)) > len(line) {
			continue
		}
		copy(line[at:], []rune(k.Label))
		free = at + len([]rune(k.Label)) + 1
	}
	setup, rule, idle := '▒', '━', '·'
	if t.ASCII {
		setup, rule, idle = '#', '=', '.'
	}
	for _, r := range g.Rows {
		out := []rune(strings.Repeat(" ", w))
		fill := func(a, b float64, with rune) {
			for k := cell(a); k < cell(b); k++ {
				out[k] = with
			}
		}
		for _, o := range r.Open {
			fill(max(o.From, 0), o.To, idle)
		}
		if len(r.Open) == 0 {
			fill(0, math.Inf(1), idle)
		}
		for _, b := range r.Bars {
			fill(b.Setup, b.ready(), setup)
			from, to := cell(b.From), cell(b.To)
			if to <= from {
				to = min(from+1, w)
			}
			for k := from; k < to; k++ {
				out[k] = rule
			}
			if to-from < 1 {
				continue
			}
			last := ']'
			if b.Late {
				last = '!'
			}
			out[to-1] = last
			if to-from > 1 {
				out[from] = '['
			}
			if n := len([]rune(b.Label)); to-from >= n+2 {
				copy(out[from+1:], []rune(b.Label))
			}
		}
		rows = append(rows, strings.TrimRight(string(out), " "))
	}
	return strings.TrimRight(string(line), " "), rows
}
