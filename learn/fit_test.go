package learn

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// noDraws keeps tests that do not need the check fast.
var noDraws = Options{Draws: -1}

func fit(t testing.TB, s *machine.Sheet, obs []Observation, opt Options) *Result {
	t.Helper()
	res, err := Fit(context.Background(), s, obs, opt)
	if err != nil {
		t.Fatal(err)
	}
	if err := machine.Validate(res.Sheet); err != nil {
		t.Fatal(err)
	}
	return res
}

func warned(res *Result, text string) bool {
	for _, w := range res.Warnings {
		if strings.Contains(w.String(), text) {
			return true
		}
	}
	return false
}

// timedPiece is a machine drawn from the class's priors, and its test piece timed.
func timedPiece(t testing.TB, s *machine.Sheet, seed uint64) (*machine.Sheet, *Piece, []Observation) {
	rng := rand.New(rand.NewPCG(seed, 5))
	truth := drawMachine(s, rng)
	p := piece(t, s, atTop(s))
	return truth, p, timed(truth, rng, p.Design, p.SetSpeed, true)
}

func TestTestPieceTeachesTheTimesOfOtherDesigns(t *testing.T) {
	seeds := uint64(8)
	if testing.Short() {
		seeds = 3
	}
	s := mustClass(t, "single-15-light")
	rng := rand.New(rand.NewPCG(5, 5))
	var errs, before []float64
	for seed := range seeds {
		truth, _, obs := timedPiece(t, s, seed)
		res := fit(t, s, obs, noDraws)
		for range 5 {
			d := somewhat(rng.Uint64(), 5, 2000)
			job := clock.Job{Speed: 900}
			want := clock.Run(d, truth, job).Seconds
			errs = append(errs, math.Abs(clock.Run(d, res.Sheet, job).Seconds/want-1))
			before = append(before, math.Abs(clock.Run(d, s, job).Seconds/want-1))
		}
	}
	a, b := median(errs), median(before)
	t.Logf("median error %.2f %%, before %.2f %%", 100*a, 100*b)
	if a > 0.01 || a > b/2 {
		t.Errorf("median error of other designs %.2f %%, by the class sheet %.2f %%", 100*a, 100*b)
	}
}

func median(v []float64) float64 {
	w := append([]float64(nil), v...)
	for i := range w {
		for j := i; j > 0 && w[j] < w[j-1]; j-- {
			w[j], w[j-1] = w[j-1], w[j]
		}
	}
	return w[len(w)/2]
}

// One block held up by 40 s, and the whole with it: the block is named, the
// whole is not accused a second time, and other designs' times stay right.
func TestAnInterruptionIsNamedAndSurvived(t *testing.T) {
	s := mustClass(t, "single-15-1200")
	d := somewhat(99, 4, 1500)
	for block := 1; block <= 3; block++ {
		truth, _, obs := timedPiece(t, s, uint64(10+block))
		obs[0].Seconds += 40
		obs[block].Seconds += 40
		res := fit(t, s, obs, noDraws)
		for i, r := range res.Runs {
			if suspect := r.Suspect != ""; suspect != (i == block) {
				t.Errorf("block %d held up: row %d suspicious: %v (%s)", block, i, suspect, r.Suspect)
			}
		}
		want := clock.Run(d, truth, clock.Job{}).Seconds
		if got := clock.Run(d, res.Sheet, clock.Job{}).Seconds; math.Abs(got/want-1) > 0.02 {
			t.Errorf("block %d held up: another design %.1f s, true %.1f s", block, got, want)
		}
	}
}

