package zoo

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"needlepace/learn"
	"needlepace/stitchfile"
)

// season is a study that times the demo's designs.
func season(t *testing.T, classes ...string) *Study {
	t.Helper()
	var timed []Named
	for _, name := range []string{"gull-cap", "ostrel-light-trims", "larkess-ferry", "wheel-badge", "crew-names"} {
		b, err := os.ReadFile(filepath.Join("../../demo/designs", name+".dst"))
		if err != nil {
			t.Fatal(err)
		}
		d, err := stitchfile.Decode(b, name+".dst")
		if err != nil {
			t.Fatal(err)
		}
		timed = append(timed, Named{name, d})
	}
	s, err := NewStudy(t.Context(), Options{Classes: classes, Timed: timed, Seed: 3, Vary: learn.RunToRun,
		Fit: learn.Options{Draws: -1}})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestStudyDrift counts how often learning says that a machine has changed, on
// machines of every family that have not, and on some that have: ./dev study drift.
func TestStudyDrift(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("NEEDLEPACE_DRIFT_STUDY"))
	if n == 0 {
		t.Skip("a study: ./dev study drift")
	}
	s := season(t, "single-15-light", "multi-6", "compact-10-light")
	for name, how := range map[string]dated{"ten": {10, false}, "twenty": {20, false}, "blocks": {10, true}} {
		t.Run(name, func(t *testing.T) { tabulate(t, s, how, n) })
	}
}

// tabulate prints a table of the study.
func tabulate(t *testing.T, s *Study, how dated, n int) {
	all, wrong := 0, 0
	for i := range Families {
		said, start := 0, time.Now()
		for k := range n {
			d, _, err := s.drift(t.Context(), &Families[i], nil, how, k)
			if err != nil {
				t.Fatal(err)
			}
			if d != nil {
				said++
				fmt.Printf("    %s %d: %+v\n", Families[i].Name, k, *d)
			}
		}
		all, wrong = all+n, wrong+said
		fmt.Printf("%s, steady | said %d of %d | %.2f s a fit\n", Families[i].Name, said, n,
			time.Since(start).Seconds()/float64(n))
	}
	fmt.Printf("all families, steady | said %d of %d\n", wrong, all)
	for _, name := range []string{"model", "jerk", "ladder", "power"} {
		for i := range Changes {
			ch := &Changes[i]
			found, right, dated := 0, 0, 0
			for k := range n {
				d, since, err := s.drift(t.Context(), family(t, name), ch, how, k)
				if err != nil {
					t.Fatal(err)
				}
				if d != nil {
					found++
					if d.Kind == ch.Kind {
						right++
					}
					if d.Since == since {
						dated++
					}
				}
			}
			fmt.Printf("%s, %s | found %d of %d | its kind %d | its date %d\n", name, ch.Name, found, n, right, dated)
		}
	}
}
