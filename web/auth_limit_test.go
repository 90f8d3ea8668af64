package web

import (
	"fmt"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// FreeFailures are the wrong passwords that cost no wait.
const FreeFailures = freeFailures

func TestTheLimiterDoublesItsWaitsUpToAMinute(t *testing.T) {
	now := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	l := newLimiter(func() time.Time { return now })
	a := limited{"a", freeFailures, true}
	wait := func() time.Duration { // to the next try
		done, w := l.begin(a)
		if w == 0 {
			done(unknown)
		}
		return w
	}
	var waits []time.Duration
	for range 12 {
		done, w := l.begin(a)
		if w > 0 {
			t.Fatalf("a try whose wait is over must wait %v", w)
		}
		done(wrong)
		w = wait()
		waits = append(waits, w)
		now = now.Add(w)
	}
	want := []time.Duration{0, 0, 0, 0, 1, 2, 4, 8, 16, 32, 60, 60}
	for i := range want {
		if waits[i] != want[i]*time.Second {
			t.Fatalf("waits %v, want %v seconds", waits, want)
		}
	}
	if done, w := l.begin(a); w == 0 {
		done(right)
	}
	if w := wait(); w != 0 {
		t.Errorf("after the right one there is a wait of %v", w)
	}
	for range 20 {
		if done, w := l.begin(a); w == 0 {
			done(wrong)
		}
	}
	now = now.Add(2 * time.Hour)
	if w := wait(); w != 0 {
		t.Error("an hour without a try must forget")
	}
	for i := range limiterMost + 50 {
		if done, w := l.begin(limited{fmt.Sprint(i), freeFailures, true}); w == 0 {
			done(wrong)
		}
	}
	if len(l.seen) > limiterMost {
		t.Errorf("%d entries are held", len(l.seen))
	}
}

// Tries side by side do not pass together: each counts before it is looked at.
func TestTwoHundredTriesAtOnceAreCountedBeforeTheyAreLookedAt(t *testing.T) {
	l := newLimiter(time.Now)
	var looked atomic.Int32
	var wg sync.WaitGroup
	gate := make(chan struct{})
	for range 200 {
		wg.Go(func() {
			<-gate
			done, w := l.begin(limited{"a", freeFailures, true})
			if w > 0 {
				return
			}
			looked.Add(1)
			time.Sleep(20 * time.Millisecond) // the hashing
			done(wrong)
		})
	}
	close(gate)
	wg.Wait()
	if n := looked.Load(); n != freeFailures {
		t.Errorf("%d of 200 tries at once were looked at, %d are free", n, freeFailures)
	}
}

// One address that gets one name right does not thereby guess at others for free.
func TestARightTryDoesNotForgetTheAddress(t *testing.T) {
	l := newLimiter(time.Now)
	host := limited{"any name from x", 3, false}
	for i := range 3 {
		done, w := l.begin(limited{fmt.Sprint("name ", i), 5, true}, host)
		if w > 0 {
			t.Fatal(w)
		}
		done(wrong)
		if own, w := l.begin(limited{"own", 5, true}, host); w == 0 {
			own(right)
		}
	}
	if _, w := l.begin(limited{"another", 5, true}, host); w == 0 {
		t.Error("wrong tries from one address with many names cost no wait")
	}
}

// A try that was not looked at costs none: what must be waited for is as after the wrong one before, from when it began.
func TestATryThatWasNotLookedAtKeepsTheWait(t *testing.T) {
	now := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	l := newLimiter(func() time.Time { return now })
	a := limited{"a", 5, true}
	for range 6 {
		now = now.Add(time.Minute)
		if done, w := l.begin(a); w > 0 {
			t.Fatal(w)
		} else {
			done(wrong)
		}
	}
	now = now.Add(time.Minute)
	done, w := l.begin(a)
	if w > 0 {
		t.Fatal(w)
	}
	now = now.Add(500 * time.Millisecond)
	done(unknown)
	if _, w := l.begin(a); w != 1500*time.Millisecond {
		t.Errorf("half a second after it began %v is to be waited for, want 2 s in all", w)
	}
}

func TestAddressesCountAsTheirNetwork(t *testing.T) {
	for host, want := range map[string]string{
		"192.0.2.7": "192.0.2.7", "::ffff:192.0.2.7": "192.0.2.7", "2001:db8:1:2:3:4:5:6": "2001:db8:1:2::/64", "fe80::1%eth0": "fe80::/64", "@": "@",
	} {
		if got := network(host); got != want {
			t.Errorf("%s counts as %s, want %s", host, got, want)
		}
	}
}

// From one network a dozen entries to open calls are taken a day, by the day of UTC; one that was not kept does not count. Of 10,000 networks
// a day: who sent before goes on.
func TestADozenEntriesADay(t *testing.T) {
	now := time.Date(2026, 3, 4, 23, 0, 0, 0, time.UTC)
	s := &sends{now: func() time.Time { return now }}
	for n := range 12 {
		if !s.begin("a") {
			t.Fatalf("entry %d is not taken", n+1)
		}
	}
	if s.begin("a") || !s.begin("b") {
		t.Error("a thirteenth entry is taken, or another network's first is not")
	}
	if s.back("a"); !s.begin("a") || s.begin("a") {
		t.Error("what was not kept counts, or counts twice")
	}
	if now = now.Add(time.Hour); !s.begin("a") {
		t.Error("the day after nothing is taken")
	}
	for n := range 9_999 {
		s.begin(strconv.Itoa(n))
	}
	if s.begin("one more") || !s.begin("a") {
		t.Error("of more than 10,000 networks a day one more is remembered, or one of them is shut out")
	}
}
