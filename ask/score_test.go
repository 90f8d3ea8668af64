package ask

import (
	"context"
	"strings"
	"testing"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/words"
)

type foretold struct{ f Foretold }

func (f foretold) Foretold(context.Context, string) (*Foretold, error) { return &f.f, nil }

// The sheet of now is judged by what it predicted; older sheets have scores of
// their own, and a new name or spread makes no new sheet.
func TestASheetIsScoredByItsOwnPredictions(t *testing.T) {
	class, _ := machine.Class("single-15-light")
	learned := class.Clone()
	learned.Rest.Trim *= 1.1
	learned.Fit = &machine.Fit{Runs: 3}
	renamed := learned.Clone()
	renamed.Name = "Bay 9"
	day := words.NewDay(2026, 3, 1)
	var runs []ForetoldRun
	add := func(version int, n int, off float64) {
		for k := range n {
			r := ForetoldRun{Name: "gull", Version: version, Foretold: learn.Foretold{Design: string(rune('a' + k%4)),
				Predicted: 600, Low: 594, High: 606, Level: 0.9}}
			r.Date, r.Seconds, r.Step = day.Add(len(runs)), 600*(1+off)+float64(k%3), 1
			runs = append(runs, r)
		}
	}
	add(0, 2, 0)
	add(1, 7, 0.04)
	add(2, 3, 0.001)
	add(3, 3, 0.001)
	from := Foretold{Machine: "Bay 9", Runs: runs, Sheets: []ForetoldSheet{{3, day, renamed}, {2, day, learned},
		{1, day, class}}}
	a, err := Score(t.Context(), foretold{from}, "")
	if err != nil {
		t.Fatal(err)
	}
	if a.Version != 3 || a.Last.Runs != 6 || a.Last.Inside != 6 || len(a.Sheets) != 2 || a.Sheets[0].Runs != 6 ||
		a.Sheets[1].Runs != 7 || a.Sheets[1].Inside != 0 || a.Unpredicted != 2 || len(a.Runs) != 13 {
		t.Errorf("%+v", a)
	}
	text := func(a *ScoreAnswer) string { return a.Verdict.Text(nil) + " | " + a.Caveats.Text(nil) }
	says := func(a *ScoreAnswer, want ...string) {
		t.Helper()
		for _, w := range want {
			if !strings.Contains(text(a), w) {
				t.Errorf("%q is not said: %s", w, text(a))
			}
		}
	}
	says(a, "last 6 runs (3 designs) on Bay 9 were", "6 of them lie in their 90 % range", "2 runs have no prediction")
	if strings.Contains(text(a), "ime it again") {
		t.Error(text(a))
	}
	from.Sheets = from.Sheets[2:]
	for i := range from.Runs {
		from.Runs[i].Version = min(from.Runs[i].Version, 1)
	}
	from.Runs = from.Runs[:9]
	old, err := Score(t.Context(), foretold{from}, "")
	if err != nil {
		t.Fatal(err)
	}
	says(old, "In the last 7 runs (4 designs) the clock has been 4.1 % short on Bay 9 (between 4.0 % and 4.3 %)",
		"None of them lies", "Let its sheet learn from them")
	from.Runs = from.Runs[:4]
	few, err := Score(t.Context(), foretold{from}, "")
	if err != nil {
		t.Fatal(err)
	}
	says(few, "2 runs so far", "too few to judge by; it takes 5")
	from.Runs = nil
	if none, err := Score(t.Context(), foretold{from}, ""); err != nil || !strings.Contains(text(none), "No run has been timed") {
		t.Error(text(none), err)
	}
	// Of many runs the last twenty judge: what was right last year is wrong now.
	from.Runs, runs = nil, nil
	add(1, 30, 0)
	add(1, 20, 0.03)
	from.Runs = runs
	many, err := Score(t.Context(), foretold{from}, "")
	if err != nil {
		t.Fatal(err)
	}
	if many.Last.Runs != 20 || many.Sheets[0].Runs != 50 {
		t.Errorf("%+v", many.Last)
	}
	says(many, "In the last 20 runs", "3.")
}
