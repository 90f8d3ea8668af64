package book

import (
	"math"
	"reflect"
	"testing"
)

// timed is a report of a run that took so many hours where so many were
// predicted.
func timed(real, predicted float64) Report {
	return Report{MachineID: "m", Sheet: "s", Breaks: -1, Stitches: 10_000, Seconds: real * 3600, Predicted: predicted * 3600}
}

func TestThePaceIsRealOverPredictedAsFarAsTheHoursCarry(t *testing.T) {
	for _, c := range []struct {
		what    string
		reports []Report
		pace    float64 // the power is the reported hours' share with six more at a pace of 1
		hours   float64
		runs    int
	}{
		{"none", nil, 1, 0, 0},
		{"a quarter longer", []Report{timed(3.75, 3)}, math.Pow(1.25, 3./9), 3.75, 1},
		{"a fifth shorter", []Report{timed(2.4, 3)}, math.Pow(0.8, 3./9), 2.4, 1},
		{"twice a quarter longer", []Report{timed(3.75, 3), timed(3.75, 3)}, math.Pow(1.25, 6./12), 7.5, 2},
		{"one up, one down", []Report{timed(3.75, 3), timed(2.4, 3)}, 1, 6.15, 2},
		{"as predicted", []Report{timed(3, 3)}, 1, 3, 1},
		{"no more than eight hours of one report", []Report{timed(25, 20)}, math.Pow(1.25, 8./14), 25, 1},
		{"three times as long counts as 1.6 times", []Report{timed(9, 3)}, math.Pow(1.6, 3./9), 9, 1},
		{"a third counts as 1 / 1.6", []Report{timed(1, 3)}, math.Pow(1/1.6, 3./9), 1, 1},
		{"without a time", []Report{timed(0, 3)}, 1, 0, 0},
		{"without a prediction", []Report{timed(3, 0)}, 1, 0, 0},
	} {
		r := SumReports(c.reports, nil).Of("m", 0.2, "s")
		if math.Abs(r.Pace-c.pace) > 1e-12 || math.Abs(r.Hours-c.hours) > 1e-9 || r.Runs != c.runs {
			t.Errorf("%s: pace %v of %v hours in %d reports, want %v, %v, %d", c.what, r.Pace, r.Hours, r.Runs, c.pace, c.hours, c.runs)
		}
	}
}

func TestBreaksAreThoseCountedOverWhatWasSewn(t *testing.T) {
	counted := func(breaks int, stitches float64) Report {
		return Report{MachineID: "m", Sheet: "s", Breaks: breaks, Stitches: stitches}
	}
	for _, c := range []struct {
		what    string
		reports []Report
		rate    float64
		counted int
		sewn    float64
	}{
		{"none", nil, 0.2, 0, 0},
		{"nobody counted", []Report{counted(-1, 50_000)}, 0.2, 0, 0},
		{"as expected", []Report{counted(2, 10_000)}, 0.2, 2, 10_000},
		// Three in 15,000 are expected, seven in 10,000 came on top.
		{"more", []Report{counted(7, 10_000)}, 10 / 25., 7, 10_000},
		{"none came", []Report{counted(0, 15_000)}, 3 / 30., 0, 15_000},
		{"two reports", []Report{counted(7, 5_000), counted(0, 5_000), counted(-1, 9_000)}, 10 / 25., 7, 10_000},
		{"nothing sewn", []Report{counted(1, 0)}, 0.2, 1, 0},
	} {
		r := SumReports(c.reports, nil).Of("m", 0.2, "s")
		if math.Abs(r.Breaks-c.rate) > 1e-12 || r.Counted != c.counted || r.Sewn != c.sewn {
			t.Errorf("%s: %v a head and 1,000 (%d in %v), want %v (%d in %v)", c.what, r.Breaks, r.Counted, r.Sewn, c.rate, c.counted, c.sewn)
		}
		if other := SumReports(c.reports, nil).Of("another", 0.2, "s"); !reflect.DeepEqual(other, Rates{Breaks: 0.2, Pace: 1}) {
			t.Errorf("%s: another machine has %+v", c.what, other)
		}
	}
	if r := SumReports([]Report{counted(2, 10_000)}, nil).Of("m", 0, "s"); r.Breaks != 0 {
		t.Errorf("where no break is expected the rate is %v", r.Breaks)
	}
}
