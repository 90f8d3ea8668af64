package machine

import (
	"maps"
	"strings"
	"testing"
)

// What a sheet keeps of another kind of machine makes that machine again.
func TestAnAlternativeMakesItsSheetAgain(t *testing.T) {
	s, _ := Class("single-15-1200")
	other := s.Clone()
	other.Frame.Settle, other.Rest.Trim, other.Shaft.SoftStartStitches = 0.002, 5.5, 7
	other.Ladder = Ladder{Length: []float64{3, 12.7}, Speed: []float64{900, 500}}
	other.Correction.Length, other.Correction.Factor = []float64{1, 4}, []float64{1, 1.03}
	a := Alternative{Weight: 0.3, Terms: []string{"settle", "ladder"}, Values: s.Differs(other)}
	read, err := parseAlternative(a.String())
	if err != nil || read.Weight != a.Weight || !maps.Equal(read.Values, a.Values) || len(read.Terms) != 2 {
		t.Fatalf("%v became %v: %v", a, read, err)
	}
	if again := s.Differs(s.As(&read)); !maps.Equal(again, a.Values) {
		t.Errorf("%v, wanted %v", again, a.Values)
	}
	if back := other.As(&Alternative{Values: other.Differs(s)}); len(s.Differs(back)) > 0 {
		t.Errorf("the tables stay: %v", s.Differs(back))
	}
	if s.Frame.Settle != 0 || len(s.Ladder.Length) > 0 {
		t.Error("the sheet itself was changed")
	}
}

// Learning's own record is refused where it is spoilt, with what to do.
func TestASpoiltAlternativeIsRefused(t *testing.T) {
	for _, text := range []string{"", "0.3", "much settle: rest.trim 4", "1.3: rest.trim 4", "0.3: rest.trim", "0.3: rest.trm 4",
		"0.3: ladder.length 1e9", "0.3: ladder.length.0 3", "0.3: ladder.length.201 3", "0.3: shaft.soft_start_stitches 2.5"} {
		if a, err := parseAlternative(text); err == nil {
			t.Errorf("%q gives %v", text, a)
		}
	}
	s, _ := Class("single-15-1200")
	s.Fit = &Fit{ModelVersion: 1, Weight: 0.7, Also: []Alternative{{Weight: 0.3, Values: map[string]float64{"rest.trim": -4}}}}
	if err := Validate(s); err == nil || !strings.Contains(err.Error(), "fit.also, kind 1") {
		t.Error(err)
	}
	s.Fit.Also = []Alternative{{Weight: 0.5}}
	if err := Validate(s); err == nil || !strings.Contains(err.Error(), "add up to 1.2") {
		t.Error(err)
	}
}
