package ask

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/trial"
	"needlepace/words"
)

// OpenCallQuestion asks what came to an open call, and what it says of the classes.
type OpenCallQuestion struct {
	Name  string        // of the call's file, in errors
	TOML  []byte        // the file (docs/trials.md)
	Came  []trial.Given // what came, unpacked
	Level float64       // chance that an interval holds the truth; 0: DefaultLevel
	Heard Hearing       // remembers recordings; nil: each is heard anew
	Last  words.Day     // the last day that it may be (trial.LastDay): later ones are asked about; zero: none is
}

// OpenCallAnswer is an open call. Its JSON is a written contract: later versions add keys
// and never change one. Nothing that anybody wrote freely is in it but in OpenCallApart.Why.
type OpenCallAnswer struct {
	Call     string          `json:"call"`
	Invented bool            `json:"invented" doc:"an example"`
	Level    float64         `json:"level"`
	Design   string          `json:"design"`
	Digest   string          `json:"digest" doc:"of what the design sews, whatever the format"`
	Stitches int             `json:"stitches"`
	Classes  []CalledClass   `json:"classes" doc:"that something came of"`
	Used     []CalledEntry   `json:"entries_used"`
	Apart    []OpenCallApart `json:"entries_apart" doc:"kept apart, each with why"`
	Said     []words.Plain   `json:"said" doc:"what was wrong with what came"`
	Dangers  []words.Plain   `json:"dangers" doc:"what of the design may break a needle or strike: put right before anyone sews it"`
	Verdict  words.Sentences `json:"verdict"`
	Caveats  words.Sentences `json:"caveats"`

	File    *trial.OpenCall `json:"-"`
	TOML    []byte          `json:"-"`
	Version string          `json:"-"` // digest of the file
	Of      *Design         `json:"-"`
}

// CalledClass is what came of one class of machines.
type CalledClass struct {
	Class         string  `json:"class"`
	Entries       int     `json:"entries"`
	Speed         float64 `json:"set_speed" doc:"the middle one, stitches/min"`
	Seconds       float64 `json:"seconds" doc:"the middle one"`
	Least         float64 `json:"least"`
	Most          float64 `json:"most"`
	Predicted     float64 `json:"predicted_seconds" doc:"at the speeds that were set, the middle one"`
	PredictedLow  float64 `json:"predicted_low"`
	PredictedHigh float64 `json:"predicted_high"`
	Off           float64 `json:"measured_over_predicted" doc:"geometric mean over the entries"`
	OffLow        float64 `json:"off_low" doc:"0: one entry alone says nothing of it"`
	OffHigh       float64 `json:"off_high"`
	Spread        float64 `json:"spread" doc:"standard deviation from entry to entry of measured over predicted, relative; 0: one entry"`
	Inside        int     `json:"inside" doc:"entries whose time lies in what was predicted for them"`
}

// CalledEntry is an entry that is used.
type CalledEntry struct {
	Class     string  `json:"class"`
	Rated     float64 `json:"rated_speed" doc:"stitches/min"`
	Speed     float64 `json:"set_speed" doc:"stitches/min"`
	Seconds   float64 `json:"seconds"`
	Predicted float64 `json:"predicted_seconds"`
	Low       float64 `json:"predicted_low"`
	High      float64 `json:"predicted_high"`
	Heard     bool    `json:"heard" doc:"its time is from a recording"`
	File      string  `json:"file"`
}

// OpenCallApart is an entry that is not used.
type OpenCallApart struct {
	Class   string      `json:"class"`
	Speed   float64     `json:"set_speed"`
	Seconds float64     `json:"seconds"`
	Why     words.Plain `json:"why"`
	Offer   float64     `json:"offer_seconds,omitempty" doc:"what it may have been meant as"`
	File    string      `json:"file"`
}

