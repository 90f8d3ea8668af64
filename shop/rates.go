package shop

import (
	"context"
	"math"
	"sync"
	"sync/atomic"
)

// Rates is what the floor's reports say about a machine, against what was
// expected of it.
type Rates struct {
	Breaks  float64 // thread breaks a head and 1,000 stitches: the expected rate, moved by those counted
	Counted int     // breaks counted
	Sewn    float64 // head-stitches they were counted over
	// Pace is real ÷ predicted seconds that pieces held the machine, moved
	// from 1 by as much as the reported hours carry.
	Pace  float64
	Hours float64 // machine hours timed
	Runs  int     // reports with a time
}

// How much of reports it takes to believe them; assumed. priorBreaks: the
// expected rate counts as this many breaks seen. priorHours: a pace of 1
// counts as this many hours timed. One report moves the pace by at most
// mostHours' worth and is not believed beyond a factor of mostOff: one bad
// entry must not poison the ratio.
const (
	priorBreaks = 3.0
	priorHours  = 6.0
	mostHours   = 8.0
	mostOff     = 1.6
)

// reportLog remembers all reports until another is kept: every plan, quote and
// run sheet asks for them. One process holds the shop, so all come through it.
type reportLog struct {
	kept atomic.Int64 // reports kept by this process
	mu   sync.Mutex
	at   int64 // kept + 1 when all was read; 0: never
	all  []Report
}

// allReports are all reports, oldest first. They are shared: nobody may change
// them.
func (s *Shop) allReports(ctx context.Context) ([]Report, error) {
	l := &s.reported
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.kept.Load() + 1 // 0 is never
	if l.at == now {
		return l.all, nil
	}
	all, err := s.store.Reports(ctx, "")
	if err != nil {
		return nil, err
	}
	l.at, l.all = now, all
	return all, nil
}

type reportSums struct {
	breaks int
	sewn   float64
	paces  map[string]*paceSum // by sheet: a new sheet begins a new pace
}

type paceSum struct {
	log, hours, timed float64
	n                 int
}

type floorRates map[string]*reportSums

// floorRates sums the floor's reports by machine.
func (s *Shop) floorRates(ctx context.Context) (floorRates, error) {
	all, err := s.allReports(ctx)
	if err != nil {
		return nil, err
	}
	out := floorRates{}
	for i := range all {
		r := &all[i]
		sum := out[r.MachineID]
		if sum == nil {
			sum = &reportSums{paces: map[string]*paceSum{}}
			out[r.MachineID] = sum
		}
		if r.Breaks >= 0 {
			sum.breaks += r.Breaks
			sum.sewn += r.Stitches
		}
		if r.Seconds > 0 && r.Predicted > 0 {
			p := sum.paces[r.Sheet]
			if p == nil {
				p = &paceSum{}
				sum.paces[r.Sheet] = p
			}
			off := math.Log(r.Seconds / r.Predicted)
			off = max(-math.Log(mostOff), min(math.Log(mostOff), off))
			h := min(r.Predicted/3600, mostHours)
			p.log += h * off
			p.hours += h
			p.timed += r.Seconds / 3600
			p.n++
		}
	}
	return out, nil
}

// of is a machine's rates; breaks is the rate expected without reports.
func (f floorRates) of(machineID string, breaks float64, sheet string) Rates {
	r := Rates{Breaks: breaks, Pace: 1}
	sum := f[machineID]
	if sum == nil {
		return r
	}
	r.Counted, r.Sewn = sum.breaks, sum.sewn
	if breaks > 0 && sum.sewn > 0 { // the mean of a gamma posterior
		r.Breaks = (priorBreaks + float64(sum.breaks)) / (priorBreaks/breaks + sum.sewn/1000)
	}
	if p := sum.paces[sheet]; p != nil {
		r.Pace = math.Exp(p.log / (p.hours + priorHours))
		r.Hours, r.Runs = p.timed, p.n
	}
	return r
}
