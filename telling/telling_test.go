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

// told is a run of events a minute apart, by a machine whose clock is right.
func told(all ...Event) []Event {
	for i := range all {
		e := &all[i]
		e.Form, e.Boot, e.Seq, e.Run = Form, "b", int64(i+1), "r"
		e.At = t0.Add(time.Duration(i) * time.Minute)
		e.Got = e.At
	}
	return all
}

// What a machine tells twice, after the end or while it stands makes no stop longer or shorter, and no run.
func TestAMachineStandsUntilItSews(t *testing.T) {
	begin, stop := Event{Kind: Started, Speed: 800}, Event{Kind: Stopped, Stitch: 50, Cause: Bobbin}
	count := func(n int) Event { return Event{Kind: Counted, Stitch: n} }
	for _, c := range []struct {
		what   string
		events []Event
		stops  []Stop
		cause  Cause
		stitch int
		last   int // minutes after the beginning
	}{
		{"it counts where it stands", told(begin, stop, count(50)), []Stop{{Bobbin, 50, 60, 0, false}}, Bobbin, 50, 2},
		{"it sewed on", told(begin, stop, count(50), count(51)), []Stop{{Bobbin, 50, 60, 180, false}}, "", 51, 3},
		{"it says twice that it stands", told(begin, stop, Event{Kind: Stopped, Stitch: 50, Cause: Fault}), []Stop{{Bobbin, 50, 60, 0, false}}, Bobbin, 50, 2},
		{"it stands again, farther on", told(begin, stop, Event{Kind: Stopped, Stitch: 70, Cause: Fault}),
			[]Stop{{Bobbin, 50, 60, 120, false}, {Fault, 70, 120, 0, false}}, Fault, 70, 2},
		{"it ends where it stands", told(begin, stop, Event{Kind: Finished, Stitch: 50}), []Stop{{Bobbin, 50, 60, 120, false}}, "", 50, 2},
		{"it counts backwards", told(begin, count(80), count(30)), nil, "", 80, 2},
		{"it counts after the end", told(begin, Event{Kind: Finished, Stitch: 90}, count(120), stop), nil, "", 90, 1},
	} {
		r := Fold(c.events, 0)
		if !reflect.DeepEqual(r.Stops, c.stops) || r.Cause != c.cause || r.Stitch != c.stitch || r.Seconds() != float64(60*c.last) {
			t.Errorf("%s: %+v, after %v s", c.what, r, r.Seconds())
		}
		if why, ok := r.Timed(); ok && len(c.stops) > 0 {
			t.Errorf("%s: it is timed (%s)", c.what, why)
		}
	}
	without := run(0) // a machine that has no clock: what came when counts
	for i := range without {
		without[i].At = time.Time{}
	}
	if r := Fold(without, 3*time.Second); !r.Started.Equal(t0) || r.Seconds() != 600 || !r.Back {
		t.Errorf("without a clock: %+v", r)
	}
	lost := run(0) // one message
	if r := Fold(append(lost[:1:1], lost[2:]...), 0); r.Missing != 1 {
		t.Errorf("one is missing: %+v", r)
	}
	planned := run(0)
	planned[2].Cause = Planned
	if r := Fold(planned, 0); r.Missing != 0 {
		t.Errorf("none is missing: %+v", r)
	} else if why, ok := r.Timed(); !ok {
		t.Errorf("a stop that the design asks for: %s", why)
	}
}

// The edges of what is taken.
func TestTheEdgesOfAMessage(t *testing.T) {
	with := func(key, value string) error {
		m := `{"form":1,"boot":"b","seq":1,"event":"started","run":"r","at":"2026-03-04T09:00:00Z","stitch":0,"speed":800}`
		at := strings.Index(m, `"`+key+`":`) + len(key) + 3
		end := at + strings.IndexAny(m[at:], ",}")
		if m[at] == '"' {
			end = at + 1 + strings.Index(m[at+1:], `"`) + 1
		}
		_, err := Parse([]byte(m[:at]+value+m[end:]), t0)
		return err
	}
	for key, c := range map[string]struct{ in, out []string }{
		"seq":    {[]string{"1", "9007199254740993"}, []string{"0", "-1"}},
		"stitch": {[]string{"0", "20000000"}, []string{"-1", "20000001"}},
		"speed":  {[]string{"0", "10", "3000"}, []string{"9.99", "3000.1", "-800"}},
		"at":     {[]string{`"1970-01-01T00:00:00Z"`, `"2200-12-31T23:59:59Z"`}, []string{`"1969-12-31T23:59:59Z"`, `"2201-01-01T00:00:00Z"`}},
		"boot":   {[]string{`"` + strings.Repeat("x", 64) + `"`}, []string{`"` + strings.Repeat("x", 65) + `"`, `"a\u202eb"`}},
	} {
		for _, v := range c.in {
			if err := with(key, v); err != nil {
				t.Errorf("%s %s: %v", key, v, err)
			}
		}
		for _, v := range c.out {
			if err := with(key, v); err == nil {
				t.Errorf("%s %s is taken", key, v)
			}
		}
	}
}
