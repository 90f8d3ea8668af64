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
		asked float64
		found bool
	}{
		{machine.Field{}, 0, false},
		{machine.Field{Width: 5, Height: 5}, 0, true},
		{machine.Field{Width: 2000, Height: 2000}, 0, false},
		{machine.Field{Width: 5, Height: 5}, 2000, false},
		{machine.Field{Width: 2000, Height: 2000}, 5, true},
	} {
		s := sheetOf(t, "single-15-light").Clone()
		s.Field = c.on
		a, err := Audit(context.Background(), Given{Stitches: NewDesign(d, x.File, ""), On: s},
			AuditQuestion{FieldX: c.asked, FieldY: c.asked})
		if err != nil {
			t.Fatal(err)
		}
		found := slices.ContainsFunc(a.Findings, func(f Finding) bool { return f.Kind == audit.BeyondField })
		if found != c.found {
			t.Errorf("sheet %+v, asked %v: found %v", c.on, c.asked, found)
		}
	}
}
