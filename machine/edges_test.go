package machine

import (
	"math"
	"strings"
	"testing"
)

// said is what check says of a path; "" for nothing.
func said(s *Sheet, path string) string {
	for _, p := range check(s) {
		if p.Path == path {
			return p.Text
		}
	}
	return ""
}

func someSheet() *Sheet { return Classes()[0].Clone() }

func TestTheEdgesOfEveryRangeAreAllowedAndNothingBeyond(t *testing.T) {
	for _, c := range Constants {
		s := someSheet()
		for _, v := range []float64{c.Min, c.Max} {
			c.Set(s, v)
			if text := said(s, c.Path); text != "" {
				t.Errorf("%s", text)
			}
		}
		beyond := []float64{math.Nextafter(c.Min, math.Inf(-1)), math.Nextafter(c.Max, math.Inf(1)), math.NaN()}
		if c.Whole {
			beyond = []float64{c.Min - 1, c.Max + 1}
		}
		for _, v := range beyond {
			c.Set(s, v)
			if said(s, c.Path) == "" {
				t.Errorf("%s of %v is allowed; its range is %s", c.Path, v, c.Range())
			}
		}
	}
}

func TestANumberInAnotherUnitIsNamed(t *testing.T) {
	for _, c := range []struct {
		path string
		v    float64
		want string // "": no unit is suggested
	}{
		{"frame.accel_x", 13.8, "(if 13.8 is in m/s², write 13800)"},
		{"frame.speed_x", 0.123, "(if 0.123 is in m/s, write 123)"},
		{"rest.trim", 4500, "(if 4500 is in milliseconds, write 4.5)"},
		{"max_speed", 13, "(if 13 is in stitches/s, write 780)"},
		{"max_speed", 48000, "(if 48000 is in stitches/h, write 800)"},
		{"max_speed", 1e9, ""},
		{"shaft.accel_up", 1080, "(if 1080 is in rev/min per second, write 18)"},
		{"frame.window", 158.4, "(if 158.4 is an angle in degrees, write 0.44, which is that angle / 360)"},
		{"frame.window", 3600, ""},
	} {
		k, ok := ConstantAt(c.path)
		if !ok {
			t.Fatal(c.path)
		}
		s := someSheet()
		k.Set(s, c.v)
		text := said(s, c.path)
		if text == "" || !strings.Contains(text, c.want) || c.want == "" && strings.Contains(text, "(if") {
			t.Errorf("%s = %v: %q, want %q", c.path, c.v, text, c.want)
		}
	}
	// At the edge of the range in the other unit.
	k, _ := ConstantAt("max_speed")
	for _, v := range []float64{k.Min / 60, k.Max * 60} {
		s := someSheet()
		k.Set(s, v)
		if text := said(s, "max_speed"); !strings.Contains(text, "(if ") {
			t.Errorf("%v stitches/min: %q", v, text)
		}
	}
	w, _ := ConstantAt("frame.window")
	for _, v := range []float64{w.Min * 360, w.Max * 360} {
		s := someSheet()
		w.Set(s, v)
		if text := said(s, "frame.window"); !strings.Contains(text, "angle in degrees") {
			t.Errorf("a window of %v: %q", v, text)
		}
	}
}

func TestSpreadsInPerCentAreNamed(t *testing.T) {
	for v, hint := range map[float64]string{
		0: "", 2: "", 2.5: "if 2.5 is in per cent, write 0.025", 25: "if 25 is in per cent, write 0.25",
		200: "if 200 is in per cent, write 2", 201: "",
	} {
		s := someSheet()
		s.SD = map[string]float64{"rest.trim": v}
		text := said(s, "sd.rest.trim")
		if (text != "") != (v > 2) || !strings.Contains(text, hint) || hint == "" &&
			strings.Contains(text, "per cent,") {
			t.Errorf("a spread of %v: %q, want %q", v, text, hint)
		}
	}
}

