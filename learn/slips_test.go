package learn

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"needlepace/clock"
)

// A run on given needles takes what the clock says it takes on them.
func TestARunOnItsNeedlesIsTheClocks(t *testing.T) {
	s := mustClass(t, "single-15-light")
	for k, list := range []string{"", "1 2 3 4 5", "9 1 15 3 3", "2-1-2-1-2"} {
		n, err := ParseNeedles(list)
		if err != nil {
			t.Fatal(err)
		}
		d := somewhat(uint64(k), 5, 300)
		got := Predict(s, []Observation{{Kind: WholeRun, Design: d, SetSpeed: 900, Seconds: 1, Needles: n}})[0]
		if want := clock.Run(d, s, clock.Job{Speed: 900, Needles: n}).Seconds; math.Abs(got-want) > 1e-9*want {
			t.Errorf("needles %q: %v s, the clock %v s", list, got, want)
		}
	}
}

// Laps of a watch that never stops add up to the whole, whichever end of the
// colour stop they are taken at; a list of needles in one row holds for its run.
func TestLapsAddUpToTheWhole(t *testing.T) {
	s := mustClass(t, "multi-6")
	s.Travel.ReturnToStart = true
	d := somewhat(4, 4, 300)
	n := Needles{0, 9, 2, 14}
	for _, with := range []Beside{AtStart | StopAfter | AtEnd, AtStart | StopBefore | AtEnd} {
		obs := []Observation{{Kind: WholeRun, Design: d, SetSpeed: 900, Seconds: 1, Needles: n}}
		for b := range 4 {
			obs = append(obs, Observation{Kind: BlockRun, Block: b + 1, Design: d, SetSpeed: 900, Seconds: 1, With: with})
		}
		p := Predict(s, obs)
		if sum := p[1] + p[2] + p[3] + p[4]; math.Abs(sum-p[0]) > 1e-9*p[0] {
			t.Errorf("%v: laps add up to %v s, the whole is %v s", with, sum, p[0])
		}
	}
}

// Needles nobody knows: the mean and the variance of two that are drawn.
func TestNeedlesDrawnByLot(t *testing.T) {
	const needles = 12
	sum, squares, n := 0.0, 0.0, 0.0
	for a := range needles {
		for b := range needles {
			if a != b {
				d := math.Abs(float64(a - b))
				sum, squares, n = sum+d, squares+d*d, n+1
			}
		}
	}
	mean, variance := Needles{AnyNeedle}.crossed(3, needles)
	if math.Abs(mean-sum/n) > 1e-9 || math.Abs(variance-(squares/n-sum/n*sum/n)) > 1e-9 {
		t.Errorf("mean %v and variance %v, counted %v and %v", mean, variance, sum/n, squares/n-sum/n*sum/n)
	}
}

func TestNeedlesAndLapsAreReadFromTheFile(t *testing.T) {
	const head = "design,set_speed,block,seconds,needles,with\n"
	obs, _, err := ReadRuns(strings.NewReader(head+"rose.dst,800,,60,4 1,\nrose.dst,800,1,20,,After\nrose.dst,800,2,20,?,before end\n"),
		"runs.csv", opener)
	if err != nil || obs[0].Needles.String() != "4 1" || obs[1].With != StopAfter || obs[2].With != StopBefore|AtEnd ||
		!obs[2].Needles.unknown() {
		t.Fatal(obs, err)
	}
	for row, want := range map[string]string{
		"rose.dst,800,,60,4,":            "1 needles for 2 colour blocks",
		"rose.dst,800,,60,4 61,":         "1 to 60",
		"rose.dst,800,,60,0 1,":          "1 to 60",
		"rose.dst,800,,60,,after":        "the whole holds all",
		"rose.dst,800,1,60,,before":      "block 1 of 2 cannot hold that; it may hold start after",
		"rose.dst,800,2,60,,after":       "block 2 of 2 cannot hold that; it may hold before end",
		"rose.dst,800,2,60,,colour stop": "write what the block's time holds",
	} {
		if _, _, err := ReadRuns(strings.NewReader(head+row+"\n"), "runs.csv", opener); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", row, err, want)
		}
	}
}

