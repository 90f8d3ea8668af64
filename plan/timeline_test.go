package plan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// near compares seconds up to the hair that a lot may end before its shift does.
func near(a, b float64) bool { return a == b || math.Abs(a-b) <= 3*hair }

func TestWorkStandsStillWhileTheMachineIsClosed(t *testing.T) {
	// Ten seconds' work, a pause, ten at half pace, a long pause, ten more. After
	// the last window it goes on at the average: 30 s of work in 110 s.
	line := newTimeline([]Window{{-20, -10, 1}, {10, 20, 0}, {22, 22, 1}, {30, 50, 0.5}, {100, 110, 1}})
	for _, c := range []struct{ work, end, start float64 }{
		{0, 0, 10}, // what takes no time is done before the shift
		{5, 15, 15},
		{10, 20, 30}, // done with the shift; what comes after begins with the next
		{10 - 1e-6, 20, 30},
		{10.001, 30.002, 30.002},
		{15, 40, 40},
		{20, 50, 100},
		{29, 109, 109},
		{30, 110, 110},
		{41, 110 + 11*110/30., 110 + 11*110/30.},
	} {
		if got := line.end(c.work); !near(got, c.end) {
			t.Errorf("%v s of work are done at %v, want %v", c.work, got, c.end)
		}
		if got := line.start(c.work); !near(got, c.start) {
			t.Errorf("the work after %v s begins at %v, want %v", c.work, got, c.start)
		}
	}
	for _, c := range []struct{ at, work float64 }{
		{-5, 0}, {0, 0}, {10, 0}, {15, 5}, {20, 10}, {25, 10}, {40, 15}, {50, 20}, {99, 20}, {104, 24}, {110, 30}, {121,
			33}, {math.Inf(1), math.Inf(1)},
	} {
		if got := line.work(c.at); !near(got, c.work) {
			t.Errorf("until %v s there are %v s of work, want %v", c.at, got, c.work)
		}
	}
	if h := line.horizon(); h != 110 {
		t.Errorf("the last window ends at %v", h)
	}
}

func TestAMachineWithoutHoursIsOpenAndOneOfThePastClosed(t *testing.T) {
	always := newTimeline(nil)
	if always.end(7) != 7 || always.start(7) != 7 || always.work(7) != 7 || !math.IsInf(always.horizon(), 1) {
		t.Error("a machine without hours is not always open")
	}
	past := newTimeline([]Window{{-20, -10, 1}})
	if h := past.horizon(); h != 0 {
		t.Errorf("a machine whose hours are past is open until %v", h)
	}
	begun := newTimeline([]Window{{-20, 10, 1}})
	if got := begun.end(4); !near(got, 4) {
		t.Errorf("the hours before now count: 4 s of work are done at %v", got)
	}
}

// Whatever the windows: the end of work is when so much is done, it never lies
// in a pause, and the quick search finds what going through them one by one does.
func TestTimelinesAreTheirWindowsOneByOne(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(17, seed))
		var win []Window
		for at, k := 30*rng.Float64(), 1+rng.IntN(12); k > 0; k-- {
			w := Window{at, at + 0.1 + 50*rng.Float64()*rng.Float64(), 0.1 + 0.9*rng.Float64()}
			win = append(win, w)
			at = w.To + float64(rng.IntN(2))*40*rng.Float64()
		}
		line := newTimeline(win)
		total := line.work(line.horizon())
		for range 40 {
			e := total * rng.Float64()
			end, left := 0.0, e
			for _, w := range win {
				if does := (w.To - w.From) * w.Rate; left > does {
					left -= does
					continue
				}
				end = w.From + left/w.Rate
				break
			}
			if got := line.end(e); math.Abs(got-end) > 1e-3 || math.Abs(line.work(got)-e) > 1e-3 ||
				line.start(e) < got-1e-3 {
				t.Fatalf("seed %d, windows %v: %v s of work end at %v, one by one at %v (work %v, start %v)",
					seed, win, e, got, end, line.work(got), line.start(e))
			}
		}
	}
}

func TestOperatorsAreSharedInProportion(t *testing.T) {
	p := &Problem{
		Machines: []Machine{
			{ID: "a", Attention: 0.8, Windows: []Window{{-50, 0, 1}, {0, 200, 0}}},
			{ID: "b", Attention: 0.8, Windows: []Window{{60, 120, 0.5}}},
			{ID: "alone", Windows: []Window{{20, 260, 1}}},
			{ID: "always", Attention: 0.1},
		},
		Crew: []Presence{{-50, 100, 1}, {0, 100, 0.75}, {100, 200, 0.5}},
	}
	// With 1.75 on duty all have enough. From 100 s on 0.5 serve 1.7, 0.9 and
	// at last nobody.
	want := [][]Window{
		{{0, 100, 1}, {100, 120, 0.5 / 1.7}, {120, 200, 0.5 / 0.9}},
		{{60, 100, 0.5}, {100, 120, 0.5 * 0.5 / 1.7}},
		{{20, 260, 1}},
		{{0, 100, 1}, {100, 120, 0.5 / 1.7}, {120, 200, 0.5 / 0.9}},
	}
	for m, got := range staffed(p) {
		if !slices.EqualFunc(got, want[m], func(a, b Window) bool {
			return a.From == b.From && a.To == b.To && math.Abs(a.Rate-b.Rate) < 1e-12
		}) {
			t.Errorf("%s: %v, want %v", p.Machines[m].ID, got, want[m])
		}
	}
	p.Crew = []Presence{{0, 10, 0}}
	if got := staffed(p)[0]; !slices.Equal(got, []Window{{0, 0, 1}}) {
		t.Errorf("with nobody ever there the machine runs: %v", got)
	}
	p.Crew = nil
	if got := staffed(p)[1]; !slices.Equal(got, p.Machines[1].Windows) {
		t.Errorf("without a crew given the hours change: %v", got)
	}
}

func TestSecondsOfThePlanAreWallTime(t *testing.T) {
	p := Problem{Origin: time.Date(2026, 3, 4, 7, 0, 0, 0, time.UTC)}
	at := time.Date(2026, 3, 4, 8, 31, 0, 500_000_000, time.UTC)
	if got := p.At(91*60 + 0.5); !got.Equal(at) {
		t.Errorf("91 min and a half second after seven is %v", got)
	}
	if got := p.Second(at); got != 91*60+0.5 {
		t.Errorf("%v is second %v", at, got)
	}
}

func TestTheLastRunMayHaveIdleHeads(t *testing.T) {
	for _, c := range []struct{ quantity, heads, runs int }{{24, 6, 4}, {25, 6, 5}, {1, 6, 1}, {7, 1, 7}, {0, 6, 0}, {5, 0, 5}} {
		f := Fit{Pieces: c.heads}
		if got := f.Runs(c.quantity); got != c.runs {
			t.Errorf("%d pieces on %d heads: %d runs, want %d", c.quantity, c.heads, got, c.runs)
		}
	}
}
