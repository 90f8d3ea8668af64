package ask

import (
	"strconv"
	"strings"
	"testing"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// demoSources are the demo shop's designs and the built-in classes.
var demoSources = floor.Sources{
	Design: func(name string) (*stitch.Design, error) {
		files, err := stitchfile.ReadFile("../demo/designs/" + name)
		if err != nil {
			return nil, err
		}
		return files[0].Design, files[0].Err
	},
	Sheet: func(name string) (*machine.Sheet, error) {
		if name == "exact" { // it does not say how sure it is
			s, _ := machine.Class("compact-8")
			s = s.Clone()
			s.SD = nil
			return s, nil
		}
		s, ok := machine.Class(name)
		if !ok {
			return nil, Missing("no %s", name)
		}
		return s, nil
	},
}

const mixOfTwo = `
[week]
shifts = 5
hours = 7.5
[money]
currency = "EUR"
labour_per_hour = 21
shifts_per_year = 230
[[machine]]
name = "A"
sheet = "compact-8"
price = 5000
life_years = 6
[[machine]]
name = "B"
sheet = "SHEET"
price = PRICE
life_years = 6
[[design]]
design = "gull-cap.dst"
weekly = 30
`

func compared(t *testing.T, sheet, price string) *ComparisonAnswer {
	t.Helper()
	toml := strings.NewReplacer("SHEET", sheet, "PRICE", price).Replace(mixOfTwo)
	a, err := Compare(t.Context(), CompareQuestion{TOML: []byte(toml)}, demoSources)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestIdenticalOffersNeverBeatEachOther(t *testing.T) {
	a := compared(t, "compact-8", "5000")
	if a.Is != money.Alike || a.Pairs[0].CheaperIs != money.Alike {
		t.Errorf("%q and %q of two machines that are the same", a.Is, a.Pairs[0].CheaperIs)
	}
	if text := a.Verdict.Raw(); !strings.HasPrefix(text, "A and B cost the same on this mix.") || strings.Contains(text, "chance") {
		t.Error(text)
	}
	if text := a.Pairs[0].Verdict.Raw(); !strings.HasPrefix(text, "B and A cannot be told apart: they cost the same a year.") ||
		!strings.Contains(text, "no difference") || strings.Contains(text, "chance") || strings.Contains(text, "0 EUR") {
		t.Error(text)
	}
	if text := a.Designs[0].Verdict.Raw(); text != "The machines take the same time." {
		t.Error(text)
	}
	for _, row := range a.DesignTable().CSV() {
		if line := strings.Join(row, ","); strings.Contains(line, ",1,0.5,") {
			t.Errorf("one of two equal machines is first: %s", line)
		}
	}
}

func TestASheetWithoutSpreadsHasNoIntervalInAComparison(t *testing.T) {
	a := compared(t, "exact", "5000")
	if text := a.Caveats.Raw(); !strings.Contains(text, "The sheet of B does not say how sure its numbers are") ||
		strings.Contains(text, "The sheet of B is assumed") {
		t.Error(text)
	}
	d := a.DesignTable()
	for i, want := range []bool{true, false} {
		for j, c := range d.Columns {
			if c.Key == "interval_low" && (d.Rows[i][j].Text(nil) != "–") != want {
				t.Errorf("row %d: from %s", i+1, d.Rows[i][j].Text(nil))
			}
		}
	}
}

func TestAWinnerIsNamedOnlyWhereTheChanceSaysSo(t *testing.T) {
	said := map[money.Verdict]string{money.Wins: " costs least on this mix.", money.Probably: " probably costs least on this mix.",
		money.CannotTell: " cannot be told apart on this mix."}
	seen := map[money.Verdict]bool{}
	// The price of B is halved in until the chance is even: on the way every
	// verdict is met.
	for low, high := 500.0, 40_000.0; high-low > 20; {
		price := (low + high) / 2
		a := compared(t, "single-15-light", strconv.FormatFloat(price, 'f', 2, 64))
		best, rival := 0, 1
		if a.Cheapest == "B" {
			best, rival = 1, 0
		}
		want := money.CannotTell
		switch p := a.Beats[best][rival]; {
		case p >= 0.9:
			want = money.Wins
		case p >= 0.7:
			want = money.Probably
		}
		seen[want] = true
		text := a.Verdict[0].Raw()
		if a.Is != want || !strings.HasSuffix(text, said[want]) || want != money.Probably && strings.Contains(text, "probably") {
			t.Errorf("at a chance of %.3f: %q, %q", a.Beats[best][rival], a.Is, text)
		}
		if want == money.CannotTell && !strings.Contains(a.Verdict.Raw(), "would tell") {
			t.Errorf("it does not say what would tell: %s", a.Verdict.Raw())
		}
		if a.Beats[0][1] > 0.5 {
			high = price
		} else {
			low = price
		}
	}
	if len(seen) != 3 {
		t.Errorf("the prices lead to %v only", seen)
	}
}

func TestAComparisonWithoutPricesIsRefused(t *testing.T) {
	toml := strings.NewReplacer("SHEET", "compact-8", "price = PRICE\n", "").Replace(mixOfTwo)
	q := CompareQuestion{Name: "week.toml", TOML: []byte(toml)}
	if err := q.Check(demoSources); err == nil || !strings.Contains(err.Error(), "machine[2].price is missing") {
		t.Errorf("%v", err)
	}
	a := compared(t, "compact-8", "5000")
	if text := a.Caveats.Raw(); !strings.Contains(text, "Missing, and counted as 0") || !strings.Contains(text, "energy per kWh") ||
		!strings.Contains(text, "upkeep a year of A and B") {
		t.Error(text)
	}
}
