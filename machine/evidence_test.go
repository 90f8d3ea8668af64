package machine

import (
	"math"
	"strings"
	"testing"

	"needlepace/words"
)

// sealed is a learned sheet with evidence and its seal.
func sealed() *Sheet {
	s, _ := Class("single-15-1200")
	s.Fit = &Fit{Runs: 3, ModelVersion: ModelVersion, Digest: strings.Repeat("0a", 32), Constants: []string{"rest.trim"},
		Correlation: [][]float64{{1}}, Evidence: &Evidence{Constants: []string{"rest.trim"}, Told: [][]float64{{40}},
			Read: []float64{52}, Rows: []string{"0123456789abcdef"},
			Terms: map[string]float64{"settle": 1.5, "lag": math.Copysign(0, -1)}}}
	s.Fit.Evidence.Seal = s.SealNow()
	return s
}

// The seal stands through the file and through what is the shop's own affair,
// and breaks where a number was changed.
func TestASealFindsWhatWasChanged(t *testing.T) {
	s, err := Parse("sealed", sealed().TOML())
	if err != nil {
		t.Fatal(err)
	}
	if s.Fit.Evidence.Seal == "" || s.SealNow() != s.Fit.Evidence.Seal {
		t.Fatal("the seal did not stand through the file")
	}
	for what, change := range map[string]func(*Sheet){
		"name":  func(s *Sheet) { s.Name = "Bay 7" },
		"field": func(s *Sheet) { s.Field = Field{360, 200} },
		"basis": func(s *Sheet) { s.BasisOf["rest.trim"] = Measured },
		"day":   func(s *Sheet) { s.Fit.Date = words.NewDay(2026, 3, 3) },
		"shop":  func(s *Sheet) { s.Fit.Evidence.Shop = strings.Repeat("7f", 16) },
	} {
		c := sealed()
		change(c)
		if c.SealNow() != c.Fit.Evidence.Seal {
			t.Errorf("the seal broke at the %s", what)
		}
	}
	for what, change := range map[string]func(*Sheet){
		"constant":    func(s *Sheet) { s.Rest.Trim += 0.1 },
		"held one":    func(s *Sheet) { s.Rest.Stop = 4 },
		"spread":      func(s *Sheet) { s.SD["rest.trim"] = 0.01 },
		"class":       func(s *Sheet) { s.Class = "another" },
		"ladder":      func(s *Sheet) { s.Ladder = Ladder{Length: []float64{3}, Speed: []float64{900}} },
		"weight":      func(s *Sheet) { s.Fit.Evidence.Told[0][0] = 400 },
		"reading":     func(s *Sheet) { s.Fit.Evidence.Read[0] = 53 },
		"rows":        func(s *Sheet) { s.Fit.Evidence.Rows = nil },
		"odds":        func(s *Sheet) { s.Fit.Evidence.Terms["settle"] = 9 },
		"runs":        func(s *Sheet) { s.Fit.Runs = 300 },
		"digest":      func(s *Sheet) { s.Fit.Digest = "" },
		"travel mode": func(s *Sheet) { s.Travel.Mode = ShaftTravel },
	} {
		c := sealed()
		change(c)
		if c.SealNow() == c.Fit.Evidence.Seal {
			t.Errorf("the seal does not see the %s changed", what)
		}
	}
}

// Evidence that cannot be is refused, with where and what to do.
func TestImpossibleEvidenceIsRefused(t *testing.T) {
	for want, change := range map[string]func(*Evidence){
		"from 0 timed rows":                func(e *Evidence) { e.Rows = nil },
		"no timing tells so much":          func(e *Evidence) { e.Told[0][0] = 2e6 },
		"row 1 has 2 numbers":              func(e *Evidence) { e.Told[0] = []float64{1, 2} },
		"1 rows in told and 2":             func(e *Evidence) { e.Read = []float64{1, 2} },
		"names rest.trm":                   func(e *Evidence) { e.Constants[0] = "rest.trm" },
		"16 hexadecimal digits":            func(e *Evidence) { e.Rows[0] = "yesterday" },
		"32 hexadecimal digits":            func(e *Evidence) { e.Shop = "Pellsand Quay" },
		"2 rows for 1 constants":           func(e *Evidence) { e.Told = append(e.Told, e.Told[0]) },
		"seal is \"x\"":                    func(e *Evidence) { e.Seal = "x" },
		"is 10000000000: that is no readi": func(e *Evidence) { e.Read[0] = 1e10 },
	} {
		s := sealed()
		change(s.Fit.Evidence)
		_, err := Parse("bad.toml", s.TOML())
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "line ") {
			t.Errorf("wanted %q on a line, got %v", want, err)
		}
	}
}

