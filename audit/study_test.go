package audit

import (
	"context"
	"fmt"
	"maps"
	"os"
	"slices"
	"testing"
	"time"

	"needlepace/clock"
	"needlepace/stitch"
)

// TestStudyMend mends every real design for NEEDLEPACE_MEND_STUDY seconds at
// most, and what comes of it once more, and writes the summary that stands in
// docs/sequencer.md.
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
	var again, proved twice
	mend := func(d *stitch.Design, threads []int) (*Mended, error) {
		ctx, cancel := context.WithTimeout(context.Background(), time.Duration(seconds*float64(time.Second)))
		defer cancel()
		return Mend(ctx, d, sheet, clock.Job{}, MendOptions{Threads: threads})
	}
	designs := realDesigns(t)
	for _, name := range slices.Sorted(maps.Keys(designs)) {
		d := designs[name]
		threads, _ := ThreadsOf(d, Blocks(d))
		start := time.Now()
		m, err := mend(d, threads)
		took := time.Since(start).Seconds()
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
		if m.Changed() {
			n, err := mend(m.Design, threadsAfter(m))
			if err != nil {
				t.Errorf("%s: mended again: %v", name, err)
				continue
			}
			again.add(n)
			if m.Search.Optimal {
				proved.add(n)
			}
			if n.Saved() > 0.1 {
				fmt.Printf("%s mended again saves %.2f of %.1f s: %v\n", name, n.Saved(), n.Before.Seconds, kindsOf(n))
			}
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
			m.Saved(), m.Before.Seconds, 100*m.Search.Gap(), took)
	}
	slices.Sort(gaps)
	fmt.Printf("%d designs with two objects or more, %d proven; of %d with up to 30 objects %d proven; gap median %.2f %%, 90th percentile %.2f %%, largest %.2f %%\n",
		searched, proven, small, smallProven, 100*gaps[len(gaps)/2], 100*gaps[len(gaps)*9/10], 100*gaps[len(gaps)-1])
	fmt.Printf("%.0f s before, %.0f s after (%.1f %%), by kind %v in so many designs %v\n", before, after,
		100*(1-after/before), gains, times)
	fmt.Printf("mended again: %v; where the order was proved: %v\n", &again, &proved)
}

// twice counts second mends.
type twice struct {
	mends, tenth, share int
	most, saved, whole  float64
}

func (n *twice) add(m *Mended) {
	n.mends++
	n.saved, n.whole, n.most = n.saved+m.Saved(), n.whole+m.Before.Seconds, max(n.most, m.Saved())
	if m.Saved() > 0.1 {
		n.tenth++
	}
	if m.Saved() > 0.01*m.Before.Seconds {
		n.share++
	}
}

func (n *twice) String() string {
	return fmt.Sprintf("%d designs, %d save over 0.1 s, %d over 1 %%, %.2f s at most, %.1f of %.0f s in all", n.mends, n.tenth,
		n.share, n.most, n.saved, n.whole)
}

// threadsAfter are the threads of a mended design's blocks.
func threadsAfter(m *Mended) []int {
	out := make([]int, len(m.Blocks))
	for k, b := range m.Blocks {
		out[k] = m.threads[b]
	}
	return out
}

func kindsOf(m *Mended) (all []string) {
	for _, c := range m.Changes {
		all = append(all, fmt.Sprintf("%s %d (%.2f s)", c.Kind, c.Count, c.Seconds))
	}
	return all
}
