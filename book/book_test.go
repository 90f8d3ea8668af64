package book

import (
	"slices"
	"strings"
	"testing"
	"time"
)

func TestOneBadReportDoesNotPoisonTheRates(t *testing.T) {
	good := Report{MachineID: "m", Sheet: "s", Breaks: 3, Stitches: 10_000, Seconds: 3600, Predicted: 3600}
	bad := good
	bad.Seconds = 100 * 3600
	rates := SumReports([]Report{good, bad}, nil).Of("m", .2, "s")
	if want := 1.6; !(rates.Pace > 1 && rates.Pace < want) {
		t.Errorf("pace %v after a report that is 100 times off; want it above 1 and below %v", rates.Pace, want)
	}
	// 6 breaks in 20,000 and the prior's 3 in 15,000.
	if want := 9 / 35.; rates.Breaks < want-1e-9 || rates.Breaks > want+1e-9 {
		t.Errorf("%v breaks a head and 1,000 stitches, want %v", rates.Breaks, want)
	}
	if other := SumReports([]Report{good, bad}, nil).Of("m", .2, "another"); other.Pace != 1 || other.Runs != 0 {
		t.Errorf("a new sheet begins with the old one's pace: %+v", other)
	}
}

func TestWhatMightBeIsSupposedOfACopy(t *testing.T) {
	w := workshopOf(t, hours)
	was := w.Shift[0].Operators
	try := *w
	if err := try.Suppose([]DownTime{{From: "2026-03-03", To: "2026-03-04"}}, nil, 1); err != nil {
		t.Fatal(err)
	}
	if is := w.Shift[0].Operators; try.Shift[0].Operators != was+1 || is != was || len(w.Down) != 0 {
		t.Errorf("operators %v and %v, down times %d", try.Shift[0].Operators, is, len(w.Down))
	}
	if err := try.Suppose(nil, nil, -9); err == nil || !strings.Contains(err.Error(), "nobody is left in the shift from 07:00") {
		t.Errorf("with nobody on duty: %v", err)
	}
	from := time.Date(2026, 3, 2, 0, 0, 0, 0, w.Location())
	until := from.AddDate(0, 0, 4)
	if open, shut := len(w.OpenHours(from, until)), len(try.OpenHours(from, until)); open != 5 || shut != 4 {
		t.Errorf("%d and %d open stretches in a week with a day down; want 5 and 4", open, shut)
	}
}

func TestStatesGoOnlyWhereTheyMay(t *testing.T) {
	for _, s := range OrderStates {
		for _, to := range s.Next() {
			if !slices.Contains(OrderStates, to) || to == s {
				t.Errorf("%s may become %q", s, to)
			}
		}
	}
	if slices.Contains(Requested.Next(), Sewn) || !slices.Contains(Sewn.Next(), Delivered) {
		t.Error("an order that nobody agreed to can be sewn, or a sewn one cannot be delivered")
	}
	Requested.Next()[0] = Sewn
	if slices.Contains(Requested.Next(), Sewn) {
		t.Error("a caller changed the table of states")
	}
}

func TestThreadsTakeNeedlesAsTheyCome(t *testing.T) {
	navy := Thread{"navy", "#102040"}
	d := &Design{Name: "crest", ColourStops: 3, Threads: []Thread{navy, {"gold", ""}, navy, {}}}
	blocks := BlockThreads(&OrderLine{Threads: []string{"", "sand #d0c090"}}, d)
	if want := []string{"navy", "sand", "navy", "crest, colour 4"}; !slices.Equal(blocks, want) {
		t.Fatalf("blocks %q, want %q", blocks, want)
	}
	threads, of := OnNeedles(blocks, 2)
	if !slices.Equal(threads, []string{"navy", "sand", "crest, colour 4"}) || !slices.Equal(of, []int{0, 1, 0, 0}) {
		t.Errorf("%q on needles %v", threads, of)
	}
}
