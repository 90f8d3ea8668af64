package ask

import (
	"context"
	"math"

	"needlepace/clock"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/sound"
	"needlepace/words"
)

// ListenQuestion asks what a recording of one run tells.
type ListenQuestion struct {
	Design  string // by the asker's name for it
	Machine string
	Job
	Curve *sound.Curve // of the recording
	// Whole is how long the run took from the start button to the machine standing, where somebody timed that:
	// no recording hears the button pressed. 0: nobody did.
	Whole float64      // s
	Harm  sound.Damage // of the recording's file
	Each  bool         // with each stitch
	// Progress, if not nil, is told the share that is done.
	Progress func(done float64)
}

// ListenAnswer is what was heard. Its JSON is a written contract: later versions
// add keys and never change one. Times are seconds from the beginning of the
// recording.
type ListenAnswer struct {
	Design    string          `json:"design"`
	Machine   string          `json:"machine"`
	Seconds   float64         `json:"seconds" doc:"of the recording"`
	Quality   string          `json:"quality" doc:"good, fair or poor; empty where the recording was refused"`
	Clear     float64         `json:"clear" doc:"share of the stitches that are clearly heard, 0 to 1"`
	Clipped   float64         `json:"clipped" doc:"share of the recording that was too loud for the recorder"`
	SetSpeed  float64         `json:"set_speed" doc:"stitches/min, as heard"`
	Sewing    float64         `json:"sewing" doc:"s in which the machine sewed"`
	Predicted float64         `json:"predicted" doc:"s that the sheet says for that, at the set speed heard"`
	Runs      []HeardRun      `json:"runs"`
	Stitches  []float64       `json:"stitches,omitempty" doc:"s, when each stitch was sewn (with stitches)"`
	Index     []int           `json:"index,omitempty" doc:"its number in the design, from 0"`
	Events    []HeardEvent    `json:"events"`
	Rests     []HeardRest     `json:"rests" doc:"trims and colour stops, heard and by the sheet"`
	Refused   string          `json:"refused,omitempty" doc:"why the recording was not laid on the design"`
	Verdict   words.Sentences `json:"verdict"`
	Caveats   words.Sentences `json:"caveats"`

	// What a picture and the rows of a file are made of.
	Of    *Design        `json:"-"`
	On    *machine.Sheet `json:"-"`
	Job   clock.Job      `json:"-"`
	Heard *sound.Heard   `json:"-"` // nil where it was refused
	Whole float64        `json:"-"` // s, as the question has it
}

// HeardRun is a stretch of sewing without a stop.
type HeardRun struct {
	Start    float64 `json:"start"`
	End      float64 `json:"end"`
	Stitches int     `json:"stitches"`
	Counted  int     `json:"counted" doc:"of them, clearly heard"`
	First    int     `json:"first" doc:"its first stitch's number in the design, from 0"`
	Within   int     `json:"index_within" doc:"by how many its stitches' numbers may be wrong, all alike"`
	Speed    float64 `json:"speed_per_min" doc:"stitches/min held"`
}

// HeardEvent is a rest between two runs.
type HeardEvent struct {
	Kind   string  `json:"kind" doc:"trim, colour_stop, break, pause or unknown"`
	Start  float64 `json:"start"`
	End    float64 `json:"end"`
	Again  int     `json:"again,omitempty" doc:"of a break: stitches that were sewn again"`
	Within int     `json:"again_within,omitempty" doc:"of a break or pause: by how many that may be wrong"`
}

// sure reports whether a stop is a break for sure: more was sewn again than its doubt.
func (e *HeardEvent) sure() bool { return e.Kind == sound.Break.String() && e.Again > e.Within }

// doubtful reports whether a stop may be a break or not.
func (e *HeardEvent) doubtful() bool {
	return !e.sure() && (e.Kind == sound.Break.String() || e.Kind == sound.Pause.String()) && e.Within >= leastAgain
}

// leastAgain is how many stitches a machine that stopped for a broken thread sews again at
// least, to fix the thread; common practice, no published source.
const leastAgain = 3

