package audit

import (
	"context"
	"testing"

	"needlepace/clock"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// kindOf is the finding that each planted fault must give.
var kindOf = map[demo.Kind]Kind{
	demo.NeedlessTrim:      NeedlessTrim,
	demo.ThreadReturns:     ThreadReturns,
	demo.StopWithoutChange: NoChange,
	demo.LongStitches:      LongStitches,
	demo.TinyStitches:      ShortStitches,
	demo.RepeatedHoles:     SameHole,
	demo.DenseSpot:         DenseSpot,
	demo.MissingLock:       MissingLock,
	demo.FewStitches:       FewStitches,
	demo.DraggedThread:     DraggedThread,
	demo.FarStart:          OffCentre,
}

func demoDesign(t testing.TB, x demo.Design) *stitch.Design {
	t.Helper()
	b, err := x.Read()
	if err != nil {
		t.Fatal(err)
	}
	d, err := decode(b, x.File)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// threadsOfTable is the demo's own knowledge of the threads.
func threadsOfTable(x demo.Design) []int {
	var names []string
	for _, th := range x.Threads {
		names = append(names, th.Name)
	}
	return ThreadsNamed(names)
}

func TestEveryPlantedFaultIsFoundAndCleanDesignsAreClean(t *testing.T) {
	for _, x := range demo.Designs() {
		d := demoDesign(t, x)
		for _, sheet := range machine.Classes() {
			r, err := Check(context.Background(), d, sheet, clock.Job{}, Options{Threads: threadsOfTable(x)})
			if err != nil {
				t.Fatalf("%s: %v", x.File, err)
			}
			if x.Clean {
				for _, f := range r.Findings {
					// Colours are the machine's doing; and the roof of the light does
					// end right at its gallery: no fault, but it may gap.
					if f.Kind != TooManyColours && (f.Kind != PullGap || x.File != "ostrel-light.dst") {
						t.Errorf("%s on %s: false alarm %+v", x.File, sheet.Name, f)
					}
				}
			}
			for _, fault := range x.Faults {
				switch has := found(r, fault); {
				case fault.Kind == demo.LongStitches && !slowed(d, sheet, fault):
					if has {
						t.Errorf("%s on %s: long stitches reported where the machine holds its speed: %+v", x.File, sheet.Name, fault)
					}
				case !has:
					t.Errorf("%s on %s: not found: %+v", x.File, sheet.Name, fault)
				}
			}
		}
	}
}

// found: a finding of the right kind that overlaps the planted stitches.
func found(r *Report, fault demo.Fault) bool {
	for _, f := range r.Findings {
		places := f.Places
		if places == nil {
			places = []Place{f.asPlace()}
		}
		for _, p := range places {
			if f.Kind == kindOf[fault.Kind] && p.From <= max(fault.To, fault.From) && max(p.To, p.From) >= fault.From {
				return true
			}
		}
	}
	return false
}

// slowed says whether the machine loses more on the fault's long stitches than
// the audit lets pass. The loss is reckoned here from the trace's caps.
func slowed(d *stitch.Design, sheet *machine.Sheet, fault demo.Fault) bool {
	tr := clock.New(sheet, clock.Job{}).Trace(d)
	n, loss := 0, 0.0
	for i, r := range d.Records {
		if !r.Op.Penetrates() {
			continue
		}
		if mm := stitch.LengthMM(int(r.DX), int(r.DY)); n >= fault.From && n < fault.To && mm > DefaultLimits().LongStitch {
			short := clock.New(sheet, clock.Job{}).Trace(&stitch.Design{Records: []stitch.Record{
				{DX: int16(float64(r.DX) * DefaultLimits().LongStitch / mm), DY: int16(float64(r.DY) * DefaultLimits().LongStitch / mm)}}})
			loss += tr.CapSeconds[i] - short.CapSeconds[0]
		}
		n++
	}
	return loss > leastLoss
}

func TestMendOfTheDemoShop(t *testing.T) {
	for _, x := range demo.Designs() {
		d := demoDesign(t, x)
		for _, id := range []string{"home-1", "single-15-light", "multi-12"} {
			sheet := class(t, id)
			m, err := Mend(context.Background(), d, sheet, clock.Job{}, MendOptions{Threads: threadsOfTable(x), Rounds: 2000,
				States: 300, Release: spare(t, d, threadsOfTable(x))})
			if err != nil {
				t.Fatalf("%s on %s: %v", x.File, sheet.Name, err)
			}
			if m.After.Seconds > m.Before.Seconds || m.Proof.Before != m.Proof.After {
				t.Errorf("%s on %s: %+v", x.File, sheet.Name, m.Proof)
			}
			readsBack(t, x.File, m.Design, sheet)
			// A stop that the audit says could go must be gone after the mend.
			r, err := Check(context.Background(), m.Design, sheet, clock.Job{}, Options{Threads: threadsOfBlocks(threadsOfTable(x), m.Blocks)})
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range r.Findings {
				if f.Kind == NoChange || f.Kind == ThreadReturns || f.Kind == Order || f.Kind == DoubleCut {
					t.Errorf("%s on %s: the mended design still has %s (%.1f s): %s", x.File, sheet.Name, f.Kind, f.Seconds, f.What)
				}
			}
		}
	}
}

// spare are the numbers of the stops that stay unless they are named to go.
func spare(t *testing.T, d *stitch.Design, threads []int) (numbers []int) {
	t.Helper()
	all, err := Stands(d, threads, 3)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range all {
		if s.Why != "" && !s.Why.Final() {
			numbers = append(numbers, s.Number)
		}
	}
	return numbers
}

func threadsOfBlocks(threads, blocks []int) []int {
	out := make([]int, len(blocks))
	for k, b := range blocks {
		out[k] = threads[b]
	}
	return out
}

func decode(b []byte, name string) (*stitch.Design, error) { return stitchfile.Decode(b, name) }
