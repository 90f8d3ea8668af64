package web

import (
	"strconv"
	"sync"
	"time"

	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// sends counts what comes to open calls from where: nobody signs in for it, and a shop
// with many machines has a dozen of runs a day to tell.
type sends struct {
	mu   sync.Mutex
	now  func() time.Time
	of   string         // the day that is counted
	seen map[string]int // by network
}

const (
	sendsADay = 12     // from one network
	mostSends = 10_000 // networks a day: those are remembered
)

// begin counts one; false: there were enough today.
func (s *sends) begin(from string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if day := s.now().UTC().Format(time.DateOnly); s.of != day {
		s.of, s.seen = day, map[string]int{}
	}
	if n, known := s.seen[from]; n >= sendsADay || !known && len(s.seen) >= mostSends {
		return false
	}
	s.seen[from]++
	return true
}

// back takes one back that was not kept.
func (s *sends) back(from string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.seen[from] > 0 {
		s.seen[from]--
	}
}

// Called finds the open call of a code, not too often by wrong ones. Who has once had a right one there is let in by it
// however many wrong ones come from the same network: what was filled in is not lost.
func (s *sessions) Called(c *serve.Call, code string) (page *shop.CallPage, err error) {
	if len(code) > 40 { // it is remembered as it is written
		code = ""
	}
	from := network(hostOf(c.Request))
	_, err = s.called.Get(c.Ctx, mostSends, from+" "+code, func() (struct{}, error) {
		by := []limited{{"call from " + from, freeFailures, false}}
		return struct{}{}, s.notTooOften(c, by, func() error {
			_, err := s.shop.Visits.ByCode(c.Ctx, code)
			return err
		})
	})
	if err != nil {
		return nil, err
	}
	return s.shop.Visits.ByCode(c.Ctx, code) // it may have been shut since
}

// Sends counts an entry to an open call.
func (s *sessions) Sends(c *serve.Call) (back func(), err error) {
	from := network(hostOf(c.Request))
	if !s.sends.begin(from) {
		c.W.Header().Set("Retry-After", strconv.Itoa(24*60*60))
		return nil, shop.Saying(shop.Busy, words.Say("refused.call-today", words.Args{"n": words.Whole(sendsADay)}))
	}
	return func() { s.sends.back(from) }, nil
}