// OpenCall answers what came to an open call. An *Error says what is wrong with the
// question.
func OpenCall(ctx context.Context, q OpenCallQuestion, from floor.Sources) (*OpenCallAnswer, error) {
	if q.Level == 0 {
		q.Level = DefaultLevel
	}
	if !(q.Level >= 0.5 && q.Level <= 0.999) {
		return nil, Errorf("an interval of %v; give 0.5 to 0.999", q.Level)
	}
	f, err := trial.ParseOpenCall(q.Name, q.TOML)
	if err != nil {
		return nil, wrong(err)
	}
	of, err := from.Design(f.Designs[0].File)
	if err != nil {
		return nil, Errorf("design %s of the call: %w", f.Designs[0].Name, err)
	}
	sum := sha256.Sum256(q.TOML)
	a := &OpenCallAnswer{Call: f.Name, Invented: f.Invented, Level: q.Level, Design: f.Designs[0].Name, Digest: trial.Digest(of), File: f, TOML: q.TOML,
		Version: hex.EncodeToString(sum[:])[:8], Of: NewDesign(of, f.Designs[0].File, f.Designs[0].Name),
		Classes: []CalledClass{}, Used: []CalledEntry{}, Apart: []OpenCallApart{}, Said: []words.Plain{}, Dangers: []words.Plain{}, Verdict: words.Sentences{}, Caveats: words.Sentences{}}
	if a.Stitches = a.Of.Counts.Stitches; a.Stitches == 0 {
		return nil, Errorf("design %s of the call sews no stitch", a.Design)
	}
	dangers, err := dangersOf(ctx, a.Of, machine.Classes(), func(k int) float64 { return machine.Classes()[k].MaxSpeed })
	if err != nil {
		return nil, Errorf("design %s of the call: %w", a.Design, err)
	}
	a.Dangers = append(a.Dangers, dangers...)
	clocks := map[string]*ClockAnswer{}
	predict := func(class *machine.Sheet, rated, speed float64) (*ClockAnswer, error) {
		key := fmt.Sprint(class.Name, rated, speed)
		if c := clocks[key]; c != nil {
			return c, nil
		}
		c, err := Clock(ctx, Given{Stitches: a.Of, On: ratedAt(class, rated)}, ClockQuestion{Job: Job{Speed: speed}, Level: q.Level})
		clocks[key] = c
		return c, err
	}
	r := trial.ReadEntries(f, trial.CallFrom{Digest: a.Digest, Design: a.Design,
		Expect: func(class *machine.Sheet, rated, speed float64) (trial.Expected, error) {
			c, err := predict(class, rated, speed)
			if err != nil {
				return trial.Expected{}, err
			}
			return trial.Expected{Seconds: c.Seconds, Least: float64(a.Stitches) / speed * 60, Stitches: a.Stitches, Digest: a.Digest}, nil
		},
		Hear: func(g trial.Given, class *machine.Sheet, rated, speed float64) (float64, error) {
			return q.Heard.of(g.Bytes, fmt.Sprint(a.Digest, class.Name, rated, speed), func() (float64, error) {
				return heardRun(ctx, g.Bytes, a.Of, ratedAt(class, rated), Job{Speed: speed})
			})
		}}, q.Came)
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	r.ToCome(q.Last)
	a.Said = plainly(r.Said)
	for _, x := range r.All {
		if !x.Apart.IsZero() {
			a.Apart = append(a.Apart, OpenCallApart{x.Class, x.Speed, x.Seconds, words.Plain(x.Apart), x.Offer, x.File.Raw()})
			continue
		}
		class, _ := machine.Class(x.Class)
		c, err := predict(class, x.Rated, x.Speed)
		if err != nil {
			return nil, err
		}
		a.Used = append(a.Used, CalledEntry{x.Class, x.Rated, x.Speed, x.Seconds, c.Seconds, c.Interval.Low, c.Interval.High, x.Record != "", x.File.Raw()})
	}
	a.byClass()
	a.say()
	return a, nil
}

// ratedAt is a class as a machine of it that is rated for a speed.
func ratedAt(class *machine.Sheet, rated float64) *machine.Sheet {
	s := class.Clone()
	s.MaxSpeed = rated
	return s
}

// byClass puts the entries of each class together. How far the class is off is the mean
// of the logarithms of measured over predicted, with Student's t for its interval.
func (a *OpenCallAnswer) byClass() {
	for _, class := range machine.Classes() {
		c := CalledClass{Class: class.Name}
		var speeds, seconds, predicted, low, high, logs []float64
		for _, x := range a.Used {
			if x.Class != class.Name {
				continue
			}
			speeds, seconds, predicted = append(speeds, x.Speed), append(seconds, x.Seconds), append(predicted, x.Predicted)
			low, high = append(low, x.Low), append(high, x.High)
			logs = append(logs, math.Log(x.Seconds/x.Predicted))
			if x.Seconds >= x.Low && x.Seconds <= x.High {
				c.Inside++
			}
		}
		n := len(logs)
		if n == 0 {
			continue
		}
		c.Entries, c.Speed, c.Seconds = n, median(speeds), median(seconds)
		c.Least, c.Most = slices.Min(seconds), slices.Max(seconds)
		c.Predicted, c.PredictedLow, c.PredictedHigh = median(predicted), median(low), median(high)
		mean := stat.Mean(logs, nil)
		c.Off = math.Exp(mean)
		if n > 1 {
			sd := stat.StdDev(logs, nil)
			t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile(1 - (1-a.Level)/2)
			half := t * sd / math.Sqrt(float64(n))
			c.Spread, c.OffLow, c.OffHigh = sd, math.Exp(mean-half), math.Exp(mean+half)
		}
		a.Classes = append(a.Classes, c)
	}
}

// median is the middle one, or the mean of the two in the middle.
func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

