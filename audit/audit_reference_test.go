package audit

import (
	"context"
	"math"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// zigzag sews n stitches of so many mm to and fro along x, after a short lead.
func zigzag(n int, mm float64) *stitch.Design {
	s := &sketch{}
	s.op(stitch.Sew)
	for k := range n {
		s.to(int(mm*10)*((k+1)%2), 0, stitch.Sew)
	}
	return s.design()
}

func TestSplittingALongStitchIsSlower(t *testing.T) {
	// Source: textbook rest-to-rest motion (Biagiotti and Melchiorri, Trajectory Planning for Automatic Machines and Robots, Springer 2008, ch. 3), worked out: at K = 1741 rpm·√mm a 10 mm stitch takes 109 ms, two of 5 mm 154 ms.
	sheet := class(t, "single-15-light").Clone()
	sheet.Frame.Window, sheet.Frame.AccelX, sheet.Frame.SpeedX = 0.44, 17_400, 10_000
	sheet.Frame.Settle, sheet.Frame.Turn = 0, 0
	sheet.MaxSpeed = 1400 // above 779/min, what 5 mm allows
	sheet.Shaft.AccelUp, sheet.Shaft.AccelDown = 500, 500
	const n = 200
	limits := DefaultLimits()
	limits.LongStitch = 5
	r, err := Check(context.Background(), zigzag(n, 10), sheet, clock.Job{}, Options{Limits: &limits})
	if err != nil {
		t.Fatal(err)
	}
	var f *Finding
	for i := range r.Findings {
		if r.Findings[i].Kind == LongStitches {
			f = &r.Findings[i]
		}
	}
	if f == nil {
		t.Fatal("long stitches were not found")
	}
	if per := f.Split / n; math.Abs(per-0.045) > 0.001 { // 154 ms − 109 ms
		t.Errorf("splitting costs %.1f ms a stitch, want 45 ms", 1000*per)
	}
	if per := f.Alone / n; math.Abs(per-(0.109-0.077)) > 0.001 {
		t.Errorf("a stitch of 10 mm costs %.1f ms more than one of 5 mm, want 32 ms", 1000*per)
	}
}

func TestATrimCostsWhatThePrintSays(t *testing.T) {
	// Source: lovedigitizing.com/48.html and a decorated-apparel guide (docs.hic.us/i/403552/73): a trim costs about 5 s, slowing down and restarting included; range of the classes 3.5 to 7 s.
	for _, id := range []string{"single-15-light", "single-15-1200", "compact-8", "multi-6", "multi-12"} {
		s := (&sketch{}).dash(0, 0, 40).dash(820, 30, 40)
		r, err := Check(context.Background(), s.design(), class(t, id), clock.Job{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range r.Findings {
			if f.Kind == NeedlessTrim && (f.Seconds < 3.5 || f.Seconds > 7) {
				t.Errorf("%s: a trim costs %.1f s", id, f.Seconds)
			}
		}
		if len(r.Findings) == 0 {
			t.Errorf("%s: the needless trim was not found", id)
		}
	}
}

func TestAColourChangeCostsMoreThanATrim(t *testing.T) {
	// Source: common practice, no published source: each needless trim costs a slow-down, a cut and a restart; each needless colour change costs more.
	for _, id := range []string{"home-1", "compact-10-light", "single-15-light", "single-15-1200", "compact-8", "multi-6", "multi-12", "multi-20", "multi-20-slow"} {
		sheet := class(t, id)
		trim := (&sketch{}).dash(0, 0, 40).dash(820, 30, 40)
		stop := (&sketch{}).dash(0, 0, 40).op(stitch.ColourStop)
		for k := range 41 {
			stop.to(820+20*k, 30, stitch.Sew)
		}
		a, b := clock.Run(trim.design(), sheet, clock.Job{}), clock.Run(stop.design(), sheet, clock.Job{})
		if b.Seconds <= a.Seconds {
			t.Errorf("%s: with a trim %.1f s, with a colour change %.1f s", id, a.Seconds, b.Seconds)
		}
	}
}

func TestOneLayerOfFillIsNoHotSpotAndEightAre(t *testing.T) {
	// Source: arithmetic on published spacings (E. Levy, Printwear, Dec 2016: line spacing 0.40 mm; Printwear, Feb 2016, p. 63: fill stitch 4 mm): one layer at 0.2 mm has 1.25 penetrations per mm²; trouble begins beyond about three layers.
	fill := func(layers int) *stitch.Design {
		s := &sketch{}
		s.op(stitch.Sew)
		for range layers {
			for row := range 100 {
				for k := range 6 {
					x := 40 * k
					if row%2 == 1 {
						x = 200 - x
					}
					s.to(x, 2*row, stitch.Sew)
				}
			}
			s.to(0, 0, stitch.Sew)
		}
		return s.design()
	}
	for _, tt := range []struct {
		layers int
		hot    bool
	}{{1, false}, {8, true}} {
		r, err := Check(context.Background(), fill(tt.layers), class(t, "single-15-light"), clock.Job{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		hot := false
		for _, f := range r.Findings {
			hot = hot || f.Kind == DenseSpot
		}
		if hot != tt.hot {
			t.Errorf("%d layers: hot is %v", tt.layers, hot)
		}
		sum := int32(0)
		for _, n := range r.Penetrations.Counts {
			sum += n
		}
		if int(sum) != r.Stitches {
			t.Errorf("the heat counts %d of %d penetrations", sum, r.Stitches)
		}
	}
}
