package ask

import (
	"context"
	"slices"
	"testing"

	"needlepace/audit"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/stitchfile"
)

// The field is the sheet's unless the question gives another; where neither
// says it, nothing is found.
func TestTheFieldIsTheSheetsUnlessAsked(t *testing.T) {
	x := demo.Designs()[0]
	b, err := x.Read()
	if err != nil {
		t.Fatal(err)
	}
	d, err := stitchfile.Decode(b, x.File)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		on    machine.Field
		x, y  float64
		found bool
	}{
		{machine.Field{}, 0, 0, false},
		{machine.Field{Width: 5, Height: 5}, 0, 0, true},
		{machine.Field{Width: 2000, Height: 2000}, 0, 0, false},
		{machine.Field{Width: 5, Height: 5}, 2000, 2000, false},
		{machine.Field{Width: 2000, Height: 2000}, 5, 5, true},
		// One side alone: the other is the sheet's.
		{machine.Field{Width: 2000, Height: 2000}, 5, 0, true},
		{machine.Field{Width: 2000, Height: 2000}, 0, 5, true},
		{machine.Field{Width: 5, Height: 2000}, 2000, 0, false},
	} {
		s := sheetOf(t, "single-15-light").Clone()
		s.Field = c.on
		a, err := Audit(context.Background(), Given{Stitches: NewDesign(d, x.File, ""), On: s},
			AuditQuestion{FieldX: c.x, FieldY: c.y})
		if err != nil {
			t.Fatal(err)
		}
		found := slices.ContainsFunc(a.Findings, func(f Finding) bool { return f.Kind == audit.BeyondField })
		if found != c.found {
			t.Errorf("sheet %+v, asked %v × %v: found %v", c.on, c.x, c.y, found)
		}
	}
}
