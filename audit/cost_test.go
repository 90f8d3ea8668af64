package audit

import (
	"context"
	"math"
	"os"
	"testing"

	"needlepace/clock"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/stitch"
)

// TestCostsAreThoseOfTheWholeDesign: a finding's cost is reckoned on a piece of
// the design; here the whole design is clocked with the trim and without.
func TestCostsAreThoseOfTheWholeDesign(t *testing.T) {
	checked := 0
	for _, x := range demo.Designs() {
		d := demoDesign(t, x)
		for _, sheet := range machine.Classes() {
			lim := DefaultLimits()
			lim.LongList = 100_000 // each by itself
			r, err := Check(context.Background(), d, sheet, clock.Job{}, Options{Limits: &lim})
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range r.Findings {
				if len(f.Places) > 0 {
					continue // near each other: their costs alone are a sum
				}
				var without []stitch.Record
				switch {
				case f.Kind == NeedlessTrim && f.What.Key == "finding.trim-short":
					without = sewThrough(d.Records, f.From)
				case f.Kind == FewStitches && f.Seconds > 0:
					without = leftOut(d.Records, f.From, f.To)
				default:
					continue
				}
				checked++
				want := clock.Run(d, sheet, clock.Job{}).Seconds - clock.Run(&stitch.Design{Records: without}, sheet, clock.Job{}).Seconds
				if math.Abs(want-f.Alone) > 1e-6 {
					t.Errorf("%s on %s: %s before stitch %d costs %.6f s, on the whole design %.6f s", x.File, sheet.Name, f.Kind, f.From, f.Alone, want)
				}
			}
		}
	}
	if checked < 50 {
		t.Errorf("only %d costs were checked", checked)
	}
}

// sewThrough replaces the jumps before stitch n, and its own way, by one stitch.
func sewThrough(rec []stitch.Record, n int) []stitch.Record {
	var out []stitch.Record
	k := 0
	dx, dy := 0, 0
	for _, r := range rec {
		if r.Op.Penetrates() {
			if k == n {
				r.DX, r.DY = r.DX+int16(dx), r.DY+int16(dy)
			}
			k++
		} else if k == n {
			dx, dy = dx+int(r.DX), dy+int(r.DY)
			continue
		}
		out = append(out, r)
	}
	return out
}

// leftOut takes the stitches from ≤ k < to out, with the jumps between the cuts
// made one way of as many jumps as a trim and the way need.
func leftOut(rec []stitch.Record, from, to int) []stitch.Record {
	var out []stitch.Record
	k, dx, dy := 0, 0, 0
	for _, r := range rec {
		if k == to && r.Op.Penetrates() && (dx != 0 || dy != 0) {
			writer{&out, trimJumps, false}.way(stitch.Point{X: dx, Y: dy}, trimJumps)
			dx, dy = 0, 0
		}
		inside := k >= from && k <= to
		if r.Op.Penetrates() {
			k++
			inside = k > from && k <= to
		}
		switch {
		case inside && r.Op == stitch.ColourStop:
			out = append(out, r)
		case inside:
			dx, dy = dx+int(r.DX), dy+int(r.DY)
		default:
			out = append(out, r)
		}
	}
	return out
}

func TestOrderSecondsCountRunsOfAllHeads(t *testing.T) {
	for _, tt := range []struct{ pieces, heads, want int }{{0, 1, 1}, {1, 6, 1}, {6, 6, 1}, {7, 6, 2}, {100, 12, 9}, {5, 0, 5}} {
		if got := runs(tt.pieces, tt.heads); got != tt.want {
			t.Errorf("%d pieces on %d heads: %d runs, want %d", tt.pieces, tt.heads, got, tt.want)
		}
	}
}

// The costs of needless trims add up to what leaving out all of them saves, by
// the clock of the whole design: here the test itself sews through every one.
func TestCostsAddUpToWhatAllOfThemSaves(t *testing.T) {
	lim := DefaultLimits()
	lim.CoveredWay, lim.FewStitches, lim.OrderSeconds = 0, 1, 3600 // trims before a short way alone
	lim.ShortRun, lim.SameHole, lim.LongRun = 1000, 100, 10_000
	designs := map[string]*stitch.Design{}
	for _, x := range demo.Designs() {
		designs[x.File] = demoDesign(t, x)
	}
	if _, err := os.Stat(realDir); err == nil {
		for name, d := range realDesigns(t) {
			designs[name] = d
		}
	}
	checked := 0
	for name, d := range designs {
		if len(d.Records) > 20_000 {
			continue
		}
		sheet := class(t, "single-15-1200")
		r, err := Check(context.Background(), d, sheet, clock.Job{}, Options{Limits: &lim})
		if err != nil {
			t.Fatal(err)
		}
		rec, other := d.Records, false
		for k := len(r.Findings) - 1; k >= 0; k-- {
			other = other || r.Findings[k].Seconds > 0 && r.Findings[k].Kind != NeedlessTrim
		}
		if r.Total == 0 || other {
			continue
		}
		for _, f := range r.Findings {
			if f.Kind != NeedlessTrim {
				continue
			}
			for _, p := range append(f.Places, f.asPlace())[:max(1, len(f.Places))] {
				rec = sewThrough(rec, p.From) // as many stitches as before
			}
		}
		checked++
		saved := r.Seconds - clock.Run(&stitch.Design{Records: rec}, sheet, clock.Job{}).Seconds
		if r.Total > saved+1e-6 || r.Total < 0.9*saved { // two in a row save a little more than each
			t.Errorf("%s: the trims cost %.3f s together, without all of them the run is %.3f s shorter", name, r.Total, saved)
		}
	}
	if checked == 0 {
		t.Error("no design was checked")
	}
	t.Logf("%d designs", checked)
}
