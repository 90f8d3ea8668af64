package ask

import (
	"context"
	"errors"
	"math"
	"slices"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/words"
)

// LearnFrom is what a machine's sheet is learned from.
type LearnFrom interface {
	// Timings gives the sheet to start from, what was seen on the machine, and
	// what is odd about the rows it was read from.
	Timings(ctx context.Context, machine string) (prior *machine.Sheet, seen []learn.Observation, odd []learn.Problem,
		err error)
}

// LearnQuestion asks what timed runs tell about a machine.
type LearnQuestion struct {
	Machine string // by the asker's name for it
	Sample  bool   // draw machines on whole designs even where that takes long
	// Meant are the keys of slips (LearnSlip.Key) that are ones: their rows are
	// read as they were meant.
	Meant []string
	// Since, where it is a day, leaves out what was seen before it and what has no
	// date: the machine changed then.
	Since words.Day
}

// LearnAnswer is what timed runs tell about a machine. Its JSON is a written
// contract: later versions add keys and never change one.
type LearnAnswer struct {
	Machine   string             `json:"machine"`
	Verdict   words.Sentences    `json:"verdict"`
	Caveats   words.Sentences    `json:"caveats"`
	Used      int                `json:"used" doc:"rows learned from"`
	SetAside  int                `json:"set_aside" doc:"rows set aside as slips"`
	Since     words.Day          `json:"since" doc:"rows before it were left out, as was asked; empty: none"`
	Earlier   int                `json:"before_since" doc:"how many rows were left out so"`
	Doubtful  bool               `json:"doubtful" doc:"more rows were set aside than used: this is no sheet of the machine"`
	Learned   float64            `json:"learned" doc:"independent things determined"`
	OnlyPace  bool               `json:"only_pace" doc:"one timing: only the overall pace was learned"`
	Pace      float64            `json:"pace" doc:"with only_pace: new time over old"`
	Misfit    float64            `json:"misfit" doc:"relative"`
	Fits      learn.Fits         `json:"fits" doc:"how well the sheet fits the machine: fits, within, not, changed, too few"`
	Within    float64            `json:"within" doc:"run times lie this near the predicted 9 times in 10, relative"`
	Elsewhere float64            `json:"elsewhere" doc:"the same for sewing of every sort, timed or not, each sort alone"`
	Changes   float64            `json:"changes" doc:"from one colour change or stop to the next, relative standard deviation"`
	Frame     float64            `json:"frame" doc:"of the frame's acceleration from run to run, relative standard deviation"`
	WarmUp    float64            `json:"warm_up" doc:"seconds that a timed run loses by a slow start; the sheet has them as [slow]"`
	Kinds     []LearnKind        `json:"kinds" doc:"the kinds of machine that the rows speak for, the likeliest first"`
	Constants []LearnConstant    `json:"constants"`
	Held      []string           `json:"held"`
	Rows      []LearnRow         `json:"rows"`
	LeaveOut  learn.LeaveOneOut  `json:"leave_one_out"`
	Check     LearnCheck         `json:"check"`
	Drift     *LearnDrift        `json:"drift"`
	Next      []learn.Suggestion `json:"next" doc:"what to time next, most telling first"`
	Warnings  []string           `json:"warnings"`
	Slips     []LearnSlip        `json:"slips" doc:"what may have been meant otherwise: questions to who wrote the rows"`
	AsMeant   []LearnSlip        `json:"as_meant" doc:"slips that were accepted: their rows are read as meant"`

	Before *machine.Sheet  `json:"-"`
	Result *learn.Result   `json:"-"`
	Odd    []learn.Problem `json:"-"` // all warnings
}

// LearnKind is a kind of machine: the law of the sheet with terms.
type LearnKind struct {
	Terms  []string `json:"terms" doc:"what it does beside the sheet's own law; none: that law alone"`
	Weight float64  `json:"weight" doc:"how strongly it is believed, 0 to 1"`
}

// LearnConstant is a constant before and after.
type LearnConstant struct {
	Path   string  `json:"path"`
	Unit   string  `json:"unit"`
	Before float64 `json:"before"`
	SDOld  float64 `json:"sd_before" doc:"relative"`
	Value  float64 `json:"value"`
	SD     float64 `json:"sd" doc:"relative"`
	Reach  string  `json:"reach"`
}

