package picture

import (
	"math"

	"needlepace/words"
)

// StripRow is one run as a strip.
type StripRow struct {
	Label string // the machine, the design, "after the mend"
	Note  string // second line under the label, may be empty
	Parts []Part // drawn in the order given; use SumParts for one piece a part
	// Low and High bound the run time, in seconds; both 0 for no interval.
	Low, High float64
	// Saved is drawn as an outline after the end: seconds that a mend took away.
	Saved float64
}

// Strips draws runs one under another on a common time axis. A single bare
// strip (Bare) has no text: for lists, beside the time in figures.
type Strips struct {
	Name   string // heading, may be empty
	Rows   []StripRow
	Width  float64       // px; 0 is 800
	Height float64       // px of one strip; 0 is 26 (bare: 12)
	Bare   bool          // the strip alone
	Max    float64       // seconds at the right end; 0: the longest row
	W      *words.Writer // how the reader wants figures and sentences
}

// SumParts gathers seconds by part, in the order of Keys, leaving out the
// parts that took no time.
func SumParts(parts []Part) []Part {
	var sum [numParts]float64
	for _, p := range parts {
		if p.Key.ok() {
			sum[p.Key] += p.seconds()
		}
	}
	var out []Part
	for _, k := range Keys {
		if sum[k] > 0 {
			out = append(out, Part{k, sum[k]})
		}
	}
	return out
}

const (
	stripMargin = 16.0
	stripGap    = 12.0 // between rows
	legendLine  = 20.0
)

func (s *Strips) width() float64 {
	return sizeOr(s.Width, 800, 24)
}

func (s *Strips) strip() float64 {
	switch {
	case s.Height > 0:
		return s.Height
	case s.Bare:
		return 12
	}
	return 26
}

func (s *Strips) row() float64 { return max(s.strip(), 30) + stripGap }

func (s *Strips) heading() float64 {
	if s.Name == "" {
		return 0
	}
	return 30
}

// keys are the parts that occur, for the legend.
func (s *Strips) keys() []Key {
	var has [numParts]bool
	for _, r := range s.Rows {
		for _, p := range r.Parts {
			if p.Key.ok() && p.seconds() > 0 {
				has[p.Key] = true
			}
		}
	}
	var out []Key
	for _, k := range Keys {
		if has[k] {
			out = append(out, k)
		}
	}
	return out
}

// Size is the size in px.
func (s *Strips) Size() (w, h float64) {
	if s.Bare {
		rows := float64(max(len(s.Rows), 1))
		return s.width(), s.strip()*rows + 3*(rows-1)
	}
	l := partLegend{w: s.W, keys: s.keys(), width: s.width() - 2*stripMargin}
	return s.width(), stripMargin + s.heading() + s.row()*float64(len(s.Rows)) + 28 + l.height() + stripMargin
}

// Title says what the picture is.
func (s *Strips) Title() string {
	if s.Name != "" {
		return s.Name
	}
	return words.Say("clock.where").Text(s.W)
}

// Desc reads the strips out.
func (s *Strips) Desc() string {
	var all words.Sentences
	for _, r := range s.Rows {
		what := spent(r.Parts)
		if r.Label != "" {
			what = words.Say("picture.of", words.Args{"name": words.Name(r.Label), "what": what})
		}
		all = append(all, what)
		if r.High > r.Low && r.Low >= 0 {
			all = append(all, words.Say("picture.between",
				words.Args{"low": words.Seconds(r.Low), "high": words.Seconds(r.High)}))
		}
		if r.Saved > 0 {
			all = append(all, words.Say("picture.saved-is", words.Args{"saved": saved(r.Saved)}))
		}
	}
	return all.Text(s.W)
}

// spent says how long a run is and what of it each part takes.
func spent(parts []Part) words.Message {
	sum := SumParts(parts)
	return words.Say("picture.spent", words.Args{"time": words.Seconds(total(sum)), "parts": TimedParts(sum)})
}