func TestLaddersNamesAndFitsKeepTheirLimits(t *testing.T) {
	rungs := func(n int) Ladder {
		var l Ladder
		for i := range n {
			l.Length = append(l.Length, float64(i+1))
			l.Speed = append(l.Speed, 500)
		}
		return l
	}
	for _, c := range []struct {
		what  string
		spoil func(*Sheet)
		path  string
		want  string // "": allowed
	}{
		{"the longest name", func(s *Sheet) { s.Name = strings.Repeat("x", maxText) }, "name", ""},
		{"a name too long", func(s *Sheet) { s.Name = strings.Repeat("x", maxText+1) }, "name", "201 bytes"},
		{"a blank name", func(s *Sheet) { s.Name = " " }, "name", "is empty"},
		{"no class", func(s *Sheet) { s.Class = "" }, "class", ""},
		{"as many rungs as may be", func(s *Sheet) { s.Ladder = rungs(maxRungs) }, "ladder", ""},
		{"a rung too many", func(s *Sheet) { s.Ladder = rungs(maxRungs + 1) }, "ladder", "201 rungs"},
		{"the longest rung", func(s *Sheet) { s.Ladder = Ladder{Length: []float64{1000}, Speed: []float64{10}} }, "ladder.length", ""},
		{"a rung too long", func(s *Sheet) { s.Ladder = Ladder{Length: []float64{1000.1}, Speed: []float64{10}} }, "ladder.length",
			"ladder.length[0]"},
		{"a rung of nothing", func(s *Sheet) { s.Ladder = Ladder{Length: []float64{0}, Speed: []float64{10}} }, "ladder.length",
			"ladder.length[0]"},
		{"two rungs alike", func(s *Sheet) { s.Ladder = Ladder{Length: []float64{3, 3}, Speed: []float64{900, 800}} }, "ladder.length",
			"ladder.length[1] is 3 mm, not longer than the 3 mm"},
		{"a first rung of any length", func(s *Sheet) { s.Ladder = Ladder{Length: []float64{3, 4}, Speed: []float64{3000, 10}} },
			"ladder.length", ""},
		{"the fastest and slowest rung", func(s *Sheet) { s.Ladder = Ladder{Length: []float64{3, 4}, Speed: []float64{3000, 10}} },
			"ladder.speed", ""},
		{"a rung too fast", func(s *Sheet) { s.Ladder = Ladder{Length: []float64{3}, Speed: []float64{3001}} }, "ladder.speed",
			"ladder.speed[0]"},
		{"a rung too slow", func(s *Sheet) { s.Ladder = Ladder{Length: []float64{3}, Speed: []float64{9.9}} }, "ladder.speed",
			"ladder.speed[0]"},
		{"a basis of nothing", func(s *Sheet) { s.BasisOf = map[string]Basis{"rest.trims": Spec} }, "basis.rest.trims",
			"did you mean"},
		{"no runs", func(s *Sheet) { s.Fit = &Fit{ModelVersion: 1} }, "fit.runs", ""},
		{"all runs of the world", func(s *Sheet) { s.Fit = &Fit{ModelVersion: 1, Runs: maxRuns} }, "fit.runs", ""},
		{"one more", func(s *Sheet) { s.Fit = &Fit{ModelVersion: 1, Runs: maxRuns + 1} }, "fit.runs", "fit.runs is"},
		{"fewer than none", func(s *Sheet) { s.Fit = &Fit{ModelVersion: 1, Runs: -1} }, "fit.runs", "fit.runs is"},
		{"version 0", func(s *Sheet) { s.Fit = &Fit{} }, "fit.model_version", "counts from 1"},
		{"the last version", func(s *Sheet) { s.Fit = &Fit{ModelVersion: maxRuns} }, "fit.model_version", ""},
		{"one after it", func(s *Sheet) { s.Fit = &Fit{ModelVersion: maxRuns + 1} }, "fit.model_version",
			"counts from 1"},
		{"the largest residual", func(s *Sheet) { s.Fit = &Fit{ModelVersion: 1, Residual: MaxSD} }, "fit.residual", ""},
		{"a larger one", func(s *Sheet) { s.Fit = &Fit{ModelVersion: 1, Residual: 2.1} }, "fit.residual",
			"fit.residual is"},
		{"colour changes that differ too much", func(s *Sheet) { s.Fit = &Fit{ModelVersion: 1, Changes: 2.1} },
			"fit.changes", "fit.changes is"},
		{"digits at the edges", func(s *Sheet) { s.Fit = &Fit{ModelVersion: 1, Digest: strings.Repeat("09af", 16)} },
			"fit.digest", ""},
		{"a letter that is none", func(s *Sheet) { s.Fit = &Fit{ModelVersion: 1, Digest: strings.Repeat("09ag", 16)} },
			"fit.digest", "64 hexadecimal"},
		{"a sign after the digits", func(s *Sheet) {
			s.Fit = &Fit{ModelVersion: 1,
				Digest: strings.Repeat("09a:", 16)}
		}, "fit.digest", "64 hexadecimal"},
		{"a digit too few", func(s *Sheet) { s.Fit = &Fit{ModelVersion: 1, Digest: strings.Repeat("a", 63)} },
			"fit.digest", "64 hexadecimal"},
	} {
		s := someSheet()
		c.spoil(s)
		if text := said(s, c.path); (text == "") != (c.want == "") || !strings.Contains(text, c.want) {
			t.Errorf("%s: %q, want %q", c.what, text, c.want)
		}
	}
}

