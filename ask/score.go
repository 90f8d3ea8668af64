package ask

import (
	"context"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/words"
)

// ScoreFrom is where a question about a machine's score finds its runs.
type ScoreFrom interface {
	// Foretold gives a machine's whole runs that may be learned from, oldest first,
	// and the history of its sheets, newest first.
	Foretold(ctx context.Context, machine string) (*Foretold, error)
}

// Foretold is what a machine's score is made from.
type Foretold struct {
	Machine string // its name
	Runs    []ForetoldRun
	Sheets  []ForetoldSheet // newest first
}

// ForetoldRun is a whole run; Version is 0 where no prediction was kept with it.
type ForetoldRun struct {
	ID      string
	Name    string // of the design
	Version int    // of the sheet that predicted it
	learn.Foretold
}

// ForetoldSheet is a version of a machine's sheet.
type ForetoldSheet struct {
	Version int
	Made    words.Day
	Sheet   *machine.Sheet
}

// scoreLast is how many of the latest runs judge a sheet: what was right last
// year and is wrong now must be seen.
const scoreLast = 20

// ScoreAnswer is how good the clock's predictions have been on a machine. Its
// JSON is a written contract: later versions add keys and never change one.
type ScoreAnswer struct {
	Machine     string          `json:"machine"`
	Version     int             `json:"version" doc:"of the machine's sheet now"`
	Verdict     words.Sentences `json:"verdict"`
	Caveats     words.Sentences `json:"caveats"`
	Last        ScoreFigures    `json:"last" doc:"the last 20 runs that the sheet of now predicted"`
	Sheets      []SheetScore    `json:"sheets" doc:"all runs by the sheet that predicted them, newest first"`
	Unpredicted int             `json:"unpredicted" doc:"whole runs without a kept prediction: they do not count"`
	Runs        []ScoredRun     `json:"runs" doc:"every run with a prediction, oldest first"`

	biased bool // Last is off by more than chance, and by enough to matter
}

// ScoreFigures are the figures of a score. Relative to the prediction; above 0
// the runs took longer.
type ScoreFigures struct {
	Runs       int       `json:"runs"`
	Designs    int       `json:"designs"`
	Apart      int       `json:"apart" doc:"runs that stand apart from the others (an interruption, a slip): they do not count"`
	Since      words.Day `json:"since" doc:"day of the first run; empty: none"`
	Few        bool      `json:"few" doc:"too few runs to judge by"`
	Bias       float64   `json:"bias" doc:"relative; above 0 the runs took longer than predicted"`
	BiasLow    float64   `json:"bias_low" doc:"to bias_high: 90 %"`
	BiasHigh   float64   `json:"bias_high"`
	BiasChance float64   `json:"bias_chance" doc:"that chance alone gives a bias as large (Student's t)"`
	Inside     int       `json:"inside" doc:"runs in their 90 % interval, the reading's error allowed for"`
	InsideLow  float64   `json:"inside_low" doc:"share, to inside_high: 90 %"`
	InsideHigh float64   `json:"inside_high"`
	TooFew     float64   `json:"too_few" doc:"that chance alone leaves so few inside (binomial)"`
}

// SheetScore is the score of one sheet.
type SheetScore struct {
	Version int       `json:"version" doc:"the newest with these numbers"`
	Made    words.Day `json:"made"`
	ScoreFigures
}

// ScoredRun is a run against what was predicted before it.
type ScoredRun struct {
	Run       string    `json:"run" doc:"ID"`
	Date      words.Day `json:"date"`
	Design    string    `json:"design"`
	SetSpeed  float64   `json:"set_speed"`
	Read      float64   `json:"read" doc:"s"`
	Predicted float64   `json:"predicted" doc:"s"`
	Low       float64   `json:"low" doc:"s"`
	High      float64   `json:"high" doc:"s"`
	Version   int       `json:"version" doc:"of the sheet that predicted it"`
	Off       float64   `json:"off" doc:"relative: read over predicted, less 1"`
	Inside    bool      `json:"inside"`
	Apart     bool      `json:"apart" doc:"it stands apart from the other runs of its sheet and does not count"`
}

// Score answers how good the clock's predictions have been on a machine: each
// whole run is held against what the sheet before it said.
func Score(ctx context.Context, from ScoreFrom, machine string) (*ScoreAnswer, error) {
	f, err := from.Foretold(ctx, machine)
	if err != nil {
		return nil, err
	}
	a := &ScoreAnswer{Machine: f.Machine, Sheets: []SheetScore{}, Runs: []ScoredRun{}, Verdict: words.Sentences{},
		Caveats: words.Sentences{}}
	// Versions that only say other names or spreads are one sheet.
	key := map[int]string{}
	var order []ForetoldSheet
	seen := map[string]bool{}
	for _, s := range f.Sheets {
		k := Timing(s.Sheet)
		if key[s.Version] = k; !seen[k] {
			seen[k] = true
			order = append(order, s)
		}
	}
	by := map[string][]int{}
	for i := range f.Runs {
		if r := &f.Runs[i]; key[r.Version] == "" {
			a.Unpredicted++
		} else {
			by[key[r.Version]] = append(by[key[r.Version]], i)
		}
	}
	apart := map[int]bool{}
	for _, s := range order {
		if at := by[key[s.Version]]; len(at) > 0 {
			sc, counted := f.score(at)
			for k, i := range at {
				apart[i] = !counted[k]
			}
			a.Sheets = append(a.Sheets, SheetScore{s.Version, s.Made, f.figures(sc, at)})
		}
	}
	for i := range f.Runs {
		r := &f.Runs[i]
		if key[r.Version] != "" {
			a.Runs = append(a.Runs, ScoredRun{r.ID, r.Date, r.Name, r.SetSpeed, r.Seconds, r.Predicted, r.Low, r.High,
				r.Version, r.Seconds/r.Predicted - 1, r.Inside(), apart[i]})
		}
	}
	learned := false
	if len(f.Sheets) > 0 {
		a.Version, learned = f.Sheets[0].Version, f.Sheets[0].Sheet.Fit != nil
	}
	last := by[key[a.Version]]
	last = last[max(0, len(last)-scoreLast):]
	sc, _ := f.score(last)
	a.Last, a.biased = f.figures(sc, last), sc.Biased()
	a.say(&sc, learned)
	return a, nil
}

// score scores the runs at these places.
func (f *Foretold) score(at []int) (learn.Score, []bool) {
	runs := make([]learn.Foretold, len(at))
	for k, i := range at {
		runs[k] = f.Runs[i].Foretold
	}
	return learn.ScoreOf(runs)
}

func (f *Foretold) figures(s learn.Score, at []int) ScoreFigures {
	out := ScoreFigures{Runs: s.Runs, Designs: s.Designs, Apart: s.Apart, Few: s.Few(), Bias: s.Bias, BiasLow: s.Low,
		BiasHigh: s.High, BiasChance: s.BiasChance, Inside: s.Inside, InsideLow: s.InsideLow, InsideHigh: s.InsideHigh,
		TooFew: s.TooFew}
	if len(at) > 0 {
		out.Since = f.Runs[at[0]].Date
	}
	return out
}