// TimedParts are parts with their times, in a row.
func TimedParts(parts []Part) words.List {
	var out words.List
	for _, p := range parts {
		out = append(out, words.Say("part.with-time", words.Args{"what": p.Key.Name(), "time": words.Seconds(p.seconds())}))
	}
	return out
}

func (s *Strips) max() float64 {
	if s.Max > 0 && !math.IsInf(s.Max, 1) {
		return s.Max
	}
	m := 0.0
	for _, r := range s.Rows {
		t := total(r.Parts)
		m = max(m, t, t+finite(r.Saved), finite(r.High))
	}
	if m == 0 {
		return 1
	}
	return m
}

// Draw draws the strips.
func (s *Strips) Draw(c Canvas) {
	w, h := s.width(), s.strip()
	if s.Bare {
		y := 0.0
		for _, r := range s.Rows {
			drawStrip(c, Box{0, y, w, h}, r.Parts, s.max(), r.Saved, s.W)
			y += h + 3
		}
		return
	}
	y := stripMargin
	if s.Name != "" {
		c.Text(stripMargin, y+13, fit(s.Name, Face{Size: 16, Bold: true}, w-2*stripMargin),
			bold(16, Ink))
		y += s.heading()
	}
	label := 0.0
	for _, r := range s.Rows {
		label = max(label, TextWidth(r.Label, labelFace), TextWidth(r.Note, noteFace))
	}
	label = min(label, w*0.3)
	if label > 0 {
		label += 14
	}
	timeFace := bold(13, Ink)
	after := 0.0
	for _, r := range s.Rows {
		a := TextWidth(words.Seconds(total(r.Parts)).Text(s.W), timeFace)
		if r.Saved > 0 {
			a += 8 + TextWidth(saved(r.Saved).Text(s.W), savedFace)
		}
		after = max(after, a)
	}
	x := stripMargin + label
	area := Box{x, y, max(w-stripMargin-after-12-x, 40), s.row() * float64(len(s.Rows))}
	top := s.max()
	drawTimeAxis(c, area, top, true, s.W)
	for _, r := range s.Rows {
		t := total(r.Parts)
		mid := y + s.row()/2
		c.Begin(Group{Class: "np-strip", Title: r.Label})
		rowLabel(c, mid, label-10, r.Label, r.Note)
		bar := Box{area.X, mid - h/2, area.W, h}
		drawStrip(c, bar, r.Parts, top, r.Saved, s.W)
		end := area.X + min((t+max(finite(r.Saved), 0))/top, 1)*area.W
		if r.High > r.Low && r.Low >= 0 {
			drawWhisker(c, bar, r.Low/top, r.High/top)
			end = max(end, area.X+min(r.High/top, 1)*area.W)
		}
		c.Text(end+8, mid+4.5, words.Seconds(t).Text(s.W), timeFace)
		if r.Saved > 0 {
			c.Text(end+16+TextWidth(words.Seconds(t).Text(s.W), timeFace), mid+4.5, saved(r.Saved).Text(s.W), savedFace)
		}
		c.End()
		y += s.row()
	}
	l := partLegend{w: s.W, keys: s.keys(), width: w - 2*stripMargin}
	l.draw(c, stripMargin, y+28)
}

var savedFace = Face{Size: 12, Paint: Paint{Tone: Accent}}

func saved(s float64) words.Message {
	return words.Say("picture.saved", words.Args{"time": words.Seconds(s)})
}

// labelFace and noteFace are those of a row's label and the line under it.
var labelFace, noteFace = face(13, Ink), face(11, Quiet)

// rowLabel names a row, with its note under the name.
func rowLabel(c Canvas, mid, width float64, label, note string) {
	label, f := shrunk(label, labelFace, width)
	if note == "" {
		c.Text(stripMargin, mid+4.5, label, f)
		return
	}
	c.Text(stripMargin, mid-2, label, f)
	note, f = shrunk(note, noteFace, width)
	c.Text(stripMargin, mid+12, note, f)
}

