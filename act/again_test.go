package act_test

import (
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/shop/timings"
)

// A report that is sent again under its key is the report that is there.
func TestAReportSentTwiceIsOne(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 40, "2026-03-20", book.Agreed)
	r := book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 3, Breaks: -1, Seconds: 1800}
	how := act.Recording{Key: "abcdefghij2345672345"}
	first, err := b.Record(bg, r, how, "")
	must(t, err)
	again, err := b.Record(bg, r, how, "")
	must(t, err)
	all, err := b.Orders.Reports(bg, o.ID)
	must(t, err)
	kept, err := b.Orders.Get(bg, o.ID)
	must(t, err)
	if len(all) != 1 || kept.Lines[0].Good != 3 || again.Report.Number != first.Report.Number || again.Real != 600 || first.Real != 600 {
		t.Errorf("%d reports, %d good, again %+v", len(all), kept.Lines[0].Good, again.Report)
	}
	// So with a correction of it.
	r.Good = 2
	fix := act.Recording{Key: "bbcdefghij2345672345", Saw: kept.Version}
	for range 2 {
		_, err = b.Correct(bg, o.ID, "1", r, fix, "")
		must(t, err)
	}
	if kept, err = b.Orders.Get(bg, o.ID); err != nil || kept.Lines[0].Good != 2 {
		t.Errorf("%d good after the correction (%v)", kept.Lines[0].Good, err)
	}
	if _, err = b.Record(bg, r, act.Recording{Key: "1"}, ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("a key of one character: %v", err)
	}
}

// A time that lies far from what was predicted is asked about before the machine
// learns from it, however it comes; a press too many is, too.
func TestAnUnlikelyTimeIsAskedAbout(t *testing.T) {
	b := fresh(t)
	b.at = time.Now().Add(48 * time.Hour) // its machine is no older than the bench
	m, d := b.m["Gannet"], b.designs["gull-cap.dst"]
	asked := func(what string, err error) {
		t.Helper()
		if e := shop.ErrorOf(err); e == nil || e.Key != "sure" || e.Code != shop.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	run := shop.Run{DesignID: d, SetSpeed: 800, Seconds: 1.7}
	_, err := b.Timings.AddRuns(bg, m, []shop.Run{run})
	asked("1.7 s", err)
	if !strings.Contains(err.Error(), "1.7 s, and ") {
		t.Errorf("it says %q", err)
	}
	run.Seconds = 3 * 3600
	_, err = b.Timings.AddRuns(bg, m, []shop.Run{run})
	asked("3 h", err)
	o := b.order(t, "gull-cap.dst", 40, "", book.Agreed)
	r := book.Report{OrderID: o.ID, Line: 1, MachineID: m, Good: 1, Breaks: -1, RunTimed: 1.7}
	_, err = b.Record(bg, r, act.Recording{}, "")
	asked("recorded", err)
	if _, err = b.Record(bg, r, act.Recording{Sure: true}, ""); err != nil {
		t.Error(err)
	}
	marks := []shop.Mark{{Kind: shop.MarkStart}, {Kind: shop.MarkEnd, AtMS: 299}}
	tm := &shop.Timing{ID: "timing-1", MachineID: m, DesignID: d, SetSpeed: 800, Started: b.at, Marks: marks, Rev: 1, Owner: "phone-one"}
	_, err = b.Timings.Save(bg, tm)
	must(t, err)
	how := timings.Finishing{}
	if _, err = b.Timings.Finish(bg, tm.ID, how); shop.ErrorOf(err).Key != "owner" {
		t.Errorf("another phone finishes it: %v", err)
	}
	how.Owner = "phone-one"
	_, err = b.Timings.Finish(bg, tm.ID, how)
	asked("pressed twice", err)
	marks[1].AtMS, tm.Rev = 1700, 2
	_, err = b.Timings.Save(bg, tm)
	must(t, err)
	_, err = b.Timings.Finish(bg, tm.ID, how)
	asked("1.7 s timed", err)
	how.Sure = true
	if runs, err := b.Timings.Finish(bg, tm.ID, how); err != nil || len(runs) == 0 || runs[0].Seconds != 1.7 {
		t.Errorf("%v, %v", runs, err)
	}
}
