//go:build unix

package sequence

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestStudyInstances writes the table of docs/sequencer.md: every instance
// with a published value, NEEDLEPACE_SEQUENCE_STUDY seconds of one core each,
// whatever else the machine has to do; seconds and names: these instances only.
func TestStudyInstances(t *testing.T) {
	// Source: G. Reinelt, TSPLIB 95, University of Heidelberg; published optima and best known values.
	var seconds float64
	asked := strings.Fields(os.Getenv("NEEDLEPACE_SEQUENCE_STUDY"))
	if len(asked) == 0 {
		asked = []string{""}
	}
	if _, err := fmt.Sscan(asked[0], &seconds); err != nil {
		t.Skip("a study, not a test: set NEEDLEPACE_SEQUENCE_STUDY to seconds for each instance")
	}
	needData(t)
	sop, tsp := published(t, "sop_best_known.csv"), published(t, "tsp_optima.csv")
	fmt.Println("| instance | things | published | found | above | bound | gap | proven | time |")
	fmt.Println("|---|--:|--:|--:|--:|--:|--:|---|--:|")
	for _, dir := range []string{"sop", "atsp", "tsp"} {
		files, _ := filepath.Glob(filepath.Join(dataDir, dir, "*."+dir))
		for _, file := range files {
			name := strings.TrimSuffix(filepath.Base(file), "."+dir)
			if len(asked) > 1 && !slices.Contains(asked[1:], name) {
				continue
			}
			want := sop[name]
			switch dir {
			case "tsp":
				want = tsp[name]
			case "atsp":
				want = atspOptima[name]
			}
			p := readTSPLIB(t, file).problem()
			ctx, cancel := context.WithCancel(context.Background())
			start := processor()
			go func() {
				for ctx.Err() == nil && processor() < start+seconds {
					time.Sleep(time.Millisecond)
				}
				cancel()
			}()
			r, err := Solve(ctx, p, Options{})
			took := processor() - start
			cancel()
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			above := "–"
			if want > 0 {
				above = fmt.Sprintf("%.2f %%", 100*float64(r.Cost-want)/float64(want))
				if r.Cost < want || r.Bound > want {
					t.Errorf("%s: cost %d, bound %d, published %d", name, r.Cost, r.Bound, want)
				}
			}
			proven := ""
			if r.Optimal {
				proven = "yes"
			}
			fmt.Printf("| %s | %d | %d | %d | %s | %d | %.2f %% | %s | %.2f s |\n", name, p.N, want, r.Cost, above, r.Bound,
				100*r.Gap(), proven, took)
		}
	}
}

// processor is the time this process has had on a core, s.
func processor() float64 {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		panic(err)
	}
	return float64(r.Utime.Nano()+r.Stime.Nano()) / 1e9
}