func TestImpossiblePoolsAreRefused(t *testing.T) {
	good := func() *Sheet {
		s, _ := Class("single-15-1200")
		s.Pool = &Pool{Machines: 2, Shops: 1, ModelVersion: 1, From: []string{strings.Repeat("0a", 32)},
			Constants: []string{"rest.trim"}, Told: []int{2}, Correlation: [][]float64{{1}},
			Terms: []PooledTerm{{Term: "settle", Believed: 1, Of: 2, Odds: -0.5, Values: map[string]float64{"frame.settle": 0.002},
				SD: map[string]float64{"frame.settle": 0.4}}}}
		return s
	}
	s, err := Parse("pool.toml", good().TOML())
	if err != nil || s.Pool.Term("settle").Odds != -0.5 || !strings.Contains(string(s.TOML()), "from 2 machines of 1 shop.") {
		t.Fatalf("%v %v", s, err)
	}
	for want, change := range map[string]func(*Pool){
		"more shops than machines":  func(p *Pool) { p.Shops = 3 },
		"0 machines of 0 shops":     func(p *Pool) { p.Machines, p.Shops = 0, 0 },
		"counts from 1":             func(p *Pool) { p.ModelVersion = 0 },
		"64 hexadecimal":            func(p *Pool) { p.From[0] = "Bay 2" },
		"one of each for each":      func(p *Pool) { p.Told = nil },
		"a correlation is from -1":  func(p *Pool) { p.Correlation[0][0] = 7 },
		"settle 3 of 2, odds -0.5:": func(p *Pool) { p.Terms[0].Believed = 3 },
		"cannot be 7":               func(p *Pool) { p.Terms[0].Values["frame.settle"] = 7 },
		"is no constant":            func(p *Pool) { p.Constants[0] = "rest.trm" },
	} {
		s := good()
		change(s.Pool)
		_, err := Parse("bad.toml", s.TOML())
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "line ") {
			t.Errorf("wanted %q on a line, got %v", want, err)
		}
	}
	for _, text := range []string{"", "settle", "settle 1 of 2: x", "settle 1 of 2, odds x:", "settle 1 of 2, odds 1: frame.settle 3",
		"settle 1 of 2, odds 1: frame.setle 3 1"} {
		if v, err := parsePooledTerm(text); err == nil {
			t.Errorf("%q gives %v", text, v)
		}
	}
}

// A shared sheet holds its evidence and nothing of the shop.
func TestASharedSheetHoldsNothingOfTheShop(t *testing.T) {
	s := sealed()
	s.Name, s.Field, s.Fit.Date = "Anna's at Pellsand Quay", Field{360, 200}, words.NewDay(2026, 3, 3)
	s.BasisOf["rest.stop"], s.BasisOf["rest.trim"] = Measured, Fitted
	number := strings.Repeat("7f", 16)
	shared, err := Parse("shared", s.Shared(number).TOML())
	if err != nil {
		t.Fatal(err)
	}
	text := string(shared.TOML())
	for _, of := range []string{"Anna", "Pellsand", "360", "2026", `= "measured"`, `= "assumed"`} {
		if body := text[strings.Index(text, "name ="):]; strings.Contains(body, of) {
			t.Errorf("%q goes along:\n%s", of, text)
		}
	}
	if e := shared.Fit.Evidence; e.Shop != number || e.Seal != shared.SealNow() || e.Told[0][0] != 40 || shared.Rest.Trim != s.Rest.Trim {
		t.Errorf("%+v", e)
	}
	if s.Fit.Evidence.Shop != "" || s.Name != "Anna's at Pellsand Quay" {
		t.Error("the shop's own sheet was changed")
	}
}
