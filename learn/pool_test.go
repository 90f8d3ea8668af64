package learn

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
)

// madeClass is a class that the project made: off the built-in one by a known
// way, its machines apart by a known spread (of the logarithms).
func madeClass(t testing.TB) (truth *machine.Sheet, apart float64) {
	s := mustClass(t, "single-15-light")
	for path, by := range map[string]float64{"frame.accel_x": 1.5, "frame.accel_y": 1.3, "frame.speed_x": 1.25,
		"frame.speed_y": 1.15, "shaft.accel_up": 0.75, "rest.trim": 1.35, "rest.colour_stop": 0.8, "rest.start": 1.5} {
		c, _ := machine.ConstantAt(path)
		c.Set(s, c.Get(s)*by)
	}
	return s, 0.08
}

// machineOf draws a machine of a made class.
func machineOf(s *machine.Sheet, apart float64, rng *rand.Rand) *machine.Sheet {
	m := s.Clone()
	for _, c := range freeConstants(s) {
		c.Set(m, c.Get(m)*math.Exp(apart*rng.NormFloat64()))
	}
	return m
}

// madeMember is the learned sheet of machine i of the made class, from its test
// piece; change makes it another.
func madeMember(t testing.TB, i int, change func(m *machine.Sheet)) PoolMember {
	t.Helper()
	made, apart := madeClass(t)
	m := machineOf(made, apart, rand.New(rand.NewPCG(12, uint64(i))))
	change(m)
	r := learned(t, mustClass(t, "single-15-light"), m, uint64(100+i), Options{Draws: -1, Plain: true})
	return PoolMember{fmt.Sprintf("m%d.toml", i+1), r.Sheet}
}

// twelve are learned once for all tests, which change none of them.
var twelve []PoolMember

func twelveMembers(t testing.TB) []PoolMember {
	for i := len(twelve); i < 12; i++ {
		twelve = append(twelve, madeMember(t, i, func(*machine.Sheet) {}))
	}
	return slices.Clone(twelve)
}

func pool(t testing.TB, members []PoolMember) *Pooled {
	t.Helper()
	p, err := Pool(context.Background(), mustClass(t, "single-15-light"), members)
	if err != nil {
		t.Fatal(err)
	}
	if err := machine.Validate(p.Class); err != nil {
		t.Fatal(err)
	}
	return p
}

func (p *Pooled) constant(path string) *PooledConstant {
	for i := range p.Constants {
		if p.Constants[i].Path == path {
			return &p.Constants[i]
		}
	}
	return nil
}

// Twelve machines of a made class tell where the class is and how far its
// machines lie apart, and the thirteenth is then learned from two timings as the
// built-in class learns it from several.
func TestAPooledClassHelpsTheNextMachine(t *testing.T) {
	if testing.Short() {
		t.Skip("24 sheets are learned")
	}
	builtIn := mustClass(t, "single-15-light")
	made, apart := madeClass(t)
	p := pool(t, twelveMembers(t))
	for _, path := range []string{"frame.accel_x", "frame.accel_y", "rest.trim", "rest.colour_stop"} {
		c, _ := machine.ConstantAt(path)
		x := p.constant(path)
		if off := math.Abs(math.Log(x.Value / c.Get(made))); off > 0.1 || x.Between < 0.6*apart || x.Between > 0.3 || x.Told != 12 {
			t.Errorf("%s: %+v, made with %.4g ± %.2f", path, x, c.Get(made), apart)
		}
	}
	if p.Class.Pool.Words().Raw() != "from 12 machines of 1 shop" || len(p.Odd) > 0 {
		t.Errorf("%v %+v", p.Class.Pool.Words().Raw(), p.Odd)
	}
	rng := rand.New(rand.NewPCG(13, 7))
	const seeds = 12
	var off [2][]float64
	var inside, of [2]int
	var width [2][]float64
	for seed := range seeds {
		truth := machineOf(made, apart, rng)
		var obs []Observation
		for k := range 2 { // two whole runs: all that a shop may have on the first day
			obs = append(obs, timed(truth, rng, somewhat(uint64(50*seed+k), 4, 2000), 900, false)...)
		}
		for way, class := range []*machine.Sheet{builtIn, p.Class} {
			s := fit(t, class, obs, Options{Draws: 500, Plain: true}).Sheet
			for k := range 4 {
				d, job := somewhat(uint64(9000+10*seed+k), 5, 2500), clock.Job{Speed: []float64{750, 1000}[k%2]}
				want := clock.Run(d, truth, job).Seconds
				res, u := clock.How(d, s, job, 0.9)
				off[way] = append(off[way], math.Abs(res.Seconds/want-1))
				width[way] = append(width[way], (u.High-u.Low)/2/want)
				if of[way]++; u.Low <= want && want <= u.High {
					inside[way]++
				}
			}
		}
	}
	t.Logf("built-in: median %.2f %%, ± %.2f %%, %d of %d inside; pooled: %.2f %%, ± %.2f %%, %d of %d", 100*median(off[0]),
		100*median(width[0]), inside[0], of[0], 100*median(off[1]), 100*median(width[1]), inside[1], of[1])
	if a, b := median(off[0]), median(off[1]); b > 0.8*a {
		t.Errorf("median error %.2f %% from the pooled class, %.2f %% from the built-in", 100*b, 100*a)
	}
	if share := float64(inside[1]) / float64(of[1]); share < 0.85 {
		t.Errorf("%d of %d inside the 90 %% interval", inside[1], of[1])
	}
}

