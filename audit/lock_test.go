package audit

import (
	"context"
	"fmt"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// What locks a thread where it begins, and mirrored where it ends: the stitches from
// the thread's end inwards, x and y in 0.1 mm. Common practice, no published source.
func TestWhatLocksAThread(t *testing.T) {
	type way [][2]int
	for _, c := range []struct {
		name   string
		way    way
		locked bool
	}{
		{"to and fro", way{{8, 0}, {-8, 0}, {8, 0}}, true},
		{"once back", way{{10, 0}, {-10, 0}}, true},
		{"back at 1.3 mm", way{{13, 0}, {-13, 0}}, true},
		{"back at 1.4 mm", way{{14, 0}, {-14, 0}}, false},
		{"one of the two is long", way{{10, 0}, {-20, 0}}, false},
		{"back at more than a right angle", way{{10, 0}, {-9, 8}}, true},
		{"a corner", way{{10, 0}, {-4, 10}}, false},
		{"rows of a fill and steps to the next", way{{25, 0}, {0, 4}, {-25, 0}, {0, 4}, {25, 0}}, false},
		{"back, with a second stitch in the hole", way{{10, 0}, {0, 0}, {-10, 0}}, true},
		{"back, two small stitches out", way{{13, 0}, {13, 0}, {-13, 0}}, true},
		{"back, three small stitches out", way{{13, 0}, {13, 0}, {13, 0}, {-13, 0}}, false},
		{"back at the sixth stitch", way{{0, 0}, {30, 0}, {-30, 0}, {0, 0}, {10, 0}, {-10, 0}}, true},
		{"back at the seventh", way{{0, 0}, {30, 0}, {0, 0}, {-30, 0}, {0, 0}, {10, 0}, {-10, 0}}, false},
		{"three tiny ones in a row", way{{5, 0}, {5, 0}, {5, 0}}, true},
		{"two", way{{5, 0}, {5, 0}}, false},
		{"three of 0.8 mm", way{{8, 0}, {8, 0}, {8, 0}}, true},
		{"three of 0.9 mm", way{{9, 0}, {9, 0}, {9, 0}}, false},
		{"eight", way{{5, 0}, {5, 0}, {5, 0}, {5, 0}, {5, 0}, {5, 0}, {5, 0}, {5, 0}}, true},
		{"nine are a line of tiny stitches", way{{5, 0}, {5, 0}, {5, 0}, {5, 0}, {5, 0}, {5, 0}, {5, 0}, {5, 0}, {5, 0}}, false},
		{"the next is not much longer", way{{6, 0}, {6, 0}, {6, 0}, {10, 0}}, false},
		{"the next is longer", way{{6, 0}, {6, 0}, {6, 0}, {11, 0}}, true},
		{"four into one hole", way{{0, 0}, {0, 0}, {0, 0}}, true},
		{"three into one hole", way{{0, 0}, {0, 0}}, false},
		{"tiny ones behind a small one", way{{13, 0}, {5, 0}, {5, 0}, {5, 0}}, true},
		{"tiny ones 2.6 mm on", way{{26, 0}, {5, 0}, {5, 0}, {5, 0}}, true},
		{"tiny ones 2.7 mm on", way{{27, 0}, {5, 0}, {5, 0}, {5, 0}}, false},
		{"tiny ones from the sixth stitch on", way{{9, 0}, {0, 9}, {-9, 0}, {0, -9}, {9, 0}, {5, 0}, {5, 0}, {5, 0}}, true},
		{"from the seventh", way{{9, 0}, {0, 9}, {-9, 0}, {0, -9}, {9, 0}, {0, 9}, {5, 0}, {5, 0}, {5, 0}}, false},
		{"none", nil, false},
	} {
		line := append(way{}, c.way...)
		for range 20 {
			line = append(line, [2]int{30, 3})
		}
		for _, end := range []bool{false, true} {
			s := (&sketch{}).to(0, 0, stitch.Sew)
			for k := range line {
				d := line[k]
				if end {
					d = line[len(line)-1-k]
				}
				s.to(s.at.X+d[0], s.at.Y+d[1], stitch.Sew)
			}
			r, err := Check(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			kind := map[bool]Kind{false: MissingTieIn, true: MissingLock}[end]
			missing := false
			for _, f := range r.Findings {
				missing = missing || f.Kind == kind
			}
			if missing == c.locked {
				t.Errorf("%s: %s", c.name, fmt.Sprint(kind, " found: ", missing))
			}
		}
	}
}
