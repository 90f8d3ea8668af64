package audit

import (
	"context"
	"testing"

	"needlepace/clock"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/stitch"
)

// What may hurt is the same whether all is looked at or that alone: of the demo's designs,
// of a needle that strikes one hole 40 times, and of a design larger than its field.
func TestDangersAreThoseOfTheAudit(t *testing.T) {
	all := map[string]*stitch.Design{}
	for _, x := range demo.Designs() {
		all[x.File] = demoDesign(t, x)
	}
	hole := &stitch.Design{Format: "dst"}
	for range 40 {
		hole.Records = append(hole.Records, stitch.Record{DX: 12, DY: 3}, stitch.Record{DX: -12, DY: -3})
	}
	wide := &stitch.Design{Format: "dst"}
	for range 30 {
		wide.Records = append(wide.Records, stitch.Record{DX: 110})
	}
	all["hole"], all["wide"] = hole, wide
	hurts := map[string]int{}
	for name, d := range all {
		for _, s := range machine.Classes()[:2] {
			o := Options{FieldX: float64(s.Field.Width), FieldY: float64(s.Field.Height)}
			r, err := Check(context.Background(), d, s, clock.Job{}, o)
			if err != nil {
				t.Fatal(err)
			}
			got, err := Dangers(context.Background(), d, s, clock.Job{}, o)
			if err != nil {
				t.Fatal(err)
			}
			var want []Finding
			for _, f := range r.Findings {
				if f.Severity == Hurts {
					want = append(want, f)
				}
			}
			if len(got) != len(want) {
				t.Fatalf("%s on %s: %d dangers, the audit has %d", name, s.Name, len(got), len(want))
			}
			for i := range want {
				if got[i].Kind != want[i].Kind || got[i].What.Raw() != want[i].What.Raw() {
					t.Errorf("%s on %s: %q, the audit says %q", name, s.Name, got[i].What.Raw(), want[i].What.Raw())
				}
			}
			hurts[name] += len(got)
		}
	}
	if hurts["hole"] == 0 || hurts["wide"] == 0 || hurts["larkess-ferry.dst"] != 0 {
		t.Errorf("dangers are %v", hurts)
	}
}
