package plan

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestStudy runs the published instances and prints the table of
// docs/scheduler.md. It is off unless NEEDLEPACE_STUDY is "plan" and takes
// a set's name from NEEDLEPACE_STUDY_SET (none: all), the moves an instance from
// NEEDLEPACE_STUDY_MOVES, its share of the instances from
// NEEDLEPACE_STUDY_EVERY (1: all) and the first of them from NEEDLEPACE_STUDY_FROM (1). With -v it tells each instance.
func TestStudy(t *testing.T) {
	if os.Getenv("NEEDLEPACE_STUDY") != "plan" {
		t.Skip("the study of the scheduler runs with NEEDLEPACE_STUDY=plan")
	}
	number := func(name string, other int) int {
		if v, err := strconv.Atoi(os.Getenv(name)); err == nil && v > 0 {
			return v
		}
		return other
	}
	every := number("NEEDLEPACE_STUDY_EVERY", 1)
	from := number("NEEDLEPACE_STUDY_FROM", 1) - 1
	moves := func(usual int) int64 { return int64(number("NEEDLEPACE_STUDY_MOVES", usual)) }
	only := os.Getenv("NEEDLEPACE_STUDY_SET")
	fmt.Printf("every instance in %d from %d on, seed 1\n\n", every, from+1)
	fmt.Println("| set | instances | value reached or passed | mean gap | gap of the sums | worst gap | proved by " +
		"the bound | mean bound/value | mean s | worst s |")
	fmt.Println("|--|--|--|--|--|--|--|--|--|--|")
	for _, n := range []int{40, 50, 100} {
		usual := 6_000_000
		if n == 100 {
			usual = 10_000_000
		}
		study(t, only, fmt.Sprintf("wt%d", n), weightedTardiness(t, n), moves(usual), from, every)
	}
	var sds, small []instance
	for i := 1; i <= 120; i++ {
		sds = append(sds, setupTardiness(t, i))
	}
	study(t, only, "wtsds", sds, moves(50_000_000), from, every)
	for _, r := range table(t, "parallel-setups/small_optimal.csv") {
		best, err := strconv.ParseFloat(r["exact_recomputed"], 64)
		if err != nil {
			t.Fatal(err)
		}
		small = append(small, parallelSetups(t, "small", r["instance"], best))
	}
	study(t, only, "parallel-small", small, moves(300_000), from, every)
	study(t, only, "parallel-large", []instance{parallelSetups(t, "large", "I_50_10_S_1-9_1", 67)}, moves(20_000_000),
		0, 1)
}

func study(t *testing.T, only, name string, all []instance, moves int64, from, every int) {
	if only != "" && only != name {
		return
	}
	var n, reached, proved, bounded int
	var gaps, got, best, worst, bounds, seconds, slowest float64
	var missed []string
	for i := from; i < len(all); i += every {
		in := all[i]
		start := time.Now()
		in.p.LotSeconds = -1
		s, err := Solve(context.Background(), in.p, Options{Moves: moves, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		took := time.Since(start).Seconds()
		v := s.Lateness
		if in.p.Weights.Lateness == 0 {
			v = s.MakeSpan
		} else if v > 0 {
			bounded++
			bounds += s.Bound / v
			if s.Gap() == 0 {
				proved++
			}
		} else {
			proved++
		}
		n++
		seconds += took
		slowest = max(slowest, took)
		got += v
		best += in.best
		if v <= in.best+1e-6 {
			reached++
		} else {
			missed = append(missed, fmt.Sprintf("%s %.0f/%.0f", in.name, v, in.best))
		}
		if testing.Verbose() { // a run that is ended early has told what it had
			fmt.Fprintf(os.Stderr, "%s %.0f %.0f bound %.0f %.1f s\n", in.name, v, in.best, s.Bound, took)
		}
		if in.best > 0 {
			gaps += v/in.best - 1
			worst = max(worst, v/in.best-1)
		}
	}
	fmt.Printf("| %s | %d | %d | %.3f %% | %.3f %% | %.2f %% | %d | %.3f | %.2f | %.2f |\n", name, n, reached,
		100*gaps/float64(n), 100*(got/best-1), 100*worst, proved, bounds/float64(max(bounded,
			1)), seconds/float64(n), slowest)
	if len(missed) > 0 {
		slices.Sort(missed)
		fmt.Fprintf(os.Stderr, "%s missed: %s\n", name, strings.Join(missed, ", "))
	}
}
