package stitch_test

import (
	"fmt"
	"strings"
	"testing"

	"needlepace/stitch"
)

// Records are written as letters: s sew, q sequin, j jump, t trim, c colour
// stop, o operator stop; capitals carry a displacement. Every move is one
// unit along x, so a travel's dx is the number of moves.
func records(s string) (rec []stitch.Record) {
	ops := map[rune]stitch.Op{'s': stitch.Sew, 'q': stitch.Sequin, 'j': stitch.Jump, 't': stitch.Trim,
		'c': stitch.ColourStop, 'o': stitch.Stop}
	for _, r := range s {
		op := ops[[]rune(strings.ToLower(string(r)))[0]]
		rec = append(rec, stitch.Record{Op: op})
		if r < 'a' || op == stitch.Sew || op == stitch.Sequin || op == stitch.Jump {
			rec[len(rec)-1].DX = 1
		}
	}
	return rec
}

func told(s string, trimAfter int) string {
	var out []string
	names := map[stitch.EventKind]string{stitch.Run: "run", stitch.TrimCut: "trim", stitch.ColourCut: "colour",
		stitch.OperatorStop: "stop", stitch.Travel: "travel"}
	for e := range stitch.Events(records(s), trimAfter) {
		w := names[e.Kind]
		switch e.Kind {
		case stitch.Run:
			w += fmt.Sprint(e.To - e.From)
		case stitch.Travel:
			w += fmt.Sprintf("%d/%d", e.DX, e.Jumps)
		}
		out = append(out, w)
	}
	return strings.Join(out, " ")
}

// A run ends where it does, however long it is.
func TestRunsOfAnyLength(t *testing.T) {
	for n := 1; n <= 40; n++ {
		sewn := strings.Repeat("s", n)
		if got, want := told(sewn+"t"+sewn+"c"+sewn, 3), fmt.Sprintf("run%d trim run%d colour run%d", n, n, n); got != want {
			t.Errorf("%d stitches: %s, want %s", n, got, want)
		}
	}
}

// MODEL section 1, case by case.
func TestEventsAsAMachineReadsThem(t *testing.T) {
	for _, c := range []struct{ records, want, why string }{
		{"", "", "nothing"},
		{"sss", "run3", "a run"},
		{"jjsss", "travel2/2 run3", "jumps at the start are travel, however few"},
		{"jjjjsss", "travel4/4 run3", "and however many: no thread is in"},
		{"sjjs", "run4", "two jumps with thread in are sewn through"},
		{"sjjjs", "run1 trim travel3/3 run1", "three are a trim and a travel"},
		{"sjjjjjs", "run1 trim travel5/5 run1", "and so are five: one trim"},
		{"scjs", "run1 colour travel1/1 run1", "a jump after a colour stop is travel"},
		{"scjjjs", "run1 colour travel3/3 run1", "the colour stop has cut: no trim"},
		{"sjjjcs", "run1 trim travel3/3 colour run1", "a trim before a colour stop"},
		{"sjjcs", "run3 colour run1", "two jumps before a colour stop are sewn through"},
		{"sjjj", "run1 trim travel3/3", "a trim that leads out to the end"},
		{"sjj", "run3", "two jumps to the end are sewn through"},
		{"sCs", "run1 colour travel1/0 run1", "a displacement in a colour stop is travel, no jump record"},
		{"sCjjs", "run1 colour travel3/2 run1", "and one straight move with the jumps after it"},
		{"stjs", "run1 trim travel1/1 run1", "an explicit trim, then travel"},
		{"stjjjs", "run1 trim travel3/3 run1", "which the jumps do not make twice"},
		{"sttjtjs", "run1 trim travel2/2 run1", "a trim with no thread in cuts nothing"},
		{"tjs", "travel1/1 run1", "nor does one at the start"},
		{"sos", "run1 stop run1", "an operator stop parts runs"},
		{"sojs", "run1 stop run2", "and leaves the thread in: a jump after it is sewn through"},
		{"sojjjs", "run1 stop trim travel3/3 run1", "so three after it are a trim"},
		{"sOs", "run1 stop travel1/0 run1", "a displacement in a stop is travel"},
		{"qq", "run2", "sequins are stitches"},
		{"ccs", "colour colour run1", "two colour stops are two"},
	} {
		if got := told(c.records, 3); got != c.want {
			t.Errorf("%s (%s): %q, want %q", c.records, c.why, got, c.want)
		}
	}
	for j, want := range map[int]string{1: "run1 trim travel2/2 run1", 2: "run1 trim travel2/2 run1", 3: "run4", 0: "run1 trim travel2/2 run1"} {
		if got := told("sjjs", j); got != want {
			t.Errorf("two jumps where %d are a trim: %q, want %q", j, got, want)
		}
	}
}

func TestEventsCanBeLeftEarly(t *testing.T) {
	for n := range 8 {
		seen := 0
		for range stitch.Events(records("jsjjjsCjsosjjjs"), 3) {
			if seen++; seen > n {
				break
			}
		}
	}
}

func TestCountTrustsTheRecords(t *testing.T) {
	d := &stitch.Design{Records: []stitch.Record{
		{DX: -5, DY: 2, Op: stitch.Jump}, {DX: 15, DY: -12}, {Op: stitch.Trim}, {DX: 100, Op: stitch.Jump},
		{Op: stitch.ColourStop, DY: 40}, {DX: -60, Op: stitch.Sequin}, {Op: stitch.Stop},
	}}
	c := d.Count()
	want := stitch.Counts{Stitches: 2, Jumps: 2, TrimRecords: 1, ColourStops: 1, Stops: 1, Sequins: 1,
		Bounds: stitch.Bounds{MinX: 10, MinY: -10, MaxX: 50, MaxY: 30}, End: stitch.Point{X: 50, Y: 30}}
	if c != want {
		t.Errorf("counted %+v\nwant %+v", c, want)
	}
	if w, h := c.Bounds.WidthMM(), c.Bounds.HeightMM(); w != 4 || h != 4 {
		t.Errorf("%v × %v mm, want 4 × 4", w, h)
	}
	if b := (&stitch.Design{}).Count().Bounds; !b.Empty || b.WidthMM() != 0 {
		t.Errorf("an empty design has bounds %+v", b)
	}
}

// 30 units are 3 mm exactly: a ladder's rung at 3 mm must hold such a stitch.
func TestWholeTenthsAreExact(t *testing.T) {
	for units := range 200 {
		if got, want := stitch.LengthMM(units, 0), float64(units)/10; got != want {
			t.Errorf("%d units are %v mm", units, got)
		}
	}
	if got := stitch.LengthMM(30, 40); got != 5 {
		t.Errorf("30 by 40 units are %v mm", got)
	}
}
