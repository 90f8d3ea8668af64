package money

import (
	"context"
	"math"
	"testing"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/thread"
)

// practiceDesign has the counts of the practice timings: 20,612 stitches, 7
// colour stops, 11 trims, and a plausible mix of stitch lengths (invented):
// two fifths running stitch of 2.5 mm, a third fill of 4 mm, the rest satin of
// 3 to 6 mm.
func practiceDesign() *stitch.Design {
	d := &stitch.Design{Name: "practice"}
	const n = 20612
	rotate := func(i int, units float64) (int16, int16) {
		s, c := math.Sincos(float64(i) / 9)
		return int16(math.Round(c * units)), int16(math.Round(s * units))
	}
	for i := range n {
		r := stitch.Record{Op: stitch.Sew}
		switch k := i % 500; {
		case k < 200:
			r.DX, r.DY = rotate(i/5, 25)
		case k < 365:
			r.DX, r.DY = rotate(k/10, 40)
		default:
			r.DX, r.DY = rotate(i/135, 30+30*float64(k-365)/135)
			if k%2 == 1 {
				r.DX, r.DY = -r.DX, -r.DY
			}
		}
		d.Records = append(d.Records, r)
		switch {
		case i%2500 == 2499 && i < 7*2500:
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		case i%1800 == 1000 && i < 11*1800:
			d.Records = append(d.Records, stitch.Record{Op: stitch.Trim})
		}
	}
	return d
}

func TestTheSlowerRatedMachineCanFinishFirst(t *testing.T) {
	// Common practice, no published source: 20,612 stitches, 7 colour stops, 11 trims took 27 min 22 s at 800/min on a compact commercial machine against 32 min 21 s and 36 min 27 s on two machines rated 1,000/min; it turns with the stitch length.
	d := practiceDesign()
	n := d.Count()
	if n.Stitches != 20612 || n.ColourStops != 7 || n.TrimRecords != 11 {
		t.Fatalf("the design has %+v", n)
	}
	class := func(id string) *machine.Sheet {
		s, ok := machine.Class(id)
		if !ok {
			t.Fatalf("no class %q", id)
		}
		return s
	}
	m := &Mix{Shifts: 5, Hours: 8, Crew: Crew{1, 1}, Law: thread.Default, Rates: *plainRates()}
	use, err := thread.Of(d, m.Law, 3)
	if err != nil {
		t.Fatal(err)
	}
	m.Designs = []Wanted{{Name: "practice", Design: d, Weekly: 40, Order: 20, Use: use, Counts: n, Threads: []string{"a"}}}
	for _, id := range []string{"single-15-light", "compact-10-light", "compact-8"} {
		s := class(id)
		m.Offers = append(m.Offers, Offer{Name: id, Existing: id == "single-15-light", Sheet: s, SheetID: id, Heads: s.Heads, Work: floor.DefaultWork, Owned: Owned{Price: amount("6000"), Life: 7}})
	}
	c, err := Compare(context.Background(), m, CompareOptions{Seed: 1, Weeks: 100})
	if err != nil {
		t.Fatal(err)
	}
	design := c.Designs[0]
	if name := c.Machines[design.First].Name; name != "compact-8" {
		t.Errorf("%s finishes first, in practice the compact machine at 800/min did", name)
	}
	// The measured times lie in the bands of the classes they belong to.
	for id, measured := range map[string]float64{"compact-8": 27*60 + 22, "single-15-light": 32*60 + 21, "compact-10-light": 36*60 + 27} {
		for i := range c.Machines {
			if o := design.On[i]; c.Machines[i].Name == id && (measured < o.Low || measured > o.High) {
				t.Errorf("%s: %.0f s measured, %.0f to %.0f s expected", id, measured, o.Low, o.High)
			}
		}
	}
	for _, p := range c.Pairs {
		if c.Machines[p.Machine].Name != "compact-8" {
			continue
		}
		// The machine rated 1,000/min is the faster on short stitches, the one
		// rated 800/min on long ones, and the text says where it turns.
		if len(p.Turns) == 0 || len(p.Turns[0].At) != 1 {
			t.Fatalf("turnings: %+v", p.Turns)
		}
		u := p.Turns[0].At[0]
		if u.Below || u.Length < 1 || u.Length > 5 || !(u.Low <= u.Length && u.Length <= u.High) {
			t.Errorf("turns at %.2f mm (%.2f to %.2f), the 800/min machine faster below: %v", u.Length, u.Low, u.High, u.Below)
		}
		if s := p.Turns[0].Stretches(); len(s) != 2 || s[0].Machine || !s[1].Machine || s[0].To > u.Length || s[1].From < u.Length || s[0].Is == CannotTell || s[1].Is == CannotTell {
			t.Errorf("stretches %+v", s)
		}
		// What is said must be so: clock the length just to either side.
		for _, side := range []struct {
			mm    float64
			first string
		}{{u.Length - .6, "single-15-light"}, {u.Length + .6, "compact-8"}} {
			test := TestDesign(Straight, int(math.Round(side.mm*10)), 3000, 2, 1)
			slow, fast := clock.Run(test, class("compact-8"), clock.Job{}).Seconds, clock.Run(test, class("single-15-light"), clock.Job{}).Seconds
			if (fast < slow) != (side.first == "single-15-light") {
				t.Errorf("at %.1f mm: %.0f s at 1,000/min, %.0f s at 800/min", side.mm, fast, slow)
			}
		}
	}
}

func TestCrossingsOfTwoLines(t *testing.T) {
	// Arithmetic: straight lines cross where they must.
	at, below := crossings([]float64{1, 2, 3, 4}, func(k int) float64 { return []float64{1, 0, 0, -3}[k] })
	if len(at) != 1 || at[0] != 1.75 || !below[0] {
		t.Errorf("crossings %v %v", at, below)
	}
	at, _ = crossings([]float64{1, 2, 3}, func(k int) float64 { return float64([]int{-1, 1, -1}[k]) })
	if len(at) != 2 || at[0] != 1.5 || at[1] != 2.5 {
		t.Errorf("crossings %v", at)
	}
	if at, _ := crossings([]float64{1, 2}, func(int) float64 { return 0 }); len(at) != 0 {
		t.Errorf("no difference, crossings %v", at)
	}
}
