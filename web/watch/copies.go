package watch

import (
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// Copies is how it goes with the copies of a shop that are made regularly.
type Copies struct {
	mu      sync.Mutex
	state   CopyState
	metrics []prometheus.Collector
	failed  prometheus.Counter
}

// CopyState is the latest copy, and what went wrong since.
type CopyState struct {
	File  string // empty: none yet
	At    time.Time
	Bytes int64
	Next  time.Time
	Why   string // the last one failed; empty: it did not
}

// NewCopies is before the first is told of.
func NewCopies() *Copies {
	c := &Copies{failed: prometheus.NewCounter(prometheus.CounterOpts{Name: "needlepace_copies_failed_total", Help: "Copies of the shop that failed."})}
	c.metrics = []prometheus.Collector{c.failed, prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "needlepace_copy_time_seconds",
		Help: "When the latest copy of the shop was begun, in seconds since 1970; 0: there is none."}, func() float64 {
		if at := c.State().At; !at.IsZero() {
			return float64(at.Unix())
		}
		return 0
	})}
	return c
}

// Metrics are for a Watch to tell.
func (c *Copies) Metrics() []prometheus.Collector { return c.metrics }

// Tell keeps how a copy went; of one that failed the latest good one stays.
func (c *Copies) Tell(file string, at time.Time, bytes int64, next time.Time, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.state.Next, c.state.Why = next, ""
	if err != nil {
		c.state.Why = err.Error()
		c.failed.Inc()
		return
	}
	c.state.File, c.state.At, c.state.Bytes = file, at, bytes
}

// State is how it went last; of no copies the zero value.
func (c *Copies) State() CopyState {
	if c == nil {
		return CopyState{}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.state
}
