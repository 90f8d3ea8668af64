package ask

import (
	"math"
	"testing"

	"needlepace/clock"
	"needlepace/demo"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/stitchfile"
)

// A timing that the sheet foretells stands on the sheet's curve; one that took
// longer stands below it by what sewing took longer.
func TestATimingStandsOnTheLaw(t *testing.T) {
	s, _ := machine.Class("single-15-light")
	law := lawOf(s, nil, nil, true)
	stood := 0
	for _, x := range demo.Designs() {
		b, err := x.Read()
		if err != nil {
			t.Fatal(err)
		}
		d, err := stitchfile.Decode(b, x.File)
		if err != nil {
			t.Fatal(err)
		}
		k := clock.New(s, clock.Job{}).Run(d)
		r := learn.Run{Observation: learn.Observation{Kind: learn.WholeRun, Design: d, Seconds: k.Seconds, SetSpeed: s.MaxSpeed},
			Predicted: k.Seconds, SD: 1}
		on, ok := law.timing(s, &r)
		if !ok {
			continue
		}
		stood++
		i := int(math.Round(on.LengthMM * 10))
		if low, high := law.Now.Mid[min(i+1, len(law.Now.Mid)-1)], law.Now.Mid[max(i-2, 0)]; on.Held < low-0.1 || on.Held > high+0.1 {
			t.Errorf("%s: held %.1f at %.2f mm, where the curve is from %.1f to %.1f", x.File, on.Held, on.LengthMM, low, high)
		}
		if on.Low >= on.Held || on.High <= on.Held {
			t.Errorf("%s: %.1f to %.1f about %.1f", x.File, on.Low, on.High, on.Held)
		}
		r.Seconds += 0.1 * k.Parts.Sewing()
		slow, _ := law.timing(s, &r)
		if math.Abs(slow.Held*1.1/on.Held-1) > 1e-9 || slow.LengthMM != on.LengthMM {
			t.Errorf("%s: a tenth slower stands at %.1f of %.1f, %.2f of %.2f mm", x.File, slow.Held, on.Held, slow.LengthMM, on.LengthMM)
		}
		r.Aside = true
		if _, ok := law.timing(s, &r); ok {
			t.Errorf("%s: a run that was set aside stands on the law", x.File)
		}
	}
	if stood < 3 {
		t.Errorf("%d designs stand on the law", stood)
	}
}
