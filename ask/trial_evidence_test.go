package ask

import (
	"bytes"
	"context"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"needlepace/floor"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/stitch"
	"needlepace/trial"
	"needlepace/words"
)

// What travels of a machine is what its own runs that count say, at the speeds that were set, beside its built-in class, and
// nothing that the client wrote: the rows that learning from these runs by hand has. A class of the client's
// own wording goes nowhere.
func TestEvidenceIsOfTheMachinesOwnRuns(t *testing.T) {
	design := func(ref string) (*stitch.Design, error) {
		if ref == "long.dst" {
			return money.TestDesign(money.Straight, 42, 300, 9, 1), nil
		}
		return money.TestDesign(money.Straight, 30, 300, 3, 0), nil
	}
	from := floor.Sources{Design: design, Sheet: func(name string) (*machine.Sheet, error) {
		s, _ := machine.Class(name)
		if s = s.Clone(); name == "single-15-light" {
			s.Class = "the one of Mrs Quillfeather"
		}
		s.MaxSpeed += 40 // the client's sheet is not the class's
		return s, nil
	}}
	q := TrialQuestion{Name: "T.toml", TOML: []byte(strings.NewReplacer("\"bars\"", "\"quillfeather-crest\"").Replace(handTrial))}
	plan, err := Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	sheet, seen, apart := "place,turn,time,day\n", map[string][]learn.Observation{}, false
	for _, x := range plan.Places[0].Turns {
		s := math.Round(plan.cellOf(x.Design, x.Machine).Predicted*map[string]float64{"Six": 1.2, "One": 0.9, "Single": 1}[x.Machine]*(1+0.0025*float64(x.Block-2))*100) / 100
		if x.Machine == "Six" && !apart { // slower than it may be: kept apart
			apart, s = true, s*3
		} else {
			i := map[string]int{"quillfeather-crest": 1, "long": 2}[x.Design]
			d, _ := design(map[int]string{1: "bars.dst", 2: "long.dst"}[i])
			seen[x.Machine] = append(seen[x.Machine], learn.Observation{Kind: learn.WholeRun, Name: "design " + strconv.Itoa(i), Design: d,
				SetSpeed: map[string]float64{"Six": 850, "One": 700}[x.Machine], Seconds: s, Step: 1, Date: words.NewDay(2026, 3, 5)})
		}
		sheet += "here," + strconv.Itoa(x.Number) + "," + strconv.FormatFloat(s, 'f', 2, 64) + ",2026-03-05\n"
	}
	q.Returned = []trial.Given{{Name: "times.csv", Bytes: []byte(sheet)}}
	a, err := Trial(context.Background(), q, from)
	if err != nil || len(a.Apart) != 1 {
		t.Fatalf("%v, %+v", err, a.Apart)
	}
	const number = "0123456789abcdef0123456789abcdef"
	all, err := a.Evidence(context.Background(), number)
	if err != nil || len(all) != 3 {
		t.Fatal(err, all)
	}
	for i, name := range []string{"Six", "One"} {
		class, _ := machine.Class([]string{"multi-6", "home-1"}[i])
		r, err := learn.Fit(context.Background(), class, seen[name], learn.Options{})
		if err != nil {
			t.Fatal(err)
		}
		want, err := Share(r.Sheet, placeNumber(number, "here"), false)
		if err != nil || all[i].Sheet == nil {
			t.Fatalf("%s: %v, %s", name, err, all[i].Why)
		}
		got := all[i].Sheet
		if e := got.Fit.Evidence; !slices.Equal(e.Rows, want.Fit.Evidence.Rows) || len(e.Rows) != len(seen[name]) || got.MaxSpeed != class.MaxSpeed || e.Shop != placeNumber(number, "here") {
			t.Errorf("%s: told are rows %v at %v/min, by hand %v at %v", name, e.Rows, got.MaxSpeed, want.Fit.Evidence.Rows, class.MaxSpeed)
		}
		for _, secret := range []string{"quillfeather", "Quillfeather", number, name} {
			if bytes.Contains(all[i].Sheet.TOML(), []byte(secret)) {
				t.Errorf("%s: %q travels", name, secret)
			}
		}
	}
	if all[2].Sheet != nil || !strings.Contains(all[2].Why, "client's own") {
		t.Errorf("a class of the client's own wording travels: %+v", all[2])
	}
	if placeNumber(number, "here") == placeNumber(number, "there") || placeNumber(number, "here") == number {
		t.Error("two places count as one shop, or a place says whose it is")
	}
}