// HeardRest is what one kind of rest took in the mean.
type HeardRest struct {
	Kind    string  `json:"kind"`
	Count   int     `json:"count"`
	Seconds float64 `json:"seconds" doc:"in the mean, from standing to ready to sew, travel included"`
	Sheet   float64 `json:"sheet" doc:"what the sheet says for the same rests"`
}

// Shares of the stitches that must be clearly heard.
const (
	goodHearing = 0.985
	fairHearing = 0.95
)

// Listen lays a recording on the design that was sewn and says what was heard:
// each stitch, each rest, each interruption. A recording that cannot be laid on
// it is refused with why: then the answer and an *Error are given.
func Listen(ctx context.Context, from Shelf, q ListenQuestion) (*ListenAnswer, error) {
	job, err := q.Job.Clock()
	if err != nil {
		return nil, err
	}
	d, sheet, err := both(ctx, from, q.Design, q.Machine)
	if err != nil {
		return nil, err
	}
	a := &ListenAnswer{Design: d.Title(), Machine: sheet.Name, Seconds: q.Curve.Seconds(), Runs: []HeardRun{},
		Events: []HeardEvent{}, Rests: []HeardRest{}, Verdict: words.Sentences{}, Caveats: words.Sentences{}, Of: d,
		On: sheet, Whole: q.Whole}
	if d.Counts.Stitches == 0 {
		return nil, silent(d)
	}
	came, err := heard.make(ctx, &hearAsked{q.Curve, d.Design, sheet, job, sheet.Fit != nil}, func(done, _ float64) {
		if q.Progress != nil {
			q.Progress(done)
		}
	})
	switch {
	case came.Refused:
		why := a.refusal(came.Why)
		a.Refused = why.Text(nil)
		a.Verdict = append(a.Verdict, why)
		return a, refusing(why).At("recording")
	case ctx.Err() != nil:
		return nil, stopped(ctx)
	case err != nil:
		return nil, err
	}
	a.Heard = came.Heard
	a.fill(q.Each)
	job.Speed = a.Heard.Speed
	a.Job = job
	a.compare()
	a.say(q.Harm)
	return a, nil
}

// Follow follows a run of a design while it is recorded, from sound at a rate in Hz.
func Follow(ctx context.Context, from Shelf, q ListenQuestion, rate int) (*Design, *sound.Tracker, error) {
	job, err := q.Job.Clock()
	if err != nil {
		return nil, nil, err
	}
	d, sheet, err := both(ctx, from, q.Design, q.Machine)
	if err != nil {
		return nil, nil, err
	}
	if d.Counts.Stitches == 0 {
		return nil, nil, silent(d)
	}
	t, err := sound.NewTracker(rate, d.Design, sheet, job)
	return d, t, err
}

// silent is the error of a design without stitches.
func silent(d *Design) *Error {
	return refusing(words.Say("refused.no-stitch", words.Args{"design": words.Name(d.Title())})).At("design")
}

func (a *ListenAnswer) refusal(why sound.Refused) words.Message {
	design := words.Name(a.Design)
	switch why {
	case sound.TooShort:
		return words.Say("refused.recording-short", words.Args{"design": design, "length": words.Seconds(a.Seconds)})
	case sound.NoMachine:
		return words.Say("refused.recording-no-machine")
	case sound.TooCrowded:
		return words.Say("refused.recording-crowded")
	}
	return words.Say("refused.recording-not-this", words.Args{"design": design})
}

// fill takes over what was heard.
func (a *ListenAnswer) fill(each bool) {
	h := a.Heard
	a.Clear, a.Clipped, a.SetSpeed = h.Clear, h.Clipped, h.Speed
	switch {
	case h.Clear >= goodHearing:
		a.Quality = "good"
	case h.Clear >= fairHearing:
		a.Quality = "fair"
	default:
		a.Quality = "poor"
	}
	for _, r := range h.Runs {
		run := HeardRun{r.Start, r.End, r.Stitches, r.Counted, r.First, r.Within, 0}
		if r.End > r.Start {
			run.Speed = float64(r.Stitches) / (r.End - r.Start) * 60
		}
		a.Sewing += r.End - r.Start
		a.Runs = append(a.Runs, run)
	}
	for _, e := range h.Events {
		kind := e.Kind.String()
		if e.Kind == sound.Stop { // the design asks the operator for something
			kind = sound.Pause.String()
		}
		a.Events = append(a.Events, HeardEvent{kind, e.Start, e.End, e.Again, e.Within})
	}
	if each {
		for _, s := range h.Strokes {
			a.Stitches, a.Index = append(a.Stitches, s.At), append(a.Index, s.Stitch)
		}
	}
}