func TestSlipsAreSetAsideAndExplained(t *testing.T) {
	s := mustClass(t, "single-15-light")
	rng := rand.New(rand.NewPCG(3, 3))
	truth := drawMachine(s, rng)
	var obs []Observation
	size := 1
	if testing.Short() {
		size = 3 // smaller: what is asked hangs on the times alone
	}
	for k := range 6 {
		o := timed(truth, rng, somewhat(uint64(k), 4, (1000+700*k)/size), 900, false)
		o[0].Name = fmt.Sprintf("design-%d.dst", k)
		o[0].Row = k + 2
		obs = append(obs, o...)
	}
	right := fit(t, s, obs, noDraws)
	for _, c := range []struct {
		what string
		spil func([]Observation)
		row  int
		want string
	}{
		{"minutes as seconds", func(o []Observation) { o[1].Seconds /= 60 }, 3, "are these minutes? Then it is"},
		{"seconds as minutes", func(o []Observation) { o[1].Seconds *= 60 }, 3, "are these seconds, written as minutes? Then it is"},
		{"another design", func(o []Observation) { o[5].Seconds = o[0].Seconds }, 7, "is it the time of design-0.dst"},
		{"nothing known", func(o []Observation) { o[2].Seconds = 30 }, 4, "less than the stitches"},
	} {
		wrong := append([]Observation(nil), obs...)
		c.spil(wrong)
		res := fit(t, s, wrong, noDraws)
		found := false
		for _, w := range res.Warnings {
			found = found || w.Row == c.row && strings.Contains(w.Text, c.want)
		}
		if !found {
			t.Errorf("%s: warnings %v, want row %d and %q", c.what, res.Warnings, c.row, c.want)
		}
		d := somewhat(77, 4, 1500)
		a, b := clock.Run(d, res.Sheet, clock.Job{Speed: 900}).Seconds, clock.Run(d, right.Sheet, clock.Job{Speed: 900}).Seconds
		if math.Abs(a/b-1) > 0.015 {
			t.Errorf("%s: another design became %.1f s, without the slip %.1f s", c.what, a, b)
		}
	}
	only := []Observation{obs[0]}
	only[0].Seconds = 5
	if res, err := Fit(t.Context(), s, only, noDraws); !errors.Is(err, errNothing) || len(res.Warnings) != 1 {
		t.Errorf("nothing but a slip: %v, %v", res, err)
	}
}

// What is left out, by the leverage formula and over the kinds of machine that the other rows speak for, against real
// refits without the row. Without row 4 another kind is believed.
func TestLeaveOneOutIsWhatRefitsGive(t *testing.T) {
	s := mustClass(t, "multi-6")
	rng := rand.New(rand.NewPCG(8, 8))
	truth := drawMachine(s, rng)
	var obs []Observation
	for k := range 8 {
		obs = append(obs, timed(truth, rng, somewhat(uint64(k), 3, 1500), 900, false)...)
	}
	for _, plain := range []bool{true, false} {
		opt := noDraws
		opt.Plain = plain
		res := fit(t, s, obs, opt)
		for i := range obs {
			if testing.Short() && (plain && i%3 != 0 || !plain && i != 4) {
				continue
			}
			rest := append(append([]Observation(nil), obs[:i]...), obs[i+1:]...)
			without := fit(t, s, rest, opt)
			m := newModel(without.Sheet, nil, obs[i:i+1])
			m.move(nil)
			want, got := m.prediction(0), res.Runs[i].LeftOut
			if math.Abs(got-want) > 0.35*math.Abs(want-res.Runs[i].Predicted)+0.003*want {
				t.Errorf("plain %v, row %d: left out %.2f s, refitted without it %.2f s (with it %.2f s)", plain, i, got, want, res.Runs[i].Predicted)
			}
		}
	}
}

// One run counts as one between kinds of machines; of many repeats each counts less, whatever design is timed between them.
func TestRepeatsOfOneRunCountForLess(t *testing.T) {
	s := mustClass(t, "multi-6")
	a, b := somewhat(1, 3, 300), somewhat(2, 3, 300)
	var obs []Observation
	for range 51 {
		obs = append(obs, Observation{Kind: WholeRun, Design: a, SetSpeed: 900, Seconds: 60})
	}
	obs = append(obs, Observation{Kind: WholeRun, Design: b, SetSpeed: 900, Seconds: 60},
		Observation{Kind: WholeRun, Design: a, SetSpeed: 700, Seconds: 60},
		Observation{Kind: BlockRun, Block: 1, Design: a, SetSpeed: 900, Seconds: 60},
		Observation{Kind: BlockRun, Block: 2, Design: a, SetSpeed: 900, Seconds: 60},
		Observation{Kind: DisplayReading, LengthMM: 2, SetSpeed: 900, Shown: 900},
		Observation{Kind: DisplayReading, LengthMM: 2, SetSpeed: 700, Shown: 700},
		Observation{Kind: DisplayReading, LengthMM: 3, SetSpeed: 900, Shown: 900},
		Observation{Kind: DisplayReading, LengthMM: 3, SetSpeed: 900, Shown: 900, Zigzag: true})
	for i, got := range newModel(s, nil, obs).repeated() {
		want := 1.0
		if i < 51 {
			want = .5 // 50/(50+50)
		}
		if got != want {
			t.Errorf("row %d of %+v counts %.3f, want %.3f", i, obs[i].Kind, got, want)
		}
	}
}

