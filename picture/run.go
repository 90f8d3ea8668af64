package picture

import (
	"math"
	"strings"

	"needlepace/words"
)

// Run is the main picture of one design on one machine: from the answer (the
// time) to the reason (the drawing by held speed, the shaft-speed trace, the
// strip, on one time axis).
type Run struct {
	Design  string // the design's name
	Machine string // the machine's name and setting as shown, e.g. "Bay 2 at 900/min"
	// Seconds is the run time; Low and High its interval at Level (0.9 is
	// 90 %). Low = High = 0 for none.
	Seconds, Low, High, Level float64
	// Naive is stitches ÷ rated speed, in seconds; 0 leaves it out.
	Naive                float64
	Stitches             int
	Held, Overall, Rated float64 // stitches/min; 0 leaves one out
	SetSpeed             float64 // stitches/min: the top of the speed scale
	Segs                 []Segment
	Speeds               []float32 // held speed of each segment, stitches/min
	Jumps                []int     // segments that are jumps sewn through and no stitches; ascending
	Trace                []TracePoint
	Rests                []Rest
	Kinds                []KindSpan // which kind of stitches is sewn when; goes up in time
	Parts                []Part
	Width                float64 // px; 0 is 960
	Scale                *SpeedScale
	W                    *words.Writer // how the reader wants figures and sentences
}

const (
	runMargin = 28.0
	runAxis   = 64.0 // left of the time axis, for the speeds
	runHead   = 96.0
	runTitle  = 74.0 // between the drawing and the trace: the scale
	runTrace  = 120.0
	runLane   = 14.0
	runStrip  = 34.0
	// SVG may be shown in a wider type than the one measured.
	typeSlack = 0.88
)

func (r *Run) width() float64 {
	return sizeOr(r.Width, 960, 360)
}

// cloth is the height of the drawing's cloth: the design's own shape, within
// reason.
func (r *Run) cloth() float64 {
	w := r.width() - 2*runMargin
	b, ok := extent(r.Segs)
	if !ok {
		return 160
	}
	h := (w - 32) * max(b.HeightMM(), 0.1) / max(b.WidthMM(), 0.1)
	h = min(h, b.HeightMM()*maxScale)
	return math.Round(min(max(h+48, 200), w*0.62))
}

func (r *Run) legend() partLegend {
	return partLegend{w: r.W, parts: SumParts(r.Parts), total: total(r.Parts), width: r.width() - runMargin - runAxis}
}

// Size is the size in px.
func (r *Run) Size() (w, h float64) {
	return r.width(), runHead + r.cloth() + runTitle + runTrace + runLane + 30 + runStrip + 14 + r.legend().height() +
		14
}

// Title says what the picture is.
func (r *Run) Title() string {
	s := words.Seconds(r.Seconds).Text(r.W)
	if r.Design != "" {
		s = r.Design + ": " + s
	}
	if r.Machine != "" {
		s = words.Say("picture.on", words.Args{"what": words.Name(s), "machine": words.Name(r.Machine)}).Text(r.W)
	}
	return s
}

// Desc reads the picture out.
func (r *Run) Desc() string {
	var b strings.Builder
	if s := r.interval(); s != "" {
		b.WriteString(words.Say("picture.run-time", words.Args{"interval": words.Name(s)}).Text(r.W) + " ")
	}
	b.WriteString(words.Say("picture.seconds", words.Args{"spent": spent(r.Parts)}).Text(r.W))
	if s := r.facts(); s != "" {
		b.WriteString(" " + s + ".")
	}
	b.WriteString(" " + words.Say("picture.run").Text(r.W))
	return b.String()
}

func (r *Run) interval() string {
	if !(r.High > r.Low) || r.Low < 0 {
		return ""
	}
	lv := r.Level
	if !(lv > 0 && lv < 1) {
		lv = 0.9
	}
	return words.Say("picture.interval", words.Args{
		"level": words.Level(lv), "low": words.Clock(r.Low), "high": words.Clock(r.High),
	}).Text(r.W)
}

func (r *Run) facts() string {
	var out []string
	say := func(m words.Message) { out = append(out, m.Text(r.W)) }
	if r.Stitches > 0 {
		out = append(out, words.Count(r.Stitches, "stitch").Text(r.W))
	}
	if r.Held > 0 {
		say(words.Say("picture.held", words.Args{"speed": words.PerMinute(r.Held)}))
	}
	if r.Overall > 0 {
		say(words.Say("picture.overall", words.Args{"speed": words.PerMinute(r.Overall)}))
	}
	if r.Naive > 0 {
		if r.Rated > 0 {
			say(words.Say("picture.naive-at", words.Args{
				"speed": words.PerMinute(r.Rated), "time": words.Seconds(r.Naive),
			}))
		} else {
			say(words.Say("picture.naive", words.Args{"time": words.Seconds(r.Naive)}))
		}
	}
	return strings.Join(out, " · ")
}

