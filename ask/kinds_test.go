package ask

import (
	"testing"

	"needlepace/machine"
	"needlepace/stitch"
)

// A finding says the kind of stitches that it is in, and so does each row of the clock.
func TestKindsInAnswers(t *testing.T) {
	d := &stitch.Design{}
	for range 30 {
		d.Records = append(d.Records, stitch.Record{DX: 25, Op: stitch.Sew})
	}
	for i := range 60 { // a column whose stitches are too long, 9.5 mm
		dy := int16(95)
		if i%2 == 1 {
			dy = -95
		}
		d.Records = append(d.Records, stitch.Record{DX: 2, DY: dy, Op: stitch.Sew})
	}
	s, _ := machine.Class("compact-8")
	from := Given{Stitches: NewDesign(d, "x.dst", ""), On: s}
	a, err := Audit(t.Context(), from, AuditQuestion{})
	if err != nil {
		t.Fatal(err)
	}
	long := 0
	for i := range a.Findings {
		if f := &a.Findings[i]; f.To-f.From > 20 && f.From >= 30 {
			long++
			if f.StitchKind != "satin" {
				t.Errorf("%s in stitches %d to %d is in %q", f.Kind, f.From, f.To, f.StitchKind)
			}
		}
	}
	if long == 0 {
		t.Fatal("nothing is found in the column")
	}
	c, err := Clock(t.Context(), from, ClockQuestion{Kinds: true})
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, k := range c.Kinds {
		sum += k.Seconds
	}
	for _, p := range standingOnly(&c.Parts) {
		sum += p.seconds
	}
	if d := sum - c.Seconds; d > 1e-9 || d < -1e-9 {
		t.Errorf("kinds and standing are %v s, the run %v", sum, c.Seconds)
	}
	if without, _ := Clock(t.Context(), from, ClockQuestion{}); without.Kinds != nil {
		t.Error("kinds that nobody asked for")
	}
}