// With nothing but rests free, a run time is linear: the fit is the textbook's
// linear Bayesian regression but for the logarithms.
func TestALinearProblemHasTheTextbookAnswer(t *testing.T) {
	s := mustClass(t, "single-15-light")
	s.SD = map[string]float64{"rest.trim": 0.3}
	d := somewhat(5, 1, 4000)
	base := clock.Run(d, s, clock.Job{})
	n := float64(base.Trims)
	rest := base.Seconds - n*s.Rest.Trim
	const truth = 5.0
	obs := []Observation{{Kind: WholeRun, Design: d, SetSpeed: 1000, Seconds: rest + n*truth, Error: 0.5}}
	res := fit(t, s, obs, noDraws)
	k := res.Constants[0]
	if math.Abs(k.Value-truth) > 0.02 {
		t.Errorf("trim %.4f s, true %.1f s", k.Value, truth)
	}
	sd := obs[0].StandardError() / (n * truth)
	want := 1 / math.Sqrt(1/(sd*sd)+1/sq(logSD(0.3)))
	if math.Abs(logSD(k.SD)/want-1) > 0.03 {
		t.Errorf("spread %.5f, textbook %.5f", logSD(k.SD), want)
	}
}

func TestWhatIsLearnedIsKeptInTheSheet(t *testing.T) {
	s := mustClass(t, "compact-8")
	truth, p, obs := timedPiece(t, s, 21)
	for i := range obs {
		obs[i].Date = words.NewDay(2026, 5, 1)
	}
	res := fit(t, s, obs, Options{})
	again, err := machine.Parse("learned.toml", res.Sheet.TOML())
	if err != nil {
		t.Fatal(err)
	}
	f := again.Fit
	if f == nil || f.Runs != len(obs) || f.Date != words.NewDay(2026, 5, 1) || f.ModelVersion != machine.ModelVersion || len(f.Digest) != 64 || len(f.Constants) != len(res.Constants) {
		t.Fatalf("the fit's record: %+v", f)
	}
	if again.BasisOf["frame.accel_x"] != machine.Fitted || again.BasisOf["frame.window"] == machine.Fitted {
		t.Error("basis", again.BasisOf)
	}
	// The class's interval is wide, the learned one narrow, and both hold.
	d := somewhat(4, 4, 1500)
	want := clock.Run(d, truth, clock.Job{}).Seconds
	_, wide := clock.How(d, s, clock.Job{}, 0.9)
	_, narrow := clock.How(d, again, clock.Job{}, 0.9)
	if (narrow.High-narrow.Low)*3 > wide.High-wide.Low || want < narrow.Low || want > narrow.High {
		t.Errorf("class %.0f to %.0f s, learned %.0f to %.0f s, true %.0f s", wide.Low, wide.High, narrow.Low, narrow.High, want)
	}
	if got := clock.Run(p.Design, again, clock.Job{Speed: p.SetSpeed}).Seconds; math.Abs(got/obs[0].Seconds-1) > 0.02 {
		t.Errorf("the piece itself: %.1f s, timed %.1f s", got, obs[0].Seconds)
	}
	// Learning the same rows from the learned sheet counts them twice: said.
	if twice := fit(t, again, obs, noDraws); !warned(twice, "in the sheet already") {
		t.Error(twice.Warnings)
	}
}

func TestAChangedMachineIsNoticed(t *testing.T) {
	s := mustClass(t, "single-15-light")
	rng := rand.New(rand.NewPCG(12, 12))
	truth := drawMachine(s, rng)
	runs := func(slower float64) []Observation {
		var obs []Observation
		for k := range 12 {
			o := timed(truth, rng, somewhat(uint64(k%5), 3, 1500), 900, false)[0]
			o.Date = words.NewDay(2026, 3, k+1)
			if k >= 7 {
				o.Seconds *= slower
			}
			obs = append(obs, o)
		}
		return obs
	}
	if res := fit(t, s, runs(1), noDraws); res.Drift != nil {
		t.Errorf("nothing changed, and it says: %s", res.Drift.Says().Text(nil))
	}
	res := fit(t, s, runs(1.06), noDraws)
	d := res.Drift
	if d == nil || d.Since != words.NewDay(2026, 3, 8) || d.Change < 0.04 || d.Change > 0.08 {
		t.Fatalf("6 %% slower since 8 March: %+v", d)
	}
	if v := res.Verdict.Fits; v != FitsChanged {
		t.Errorf("the machine changed, and the verdict is %q", v)
	}
	if text := d.Says().Text(nil); !strings.Contains(text, "Since 8 Mar 2026 ") {
		t.Error(text)
	}
}

