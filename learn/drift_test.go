package learn

import (
	"math/rand/v2"
	"strings"
	"testing"

	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// sewn are designs of one colour and of many, with few trims and with many.
var sewn = []*stitch.Design{somewhat(1, 1, 6000), somewhat(2, 8, 400), somewhat(3, 3, 2500), trimmed(4, 30)}

// trimmed has so many short runs, a trim between them.
func trimmed(seed uint64, runs int) *stitch.Design {
	d := somewhat(seed, 1, 400)
	for range runs {
		for range 4 {
			d.Records = append(d.Records, stitch.Record{DX: 40, Op: stitch.Jump})
		}
		for range 12 {
			d.Records = append(d.Records, stitch.Record{DX: 20, DY: 5})
		}
	}
	return d
}

// season is sixteen runs of four designs on sixteen days by a machine; from the
// eighth on by the machine it has become.
func season(t *testing.T, seed uint64, becomes func(*machine.Sheet)) []Observation {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 12))
	truth := drawMachine(mustClass(t, "single-15-light"), rng)
	var obs []Observation
	for k := range 16 {
		if k == 7 && becomes != nil {
			becomes(truth)
		}
		o := timed(truth, rng, sewn[k%4], 900, false)[0]
		o.Date = words.NewDay(2026, 3, k+1)
		obs = append(obs, o)
	}
	return obs
}

func TestWhatChangedIsSaid(t *testing.T) {
	s := mustClass(t, "single-15-light")
	changed := words.NewDay(2026, 3, 8)
	for _, c := range []struct {
		kind    DriftKind
		becomes func(*machine.Sheet)
		by      float64
		says    string
	}{
		{DriftTrims, func(s *machine.Sheet) { s.Rest.Trim += 0.8 }, 0.8, "Since 8 Mar 2026 this machine trims "},
		{DriftColours, func(s *machine.Sheet) { s.Rest.ColourStop += 5 }, 5, "Since 8 Mar 2026 a colour change takes "},
		{DriftFrame, func(s *machine.Sheet) { s.Frame.AccelX *= 0.8; s.Frame.AccelY *= 0.8 }, -0.2,
			"the frame gains speed "},
	} {
		res := fit(t, s, season(t, 3, c.becomes), noDraws)
		d := res.Drift
		if len(res.Slips) > 0 || warned(res, "longer than") {
			t.Errorf("%s: rows that the change explains are asked about: %v, %v", c.kind, res.Slips, res.Warnings)
		}
		if d == nil || d.Kind != c.kind || d.Since != changed || d.Low > c.by || d.High < c.by || d.Chance < 0.95 ||
			d.Old != 7 || d.New != 9 {
			t.Errorf("%s by %g: %+v", c.kind, c.by, d)
			continue
		}
		if text := d.Says().Text(nil); !strings.Contains(text, c.says) || !strings.Contains(text, "manual says") ||
			!strings.Contains(text, "(between ") {
			t.Error(text)
		}
	}
	// The other way it is a repair, and no belt.
	d := fit(t, s, season(t, 3, func(s *machine.Sheet) { s.Rest.Trim -= 1 }), noDraws).Drift
	if d == nil || d.Kind != DriftTrims || d.By > -0.7 || !strings.Contains(d.Says().Text(nil), "faster") ||
		strings.Contains(d.Says().Text(nil), "manual") {
		t.Errorf("%+v", d)
	}
}

func TestNoChangeIsSaidOfASteadyMachine(t *testing.T) {
	s := mustClass(t, "single-15-light")
	seeds := uint64(6)
	if testing.Short() {
		seeds = 2
	}
	for seed := range seeds {
		obs := season(t, seed, nil)
		if d := fit(t, s, obs, noDraws).Drift; d != nil {
			t.Errorf("machine %d: %s", seed, d.Says().Text(nil))
		}
		obs[10].Seconds += 70 // the bobbin ran out, and nobody wrote it down
		if d := fit(t, s, obs, noDraws).Drift; d != nil {
			t.Errorf("machine %d with an interruption: %s", seed, d.Says().Text(nil))
		}
	}
	// A change that no date tells of is not said.
	obs := season(t, 3, func(s *machine.Sheet) { s.Rest.ColourStop += 5 })
	for i := range obs {
		obs[i].Date = words.NewDay(2026, 3, 8)
	}
	if d := fit(t, s, obs, noDraws).Drift; d != nil {
		t.Errorf("all of one day: %+v", d)
	}
	for i := range obs {
		obs[i].Date = words.Day{}
	}
	if d := fit(t, s, obs, noDraws).Drift; d != nil {
		t.Errorf("no dates: %+v", d)
	}
	// One run since is no change yet.
	obs = season(t, 3, nil)
	obs[15].Seconds *= 1.2
	if d := fit(t, s, obs, noDraws).Drift; d != nil {
		t.Errorf("one run: %+v", d)
	}
}

// Another design since a date is no change: what the model gets wrong of a design
// it gets wrong on every date.
func TestAnotherDesignIsNoChange(t *testing.T) {
	s := mustClass(t, "single-15-light")
	obs := season(t, 3, nil)
	like := fit(t, s, obs, noDraws).Sheet
	d := somewhat(9, 4, 1500)
	for i := 7; i < len(obs); i++ { // one that this machine sews 4 % slower than the model has it
		obs[i].Design = d
		obs[i].Seconds = 1.04 * Predict(like, obs[i:i+1])[0]
	}
	if d := fit(t, s, obs, noDraws).Drift; d != nil {
		t.Errorf("%+v", d)
	}
}

// Many rows are put together, and tell the same.
func TestManyDatedRowsTellTheSame(t *testing.T) {
	s := mustClass(t, "single-15-light")
	var obs []Observation
	for k := range uint64(10) {
		obs = append(obs, season(t, 3, func(s *machine.Sheet) { s.Rest.Trim += 0.8 })...)
		for i := range obs[16*k:] {
			obs[16*int(k)+i].Seconds += 0.1 * float64(k%3)
		}
	}
	res := fit(t, s, obs, noDraws)
	rows := res.post.driftRows()
	if n := len(rows.all); n != len(obs) || len(rows.together().all) != 16 {
		t.Errorf("%d rows, %d together", n, len(rows.together().all))
	}
	if d := res.Drift; d == nil || d.Kind != DriftTrims || d.Low > 0.8 || d.High < 0.8 {
		t.Errorf("%+v", d)
	}
	// A whole and its blocks become the whole again.
	rng := rand.New(rand.NewPCG(1, 1))
	one := timed(s, rng, sewn[2], 900, true)
	later := timed(s, rng, sewn[2], 900, true)
	for i := range one {
		one[i].Date, later[i].Date = words.NewDay(2026, 3, 1), words.NewDay(2026, 3, 2)
	}
	post := fit(t, s, append(one, later...), noDraws).post
	rows = post.driftRows()
	sum := rows.together()
	if len(rows.all) != 8 || len(sum.all) != 2 {
		t.Fatalf("%d rows, %d together", len(rows.all), len(sum.all))
	}
	want := 0.0
	for i := range 4 {
		want += rows.all[i].size
	}
	if got := sum.all[0].size; got < want-1e-6 || got > want+1e-6 {
		t.Errorf("%g s of %g", got, want)
	}
}