// One sheet or two move the class little.
func TestAFewSheetsHardlyMoveTheClass(t *testing.T) {
	for n := 1; n <= 2; n++ {
		members := twelveMembers(t)[:n]
		p := pool(t, members)
		for _, x := range p.Constants {
			c, _ := machine.ConstantAt(x.Path)
			way := math.Abs(math.Log(x.Value / x.Prior))
			far := 0.0
			for _, m := range members {
				far = max(far, math.Abs(math.Log(c.Get(m.Sheet)/x.Prior)))
			}
			if x.SD < 0.7*x.PriorSD || way > 0.5*far+0.03 {
				t.Errorf("%d sheets: %s from %.4g ± %.2f to %.4g ± %.2f, the sheets lie within %.2f of it", n, x.Path, x.Prior,
					x.PriorSD, x.Value, x.SD, far)
			}
		}
	}
}

// A constant that no run told keeps its value and its spread.
func TestWhatNoRunToldStays(t *testing.T) {
	class := mustClass(t, "single-15-light")
	made, apart := madeClass(t)
	rng := rand.New(rand.NewPCG(3, 7))
	var members []PoolMember
	for i := range 6 {
		truth := machineOf(made, apart, rng)
		// Blocks alone: no start, no end, no colour stop, no needle.
		all := timed(truth, rng, piece(t, class, usual).Design, 1000, true)[1:]
		members = append(members, PoolMember{fmt.Sprint("m", i), fit(t, class, all, Options{Draws: -1, Plain: true}).Sheet})
	}
	p := pool(t, members)
	for _, path := range []string{"rest.start", "rest.colour_stop", "rest.per_needle"} {
		if x := p.constant(path); x.Value != x.Prior || math.Abs(x.SD/x.PriorSD-1) > 0.02 {
			t.Errorf("%+v", x)
		}
	}
	if x := p.constant("frame.accel_x"); x.Told != 6 || x.SD > 0.9*x.PriorSD {
		t.Errorf("%+v", x)
	}
}

// A machine that is none of the class widens it, and is named.
func TestAWrongMachineIsNamedAndWidensTheClass(t *testing.T) {
	members := twelveMembers(t)
	right := pool(t, members)
	members[7] = madeMember(t, 7, func(m *machine.Sheet) { m.Rest.Trim *= 2 })
	wrong := pool(t, members)
	a, b := right.constant("rest.trim"), wrong.constant("rest.trim")
	if b.Between < 1.5*a.Between || b.SD < 1.3*a.SD {
		t.Errorf("the spread of trims is %.3f (± %.3f) with the wrong machine, %.3f (± %.3f) without", b.Between, b.SD,
			a.Between, a.SD)
	}
	if len(wrong.Odd) != 1 || wrong.Odd[0].Member != 7 || wrong.Odd[0].Path != "rest.trim" ||
		wrong.Odd[0].Without > 0.7*wrong.Odd[0].Between {
		t.Errorf("named: %+v", wrong.Odd)
	}
}

func TestBadEvidenceIsRefusedWithWhy(t *testing.T) {
	class := mustClass(t, "single-15-light")
	members := twelveMembers(t)
	first := members[0]
	for want, change := range map[string]func(*machine.Sheet) *machine.Sheet{
		"was changed after it was learned": func(s *machine.Sheet) *machine.Sheet { s.Rest.Trim++; return s },
		"never learned":                    func(s *machine.Sheet) *machine.Sheet { s.Fit = nil; return s },
		"[fit.evidence] is missing":        func(s *machine.Sheet) *machine.Sheet { s.Fit.Evidence = nil; return s },
		"newer than this program's":        func(s *machine.Sheet) *machine.Sheet { s.Fit.ModelVersion++; return s },
		"is of another class":              func(s *machine.Sheet) *machine.Sheet { s.Class = "multi-head"; return resealed(s) },
		"travel.mode is":                   func(s *machine.Sheet) *machine.Sheet { s.Travel.Mode = machine.ShaftTravel; return resealed(s) },
		"very same evidence is in m1.toml": func(*machine.Sheet) *machine.Sheet { return first.Sheet.Clone() },
		"timed rows are in m1.toml too": func(s *machine.Sheet) *machine.Sheet {
			e := *s.Fit.Evidence
			e.Rows = append(slices.Clone(e.Rows), first.Sheet.Fit.Evidence.Rows[2:]...)
			s.Fit.Evidence = &e
			return resealed(s)
		},
		"more than 8 spreads from": func(s *machine.Sheet) *machine.Sheet { return shifted(s, 300) },
		"and no machine has that":  func(s *machine.Sheet) *machine.Sheet { return shifted(s, 1000) },
		"this is a class already": func(s *machine.Sheet) *machine.Sheet {
			p, err := Pool(context.Background(), class, []PoolMember{first})
			if err != nil {
				t.Fatal(err)
			}
			return p.Class
		},
	} {
		_, err := Pool(context.Background(), class, []PoolMember{first, {"m2.toml", change(members[1].Sheet.Clone())}})
		var refused RefusedError
		if !errors.As(err, &refused) || len(refused) != 1 || refused[0].Name != "m2.toml" || !strings.Contains(refused[0].Why, want) {
			t.Errorf("wanted %q, got %v", want, err)
		}
	}
}

