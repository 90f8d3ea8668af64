package ask

import (
	"context"
	"testing"

	"needlepace/demo"
	"needlepace/stitchfile"
)

// A finding of many places keeps them all, the worst first, and says how many.
// What lies between stitches is in no kind of them.
func TestAFindingSaysAllItsPlaces(t *testing.T) {
	var b []byte
	for _, x := range demo.Designs() {
		if x.File == "ostrel-light-trims.dst" {
			b, _ = x.Read()
		}
	}
	d, err := stitchfile.Decode(b, "trims.dst")
	if err != nil {
		t.Fatal(err)
	}
	a, err := Audit(context.Background(), Given{Stitches: NewDesign(d, "trims.dst", ""), On: sheetOf(t, "single-15-light")},
		AuditQuestion{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range a.Findings {
		if f.Kind != "needless-trim" {
			continue
		}
		sum := 0.0
		for _, p := range f.Places {
			sum += p.Seconds
		}
		if len(f.Places) != 17 || f.Count != 17 || sum < f.Seconds-1e-9 || sum > f.Seconds+1e-9 {
			t.Errorf("%d places, %d trims, %.3f s, %.3f s in all places", len(f.Places), f.Count, f.Seconds, sum)
		}
		if f.PastRev > f.FirstRev {
			t.Errorf("revolutions %d to %d would be drawn strong: what lies between the places is none of it", f.FirstRev, f.PastRev)
		}
		if got := f.Place().Text(nil); got != "17 places, the worst in block 4, after stitch 1,043" {
			t.Errorf("it stands at %q", got)
		}
		return
	}
	t.Error("no needless trims")
}
