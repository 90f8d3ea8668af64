package sqlite

import (
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/telling"
)

// What a machine tells is kept once by its number, found by its run and its boot, and
// forgotten when it is old; what cannot be used is counted.
func toldWay(t *testing.T, s shop.Store) {
	must(t, s.AddMachine(bg, &shop.Machine{ID: "m1", Name: "M"}, shop.SheetVersion{MachineID: "m1", Version: 1, Made: when}))
	before, err := s.Revision(bg)
	must(t, err)
	e := func(boot string, seq int64, kind telling.Kind, run string, at time.Duration) *telling.Event {
		return &telling.Event{Form: 1, Boot: boot, Seq: seq, Kind: kind, Run: run, At: when.Add(at), Got: when.Add(at + 2*time.Second)}
	}
	keep := func(e *telling.Event) (fresh, other bool) {
		fresh, other, err := s.KeepTold(bg, "m1", e)
		must(t, err)
		return fresh, other
	}
	for _, x := range []*telling.Event{e("a", 1, telling.Started, "r1", 0), e("a", 3, telling.Finished, "r1", time.Hour), e("b", 2, telling.Counted, "r2", 2*time.Hour),
		e("b", 1, telling.Started, "r2", time.Hour)} {
		if fresh, other := keep(x); !fresh || other {
			t.Errorf("%+v is not new", x)
		}
	}
	again := e("a", 1, telling.Started, "r1", 0)
	again.Got = again.Got.Add(time.Hour)
	if fresh, other := keep(again); fresh || other {
		t.Error("the same message is kept twice, or is another")
	}
	if again.Stitch = 9; true {
		if fresh, other := keep(again); fresh || !other {
			t.Error("another message under the same number is not told from it")
		}
	}
	if _, _, err := s.KeepTold(bg, "nobody", e("a", 9, telling.Counted, "r", 0)); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("of a machine that is not there: %v", err)
	}
	after, err := s.Revision(bg)
	must(t, err)
	if after.Told != before.Told+3 || after.Machines != before.Machines {
		t.Errorf("three events and a count are counted from %+v to %+v", before, after)
	}
	all, latency, err := s.ToldRun(bg, "m1", "a", "r1")
	must(t, err)
	if len(all) != 2 || all[0].Kind != telling.Started || !all[0].At.Equal(when) || latency != 2*time.Second {
		t.Errorf("the run is %+v, latency %v", all, latency)
	}
	last, err := s.ToldLast(bg, when.Add(-time.Hour))
	must(t, err)
	if len(last) != 1 || last[0].Boot != "b" || last[0].Run != "r2" {
		t.Errorf("the last run is %+v", last)
	}
	if ends, err := s.ToldEnds(bg, "m1", when); err != nil || len(ends) != 1 || ends[0].Run != "r1" {
		t.Errorf("the ends are %+v, %v", ends, err)
	}
	must(t, s.DropTold(bg, when.Add(3*time.Hour), when.Add(time.Minute)))
	if all, _, err := s.ToldRun(bg, "m1", "b", "r2"); err != nil || len(all) != 1 || all[0].Kind != telling.Started {
		t.Errorf("after the old ones went: %+v, %v", all, err)
	}
	for range 2 {
		must(t, s.KeepApart(bg, shop.ToldApart{Topic: "x/\x00y", Payload: []byte{0, 255, '{'}, Why: "no \x00 JSON", Got: when}))
	}
	must(t, s.KeepApart(bg, shop.ToldApart{Topic: "x", Why: "empty", Got: when.Add(time.Hour)}))
	if apart, n, err := s.Apart(bg, 10); err != nil || n != 3 || len(apart) != 2 || apart[0].Why != "empty" || apart[1].Times != 2 || len(apart[1].Payload) != 3 {
		t.Errorf("kept apart: %+v, %d, %v", apart, n, err)
	}
}
