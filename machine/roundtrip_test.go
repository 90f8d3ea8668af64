package machine

import (
	"math"
	"needlepace/words"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// anySheet draws valid sheets, at the ends of the ranges too.
func anySheet(t *rapid.T) *Sheet {
	text := rapid.StringN(0, 50, maxText)
	s := &Sheet{
		Name:  text.Filter(func(s string) bool { return strings.TrimSpace(s) != "" }).Draw(t, "name"),
		Class: text.Draw(t, "class"),
	}
	for _, c := range Constants {
		if c.Whole {
			c.Set(s, float64(rapid.IntRange(int(c.Min), int(c.Max)).Draw(t, c.Path)))
		} else {
			c.Set(s, rapid.Float64Range(c.Min, c.Max).Draw(t, c.Path))
		}
	}
	s.Travel.Mode = rapid.SampledFrom([]string{FrameTravel, ShaftTravel}).Draw(t, "mode")
	s.Travel.ReturnToStart = rapid.Bool().Draw(t, "return")
	s.Turns.To = max(s.Turns.To, s.Turns.Angle)
	terms := rapid.Bool()
	for _, c := range Constants { // absent in half the sheets
		if c.Term && !terms.Draw(t, c.Path+"?") && c.Path != "turns.to" {
			c.Set(s, c.Default)
		}
	}
	if s.Field.Width == 0 || s.Field.Height == 0 {
		s.Field = Field{}
	}
	anyCorrection(t, 100, &s.Correction.Length, &s.Correction.Factor)
	anyCorrection(t, 10, &s.Correction.TurnAngle, &s.Correction.TurnFactor)
	last := 0.0
	for range rapid.IntRange(0, 5).Draw(t, "rungs") {
		last = rapid.Float64Range(math.Nextafter(last, 100), last+3).Draw(t, "length")
		s.Ladder.Length = append(s.Ladder.Length, last)
		s.Ladder.Speed = append(s.Ladder.Speed, rapid.Float64Range(minRungSpeed, maxRungSpeed).Draw(t, "speed"))
	}
	for _, c := range AllConstants {
		if c.node > 0 && c.Get(s) == 0 {
			continue
		}
		if !c.Whole && rapid.Bool().Draw(t, "sd?") {
			if s.SD == nil {
				s.SD = map[string]float64{}
			}
			s.SD[c.Path] = rapid.Float64Range(0, MaxSD).Draw(t, "sd")
		}
		if rapid.Bool().Draw(t, "basis?") {
			if s.BasisOf == nil {
				s.BasisOf = map[string]Basis{}
			}
			s.BasisOf[c.Path] = rapid.SampledFrom([]Basis{Assumed, Pooled, Spec, Measured, Fitted}).Draw(t, "basis")
		}
	}
	if rapid.Bool().Draw(t, "fit?") {
		s.Fit = anyFit(t)
		if rapid.Bool().Draw(t, "evidence?") {
			s.Fit.Evidence = anyEvidence(t, s.Fit.Constants)
		}
	}
	if rapid.Bool().Draw(t, "pool?") {
		f := anyFit(t)
		s.Pool = &Pool{Machines: 14, Shops: rapid.IntRange(1, 14).Draw(t, "shops"), ModelVersion: f.ModelVersion,
			From: []string{strings.Repeat("1b", 32)}, Constants: f.Constants, Correlation: f.Correlation}
		for range f.Constants {
			s.Pool.Told = append(s.Pool.Told, rapid.IntRange(0, 14).Draw(t, "told"))
		}
		if rapid.Bool().Draw(t, "pooled terms?") {
			s.Pool.Terms = []PooledTerm{
				{Term: "settle", Believed: 12, Of: 14, Odds: 1.62, Values: map[string]float64{"frame.settle": 0.0021},
					SD: map[string]float64{"frame.settle": 0.3}},
				{Term: "ladder", Of: 3, Odds: -2.5, Values: map[string]float64{}, SD: map[string]float64{}},
			}
		}
	}
	return s
}

func anyEvidence(t *rapid.T, constants []string) *Evidence {
	e := &Evidence{Constants: constants, Shop: rapid.SampledFrom([]string{"", strings.Repeat("7f", 16)}).Draw(t, "shop"),
		Seal: strings.Repeat("c0", 32)}
	for range constants {
		row := make([]float64, len(constants))
		for k := range row {
			row[k] = rapid.Float64Range(-maxWeight, maxWeight).Draw(t, "weight")
		}
		e.Told, e.Rows = append(e.Told, row), append(e.Rows, "0123456789abcdef")
		e.Read = append(e.Read, rapid.Float64Range(-1e6, 1e6).Draw(t, "read"))
	}
	if rapid.Bool().Draw(t, "odds?") {
		e.Terms = map[string]float64{"settle": 2.25, "lag": -3}
	}
	return e
}

// anyCorrection draws a correction table of nodes up to most apart.
func anyCorrection(t *rapid.T, most float64, nodes, factors *[]float64) {
	last := 0.0
	for k := range rapid.IntRange(0, MaxNodes).Draw(t, "nodes") {
		if k > 0 {
			last = math.Nextafter(last, 1e9)
		}
		last = rapid.Float64Range(last, last+most).Draw(t, "node")
		if last > 10*most {
			return
		}
		*nodes = append(*nodes, last)
		*factors = append(*factors, rapid.Float64Range(minFactor, maxFactor).Draw(t, "factor"))
	}
}

// anyFit draws a fit whose correlation is a Gram matrix of unit vectors,
// which is positive semidefinite and often singular.
func anyFit(t *rapid.T) *Fit {
	f := &Fit{
		Runs:         rapid.IntRange(0, maxRuns).Draw(t, "runs"),
		Date:         rapid.SampledFrom([]words.Day{{}, words.NewDay(2026, 2, 28), words.NewDay(1999, 12, 31)}).Draw(t, "date"),
		ModelVersion: rapid.IntRange(1, 9).Draw(t, "version"),
		Digest:       rapid.SampledFrom([]string{"", strings.Repeat("0a", 32)}).Draw(t, "digest"),
	}
	f.Residual = rapid.Float64Range(0, MaxSD).Draw(t, "residual")
	f.Changes = rapid.Float64Range(0, MaxSD).Draw(t, "changes")
	if rapid.Bool().Draw(t, "kinds") {
		f.Terms, f.Weight = []string{"settle"}, 0.6
		f.Also = []Alternative{
			{Weight: 0.2, Values: map[string]float64{"frame.settle": 0, "rest.trim": 4.25}},
			{Weight: 0.2, Terms: []string{"ladder", "lag"}, Values: map[string]float64{"shaft.lag": 0.1, "ladder.length": 2,
				"ladder.length.1": 3, "ladder.length.2": 12.7, "ladder.speed": 2, "ladder.speed.1": 900, "ladder.speed.2": 500}},
		}
	}
	for _, j := range rapid.SliceOfNDistinct(rapid.IntRange(1, int(AllJobs)), 0, 3, rapid.ID[int]).Draw(t, "jobs") {
		f.Jobs = append(f.Jobs, RunsOfJob{Jobs(j), rapid.IntRange(1, maxRuns).Draw(t, "runs of it")})
	}
	var free []string
	for _, c := range Constants {
		if !c.Whole {
			free = append(free, c.Path)
		}
	}
	f.Constants = rapid.SliceOfNDistinct(rapid.SampledFrom(free), 0, 5, rapid.ID[string]).Draw(t, "constants")
	if len(f.Constants) == 0 {
		f.Constants = nil
	}
	var unit [][3]float64
	for range f.Constants {
		a, z := rapid.Float64Range(0, 6).Draw(t, "a"), rapid.Float64Range(-1, 1).Draw(t, "z")
		r := math.Sqrt(1 - z*z)
		unit = append(unit, [3]float64{r * math.Cos(a), r * math.Sin(a), z})
	}
	for i, u := range unit {
		var row []float64
		for j, v := range unit {
			dot := max(-1, min(1, u[0]*v[0]+u[1]*v[1]+u[2]*v[2]))
			if i == j {
				dot = 1
			}
			row = append(row, dot)
		}
		f.Correlation = append(f.Correlation, row)
	}
	return f
}

func TestTOMLRoundTripsExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := anySheet(t)
		text := want.TOML()
		got, err := Parse("any", text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("(-want +got)\n%s\n%s", d, text)
		}
		if d := cmp.Diff(string(text), string(got.TOML())); d != "" {
			t.Fatalf("written again, the file differs:\n%s", d)
		}
		if d := cmp.Diff(want, want.Clone()); d != "" {
			t.Fatalf("a clone differs:\n%s", d)
		}
	})
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(modelSheet))
	for _, s := range Classes() {
		f.Add(s.TOML())
	}
	for _, s := range []string{
		"", "name = 1", "frame.accel_x = 3", "[[frame]]\naccel_x = 1", "sd = {frame = {accel_x = 1e400}}", "[sd]\n\"frame.accel_x\" = 1",
		"[fit]\nconstants = [\"rest.trim\"]\ncorrelation = [[1, 2], 3]", "heads = -9223372036854775808", "date = 1979-05-27",
		"[fit]\nconstants = [\"rest.trim\", \"rest.end\"]\ncorrelation = [[1, nan], [nan, 1]]", "\"\" = 1", "a.b.c.d.e.f = {g.h = {i = [{j = 1}]}}",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := Parse("fuzz", b)
		if err != nil {
			if s != nil || err.Error() == "" {
				t.Errorf("an error came with sheet %v and text %q", s, err)
			}
			return
		}
		if err := Validate(s); err != nil {
			t.Errorf("Parse took a sheet that is not valid: %v", err)
		}
		again, err := Parse("again", s.TOML())
		if err != nil {
			t.Fatalf("cannot read what TOML wrote: %v\n%s", err, s.TOML())
		}
		if d := cmp.Diff(s, again); d != "" {
			t.Errorf("round trip (-want +got)\n%s", d)
		}
	})
}