// shifted is a sheet whose evidence reads its best known sum of constants that
// much off.
func shifted(s *machine.Sheet, by float64) *machine.Sheet {
	e := *s.Fit.Evidence
	e.Read = slices.Clone(e.Read)
	e.Read[0] += by
	s.Fit.Evidence = &e
	return resealed(s)
}

// resealed is a sheet whose evidence somebody sealed anew.
func resealed(s *machine.Sheet) *machine.Sheet {
	e := *s.Fit.Evidence
	s.Fit.Evidence = &e
	e.Seal = s.SealNow()
	return s
}

// The odds of a term follow how often it was found, and rows that tell nothing
// leave them.
func TestOddsOfATermFollowTheMachines(t *testing.T) {
	if got := nextOdds(-1, []float64{0, 0, 0, 0}); math.Abs(got+1) > 0.02 {
		t.Errorf("rows that tell nothing moved the odds from -1 to %.3f", got)
	}
	// All certain: the mean of a Beta posterior, (a + found)/(a + b + machines).
	chance := 1 / (1 + math.Exp(1.0))
	for found := range 13 {
		var odds []float64
		for i := range 12 {
			odds = append(odds, map[bool]float64{true: 30, false: -30}[i < found])
		}
		want := (termMachines*chance + float64(found)) / (termMachines + 12)
		if got := nextOdds(-1, odds); math.Abs(got-math.Log(want/(1-want))) > 0.05 {
			t.Errorf("%d of 12: odds %.2f, wanted %.2f", found, got, math.Log(want/(1-want)))
		}
	}
}

// A term that most machines of a class have is in the class's law, with the
// value that they have together; the next machine is believed to have it, and one
// that has it not is found out.
func TestATermOfMostMachinesIsTheClasss(t *testing.T) {
	if testing.Short() {
		t.Skip("every kind of machine is fitted")
	}
	class := mustClass(t, "single-15-light")
	const settle = 0.012
	rng := rand.New(rand.NewPCG(21, 7))
	var members []PoolMember
	for i := range 6 {
		m := machineOf(class, 0.08, rng)
		m.Frame.Settle = settle
		s := learned(t, with(class, "frame.settle", 0.002, 1.0), m, uint64(i), Options{Draws: -1, Plain: true}).Sheet
		s.Fit.Terms, s.Fit.Weight, s.Fit.Evidence.Terms = []string{"settle"}, 1, map[string]float64{"settle": 6, "lag": -4}
		members = append(members, PoolMember{fmt.Sprint("m", i), resealed(s)})
	}
	p := pool(t, members)
	x := p.Class.Pool.Term("settle")
	if x.Believed != 6 || x.Of != 6 || x.Odds < 0.5 || math.Abs(math.Log(p.Class.Frame.Settle/settle)) > 0.7 ||
		p.Class.SD["frame.settle"] > 0.85 {
		t.Fatalf("%+v, settle %v ± %v", x, p.Class.Frame.Settle, p.Class.SD["frame.settle"])
	}
	if lag := p.Class.Pool.Term("lag"); lag.Believed != 0 || lag.Odds >= terms[3].odds || p.Class.Shaft.Lag != 0 {
		t.Errorf("%+v", lag)
	}
	read, err := machine.Parse("class.toml", p.Class.TOML())
	if err != nil || read.Pool.Term("settle").Odds != x.Odds || read.Frame.Settle != p.Class.Frame.Settle {
		t.Fatal(err)
	}
	for _, is := range []float64{settle, 0} {
		m := machineOf(class, 0.08, rng)
		m.Frame.Settle = is
		piece := piece(t, class, usual)
		obs := timed(m, rng, piece.Design, piece.SetSpeed, true)
		for k := range 6 {
			obs = append(obs, timed(m, rng, somewhat(uint64(k), 4, 2000), []float64{700, 1000}[k%2], true)...)
		}
		r := fit(t, read, obs, Options{Draws: -1})
		has := slices.Contains(r.Sheet.Fit.Terms, "settle")
		if has != (is > 0) || (r.Sheet.Frame.Settle > 0) != has || len(r.Families) < 2 {
			t.Errorf("settle %v: learned %v, settle %v", is, r.Sheet.Fit.Terms, r.Sheet.Frame.Settle)
		}
	}
}