// LearnRow is a timing against the learned sheet.
type LearnRow struct {
	Row       int     `json:"row"`
	Kind      string  `json:"kind"`
	What      string  `json:"what"`
	Design    string  `json:"design"`
	Block     int     `json:"block" doc:"0: the whole"`
	SetSpeed  float64 `json:"set_speed"`
	Read      float64 `json:"read" doc:"s, or stitches/min off the display"`
	Predicted float64 `json:"predicted" doc:"in the same unit"`
	SD        float64 `json:"sd" doc:"in the same unit"`
	LeftOut   float64 `json:"left_out" doc:"predicted by the others alone"`
	Paused    float64 `json:"paused" doc:"chance of an unnoticed interruption"`
	Slip      float64 `json:"slip" doc:"chance of a slip of the pen"`
	SetAside  bool    `json:"set_aside"`
	Suspect   string  `json:"suspect" doc:"a sentence where something is suspicious"`
	Run       string  `json:"run" doc:"the ID of the shop's run; empty where the row is a file's"`
}

// LearnSlip is a mistake in writing that explains rows better than the machine
// does. It is asked, never corrected unasked.
type LearnSlip struct {
	Key      string         `json:"key" doc:"what accepts it"`
	Kind     learn.SlipKind `json:"kind" doc:"laps, unit, digits, misread, design, exchanged or needles"`
	Question string         `json:"question"`
	Odds     float64        `json:"log_odds" doc:"natural logarithm of the odds of meant so against as written"`
	Rows     []LearnMeant   `json:"rows"`

	Slip *learn.Slip `json:"-"`
}

// LearnMeant is a row as it was written and as it may have been meant.
type LearnMeant struct {
	Row      int     `json:"row"`
	Written  float64 `json:"written" doc:"s"`
	Meant    float64 `json:"meant" doc:"s"`
	Design   string  `json:"design" doc:"as meant"`
	Block    int     `json:"block" doc:"as meant; 0: the whole"`
	Needles  string  `json:"needles" doc:"as meant"`
	With     string  `json:"with" doc:"as meant: what a block's time holds beside it, or the part it is of"`
	LeaveOut bool    `json:"leave_out" doc:"what was meant cannot be told: the row is kept and not learned from"`
	NoteThen string  `json:"note" doc:"the row's note then, with what was written"`
}

// LearnCheck is how the spreads were checked.
type LearnCheck struct {
	Draws     int     `json:"draws"`
	Effective float64 `json:"effective"`
	Replaced  bool    `json:"replaced"`
	Thinned   bool    `json:"thinned"`
	Note      string  `json:"note"`
}

// LearnDrift is that the machine changed between the timings.
type LearnDrift struct {
	Since    words.Day       `json:"since"`
	Change   float64         `json:"change" doc:"of the times of the runs since then, relative"`
	Low      float64         `json:"low" doc:"of change, to high: 90 %"`
	High     float64         `json:"high"`
	Sentence string          `json:"sentence"`
	Kind     learn.DriftKind `json:"kind" doc:"what changed: trims, colours, speed, frame, or pace (all of it, or it cannot be told)"`
	By       float64         `json:"by" doc:"by how much: s a trim or colour change; else relative (speed, frame: below 0 is slower; pace: above 0 is slower)"`
	ByLow    float64         `json:"by_low" doc:"to by_high: 90 %"`
	ByHigh   float64         `json:"by_high"`
	Old      int             `json:"runs_before"`
	New      int             `json:"runs_since"`
	Chance   float64         `json:"chance" doc:"that it changed, all dates and kinds that were looked at allowed for"`
	Surely   float64         `json:"kind_chance" doc:"that it is this kind, if it changed"`

	Says words.Sentences `json:"-"`
}

func driftOf(d *learn.Drift) *LearnDrift {
	if d == nil {
		return nil
	}
	says := d.Says()
	return &LearnDrift{d.Since, d.Change, d.ChangeLow, d.ChangeHigh, says.Text(nil), d.Kind, d.By, d.Low, d.High, d.Old,
		d.New, d.Chance, d.Surely, says}
}

