package audit

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// A loose end and a loose beginning that one look takes in are one finding: at the
// two sides of one cut, or where a closed line ends. Else each is one of its own.
func TestOneLookIsOneLooseEnd(t *testing.T) {
	far, near := 300, 49 // 0.1 mm from the end to the next beginning
	line := func(s *sketch, begin, end bool, x, y int) *sketch {
		row := straight(x, y, 20)
		if begin {
			row = lock(row)
		}
		if end {
			row = back(lock(back(row)))
		}
		return s.path(row...)
	}
	ring := slices.Concat(straight(0, 0, 3), straight(0, 60, 3)[1:], [][2]int{{60, 80}, {40, 80}, {20, 80}, {0, 80}, {0, 60},
		{0, 40}, {0, 20}, {0, 0}})
	for _, c := range []struct {
		name string
		d    *sketch
		want []string
	}{
		{"both sides of a cut", line(line(&sketch{}, true, false, 0, 0), false, true, 400, near),
			[]string{"missing-lock 2 finding.no-lock-nor-tie-in"}},
		{"far from one another", line(line(&sketch{}, true, false, 0, 0), false, true, 400, far),
			[]string{"missing-lock 1 finding.no-lock-trim", "missing-tie-in 1 finding.no-tie-in"}},
		{"only where it ends", line(line(&sketch{}, true, false, 0, 0), true, true, 400, near),
			[]string{"missing-lock 1 finding.no-lock-trim"}},
		{"only where it begins", line(line(&sketch{}, true, true, 0, 0), false, true, 400, near),
			[]string{"missing-tie-in 1 finding.no-tie-in"}},
		{"a closed line", (&sketch{}).path(ring...), []string{"missing-lock 2 finding.no-lock-nor-tie-in"}},
		{"two in one place", (&sketch{}).path(ring...).path(ring...), []string{"missing-lock 4 finding.and-like"}},
	} {
		lim := DefaultLimits()
		r, err := Check(context.Background(), c.d.design(), class(t, "single-15-1200"), clock.Job{}, Options{Limits: &lim})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, f := range r.Findings {
			if f.Kind == MissingLock || f.Kind == MissingTieIn {
				got = append(got, fmt.Sprint(f.Kind, " ", f.Count, " ", f.What.Key))
			}
		}
		slices.Sort(got)
		want := slices.Sorted(slices.Values(c.want))
		if !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", c.name, got, want)
		}
	}
}

// Where nearly every thread is left to the machine at both ends that is one finding;
// at one end, the other's are their own.
func TestLocksLeftToTheMachineAreOneFinding(t *testing.T) {
	for _, c := range []struct {
		begin, end bool // locked
		but        int  // this one is not
		want       []string
	}{
		{true, false, 5, []string{"missing-lock 10 finding.no-locks", "missing-tie-in 1 finding.no-tie-in"}},
		{false, true, 5, []string{"missing-lock 1 finding.no-lock-trim", "missing-tie-in 10 finding.no-tie-ins"}},
		{false, false, -1, []string{"missing-lock 20 finding.no-locks-nor-tie-ins"}},
		{false, true, -1, []string{"missing-tie-in 10 finding.no-tie-ins"}},
		{true, false, -1, []string{"missing-lock 10 finding.no-locks"}},
		{true, true, -1, nil},
	} {
		s := &sketch{}
		for k := range 10 {
			row := straight(0, 20*k, 20)
			if c.begin && k != c.but {
				row = lock(row)
			}
			if c.end && k != c.but {
				row = back(lock(back(row)))
			}
			s.path(row...)
		}
		s.op(stitch.Trim)
		r, err := Check(context.Background(), s.design(), class(t, "single-15-1200"), clock.Job{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, f := range r.Findings {
			if f.Kind == MissingLock || f.Kind == MissingTieIn {
				got = append(got, fmt.Sprint(f.Kind, " ", f.Count, " ", f.What.Key))
				if f.Count > 1 && len(f.Places) != 10 {
					t.Errorf("%d places", len(f.Places))
				}
			}
		}
		slices.Sort(got)
		if !slices.Equal(got, c.want) {
			t.Errorf("locked %v and %v: %v, want %v", c.begin, c.end, got, c.want)
		}
	}
}
