package clock_test

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// slopesAgree holds the slopes of each block by each constant between the differences
// of the run to the one side and the other: a time bends where a limit begins to bind.
func slopesAgree(t rapid.TB, d *stitch.Design, s *machine.Sheet, j clock.Job) {
	t.Helper()
	const step = 1e-5
	now, here, by := clock.Run(d, s, j), clock.Numbers(s, j), clock.New(s, j).Slopes(d)
	for _, c := range machine.AllConstants {
		v := c.Get(s)
		if c.Whole || v == 0 || c.Path == "turns.angle" || c.Path == "turns.to" || c.Path == "turns.length" ||
			c.Path == "slow.seconds" {
			continue // a time does not move by these, or jumps
		}
		var runs [2]*clock.Result
		var moved [2][]float64
		for side, way := range []float64{-step, step} {
			m := s.Clone()
			c.Set(m, v*math.Exp(way))
			runs[side], moved[side] = clock.Run(d, m, j), clock.Numbers(m, j)
		}
		for b := range by {
			sewing := func(r *clock.Result) float64 { return r.Blocks[b].Parts.Sewing() }
			down, up := (sewing(now)-sewing(runs[0]))/step, (sewing(runs[1])-sewing(now))/step
			tol := 1e-6*sewing(now) + 1e-4*math.Abs(up) + 1e-4*math.Abs(down)
			for side, way := range []float64{-step, step} {
				got := 0.0
				for k, g := range by[b] {
					got += g * (moved[side][k] - here[k]) / way
				}
				if !(got >= min(down, up)-tol && got <= max(down, up)+tol) {
					t.Fatalf("block %d, %s = %g: slope %v s, differences %v and %v", b+1, c.Path, v, got, down, up)
				}
			}
		}
	}
}

func TestSlopesAreDifferencesOfRuns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSheet(t)
		s.Shaft.SpeedStep = 0
		slopesAgree(t, drawDesign(t), s, drawJob(t))
	})
}

// Whole designs (the demo's, and some of ../shared/data/real where that is here) and one run longer than two
// windows, all in ramps, on the class and with each term of the law.
func TestSlopesOfRealDesigns(t *testing.T) {
	files, _ := filepath.Glob("../demo/designs/*.dst")
	real, _ := filepath.Glob("../../shared/data/real/*.dst")
	for k := 3; k < len(real); k += 15 {
		files = append(files, real[k])
	}
	long := &stitch.Design{}
	rng := rand.New(rand.NewPCG(5, 5))
	for range 9000 {
		long.Records = append(long.Records, stitch.Record{DX: int16(rng.IntN(80) * rng.IntN(2)), DY: int16(rng.IntN(40) - 20)})
	}
	designs := map[string]*stitch.Design{"long": long}
	for _, file := range files {
		all, err := stitchfile.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		designs[filepath.Base(file)] = all[0].Design
	}
	class, _ := machine.Class("single-15-light")
	laws := map[string]func(*machine.Sheet){"plain": func(*machine.Sheet) {}, "ladder": func(s *machine.Sheet) {
		s.Ladder = machine.Ladder{Length: []float64{2, 4, 7}, Speed: []float64{930, 810, 640}}
	}, "ladder by axis": func(s *machine.Sheet) {
		s.Ladder = machine.Ladder{Length: []float64{2, 4, 7}, Speed: []float64{930, 810, 640}, ByAxis: 1}
	}, "correction": func(s *machine.Sheet) {
		s.Correction = machine.Correction{Length: []float64{1, 3, 8}, Factor: []float64{1, 1.05, 0.97}}
	}}
	for name, add := range terms {
		if name != "step" {
			laws[name] = add
		}
	}
	for file, d := range designs {
		for name, add := range laws {
			t.Run(file+" "+name, func(t *testing.T) {
				s := class.Clone()
				add(s)
				slopesAgree(t, d, s, clock.Job{Speed: 900})
			})
		}
	}
}

// BenchmarkSlopes is a run and its slopes by all constants, of the plain law and of one that the tables do not cover.
func BenchmarkSlopes(b *testing.B) {
	all, err := stitchfile.ReadFile("../demo/designs/harbour-jacket-back.dst")
	if err != nil {
		b.Fatal(err)
	}
	d := all[0].Design
	for _, law := range []string{"plain", "turns", "lag", "slow"} {
		s, _ := machine.Class("single-15-light")
		if add := terms[law]; add != nil {
			add(s)
		}
		c := clock.New(s, clock.Job{})
		for name, one := range map[string]func(){"run": func() { c.Run(d) }, "slopes": func() { c.Slopes(d) }} {
			b.Run(law+"/"+name, func(b *testing.B) {
				for b.Loop() {
					one()
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(d.Records)), "ns/stitch")
			})
		}
	}
}