func TestMeantTimes(t *testing.T) {
	for _, c := range []struct {
		written string
		want    []float64 // all exchanges
	}{
		{"12:54", []float64{21*60 + 54, 15*60 + 24, 12*60 + 45}},
		{"152", []float64{512, 125}},
		{"11:11", nil},
		{"47.1", []float64{74.1, 41.7}},
		{"9:26", []float64{2*60 + 96 - 0}},
	} {
		sec, step, err := ParseTime(c.written)
		if err != nil {
			t.Fatal(err)
		}
		got := swappedTimes(&Observation{Seconds: sec, Step: step, Written: c.written})
		if c.written == "9:26" { // 2:96 and 9:62 are no times
			c.want = nil
		}
		if len(got) != len(c.want) {
			t.Errorf("%s: %+v, want %v", c.written, got, c.want)
			continue
		}
		for k := range got {
			if math.Abs(got[k].seconds-c.want[k]) > 1e-9 {
				t.Errorf("%s: %v s, want %v s", c.written, got[k].seconds, c.want[k])
			}
		}
	}
	if s, ok := minutesPointSeconds(&Observation{Seconds: 12.45, Written: "12.45"}); !ok || s != 765 {
		t.Errorf("12.45 as 12 min 45 s: %v, %v", s, ok)
	}
	if _, ok := minutesPointSeconds(&Observation{Seconds: 12.75, Written: "12.75"}); ok {
		t.Error("12.75 is no 12 min 75 s")
	}
}

// wrongly is a timed piece and two designs with one mistake in them.
func wrongly(t *testing.T, seed uint64, spoil func(obs []Observation, stops float64)) (obs []Observation, right []Observation) {
	s := mustClass(t, "single-15-light")
	truth, p, obs := timedPiece(t, s, seed)
	rng := rand.New(rand.NewPCG(seed, 9))
	for k := range 2 {
		one := timed(truth, rng, somewhat(seed+uint64(k), 4, 1800), p.SetSpeed, false)
		one[0].Name = fmt.Sprintf("design-%d", k)
		obs = append(obs, one...)
	}
	for i := range obs {
		obs[i].Row = i + 2
	}
	right = append([]Observation(nil), obs...)
	spoil(obs, truth.Rest.ColourStop+truth.Rest.PerNeedle)
	return obs, right
}

func TestASlipIsAskedAboutAndCountsOnlyIfItIsMeant(t *testing.T) {
	s := mustClass(t, "single-15-light")
	last := func(o []Observation) *Observation { return &o[len(o)-1] }
	_, right := wrongly(t, 31, func([]Observation, float64) {})
	d := somewhat(77, 4, 1500)
	want := clock.Run(d, fit(t, s, right, noDraws).Sheet, clock.Job{Speed: 900}).Seconds
	for _, c := range []struct {
		kind  SlipKind
		key   string
		spoil func(o []Observation, stop float64)
		asks  string
	}{
		{LapsSlip, "laps", func(o []Observation, stop float64) {
			for i := 1; i < len(o)-3; i++ {
				o[i].Seconds += stop
			}
		}, "as laps of a watch that ran on"},
		{MisreadSlip, "row-4", func(o []Observation, _ float64) { o[2].Seconds += 40 }, "the whole (row 2) is right"},
		{UnitSlip, "", func(o []Observation, _ float64) { last(o).Seconds, last(o).Step = math.Round(last(o).Seconds/60), 1 }, "are these minutes?"},
		{DesignSlip, "", func(o []Observation, _ float64) { last(o).Seconds = o[0].Seconds }, "is it the time of"},
		{UnitSlip, "unit", func(o []Observation, _ float64) {
			for i := range o {
				o[i].Seconds = math.Round(6000*o[i].Seconds/60) / 6000
			}
		}, "minutes, written as seconds"},
	} {
		obs, _ := wrongly(t, 31, c.spoil)
		if c.key == "" {
			c.key = fmt.Sprintf("row-%d", len(obs)+1)
		}
		res, err := Fit(t.Context(), s, obs, noDraws)
		if err != nil && !errors.Is(err, errNothing) {
			t.Fatal(err)
		}
		if len(res.Slips) != 1 || res.Slips[0].Kind != c.kind || res.Slips[0].Key != c.key ||
			!strings.Contains(res.Slips[0].Asks().Text(nil), c.asks) {
			t.Errorf("%s: asked %+v; %v", c.kind, res.Slips, res.Warnings)
			continue
		}
		if n := strings.Count(fmt.Sprint(res.Warnings), c.asks); n != 1 {
			t.Errorf("%s: said %d times: %v", c.kind, n, res.Warnings)
		}
		meant := noDraws
		meant.Meant, meant.Plain = []string{c.key}, testing.Short() // what it was asked of was searched for kinds of machine
		yes := fit(t, s, obs, meant)
		if len(yes.Meant) != 1 || len(yes.Slips) != 0 {
			t.Errorf("%s: with the answer yes: %+v are meant, %+v still asked", c.kind, yes.Meant, yes.Slips)
		}
		if i := yes.Meant[0].Rows[0]; !strings.Contains(yes.Runs[i].Note, "written") {
			t.Errorf("%s: what was written is lost: note %q", c.kind, yes.Runs[i].Note)
		}
		if a := clock.Run(d, yes.Sheet, clock.Job{Speed: 900}).Seconds; math.Abs(a/want-1) > 0.01 {
			t.Errorf("%s: with the answer yes another design takes %.1f s, without the slip %.1f s", c.kind, a, want)
		}
	}
}

