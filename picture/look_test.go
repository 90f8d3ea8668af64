package picture

import (
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
			{Label: "Bay 5", Note: "8 needles, 800/min", Parts: []Part{{AtSetSpeed, 700}, {LongStitches, 60}, {Ramps, 40}, {Trims, 50}, {ColourStops, 20}, {Travel, 6}, {Stops, 15}, {StartEnd, 6}}, Low: 830, High: 960},
		}},
		"bare": &Strips{Bare: true, Width: 220, Rows: []StripRow{{Parts: run.Parts}}},
	}
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