func TestCorrelationsAreSaidWithTheirPlace(t *testing.T) {
	for _, c := range []struct {
		m    [][]float64
		want string
	}{
		{[][]float64{{1, 0.5}, {0.5, 1}}, ""},
		{[][]float64{{1, 1}, {1, 1}}, ""},
		{[][]float64{{1, -1}, {-1, 1}}, ""},
		{[][]float64{{1, 0.5 + 5e-10}, {0.5, 1 - 5e-10}}, ""},
		{[][]float64{{1, 1.1}, {1.1, 1}}, "row 1, number 2 is 1.1: a correlation is from -1 to 1"},
		{[][]float64{{1, -1.1}, {-1.1, 1}}, "row 1, number 2 is -1.1: a correlation is from -1 to 1"},
		{[][]float64{{1, 0}, {0, 0.9}}, "row 2, number 2 is 0.9: the diagonal is 1"},
		{[][]float64{{1, 0.25}, {0.5, 1}}, "row 2, number 1 is 0.5 and row 1, number 2 is 0.25"},
		{[][]float64{{1, 0}, {0}}, "row 2 has 1 numbers: it needs 2"},
	} {
		s := someSheet()
		s.Fit = &Fit{ModelVersion: 1, Constants: []string{"rest.trim", "rest.start"}, Correlation: c.m}
		if text := said(s, "fit.correlation"); (text == "") != (c.want == "") || !strings.Contains(text, c.want) {
			t.Errorf("%v: %q, want %q", c.m, text, c.want)
		}
	}
	s := someSheet()
	s.Fit = &Fit{ModelVersion: 1, Constants: []string{"rest.trim", "rest.start", "rest.end"},
		Correlation: [][]float64{{1, 0.9, -0.9}, {0.9, 1, 0.9}, {-0.9, 0.9, 1}}}
	if text := said(s, "fit.correlation"); !strings.Contains(text, "not positive semidefinite") {
		t.Errorf("three that cannot hang together: %q", text)
	}
}

func TestNumbersAreWrittenPlainly(t *testing.T) {
	for v, want := range map[float64]string{
		0: "0", math.Copysign(0, -1): "0", 1e-6: "0.000001", 9e-7: "9e-07", -9e-7: "-9e-07", 0.25: "0.25", 1e14: "100000000000000", 1e15: "1e+15", -1e15: "-1e+15", 13800: "13800",
	} {
		if got := number(v); got != want {
			t.Errorf("%g is written %q, want %q", v, got, want)
		}
	}
}
