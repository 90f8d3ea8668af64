package audit

import (
	"context"
	"strings"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// A hole is struck too often from four strikes on, however far apart in the
// object they are, and each such hole is told of once with all its strikes.
func TestStrikesOfAHoleAreCountedByPlace(t *testing.T) {
	sheet, _ := machine.Class("multi-6")
	for _, c := range []struct {
		visits, findings int
		what             string
	}{{3, 0, ""}, {4, 1, "strikes 1 hole 4 times"}, {6, 1, "strikes 1 hole 6 times"}} {
		// A row of stitches that comes back to its first hole after each 30.
		rec := []stitch.Record{{Op: stitch.Sew}}
		for visit := range c.visits - 1 {
			up := int16(10 * (visit + 1))
			for range 15 {
				rec = append(rec, stitch.Record{DX: 10, DY: up, Op: stitch.Sew})
			}
			for range 15 {
				rec = append(rec, stitch.Record{DX: -10, DY: -up, Op: stitch.Sew})
			}
		}
		// On the way back each of the other holes is struck a second time only.
		r, err := Check(context.Background(), &stitch.Design{Records: rec}, sheet, clock.Job{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		var found []Finding
		for _, f := range r.Findings {
			if f.Kind == SameHole {
				found = append(found, f)
			}
		}
		if len(found) != c.findings {
			t.Fatalf("%d visits: %d findings, want %d: %+v", c.visits, len(found), c.findings, found)
		}
		if c.findings > 0 && (found[0].Count != 1 || !strings.Contains(found[0].What.Raw(), c.what)) {
			t.Errorf("%d visits: %q, %d holes; want %q", c.visits, found[0].What, found[0].Count, c.what)
		}
	}
}