// A zigzag that is slower than straight stitches speaks for a turn penalty: it
// is learned though the sheet has none, and not where there is none.
func TestAMissingTurnPenaltyIsLearned(t *testing.T) {
	s := mustClass(t, "single-15-light")
	truth := s.Clone()
	truth.Frame.Turn = 0.4
	var obs []Observation
	for _, l := range []float64{5, 7, 9} {
		for _, zig := range []bool{false, true} {
			o := Observation{Kind: DisplayReading, SetSpeed: 1000, LengthMM: l, Zigzag: zig}
			o.Shown = displayed(newClocks(truth), &o)
			obs = append(obs, o)
		}
	}
	res := fit(t, s, obs, noDraws)
	if !slices.Equal(res.Sheet.Fit.Terms, []string{"turn"}) || math.Abs(res.Sheet.Frame.Turn-0.4) > 0.05 {
		t.Errorf("believed: %v, frame.turn %.3f of 0.4", res.Sheet.Fit.Terms, res.Sheet.Frame.Turn)
	}
	other := Observation{Kind: DisplayReading, SetSpeed: 1000, LengthMM: 6, Zigzag: true}
	if got, want := displayed(newClocks(res.Sheet), &other), displayed(newClocks(truth), &other); math.Abs(got/want-1) > 0.01 {
		t.Errorf("zigzag of 6 mm: %.0f/min, true %.0f", got, want)
	}
	for i := range obs {
		obs[i].Shown = displayed(newClocks(s), &obs[i])
	}
	if res := fit(t, s, obs, noDraws); len(res.Sheet.Fit.Terms) > 0 {
		t.Errorf("a term where there is none: %v", res.Sheet.Fit.Terms)
	}
}

func TestTenThousandRows(t *testing.T) {
	s := mustClass(t, "compact-8")
	rng := rand.New(rand.NewPCG(2, 2))
	truth := drawMachine(s, rng)
	var designs []*stitch.Design
	for k := range 5 {
		designs = append(designs, somewhat(uint64(k), 3, 300))
	}
	n := 10_000
	if testing.Short() {
		n = manyRows + 50
	}
	obs := make([]Observation, n)
	for i := range obs {
		obs[i] = Observation{Kind: WholeRun, Design: designs[i%5], Name: "d", SetSpeed: 700 + float64(i%3)*50, Seconds: 1, Step: 0.1,
			Date: words.NewDay(2026, time.Month(1+i%12), 1)}
	}
	for i, v := range Predict(truth, obs) {
		obs[i].Seconds = v*(1+RunToRun*rng.NormFloat64()) + pressSD*rng.NormFloat64()
	}
	res := fit(t, s, obs, Options{Draws: 200})
	if res.Used != len(obs) || res.Drift != nil {
		t.Errorf("used %d, drift %v", res.Used, res.Drift)
	}
	d := somewhat(9, 3, 800)
	got, want := clock.Run(d, res.Sheet, clock.Job{}).Seconds, clock.Run(d, truth, clock.Job{}).Seconds
	if math.Abs(got/want-1) > 0.02 {
		t.Errorf("another design %.1f s, true %.1f s", got, want)
	}
}

// Thousands of slips: what each may have meant is asked of a few designs at a
// few speeds, and these are clocked once.
func TestThousandsOfSlips(t *testing.T) {
	s := mustClass(t, "compact-8")
	var obs []Observation
	for k := range 4 {
		d := somewhat(uint64(k), 1+k, 500)
		for _, set := range []float64{600, 700} {
			obs = append(obs, Observation{Kind: WholeRun, Design: d, Name: fmt.Sprintf("d%d", k), SetSpeed: set})
		}
	}
	for i, v := range Predict(s, obs) {
		obs[i].Seconds = v
	}
	wrong := 4000
	if testing.Short() {
		wrong = 400
	}
	for i := range wrong { // another design's time, or one of none
		o := obs[i%2]
		o.Seconds = []float64{obs[6+i%2].Seconds, 9e4}[i/2%2]
		obs = append(obs, o)
	}
	res := fit(t, s, obs, noDraws)
	if len(res.Slips) == 0 || len(res.Slips) > strangest || len(res.Warnings) > 3*strangest {
		t.Errorf("%d slips asked about, %d warnings of %d rows", len(res.Slips), len(res.Warnings), len(obs))
	}
	m := res.post.f.model
	for i := range m.obs {
		m.probe(&m.obs[i])
	}
	if len(m.timed()) != 4 || len(m.probes) != 8 {
		t.Errorf("%d designs, %d timings clocked; want 4 and 8", len(m.timed()), len(m.probes))
	}
}