// drawStrip draws one strip in bar, whose full width is max seconds. Gaps of a
// hairline keep parts apart where their colours are close.
func drawStrip(c Canvas, bar Box, parts []Part, top, gained float64, w *words.Writer) {
	at := 0.0
	px := func(sec float64) float64 { return bar.X + min(sec/top, 1)*bar.W }
	for _, p := range parts {
		sec := p.seconds()
		if sec == 0 {
			continue
		}
		x0, x1 := px(at), px(at+sec)
		at += sec
		c.Begin(Group{Class: "np-part", Title: TimedParts([]Part{p}).Text(w),
			Data: map[string]string{"part": p.Key.String()}})
		b := Box{x0, bar.Y, x1 - x0, bar.H}
		if b.W > 3 { // the gap, taken from the part itself; a sliver keeps its full width
			b.W -= 0.75
		}
		fillPart(c, b, p.Key)
		c.End()
	}
	if gained > 0 && !math.IsInf(gained, 1) {
		x0, x1 := px(at)+1, px(at+gained)
		if x1-x0 > 1 {
			b := Box{x0, bar.Y, x1 - x0, bar.H}.inset(0.5)
			c.Begin(Group{Class: "np-saved", Title: saved(gained).Text(w)})
			outline(c, b, Stroke{Paint: Of(Accent), Width: 1, Dash: []float64{3, 2.5}})
			c.End()
		}
	}
}

// drawWhisker marks an interval under a strip's end.
func drawWhisker(c Canvas, bar Box, low, high float64) {
	x0, x1 := bar.X+min(low, 1)*bar.W, bar.X+min(high, 1)*bar.W
	y := bar.Bottom() + 3.5
	whisker(c, x0, x1, y, 2.5, stroke(Ink, 1))
}

// partLegend names the parts. With seconds it is a small table, two lines a
// cell; without, words in a row.
type partLegend struct {
	w     *words.Writer
	keys  []Key
	parts []Part // summed; nil for names only
	total float64
	width float64
}

var legendFace = Face{Size: 12, Paint: Paint{Tone: Ink}}

const cellWidth = 118.0

func (l partLegend) cells() int { return max(1, int(l.width/cellWidth)) }

func (l partLegend) height() float64 {
	if l.parts != nil {
		rows := (len(l.parts) + l.cells() - 1) / l.cells()
		return float64(rows) * 50
	}
	return float64(flow(l.keys, l.width, l.w, nil)) * legendLine
}

// flow sets the names of a legend one after another, wrapping at the width,
// and gives the number of lines.
func flow[K interface{ Name() words.Message }](
	keys []K, width float64, by *words.Writer, at func(k K, x float64, line int),
) (lines int) {
	x := 0.0
	for i, k := range keys {
		w := 24 + TextWidth(k.Name().Text(by), legendFace)
		if i == 0 || x+w > width {
			x, lines = 0, lines+1
		}
		if at != nil {
			at(k, x, lines-1)
		}
		x += w + 20
	}
	return lines
}

func (l partLegend) draw(c Canvas, x, y float64) {
	if l.parts == nil {
		flow(l.keys, l.width, l.w, func(k Key, dx float64, line int) {
			ly := y + float64(line)*legendLine
			fillPart(c, Box{x + dx, ly + 2, 18, 12}, k)
			c.Text(x+dx+24, ly+12.5, k.Name().Text(l.w), legendFace)
		})
		return
	}
	n := l.cells()
	w := l.width / float64(n)
	for i, p := range l.parts {
		cx, cy := x+float64(i%n)*w, y+float64(i/n)*50
		fillPart(c, Box{cx, cy + 2, 18, 12}, p.Key)
		c.Text(cx+24, cy+12.5, p.Key.Name().Text(l.w), face(12, Quiet))
		f := bold(13, Ink)
		s := words.Seconds(p.Seconds).Text(l.w)
		c.Text(cx+24, cy+29, s, f)
		if l.total > 0 {
			c.Text(cx+24, cy+43, words.Share(p.Seconds/l.total).Text(l.w), face(11, Quiet))
		}
	}
}