// compare holds what was heard against the sheet.
func (a *ListenAnswer) compare() {
	s := a.On.Clone()
	s.MaxSpeed = max(s.MaxSpeed, a.Job.Speed)
	r := clock.Run(a.Of.Design, s, a.Job)
	a.Predicted = r.Parts.Sewing()
	sheetTrim, sheetColour := s.Rest.Trim, 0.0
	if n := r.ColourStops; n > 0 {
		sheetColour = r.Parts.ColourStops / float64(n)
	}
	for _, k := range []struct {
		kind  sound.Kind
		sheet float64
	}{{sound.Trim, sheetTrim}, {sound.ColourStop, sheetColour}} {
		rest := HeardRest{Kind: k.kind.String(), Sheet: k.sheet}
		for _, e := range a.Heard.Events {
			if e.Kind == k.kind {
				rest.Count++
				rest.Seconds += e.End - e.Start
			}
		}
		if rest.Count > 0 {
			rest.Seconds /= float64(rest.Count)
			a.Rests = append(a.Rests, rest)
		}
	}
}

// Parts are the seconds that were heard, and what the sheet says of the same run:
// sewing at the set speed and what it lost, trims, colour stops, and where it was
// interrupted. The sheet's sewing that is lost is divided as the sheet has it.
func (a *ListenAnswer) Parts() (heard, sheet clock.Parts) {
	s := a.On.Clone()
	s.MaxSpeed = max(s.MaxSpeed, a.Job.Speed)
	sheet = clock.Run(a.Of.Design, s, a.Job).Parts
	sheet.StartEnd, sheet.Stops = 0, 0
	for _, r := range a.Runs {
		heard.AtSetSpeed += float64(r.Stitches) * 60 / a.SetSpeed
	}
	heard.AtSetSpeed = min(heard.AtSetSpeed, a.Sewing)
	lost, byLaw := a.Sewing-heard.AtSetSpeed, sheet.Sewing()-sheet.AtSetSpeed
	if byLaw > 0 {
		heard.LongStitches, heard.Ramps, heard.Control = lost*sheet.LongStitches/byLaw, lost*sheet.Ramps/byLaw, lost*sheet.Control/byLaw
	} else {
		heard.LongStitches = lost
	}
	for _, e := range a.Heard.Events {
		t := e.End - e.Start
		switch e.Kind {
		case sound.Trim:
			heard.Trims += t
		case sound.ColourStop:
			heard.ColourStops += t
		default:
			heard.Stops += t
		}
	}
	return heard, sheet
}

// Together is the seconds of the strip that was heard.
func (a *ListenAnswer) Together() float64 { heard, _ := a.Parts(); return heard.Sum() }

// BySheet is the seconds of the strip by the sheet.
func (a *ListenAnswer) BySheet() float64 { _, sheet := a.Parts(); return sheet.Sum() }

// interruptions are the breaks and pauses.
func (a *ListenAnswer) interruptions() (breaks, pauses int, seconds float64) {
	for _, e := range a.Heard.Events {
		switch e.Kind {
		case sound.Break:
			breaks++
		case sound.Pause:
			pauses++
		default:
			continue
		}
		seconds += e.End - e.Start
	}
	return breaks, pauses, seconds
}

// WithWhole is the answer with the time of the whole run, s, from the start button to the machine standing,
// as somebody timed it or the machine's display has it: Rows then tell of its start and its end. A time
// that tells nothing of them is an *Error of whole, with why.
func (a *ListenAnswer) WithWhole(seconds float64) (*ListenAnswer, error) {
	b := *a
	b.Whole = seconds
	if why := b.wholeUnused(); !why.IsZero() {
		return nil, refusing(why).At("whole")
	}
	return &b, nil
}