func TestBadFitsAreErrors(t *testing.T) {
	s := mustClass(t, "compact-8")
	if _, err := Fit(t.Context(), s, nil, Options{}); err == nil {
		t.Error("no observation: no error")
	}
	exact := s.Clone()
	exact.SD = nil
	if _, err := Fit(t.Context(), exact, []Observation{{Kind: DisplayReading, SetSpeed: 800, LengthMM: 5, Shown: 600}}, Options{}); err == nil || !strings.Contains(err.Error(), "[sd]") {
		t.Error("no spread:", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, _, obs := timedPiece(t, s, 1)
	if _, err := Fit(ctx, s, obs, Options{}); !errors.Is(err, context.Canceled) {
		t.Error("cancelled:", err)
	}
	for _, o := range []PieceOptions{{HoopX: 30, HoopY: 100, Minutes: 6}, {HoopX: 100, HoopY: 100, Minutes: 1}, {HoopX: math.NaN(), HoopY: 100, Minutes: 6}, {HoopX: 100, HoopY: 100, Minutes: 6, SetSpeed: 5}} {
		if _, err := TestPiece(t.Context(), s, o); err == nil {
			t.Errorf("%+v: no error", o)
		}
	}
}

// Whatever the rows say, there is a valid sheet or an error, never a panic and
// never a number that is none.
func TestRubbishRowsGiveASheetOrAnError(t *testing.T) {
	checks := flag.Lookup("rapid.checks")
	if before := checks.Value.String(); before == "100" { // a fit each: a third of the usual number will do
		checks.Value.Set("30")
		defer checks.Value.Set(before)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := drawClass(t)
		var designs []*stitch.Design
		for k := range rapid.IntRange(1, 3).Draw(t, "designs") {
			d := &stitch.Design{}
			for range rapid.IntRange(1, 4).Draw(t, fmt.Sprint("blocks", k)) {
				for i := range rapid.IntRange(0, 60).Draw(t, "stitches") {
					d.Records = append(d.Records, stitch.Record{DX: int16(rapid.SampledFrom([]int{0, 10, 50, 121, -121, 900}).Draw(t, "dx")), DY: int16(i % 7), Op: stitch.Op(rapid.SampledFrom([]int{0, 0, 0, 0, 1, 2, 4}).Draw(t, "op"))})
				}
				d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
			}
			designs = append(designs, d)
		}
		var obs []Observation
		for range rapid.IntRange(1, 12).Draw(t, "rows") {
			o := Observation{Kind: Kind(rapid.IntRange(0, 2).Draw(t, "kind")), SetSpeed: rapid.Float64Range(10, 3000).Draw(t, "set"), Date: rapid.SampledFrom([]words.Day{{}, words.NewDay(2026, 1, 1), words.NewDay(2026, 2, 1)}).Draw(t, "date")}
			if o.Kind == DisplayReading {
				o.Shown, o.LengthMM = rapid.Float64Range(10, 3000).Draw(t, "shown"), rapid.Float64Range(0.1, 15).Draw(t, "mm")
			} else {
				o.Design = rapid.SampledFrom(designs).Draw(t, "design")
				o.Seconds = math.Exp(rapid.Float64Range(-2, 12).Draw(t, "ln s"))
				o.Block = rapid.IntRange(1, o.Design.Count().ColourStops).Draw(t, "block")
			}
			obs = append(obs, o)
		}
		res, err := Fit(context.Background(), s, obs, Options{Draws: rapid.SampledFrom([]int{-1, -1, 30}).Draw(t, "draws")})
		if err != nil {
			return
		}
		if err := machine.Validate(res.Sheet); err != nil {
			t.Fatal(err)
		}
		for _, r := range res.Runs {
			for _, v := range []float64{r.Predicted, r.SD, r.LeftOut, r.Paused, r.Slip, r.Relative()} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("row %+v", r)
				}
			}
		}
		for _, v := range []float64{res.LeaveOut.RMS, res.LeaveOut.Median, res.Misfit, res.Learned, res.Pace} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%+v", res.LeaveOut)
			}
		}
	})
}

func drawClass(t *rapid.T) *machine.Sheet {
	s := rapid.SampledFrom(machine.Classes()).Draw(t, "class")
	if rapid.Bool().Draw(t, "no rests") {
		s.Rest = machine.Rest{}
	}
	if rapid.Bool().Draw(t, "shaft travel") {
		s.Travel.Mode = machine.ShaftTravel
	}
	s.Travel.ReturnToStart = rapid.Bool().Draw(t, "home")
	return s
}