// Draw draws the picture.
func (r *Run) Draw(c Canvas) {
	w := r.width()
	inner := w - 2*runMargin
	// The answer.
	small := face(13, Quiet)
	big := bold(34, Ink)
	name := bold(15, Ink).to(End)
	answer := words.Seconds(r.Seconds).Text(r.W)
	c.Text(runMargin, 50, answer, big)
	left := TextWidth(answer, big) + 24
	c.Text(w-runMargin, 36, fit(r.Design, name, inner-left), name)
	sub := face(13, Quiet).to(End)
	c.Text(w-runMargin, 54, fit(r.Machine, sub, inner-left), sub)
	line := r.facts()
	if s := r.interval(); s != "" {
		c.Text(runMargin, 76, s, face(13, Ink))
		x := TextWidth(s, small) + 18
		f := small
		f.Align = End
		c.Text(w-runMargin, 76, fit(line, f, (inner-x)*typeSlack), f)
	} else {
		c.Text(runMargin, 76, fit(line, small, inner), small)
	}

	// The drawing.
	sc := ScaleFor(r.Speeds, r.SetSpeed)
	if r.Scale != nil {
		sc = *r.Scale
	}
	cloth := Box{runMargin, runHead, inner, r.cloth()}
	drawSpeedCloth(c, cloth, r.Segs, r.Speeds, sc, r.W)
	lw := min(260, inner*0.45)
	sc.legend(c, w-runMargin-lw, cloth.Bottom()+8, lw, r.W)

	// The reason, on one time axis.
	top := r.top()
	y := cloth.Bottom() + runTitle
	x := runAxis
	trace := Box{x, y, w - runMargin - x, runTrace}
	c.Text(runMargin, cloth.Bottom()+46, words.Say("picture.shaft-speed").Text(r.W), face(11, Quiet))
	lane := Box{x, trace.Bottom() + 2, trace.W, runLane}
	// A script finds here how px and seconds belong together.
	c.Begin(Group{Class: "np-time", Data: map[string]string{
		"left": string(appendNum(nil, trace.X, 2)), "right": string(appendNum(nil, trace.Right(),
			2)), "seconds": string(appendNum(nil, top, 3))}})
	drawTrace(c, trace, r.Trace, top, sc)
	drawRests(c, trace, lane, r.Rests, top)
	c.End()
	drawKinds(c, Box{x, lane.Bottom() + 1, trace.W, 3}, r.Kinds, top)
	kindsLegend(c, runMargin+170, cloth.Bottom()+46, w-runMargin, r.Kinds, r.W)
	drawTimeAxis(c, Box{x, lane.Bottom() + 4, trace.W, 0}, top, false, r.W)
	bar := Box{x, lane.Bottom() + 30, trace.W, runStrip}
	drawStrip(c, bar, r.Parts, top, 0, r.W)
	if r.High > r.Low && r.Low >= 0 {
		drawWhisker(c, bar, r.Low/top, r.High/top)
	}
	r.legend().draw(c, x, bar.Bottom()+16)
}

// top is the right end of the time axis in seconds.
func (r *Run) top() float64 {
	t := max(finite(r.Seconds), total(r.Parts), finite(r.High))
	if n := len(r.Trace); n > 0 {
		t = max(t, finite(r.Trace[n-1].T))
	}
	if t <= 0 {
		return 1
	}
	return t
}

// drawSpeedCloth draws the design on its cloth, coloured by held speed.
func drawSpeedCloth(c Canvas, cloth Box, segs []Segment, speeds []float32, sc SpeedScale, w *words.Writer) {
	fillBox(c, cloth, Of(Cloth))
	b, ok := extent(segs)
	if !ok {
		c.Text(cloth.X+cloth.W/2, cloth.Y+cloth.H/2, words.Say("picture.none").Text(w),
			Face{Size: 13, Align: Middle, Paint: Solid(clothInk)})
		return
	}
	p := fitDesign(b, onCloth(cloth, 16), maxScale)
	c.Threads(speedThreads(segs, speeds, sc, p, threadWidth(p.k, 0.8)))
	scaleBar(c, cloth, p.k, w)
}