// Learn answers what timed runs tell about a machine. Where nothing could be
// learned, the answer has what is odd about the rows beside the error.
func Learn(ctx context.Context, from LearnFrom, q LearnQuestion) (*LearnAnswer, error) {
	prior, seen, odd, err := from.Timings(ctx, q.Machine)
	if err != nil {
		return nil, err
	}
	all := len(seen)
	if !q.Since.IsZero() {
		seen = slices.DeleteFunc(slices.Clone(seen), func(o learn.Observation) bool { return o.Date.Before(q.Since) })
		if len(seen) == 0 {
			return nil, Errorf("nothing that was timed is dated %s or later", q.Since).At("since")
		}
	}
	// Oldest first, as a shop has them: the order is felt in the draws.
	seen = slices.SortedStableFunc(slices.Values(seen), func(a, b learn.Observation) int { return a.Date.Compare(b.Date) })
	opt := learn.Options{Meant: q.Meant}
	if q.Sample {
		opt.Budget = math.MaxInt
	}
	r, err := fit(ctx, prior, seen, opt)
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	a := &LearnAnswer{Before: prior, Odd: odd, Since: q.Since, Earlier: all - len(seen)}
	if r != nil {
		a.Odd = append(a.Odd, r.Warnings...)
		a.Slips, a.AsMeant = slipsOf(r.Slips), slipsOf(r.Meant)
	}
	if none := (*learn.NotOffered)(nil); errors.As(err, &none) {
		return a, Errorf("%w", err).At("meant")
	}
	if err != nil {
		return a, Errorf("nothing could be learned: %w", err)
	}
	a.fill(r)
	a.say()
	return a, nil
}

func slipsOf(all []learn.Slip) []LearnSlip {
	out := []LearnSlip{}
	for i := range all {
		s := &all[i]
		l := LearnSlip{Key: s.Key, Kind: s.Kind, Question: s.Asks().Text(nil), Odds: s.Odds, Slip: s}
		for k := range s.Meant {
			m := &s.Meant[k]
			l.Rows = append(l.Rows, LearnMeant{m.Row, s.Written[k].Seconds, m.Seconds, m.Name, m.Block,
				m.Needles.String(), m.Holds(), m.Ignored, m.Note})
		}
		out = append(out, l)
	}
	return out
}

func (a *LearnAnswer) fill(r *learn.Result) {
	a.Result, a.Machine = r, r.Sheet.Name
	a.Used, a.SetAside, a.Doubtful, a.Learned = r.Used, r.Set, r.Set >= r.Used, r.Learned
	a.OnlyPace, a.Pace, a.Misfit = r.OnlyPace, r.Pace, r.Misfit
	a.Constants, a.Held, a.Rows = []LearnConstant{}, append([]string{}, r.Held...), []LearnRow{}
	a.Next, a.Warnings = append([]learn.Suggestion{}, r.Next...), []string{}
	a.LeaveOut, a.Fits, a.Within, a.Kinds = r.LeaveOut, r.Verdict.Fits, r.Verdict.Within, []LearnKind{}
	a.Elsewhere, a.Changes, a.Frame, a.WarmUp = r.Verdict.Elsewhere, r.Sheet.Fit.Changes, r.Frame, r.WarmUp
	for _, b := range r.Families {
		if b.Weight >= leastBelieved || len(a.Kinds) == 0 {
			a.Kinds = append(a.Kinds, LearnKind{append([]string{}, b.Terms...), b.Weight})
		}
	}
	a.Check = LearnCheck{r.Check.Draws, r.Check.Effective, r.Check.Replaced, r.Check.Thinned, r.Check.Note}
	for _, k := range r.Constants {
		a.Constants = append(a.Constants, LearnConstant{k.Path, k.Unit, k.Prior, k.PriorSD, k.Value, k.SD,
			k.Reach.String()})
	}
	for i := range r.Runs {
		x := &r.Runs[i]
		row := LearnRow{x.Row, x.Kind.String(), x.What(), x.Name, x.Block, x.SetSpeed, x.Seconds, x.Predicted, x.SD,
			x.LeftOut, x.Paused, x.Slip, x.Aside, x.Suspect, ""}
		if x.Kind == learn.DisplayReading {
			row.Read = x.Shown
		}
		a.Rows = append(a.Rows, row)
	}
	a.Drift = driftOf(r.Drift)
	for _, p := range a.Odd {
		a.Warnings = append(a.Warnings, p.String())
	}
}

// likelier is how strongly a kind of machine must be believed to be said in words.
const likelier = 0.5

// leastBelieved is how strongly a kind of machine must be believed to be named.
const leastBelieved = 0.05

// fewRows is up to how many rows an answer says how little that is.
const fewRows = 3

