package audit

import (
	"context"
	"slices"
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

// A lock may strike its hole four times; more, or once more by what is sewn over it,
// is a fault. Engineering choice, common practice.
func TestALockIsNoHoleStruckTooOften(t *testing.T) {
	row := straight(0, 0, 20)
	into := func(n int) (at [][2]int) { // n strikes at 0, 0
		for range n {
			at = append(at, [2]int{0, 0})
		}
		return at
	}
	again := slices.Concat(straight(0, 0, 20)[1:], back(straight(0, 0, 20))) // along the line, and back to 0, 0
	for _, c := range []struct {
		name string
		way  [][2]int
		want bool
	}{
		{"four to begin", append(into(4), row[1:]...), false},
		{"five", append(into(5), row[1:]...), true},
		{"four to end", back(append(into(4), row[1:]...)), false},
		{"five to end", back(append(into(5), row[1:]...)), true},
		{"four amid the line", slices.Concat(straight(-400, 0, 20), into(3), row[1:]), true},
		{"three amid the line", slices.Concat(straight(-400, 0, 20), into(2), row[1:]), false},
		{"four to begin, and once more", slices.Concat(into(4), again, row[1:]), true},
		{"three to begin, and once more", slices.Concat(into(3), again, row[1:]), true},
		{"two threads of two", nil, true},
	} {
		s := &sketch{}
		if c.way == nil {
			s.path(back(append(into(2), row[1:]...))...)
			c.way = append(into(2), row[1:]...)
		}
		r, err := Check(context.Background(), s.path(c.way...).design(), class(t, "single-15-1200"), clock.Job{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		got := slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.Kind == SameHole && f.X == 0 && f.Y == 0 })
		if got != c.want {
			t.Errorf("%s: found %v", c.name, got)
		}
	}
}

// The step from row to row of a fill is no tiny stitch, nor is the second stitch into
// a corner of a zigzag; tiny ones among tiny ones are, and those straight on.
func TestAStepToTheNextRowIsNoTinyStitch(t *testing.T) {
	for _, c := range []struct {
		name           string
		along, across  int // 0.1 mm of each stitch, and of the step
		other          int // of each stitch of every second row, if another
		stitches, rows int
		turns          bool
		want           int
	}{
		{"a fill", 30, 4, 0, 2, 20, true, 0},
		{"a zigzag twice into its corners", 17, 0, 0, 3, 20, true, 0},
		{"rows of tiny stitches", 7, 4, 0, 2, 20, true, 59},
		{"a line with every third stitch tiny", 30, 4, 0, 2, 20, false, 19},
		{"every second row tiny", 30, 4, 7, 1, 20, true, 29},
	} {
		s := (&sketch{}).to(0, 0, stitch.Sew)
		dir := 1
		for k := range c.rows {
			for range c.stitches {
				along := c.along
				if k%2 == 1 && c.other > 0 {
					along = c.other
				}
				s.to(s.at.X+dir*along, s.at.Y, stitch.Sew)
			}
			if k == c.rows-1 {
				break
			}
			s.to(s.at.X, s.at.Y+c.across, stitch.Sew)
			if c.turns {
				dir = -dir
			}
		}
		r, err := Check(context.Background(), s.design(), class(t, "single-15-1200"), clock.Job{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		got := 0
		for _, f := range r.Findings {
			if f.Kind == ShortStitches {
				got += f.Count
			}
		}
		if got != c.want {
			t.Errorf("%s: %d tiny stitches", c.name, got)
		}
	}
}

// TestASpotIsWhereMostOfItIsSewn: what passes the place once, long before, does not
// make the stretch long.
func TestASpotIsWhereMostOfItIsSewn(t *testing.T) {
	for _, c := range []struct {
		holes    []int
		from, to int
	}{{[]int{7}, 7, 8}, {[]int{1, 500, 501, 502}, 500, 503}, {[]int{500, 501, 502, 9000}, 500, 503},
		{[]int{1, 2, 3, 4, 50, 60}, 1, 51}} {
		if from, to := mostOf(c.holes); from != c.from || to != c.to {
			t.Errorf("%v: %d to %d, want %d to %d", c.holes, from, to, c.from, c.to)
		}
	}
}