func (a *OpenCallAnswer) say() {
	if a.Invented {
		a.Caveats.Say("trial.invented")
	}
	if len(a.Used) == 0 {
		a.Verdict.Say("call.none-yet", words.Args{"design": words.Name(a.Design), "stitches": words.Count(a.Stitches, "stitch")})
	} else {
		a.Verdict.Say("call.came", words.Args{"entries": words.Count(len(a.Used), "entry"), "classes": words.Count(len(a.Classes), "class")})
	}
	for _, c := range a.Classes {
		class, by, entries := classSays(c.Class), words.Share(math.Abs(c.Off-1)), words.Count(c.Entries, "entry")
		low, high := words.Fixed(c.OffLow, 2), words.Fixed(c.OffHigh, 2)
		switch {
		case c.Entries == 1:
			a.Verdict.Say("call.one", words.Args{"class": class})
		case c.OffLow > 1:
			a.Verdict.Say("call.slower", words.Args{"class": class, "by": by, "entries": entries, "low": low, "high": high})
		case c.OffHigh < 1:
			a.Verdict.Say("call.faster", words.Args{"class": class, "by": by, "entries": entries, "low": low, "high": high})
		default:
			a.Verdict.Say("call.as-said", words.Args{"class": class, "entries": entries, "low": low, "high": high})
		}
	}
	if len(a.Apart) > 0 {
		a.Caveats.Say("call.apart", words.Args{"entries": words.Count(len(a.Apart), "entry")})
	}
	if len(a.Used) > 0 {
		a.Caveats.Say("call.who-sends")
	}
}

// ClassTable is a row for each class that something came of.
func (a *OpenCallAnswer) ClassTable() *Table { return a.classTable(1) }

// EntryTable is a row for each entry that is used.
func (a *OpenCallAnswer) EntryTable() *Table {
	t := table("entries", words.Say("call.used"), column("class", "call.class"), number("rated_speed", "call.rated"), number("set_speed", "trial.speed"),
		number("seconds", "trial.measured"), number("predicted_seconds", "trial.predicted"), column("file", "clock.file"))
	for _, x := range a.Used {
		t.add(classSays(x.Class), words.PerMinute(x.Rated), words.PerMinute(x.Speed), words.Seconds(x.Seconds), words.Seconds(x.Predicted), words.Name(x.File))
	}
	return t
}

// ApartTable is a row for each entry that is kept apart.
func (a *OpenCallAnswer) ApartTable() *Table {
	t := table("apart", words.Say("call.kept-apart"), column("class", "call.class"), number("set_speed", "trial.speed"), number("seconds", "trial.measured"),
		column("why", "trial.why"), column("file", "clock.file"))
	for _, x := range a.Apart {
		var speed, took words.Value // nothing where they could not be read
		if x.Speed > 0 {
			speed = words.PerMinute(x.Speed)
		}
		if x.Seconds > 0 {
			took = words.Seconds(x.Seconds)
		}
		t.add(classSays(x.Class), speed, took, x.Why, words.Name(x.File))
	}
	return t
}

// ExpectTable is a row for each class: what the design should take there at the speed it
// is rated for, as the sheet of the class has it.
func (a *OpenCallAnswer) ExpectTable(ctx context.Context) (*Table, error) {
	t := table("expected", words.Say("call.expected"), column("class", "call.class"), number("rated_speed", "call.rated"), number("expected_seconds", "trial.expected"),
		number("low", "trial.low"), number("high", "trial.high"))
	for _, class := range machine.Classes() {
		c, err := Clock(ctx, Given{Stitches: a.Of, On: class}, ClockQuestion{Level: a.Level})
		if err != nil {
			return nil, err
		}
		t.add(classSays(class.Name), words.PerMinute(class.MaxSpeed), words.Seconds(c.Seconds), words.Seconds(c.Interval.Low), words.Seconds(c.Interval.High))
	}
	return t, nil
}

// CalledRow is one entry as a sheet of the call has it: what a page sends.
type CalledRow struct {
	Class            string
	Rated, Speed     float64 // stitches/min
	Time, Stood      string  // as people write times
	Day              string  // 2026-02-03
	Digest           string  // of what was sewn; empty: the call's
	Photo, Recording string  // names of files beside the sheet
}

// CalledSheet writes entries as the sheet of an open call.
func CalledSheet(w io.Writer, call, digest string, rows ...CalledRow) error {
	out := [][]string{trial.EntryColumns}
	speed := func(v float64) string {
		if v == 0 {
			return ""
		}
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	for _, r := range rows {
		out = append(out, quotable([]string{call, cmp.Or(r.Digest, digest), r.Class, speed(r.Rated), speed(r.Speed), r.Time, r.Stood, r.Day, r.Photo, r.Recording}))
	}
	return csv.NewWriter(w).WriteAll(out)
}