// say puts the answer into sentences.
func (a *LearnAnswer) say() {
	rows, constants := words.Count(a.Used, "row"), words.Count(len(a.Constants), "constant")
	a.Caveats = words.Sentences{}
	if a.Earlier > 0 {
		a.Caveats.Say("learn.since", words.Args{"since": a.Since, "rows": words.Count(a.Earlier, "row")})
	}
	switch {
	case a.Doubtful:
		a.Verdict = words.Sentences{words.Say("learn.doubtful", words.Args{"aside": words.Whole(a.SetAside),
			"rows": words.Count(a.SetAside+a.Used, "row")})}
	case a.OnlyPace:
		a.Verdict = words.Sentences{words.Say("learn.pace", words.Args{"share": words.Share(a.Pace)})}
	default:
		a.Verdict = append(a.fits(), words.Say("learn.determined", words.Args{"rows": rows, "constants": constants,
			"things": words.Whole(int(math.Round(math.Max(a.Learned, 1))))}))
	}
	if l := a.LeaveOut; l.Runs > 1 {
		a.Verdict.Say("learn.leave-out", words.Args{"median": words.Share(l.Median),
			"rms": words.Share(l.RMS), "inside": words.Whole(l.Held), "rows": words.Count(l.Runs, "row")})
		if l.Apart > 0 {
			a.Verdict.Say("learn.leave-out-apart", words.Args{"rows": words.Count(l.Apart, "row")})
		}
	}
	if v := a.Result.Verdict; v.Between > 0 && !a.OnlyPace && !a.Doubtful && a.Fits != learn.FitsOpen {
		a.Caveats.Say("learn.between-not-timed", words.Args{"speed": words.PerMinute(v.Between)})
	}
	if !a.OnlyPace && !a.Doubtful && a.Learned < teachesPace {
		a.Caveats.Say("learn.little")
	}
	if a.Used <= fewRows && !a.OnlyPace && !a.Doubtful {
		same := 0
		for _, k := range a.Result.Constants {
			if k.Reach == learn.NotLearned {
				same++
			}
		}
		a.Caveats.Say("learn.few", words.Args{"rows": rows, "constants": constants, "same": words.Whole(same)})
	}
}

// frameSaid is from where it is said that the frame differs from run to run.
const frameSaid = 0.04

// fits says how well the learned sheet fits the machine, and what kind of machine
// the rows speak for.
func (a *LearnAnswer) fits() words.Sentences {
	out := a.fitsWithin()
	if k := a.Kinds[0]; len(k.Terms) > 0 && k.Weight >= likelier {
		var terms words.List
		for _, t := range k.Terms {
			terms = append(terms, words.Say("term."+t))
		}
		out.Say("learn.kind", words.Args{"terms": terms, "share": words.Share(k.Weight)})
	}
	return out
}

func (a *LearnAnswer) fitsWithin() words.Sentences {
	within := words.Share(a.Within)
	switch a.Fits {
	case learn.FitsWell:
		return words.Sentences{words.Say("learn.fits", words.Args{"within": within})}
	case learn.FitsWithin:
		return words.Sentences{words.Say("learn.fits-within", words.Args{"within": within})}
	case learn.FitsChanged:
		return words.Sentences{words.Say("learn.fits-changed")}
	case learn.FitsOpen:
		return words.Sentences{words.Say("learn.fits-open", words.Args{"rows": words.Count(a.Used, "row"),
			"within": within})}
	}
	out := words.Sentences{words.Say("learn.fits-not", words.Args{"within": words.Share(max(a.Within, a.Elsewhere))})}
	if a.Frame > frameSaid {
		out.Say("learn.frame-of-run", words.Args{"by": words.Share(a.Frame)})
	}
	if a.Result.Verdict.Tires {
		out.Say("learn.tires")
	}
	if v := a.Result.Verdict; v.Begins && v.Elsewhere > v.Within {
		out.Say("learn.begins-not-timed", words.Args{"by": words.Share(v.Elsewhere)})
	}
	if v := a.Result.Verdict; v.Turns && v.Elsewhere > v.Within {
		out.Say("learn.turns-not-timed", words.Args{"by": words.Share(v.Elsewhere)})
	}
	if v := a.Result.Verdict; v.Short && v.Elsewhere > v.Within {
		out.Say("learn.short-not-timed", words.Args{"by": words.Share(v.Elsewhere)})
	}
	if len(a.Next) > 0 {
		out.Say("learn.fits-not-next", words.Args{"next": words.Name(a.Next[0].What)})
	}
	return out
}