// Exchanged digits of a block are known by the whole that they do not fit.
func TestExchangedDigits(t *testing.T) {
	s := mustClass(t, "single-15-light")
	obs, right := wrongly(t, 31, func(o []Observation, _ float64) {
		v := math.Round(o[2].Seconds)
		o[2].Seconds = 10*math.Mod(v, 10) + math.Floor(v/10)
		if v < 10 || v > 99 || o[2].Seconds == v || math.Mod(v, 10) == 0 {
			t.Fatalf("block 2 takes %v s: choose another", v)
		}
	})
	res := fit(t, s, obs, noDraws)
	if len(res.Slips) != 1 || res.Slips[0].Kind != DigitsSlip || math.Abs(res.Slips[0].Meant[0].Seconds-right[2].Seconds) > 0.5 {
		t.Errorf("written %v, meant %v: asked %+v; %v", obs[2].Seconds, right[2].Seconds, res.Slips, res.Warnings)
	}
	// The page's own presses are not written by hand.
	for i := range obs {
		obs[i].Pressed = true
	}
	if res = fit(t, s, obs, noDraws); len(res.Slips) != 0 {
		t.Errorf("timed by presses: asked %v", res.Slips[0].Asks().Text(nil))
	}
}

func TestWhatWasNotAskedCannotBeMeant(t *testing.T) {
	s := mustClass(t, "single-15-light")
	obs, _ := wrongly(t, 31, func([]Observation, float64) {})
	opt := noDraws
	opt.Meant = []string{"laps"}
	_, err := Fit(t.Context(), s, obs, opt)
	if none := (*NotOffered)(nil); !errors.As(err, &none) || !strings.Contains(err.Error(), "laps is no slip of these rows") {
		t.Error(err)
	}
}

// A row that alone is odd is asked about though it be less likely meant otherwise than held up. Where others are odd too, the
// machine is, and no row is asked about on so little.
func TestSeveralOddRowsAreTheMachines(t *testing.T) {
	s := mustClass(t, "compact-10-light")
	opt := noDraws
	opt.Plain = true
	_, _, obs := timedPiece(t, s, 31)
	least := func(longer ...int) float64 {
		obs := slices.Clone(obs)
		for _, i := range longer {
			obs[0].Seconds += 40
			obs[i].Seconds += 40
		}
		po := fit(t, s, obs, opt).post
		search := &slipSearch{po: po, owner: make([]int, len(obs))} // all blocks of row 0
		return search.least([]Slip{{Kind: DigitsSlip, Rows: []int{2}}})
	}
	if alone, among := least(2), least(2, 4, 5); alone >= 0 || among <= 0 {
		t.Errorf("odd alone it is asked about from odds of e^%.1f, among others from e^%.1f", alone, among)
	}
}
