package act_test

import (
	"math"
	"os"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/learn"
	"needlepace/shop"
)

// What learning asks about is kept as it was meant when somebody says yes, with
// what was written; it is asked no more, and the sheet is as if there had been no slip.
func TestASlipThatIsOneIsKeptAsItWasMeant(t *testing.T) {
	s, _ := newShop(t)
	piece, err := os.ReadFile("../demo/runs/skipper-piece.dst")
	must(t, err)
	added, err := s.AddFile(t.Context(), "skipper-piece.dst", piece)
	must(t, err)
	designs := []*shop.Design{added[0].Design, add(t, s, "whale-line.dst"), add(t, s, "gull-cap.dst")}
	timed := func(name string, spoil func(runs []shop.Run, sheetStop float64)) (*shop.Machine, []shop.Run) {
		m, err := s.Machines.AddOfClass(t.Context(), "single-15-light", name, "")
		must(t, err)
		var runs []shop.Run
		var obs []learn.Observation
		for _, d := range designs {
			stitches, err := s.Designs.Stitches(t.Context(), d.ID)
			must(t, err)
			for b := range d.ColourStops + 2 {
				o := learn.Observation{Kind: learn.BlockRun, Block: b, Design: stitches, SetSpeed: 800}
				if b == 0 {
					o.Kind = learn.WholeRun
				}
				obs = append(obs, o)
				runs = append(runs, shop.Run{DesignID: d.ID, Block: b, SetSpeed: 800, Step: 0.1})
			}
		}
		for i, v := range learn.Predict(m.Sheet, obs) {
			runs[i].Seconds = math.Round(10*v) / 10
		}
		spoil(runs, m.Sheet.Rest.ColourStop+m.Sheet.Rest.PerNeedle)
		runs, err = s.Timings.AddRuns(t.Context(), m.ID, runs)
		must(t, err)
		return m, runs
	}
	for _, c := range []struct {
		name, key string
		spoil     func(runs []shop.Run, stop float64)
		is        func(shop.Run) bool
	}{
		{"Lap", "laps", func(runs []shop.Run, stop float64) {
			for i := range runs {
				if runs[i].Block > 0 && i+1 < len(runs) && runs[i+1].Block > 0 {
					runs[i].Seconds += stop
				}
			}
		}, func(r shop.Run) bool { return r.Block == 1 && r.With == "after" }},
		{"Misread", "row-3", func(runs []shop.Run, _ float64) { runs[2].Seconds += 40 },
			func(r shop.Run) bool {
				return r.Ignored && r.Block == 2 && strings.Contains(r.Note, "left out, written: ")
			}},
	} {
		m, _ := timed(c.name, c.spoil)
		asked, err := s.Learn(t.Context(), m.ID, act.Learning{})
		must(t, err)
		if len(asked.Slips) != 1 || asked.Slips[0].Key != c.key {
			t.Errorf("%s: asked %+v, want %s", c.name, asked.Slips, c.key)
			continue
		}
		before, err := s.Timings.Runs(t.Context(), m.ID)
		must(t, err)
		for _, r := range before {
			if c.is(r) {
				t.Errorf("%s: changed without being told to: %+v", c.name, r)
			}
		}
		if _, err := s.Learn(t.Context(), m.ID, act.Learning{Meant: []string{"row-77"}}); shop.CodeOf(err) != shop.Invalid {
			t.Errorf("%s: row-77 was never asked about: %v", c.name, err)
		}
		yes, err := s.Learn(t.Context(), m.ID, act.Learning{Meant: []string{c.key}, By: "Ada"})
		must(t, err)
		kept, err := s.Timings.Runs(t.Context(), m.ID)
		must(t, err)
		changed := 0
		for i, r := range kept {
			if c.is(r) {
				changed++
				if !strings.Contains(r.Note, "written") || before[i].ID != r.ID || before[i].Note != "" {
					t.Errorf("%s: what was written is lost: %+v", c.name, r)
				}
			}
		}
		if changed == 0 || len(yes.AsMeant) != 1 {
			t.Errorf("%s: nothing was kept as meant: %+v", c.name, yes.AsMeant)
		}
		again, err := s.Learn(t.Context(), m.ID, act.Learning{})
		must(t, err)
		if len(again.Slips) != 0 || again.Result.Sheet.Fit.Digest != yes.Result.Sheet.Fit.Digest {
			t.Errorf("%s: asked again %+v, or learned otherwise", c.name, again.Slips)
		}
	}
}