// WholeTells reports whether the whole run's time, were it known, would tell of its start and its end:
// nothing interrupted it.
func (a *ListenAnswer) WholeTells() bool {
	breaks, pauses, _ := a.interruptions()
	return breaks+pauses == 0
}

// longestEnds is how long a run's start and its end may take together, s, beside what was heard; assumed.
const longestEnds = 120

// wholeUnused is why the time of the whole run tells nothing of its start and end; nothing where it does.
func (a *ListenAnswer) wholeUnused() (why words.Message) {
	heard := 0.0 // from the first stitch to the last
	if n := len(a.Runs); n > 0 {
		heard = a.Runs[n-1].End - a.Runs[0].Start
	}
	whole, from := words.Seconds(a.Whole), words.Seconds(heard)
	switch {
	case !a.WholeTells():
		return words.Say("listen.whole-interrupted", words.Args{"whole": whole})
	case a.Whole < heard:
		return words.Say("listen.whole-short", words.Args{"whole": whole, "heard": from})
	case a.Whole > heard+longestEnds:
		return words.Say("listen.whole-long", words.Args{"whole": whole, "heard": from})
	}
	return why
}

// say puts the answer into sentences.
func (a *ListenAnswer) say(harm sound.Damage) {
	v := &a.Verdict
	n := 0
	for _, r := range a.Runs {
		n += r.Stitches
	}
	v.Say("listen.heard", words.Args{"stitches": words.Count(n, "stitch"), "runs": words.Count(len(a.Runs), "sewn-stretch"),
		"speed": words.Fixed(a.SetSpeed, 0), "time": words.Seconds(a.Sewing)})
	off := a.Sewing/a.Predicted - 1
	predicted, machine, by := words.Seconds(a.Predicted), words.Name(a.Machine), words.Share(math.Abs(off))
	switch {
	case math.Abs(off) < 0.005:
		v.Say("listen.as-predicted", words.Args{"predicted": predicted, "machine": machine})
	case off > 0:
		v.Say("listen.slower", words.Args{"predicted": predicted, "machine": machine, "by": by})
	default:
		v.Say("listen.faster", words.Args{"predicted": predicted, "machine": machine, "by": by})
	}
	for _, r := range a.Rests {
		v.Say("listen.rest."+r.Kind, words.Args{"count": words.Whole(r.Count), "time": words.Seconds(r.Seconds),
			"sheet": words.Seconds(r.Sheet)})
	}
	if breaks, pauses, t := a.interruptions(); breaks+pauses > 0 {
		v.Say("listen.interrupted", words.Args{"breaks": words.Count(breaks, "break"),
			"pauses": words.Count(pauses, "pause"), "time": words.Seconds(t)})
	}
	c := &a.Caveats
	if a.Quality != "good" {
		c.Say("listen.quality."+a.Quality, words.Args{"clear": words.Share(a.Clear)})
	}
	if a.Clipped > 0.01 {
		c.Say("listen.clipped")
	}
	*c = append(*c, harm.Says()...)
	if a.Whole > 0 {
		if why := a.wholeUnused(); !why.IsZero() {
			*c = append(*c, why)
		}
	}
	within := 0
	for _, r := range a.Runs {
		within = max(within, r.Within)
	}
	if within > 0 {
		c.Say("listen.doubt", words.Args{"n": words.Whole(within)})
	}
}

// mostTogether is how many trims of a colour block are one row.
const mostTogether = 50

// How one trim differs from the next, relative, where a recording has too few to tell
// (assumed), and how many that are.
const (
	usualTrimSpread = 0.1
	leastTrims      = 4
)

// trimSpread is how much the trims of a recording differ, relative, one standard deviation. What they
// differ by in their ways is in it.
func trimSpread(all []sound.Rested) float64 {
	n, sum, squares := 0.0, 0.0, 0.0
	for _, r := range all {
		if r.Kind == sound.Trim {
			v := math.Log(r.Seconds)
			n, sum, squares = n+1, sum+v, squares+v*v
		}
	}
	// The usual spread counts as much as so many trims, too.
	usual := usualTrimSpread * usualTrimSpread * leastTrims
	if n < 2 {
		return usualTrimSpread
	}
	return math.Sqrt((max(squares-sum*sum/n, 0) + usual) / (n - 1 + leastTrims))
}

