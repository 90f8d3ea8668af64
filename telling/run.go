package telling

import (
	"cmp"
	"slices"
	"time"
)

// Run is a run as far as a machine told it.
type Run struct {
	Boot, Name, Design string
	Speed              float64   // set, stitches/min; 0: not said
	Started            time.Time // by this program's clock; zero: it was not told
	Stitch             int       // sewn last
	At                 time.Time // when that was
	Cause              Cause     // why it stands; empty: it sews, or has ended
	Ended              bool
	Stops              []Stop
	Missing            int     // messages that were counted and did not come
	Skew               float64 // s that the machine's clock is behind this program's
	Back               bool    // the machine's clock went back, or it has none: its seconds are those of arrival
}

// Stop is a stop within a run. Seconds are from the run's beginning.
type Stop struct {
	Cause    Cause
	Stitch   int
	From, To float64 // To is 0 while it stands
	Told     bool    // that it went on was told; else it is known from a stitch that was counted
}

// Seconds are from the beginning to what was told last.
func (r *Run) Seconds() float64 { return r.At.Sub(r.Started).Seconds() }

// Fold makes a run of all that is known of it, in any order. It must hold an event.
// latency is the least time that a message of its boot took to come, with the error of
// the machine's clock in it: what is the difference is the clock's.
func Fold(events []Event, latency time.Duration) Run {
	all := slices.Clone(events)
	slices.SortStableFunc(all, func(a, b Event) int { return cmp.Compare(a.Seq, b.Seq) })
	all = slices.CompactFunc(all, func(a, b Event) bool { return a.Seq == b.Seq })
	r := Run{Boot: all[0].Boot, Name: all[0].Run, Skew: latency.Seconds()}
	for i, e := range all {
		r.Back = r.Back || e.At.IsZero() || i > 0 && e.At.Before(all[i-1].At)
		if i > 0 {
			r.Missing += int(e.Seq - all[i-1].Seq - 1)
		}
	}
	at := func(e Event) time.Time {
		if r.Back {
			return e.Got
		}
		return e.At.Add(latency)
	}
	for _, e := range all {
		now := at(e)
		if e.Kind == Started && r.Started.IsZero() {
			r.Started, r.Design, r.Speed = now, e.Design, e.Speed
		}
		if r.Ended { // what a machine counts after the end is of no run
			continue
		}
		since := now.Sub(r.Started).Seconds()
		on := e.Kind == Resumed || e.Kind == Counted && e.Stitch > r.Stitch || e.Kind == Finished
		if k := len(r.Stops) - 1; r.Cause != "" && (on || e.Kind == Stopped && e.Stitch > r.Stitch) {
			r.Stops[k].To, r.Stops[k].Told, r.Cause = since, e.Kind == Resumed, ""
		}
		if e.Kind == Stopped && r.Cause == "" {
			r.Cause = e.Cause
			r.Stops = append(r.Stops, Stop{Cause: e.Cause, Stitch: e.Stitch, From: since})
		}
		r.Stitch, r.At, r.Ended = max(r.Stitch, e.Stitch), now, e.Kind == Finished
	}
	return r
}

// Breaks is how many thread breaks were told.
func (r *Run) Breaks() (n int) {
	for _, s := range r.Stops {
		if s.Cause == ThreadBreak {
			n++
		}
	}
	return n
}

// Timed reports whether the run's time is that of a run by the watch, from which a
// machine's sheet is learned; else why it is not.
func (r *Run) Timed() (why string, ok bool) {
	switch {
	case !r.Ended:
		return "it has not ended", false
	case r.Started.IsZero():
		return "its beginning was not told", false
	case r.Missing > 0:
		return "messages are missing", false
	case r.Back:
		return "the machine's clock went back, or it has none", false
	case r.Speed == 0:
		return "its set speed was not told", false
	}
	for _, s := range r.Stops {
		switch {
		case s.Cause != Colour && s.Cause != Planned:
			return "it was interrupted: " + string(s.Cause), false
		case !s.Told:
			return "when it went on after a stop was not told", false
		}
	}
	return "", true
}
