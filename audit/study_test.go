package audit

import (
	"context"
	"fmt"
	"os"
	"slices"
	"testing"
	"time"

	"needlepace/clock"
)

// TestStudyMend mends every real design for NEEDLEPACE_MEND_STUDY seconds at
// most and writes the summary that stands in docs/sequencer.md.
func TestStudyMend(t *testing.T) {
	// Source: 130 real stitch files in six formats from public repositories (data beside the project, terms mostly unstated, for checking only).
	var seconds float64
	if _, err := fmt.Sscan(os.Getenv("NEEDLEPACE_MEND_STUDY"), &seconds); err != nil {
		t.Skip("a study, not a test: set NEEDLEPACE_MEND_STUDY to seconds for each design")
	}
	sheet := class(t, "single-15-1200")
	var gaps []float64
	proven, searched, small, smallProven := 0, 0, 0, 0
	var before, after float64
	gains, times := map[string]float64{}, map[string]int{}
	for name, d := range realDesigns(t) {
		threads, _ := ThreadsOf(d, Blocks(d))
		ctx, cancel := context.WithTimeout(context.Background(), time.Duration(seconds*float64(time.Second)))
		start := time.Now()
		m, err := Mend(ctx, d, sheet, clock.Job{}, MendOptions{Threads: threads})
		cancel()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		before += m.Before.Seconds
		after += m.After.Seconds
		for _, c := range m.Changes {
			gains[c.Kind] += c.Seconds
			times[c.Kind]++
		}
		if m.Objects < 2 {
			continue
		}
		searched++
		gaps = append(gaps, m.Search.Gap())
		if m.Search.Optimal {
			proven++
		}
		if m.Objects <= 30 {
			small++
			if m.Search.Optimal {
				smallProven++
			}
		}
		fmt.Printf("%s objects %d stops %d → %d saved %.1f of %.1f s gap %.2f %% in %.1f s\n", name, m.Objects, m.Before.ColourStops, m.After.ColourStops,
			m.Saved(), m.Before.Seconds, 100*m.Search.Gap(), time.Since(start).Seconds())
	}
	slices.Sort(gaps)
	fmt.Printf("%d designs with two objects or more, %d proven; of %d with up to 30 objects %d proven; gap median %.2f %%, 90th percentile %.2f %%, largest %.2f %%\n",
		searched, proven, small, smallProven, 100*gaps[len(gaps)/2], 100*gaps[len(gaps)*9/10], 100*gaps[len(gaps)-1])
	fmt.Printf("%.0f s before, %.0f s after (%.1f %%), by kind %v in so many designs %v\n", before, after,
		100*(1-after/before), gains, times)
}