// Rows are timed rows for learning, each with its error: the sewing in stretches of stitches that
// are alike, the trims of each colour block together, each colour stop; and the speed held on
// stitches of each length along the x axis, as if read off the machine's display. With
// the whole run's time, where it was not interrupted.
func (a *ListenAnswer) Rows() []learn.Observation {
	if a.Heard == nil {
		return nil
	}
	var out []learn.Observation
	h := a.Heard
	speed := math.Round(h.Speed*10) / 10
	add := func(block int, only learn.Only, seconds, sd float64) {
		out = append(out, learn.Observation{Kind: learn.BlockRun, Name: a.Of.File, Design: a.Of.Design, SetSpeed: speed,
			Block: block + 1, Only: only, Seconds: math.Round(1000*seconds) / 1000, Error: math.Ceil(1000*sd) / 1000,
			Job: a.Job.Kinds, Note: "heard"})
	}
	for _, s := range h.Sewn {
		add(s.Block, learn.OnlyStitches(s.First+1, s.Last+1), s.Seconds, s.Error)
	}
	spread := trimSpread(h.Rested)
	for k := 0; k < len(h.Rested); {
		first := h.Rested[k]
		var after []int
		seconds, v, doubt := 0.0, 0.0, 0.0
		for ; k < len(h.Rested); k++ {
			r := h.Rested[k]
			if len(after) > 0 && (r.Block != first.Block || r.Kind != first.Kind || r.Kind == sound.ColourStop) || len(after) == mostTogether {
				break
			}
			after = append(after, r.After+1)
			seconds, v, doubt = seconds+r.Seconds, v+r.Error*r.Error, doubt+r.Doubt
			if r.Kind == sound.Trim {
				v += spread * r.Seconds * spread * r.Seconds
			}
		}
		add(first.Block, learn.OnlyAfter(after), seconds, math.Sqrt(v+doubt*doubt))
	}
	if a.Whole > 0 && a.wholeUnused().IsZero() { // less its parts: its start and its end
		out = append(out, learn.Observation{Kind: learn.WholeRun, Name: a.Of.File, Design: a.Of.Design, SetSpeed: speed,
			Seconds: math.Round(10*a.Whole) / 10, Step: 0.1, Job: a.Job.Kinds, Note: "heard"})
	}
	for _, v := range h.Held {
		out = append(out, learn.Observation{Kind: learn.DisplayReading, SetSpeed: speed, Shown: math.Round(v.Speed*10) / 10,
			LengthMM: v.LengthMM, Zigzag: v.Zigzag, Error: math.Ceil(v.Error*100) / 100, Job: a.Job.Kinds, Note: "heard"})
	}
	return out
}

// RestTable is what each rest took.
func (a *ListenAnswer) RestTable() *Table {
	t := table("rests", words.Say("listen.rests"),
		column("kind", "listen.kind"), number("start_s", "listen.start"), number("end_s", "listen.end"),
		number("seconds", "listen.seconds"), number("again", "listen.again"), number("again_within", "listen.again-within"))
	for _, e := range a.Events {
		var again, within words.Value = words.None{}, words.None{}
		if e.Kind == sound.Break.String() || e.Kind == sound.Pause.String() {
			again, within = words.Whole(e.Again), words.Whole(e.Within)
		}
		t.add(words.Say("listen.kinds."+e.Kind), words.Fixed(e.Start, 2), words.Fixed(e.End, 2), words.Fixed(e.End-e.Start, 2), again, within)
	}
	return t
}

// RunTable is the stretches of sewing.
func (a *ListenAnswer) RunTable() *Table {
	t := table("runs", words.Say("listen.runs"),
		number("start_s", "listen.start"), number("end_s", "listen.end"), number("stitches", "listen.stitches"),
		number("counted", "listen.counted"), number("within", "listen.within"), number("speed", "listen.speed"))
	for _, r := range a.Runs {
		t.add(words.Fixed(r.Start, 2), words.Fixed(r.End, 2), words.Whole(r.Stitches), words.Whole(r.Counted),
			words.Whole(r.Within), words.Fixed(r.Speed, 0))
	}
	return t
}
