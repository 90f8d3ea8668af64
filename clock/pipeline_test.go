package clock_test

import (
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// BenchmarkFromBytes is the whole way from the bytes of a .dst to the full
// breakdown: decode, count, clock. The demo's jacket back stands for real
// work (fills, satin, lettering).
func BenchmarkFromBytes(b *testing.B) {
	bytes, err := os.ReadFile("../demo/designs/harbour-jacket-back.dst")
	if err != nil {
		b.Fatal(err)
	}
	d, err := stitchfile.Decode(bytes, "jacket.dst")
	if err != nil {
		b.Fatal(err)
	}
	n := len(d.Records)
	perStitch := func(b *testing.B) {
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*n), "ns/stitch")
		b.ReportMetric(float64(b.N*n)/b.Elapsed().Seconds()/1e6, "Mstitches/s")
	}
	for _, s := range machine.Classes() {
		b.Run(s.Name, func(b *testing.B) {
			c := clock.New(s, clock.Job{})
			b.ReportAllocs()
			for b.Loop() {
				d, err := stitchfile.Decode(bytes, "jacket.dst")
				if err != nil {
					b.Fatal(err)
				}
				d.Count()
				c.Run(d)
			}
			perStitch(b)
		})
	}
	b.Run("decode", func(b *testing.B) {
		for b.Loop() {
			_, _ = stitchfile.Decode(bytes, "jacket.dst")
		}
		perStitch(b)
	})
	b.Run("count", func(b *testing.B) {
		for b.Loop() {
			d.Count()
		}
		perStitch(b)
	})
	b.Run("plain", func(b *testing.B) {
		s, _ := machine.Class("multi-12")
		for b.Loop() {
			oracle(d, s, clock.Job{})
		}
		perStitch(b)
	})
}

// Every real design and every demo design clocks the same as the plain form,
// on every class and on sheets with a turn penalty, a ladder, settle time,
// shaft travel and a return.
func TestRealDesignsAgreeWithThePlainForm(t *testing.T) {
	files, _ := filepath.Glob("../demo/designs/*.dst")
	real, _ := filepath.Glob("../../shared/data/real/*")
	if len(real) == 0 {
		t.Log("../shared/data/real is not here; only the demo designs are checked")
	}
	sheets := machine.Classes()
	odd := plainSheet()
	odd.Frame.Turn, odd.Frame.Settle = 0.3, 0.002
	odd.Ladder = machine.Ladder{Length: []float64{2, 4, 7}, Speed: []float64{950, 700, 500}}
	odd.Travel.Mode, odd.Travel.ReturnToStart = machine.ShaftTravel, true
	sheets = append(sheets, odd)
	read := 0
	for _, f := range append(files, real...) {
		all, err := stitchfile.ReadFile(f)
		if err != nil || filepath.Ext(f) == ".csv" {
			continue
		}
		for i, d := range all {
			if d.Err != nil {
				continue
			}
			read++
			// Two classes a file keep the test short; all get their turn.
			for k := range 2 {
				agree(t, d.Design, sheets[(read+5*k+i)%len(sheets)], clock.Job{})
			}
			agree(t, d.Design, odd, clock.Job{Speed: 850, AccelFactor: 0.7})
		}
	}
	t.Logf("%d designs", read)
	if read < 8 {
		t.Errorf("only %d designs could be read", read)
	}
}

// The same design in two formats clocks the same.
func TestSameDesignInTwoFormats(t *testing.T) {
	b, err := os.ReadFile("../demo/designs/ostrel-light-trims.dst")
	if err != nil {
		t.Fatal(err)
	}
	d, err := stitchfile.Decode(b, "a.dst")
	if err != nil {
		t.Fatal(err)
	}
	for _, format := range []string{"dst", "exp"} {
		again := reread(t, d, format)
		for _, s := range machine.Classes() {
			a, b := clock.Run(d, s, clock.Job{}), clock.Run(again, s, clock.Job{})
			if !near(a.Seconds, b.Seconds, a.Seconds) || a.Trims != b.Trims || a.Stitches != b.Stitches ||
				a.ColourStops != b.ColourStops {
				t.Errorf("%s as .%s: %v s and %d trims, before %v s and %d", s.Name, format, b.Seconds, b.Trims,
					a.Seconds, a.Trims)
			}
		}
	}
}

func reread(t *testing.T, d *stitch.Design, format string) *stitch.Design {
	t.Helper()
	path := filepath.Join(t.TempDir(), "again."+format)
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := stitchfile.Encode(f, d, format); err != nil {
		t.Fatal(err)
	}
	f.Close()
	all, err := stitchfile.ReadFile(path)
	if err != nil || len(all) != 1 || all[0].Err != nil {
		t.Fatalf("reading back .%s: %v", format, err)
	}
	return all[0].Design
}

// A law that was used for another run before is as a new one: whoever asks at the same time gets their own.
func TestALawUsedAgainIsAsNew(t *testing.T) {
	d := mixedDesign()
	type asked struct {
		s    *machine.Sheet
		job  clock.Job
		want clock.Block
	}
	var all []asked
	for k, s := range machine.Classes() {
		s = s.Clone()
		switch k % 3 { // what keeps a table, what keeps another, and what keeps none
		case 1:
			s.Shaft.SpeedStep = 50
		case 2:
			s.Turns = machine.Turns{Angle: 60, To: 180, Length: 3, Speed: 0.6}
		}
		for n := range 3 {
			all = append(all, asked{s: s, job: clock.Job{Speed: s.MaxSpeed * float64(4+n) / 6}})
		}
	}
	var kept []*clock.Clock // their laws are used by nobody else; the first take those that other tests have left
	for range 500 {
		kept = append(kept, clock.New(all[0].s, clock.Job{}))
	}
	for k, a := range all {
		kept = append(kept, clock.New(a.s, a.job))
		all[k].want = kept[len(kept)-1].Run(d).Blocks[0]
	}
	var runs sync.WaitGroup
	for k := range 20 * len(all) {
		a := all[k*7%len(all)]
		runs.Go(func() {
			if got := clock.Run(d, a.s, a.job).Blocks[0]; got != a.want {
				t.Errorf("%s at %v: %+v, by a clock of its own %+v", a.s.Name, a.job.Speed, got, a.want)
			}
		})
	}
	runs.Wait()
	runtime.KeepAlive(kept)
}
