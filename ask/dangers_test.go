package ask

import (
	"context"
	"strings"
	"testing"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"
)

// knot is a design of bars and of n stitches to and fro over 1 mm: in the square millimetre around its middle lie
// all of their holes.
func knot(n int) *stitch.Design {
	d := bars([2]bool{true, true}, 0)
	for k := range n {
		dx := int16(10 - k%3)
		if k%2 == 1 {
			dx = -dx
		}
		d.Records = append(d.Records, stitch.Record{DX: dx})
	}
	return d
}

// Of a design that may break a needle the plan says so before anyone sews it; where only one
// machine is in danger, which. Four times the limit of holes in a square millimetre is an engineering choice (audit).
func TestWhatMayHurtIsSaidBeforeAnyoneSews(t *testing.T) {
	// The bars are 96 mm wide and 43 mm high: begun in their middle, and not in a corner, nothing strikes. On a field
	// of 90 mm they have no room.
	begun := func(d *stitch.Design) *stitch.Design {
		d.Records[0] = stitch.Record{DX: -480, DY: -215, Op: stitch.Jump}
		return d
	}
	corner := bars([2]bool{true, true}, 0)
	for name, c := range map[string]struct {
		d     *stitch.Design
		field int
		want  string
	}{
		"bars":   {begun(bars([2]bool{true, true}, 0)), 0, ""},
		"corner": {corner, 0, "bars: the frame starts 5"},
		"knot":   {begun(knot(400)), 0, "bars: up to "},
		"field":  {begun(bars([2]bool{true, true}, 0)), 90, "bars on One: "},
	} {
		from := floor.Sources{Design: func(string) (*stitch.Design, error) { return c.d, nil },
			Sheet: func(name string) (*machine.Sheet, error) {
				s, _ := machine.Class(name)
				s = s.Clone()
				if name == "home-1" {
					s.Field.Width, s.Field.Height = c.field, c.field
				}
				return s, nil
			}}
		a, err := Trial(context.Background(), TrialQuestion{Name: "T.toml", TOML: []byte(plainTrial)}, from)
		if err != nil {
			t.Fatal(err)
		}
		says := ""
		for _, m := range a.Dangers {
			says += m.Raw() + "\n"
		}
		if (says == "") != (c.want == "") || !strings.Contains(says, c.want) || c.want != "" && !strings.Contains(says, "A needle may break or strike. Before anyone sews it") {
			t.Errorf("%s: want %q: %q", name, c.want, says)
		}
		if name == "knot" { // an open call says it too
			if call, err := OpenCall(context.Background(), OpenCallQuestion{TOML: []byte(aCall)}, from); err != nil || len(call.Dangers) == 0 {
				t.Errorf("%s: an open call says nothing of it, %v", name, err)
			}
		}
	}
}
