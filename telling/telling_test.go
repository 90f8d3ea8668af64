package telling

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var t0 = time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)

func TestAMessageIsReadOrItIsSaidWhatIsWrongWithIt(t *testing.T) {
	good := `{"form":1,"boot":"b","seq":3,"event":"stopped","run":"r","at":"2026-03-04T09:00:00+01:00","stitch":12,"cause":"bobbin","later":[1]}`
	e, err := Parse([]byte(good), t0)
	if err != nil || e.Kind != Stopped || e.Cause != Bobbin || e.Seq != 3 || !e.At.Equal(t0) || e.Stitch != 12 {
		t.Errorf("read as %+v: %v", e, err)
	}
	for _, c := range []struct{ from, to, says string }{
		{good, ``, "JSON"}, {good, `[]`, "JSON"}, {good, `{"form":1`, "JSON"}, {good, good + `{}`, "after"},
		{good, "\xff\xfe", "UTF-8"}, {good, `{"form":1,"boot":"` + strings.Repeat("x", MaxBytes) + `"}`, "bytes"},
		{`"form":1`, `"form":2`, "form is 2"}, {`"boot":"b"`, `"boot":""`, "boot is missing"}, {`"run":"r"`, `"run":"a\u0000b"`, "run has a sign"},
		{`"seq":3`, `"seq":0`, "seq is 0"}, {`"seq":3`, `"seq":3.5`, "JSON"}, {`"stopped"`, `"broken"`, "event is"},
		{`"stitch":12`, `"stitch":-1`, "stitch is -1"}, {`"stitch":12`, `"stitch":1e99`, "JSON"}, {`"bobbin"`, `"ghost"`, "cause is"},
		{`,"cause":"bobbin"`, ``, "cause stands"}, {`"stopped"`, `"count"`, "cause stands"}, {`"stitch":12`, `"stitch":12,"speed":5`, "speed is 5"},
		{`2026-03-04T09:00:00+01:00`, `9999-01-01T00:00:00Z`, "year"}, {`2026-03-04T09:00:00+01:00`, `yesterday`, "JSON"},
	} {
		if _, err := Parse([]byte(strings.Replace(good, c.from, c.to, 1)), t0); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s in place of %s: %v", c.to, c.from, err)
		}
	}
}

// run is a run of 10 min with a colour stop of 30 s, told by a clock that is behind by skew.
func run(skew time.Duration) (all []Event) {
	for i, x := range []struct {
		kind   Kind
		s      int
		stitch int
		cause  Cause
	}{{Started, 0, 0, ""}, {Counted, 100, 1000, ""}, {Stopped, 200, 2000, Colour}, {Resumed, 230, 2000, ""}, {Counted, 400, 4000, ""}, {Finished, 600, 6000, ""}} {
		at := t0.Add(time.Duration(x.s) * time.Second)
		e := Event{Form: Form, Boot: "b", Seq: int64(i + 7), Kind: x.kind, Run: "r", At: at.Add(-skew), Stitch: x.stitch, Cause: x.cause, Got: at}
		if x.kind == Started {
			e.Design, e.Speed = "heron", 800
		}
		all = append(all, e)
	}
	return all
}

func TestARunIsTheSameInWhateverOrderAndHoweverOftenItComes(t *testing.T) {
	want := Fold(run(0), 0)
	if want.Seconds() != 600 || len(want.Stops) != 1 || want.Stops[0] != (Stop{Colour, 2000, 200, 230, true}) || !want.Ended || want.Stitch != 6000 {
		t.Fatalf("the run is %+v", want)
	}
	if why, ok := want.Timed(); !ok {
		t.Errorf("it is not timed: %s", why)
	}
	rapid.Check(t, func(t *rapid.T) {
		all := append(run(0), rapid.SliceOf(rapid.SampledFrom(run(0))).Draw(t, "again")...)
		if got := Fold(rapid.Permutation(all).Draw(t, "order"), 0); !reflect.DeepEqual(got, want) {
			t.Fatalf("it is %+v, and was %+v", got, want)
		}
	})
}

func TestOnlyAWholeRunByOneClockTeaches(t *testing.T) {
	for what, c := range map[string]struct {
		change func([]Event) []Event
		why    string
	}{
		"a message is missing":       {func(e []Event) []Event { return append(e[:2:2], e[3:]...) }, "messages are missing"},
		"no beginning":               {func(e []Event) []Event { return e[1:] }, "beginning"},
		"no end":                     {func(e []Event) []Event { return e[:5] }, "not ended"},
		"the clock was set back":     {func(e []Event) []Event { e[4].At = e[4].At.Add(-time.Hour); return e }, "clock"},
		"no clock":                   {func(e []Event) []Event { e[1].At = time.Time{}; return e }, "clock"},
		"a thread broke":             {func(e []Event) []Event { e[2].Cause = ThreadBreak; return e }, "thread_break"},
		"no speed":                   {func(e []Event) []Event { e[0].Speed = 0; return e }, "speed"},
		"it went on, nobody said so": {func(e []Event) []Event { e[3].Kind = Counted; return e }, "went on"},
	} {
		r := Fold(c.change(run(0)), 0)
		if why, ok := r.Timed(); ok || !strings.Contains(why, c.why) {
			t.Errorf("%s: timed %v, because %q", what, ok, why)
		}
	}
}

func TestAWrongClockIsSetByWhenMessagesCame(t *testing.T) {
	for _, skew := range []time.Duration{-3 * time.Hour, 90 * time.Second, 56 * 365 * 24 * time.Hour} {
		r := Fold(run(skew), skew)
		if !r.Started.Equal(t0) || r.Seconds() != 600 || fmt.Sprint(r.Stops) != fmt.Sprint(Fold(run(0), 0).Stops) {
			t.Errorf("a clock that is %v behind: %+v", skew, r)
		}
	}
	set := run(0) // set back within the run: what came when counts
	for i := 3; i < len(set); i++ {
		set[i].At = set[i].At.Add(-time.Hour)
	}
	if r := Fold(set, 0); r.Seconds() != 600 || !r.Back {
		t.Errorf("a clock set back: %+v", r)
	}
}
