package picture

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// samples are one of each picture, for looking at and for the tests that hold
// for every picture.
func samples(detail float64) map[string]Picture {
	run := sampleRun(detail)
	faster := append([]Part(nil), run.Parts...)
	for i := range faster {
		if faster[i].Key == Trims {
			faster[i].Seconds *= 0.3
		}
	}
	return map[string]Picture{
		"run": run,
		"strips": &Strips{Name: "Leaf badge on two machines", Rows: []StripRow{
			{Label: "Bay 2", Note: "single-head, 15 needles", Parts: run.Parts, Low: run.Low, High: run.High},
			{Label: "Bay 2, after the mend", Parts: faster, Saved: total(run.Parts) - total(faster)},
			{Label: "Bay 5", Note: "8 needles, 800/min",
				Parts: []Part{{AtSetSpeed, 700}, {LongStitches, 60}, {Ramps, 40}, {Trims, 50}, {ColourStops, 20},
					{Travel, 6}, {Stops, 15}, {StartEnd, 6}}, Low: 830, High: 960},
		}},
		"speedmap": &SpeedMap{Name: "Leaf badge", Segs: run.Segs, Speeds: run.Speeds, SetSpeed: 1000},
		"sewout":   &SewOut{Name: "Leaf badge", Segs: run.Segs},
		"thumb":    &SewOut{Name: "Leaf badge", Segs: run.Segs, Width: 96, Height: 72, Bare: true},
		"marked": &Marked{Name: "Leaf badge", Segs: run.Segs, Marks: []Mark{
			{Number: 1, X: 6, Y: 2, From: len(run.Segs) - 60, To: len(run.Segs),
				Text: "14 trims could go: the way to the next vein is under 8 mm", Value: "52 s"},
			{Number: 2, X: -45, Y: 0, Text: "satin of 7.5 mm slows this machine to 560/min", Value: "41 s"},
			{Number: 3, X: 7, Y: 3, Text: "no lock stitches before the trim", Value: "risk"},
			{Number: 4, X: 7.5, Y: 2, Text: "an object of 3 stitches", Value: "5 s"},
			{Number: 12, X: 42, Y: 42, Text: "start far from the centre <&>"},
		}},
		"heat": &HeatMap{Name: "Leaf badge", Segs: run.Segs, Grid: density(run.Segs, 1), Limit: 4},
		"law":  lawSample(), "sweep": sweepSample(),
		"intervals": &Intervals{Name: "Pieces a shift",
			Text: "Bay 5 gives more on this mix in 83 of 100 simulated weeks.", Axis: Axis{Label: "pieces a shift"},
			Rows: []Interval{{Label: "Bay 2", Low: 182, Mid: 201, High: 219},
				{Label: "Bay 5", Low: 198, Mid: 214, High: 230, Strong: true}, {Label: "Offered, 12 heads", Low: 150,
					Mid: 240, High: 310}},
			Reference: 200, RefText: "needed: 200"},
		"histogram": histogramSample(),
		"bare":      &Strips{Bare: true, Width: 220, Rows: []StripRow{{Parts: run.Parts}}},
	}
}

func lawSample() *Chart {
	law := func(k, spread float64) Curve {
		var c Curve
		for x := 0.25; x <= 12; x += 0.25 {
			v := min(1000, k/math.Sqrt(x))
			c.X = append(c.X, x)
			c.Mid = append(c.Mid, v)
			c.Low = append(c.Low, v*(1-spread))
			c.High = append(c.High, min(1000, v*(1+spread)))
		}
		return c
	}
	return SpeedLaw("Bay 2: speed against stitch length", "14 timed runs; 90 % bands.", law(1550, 0.3), law(1350, 0.05),
		[]Reading{{2, 900, 950, 1000}, {4, 640, 670, 700}, {7, 480, 505, 530}, {10, 410, 425, 440}}, []Reading{{3.1, 760, 775, 790}, {5.5, 560, 585, 610}}, 1000, nil)
}

func sweepSample() *Chart {
	var run Curve
	var naive []float64
	for v := 400.0; v <= 1200; v += 50 {
		held := v / math.Pow(1+math.Pow(v/820, 6), 1.0/6)
		t := 18250/held*60 + 110
		run.X, run.Mid = append(run.X, v), append(run.Mid, t)
		run.Low, run.High = append(run.Low, t*0.95), append(run.High, t*1.05)
		naive = append(naive, 18250/v*60)
	}
	return Sweep("Run time against set speed", "Past 900/min the next 50/min buy less than 1 %.", run, naive, 900, nil)
}

func histogramSample() *Histogram {
	var vs []float64
	rng := rand.New(rand.NewPCG(1, 2))
	for range 1000 {
		vs = append(vs, math.Round(214+9*rng.NormFloat64()))
	}
	return &Histogram{Name: "Pieces a shift", Text: "1,000 simulated shifts.", Axis: Axis{Label: "pieces a shift"},
		Values: vs,
		Low:    199, High: 229, Between: "90 % of shifts"}
}

// TestLook writes every sample in every theme as SVG and PNG to the folder
// named by NEEDLEPACE_PICTURES, for people to look at.
func TestLook(t *testing.T) {
	dir := os.Getenv("NEEDLEPACE_PICTURES")
	if dir == "" {
		t.Skip("set NEEDLEPACE_PICTURES to a folder to get the pictures")
	}
	for name, p := range samples(1) {
		for _, th := range []*Theme{Light(), Dark(), Print()} {
			base := filepath.Join(dir, name+"-"+th.Name)
			f, err := os.Create(base + ".svg")
			if err != nil {
				t.Fatal(err)
			}
			if err := SVG(f, p, th); err != nil {
				t.Fatal(err)
			}
			f.Close()
			if f, err = os.Create(base + ".png"); err != nil {
				t.Fatal(err)
			}
			if err := PNG(f, p, th, 1.5); err != nil {
				t.Fatal(err)
			}
			f.Close()
		}
	}
}
