package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"
)

// shop is an invented shop: machines of 1, 6 and 12 heads in two shifts on
// weekdays, orders with due dates over the coming weeks, the machines booked
// to about load of their time until the last due date.
func shop(rng *rand.Rand, jobs, machines int, load float64) *Problem {
	p := &Problem{Origin: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)}
	weekdays := []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}
	palette := make([]string, 60)
	for i := range palette {
		palette[i] = fmt.Sprintf("cone %02d", i)
	}
	heads := make([]int, machines)
	for m := range heads {
		heads[m] = []int{1, 1, 6, 12}[m%4]
	}
	var total float64
	type size struct {
		quantity int
		run      float64
	}
	sizes := make([]size, jobs)
	for j := range sizes {
		sizes[j] = size{1 + int(rng.ExpFloat64()*60), 240 + 900*rng.Float64()*rng.Float64()*2}
	}
	capacity := 0.0 // pieces of a second's work a second
	for _, h := range heads {
		capacity += float64(h) * 0.8
	}
	for _, s := range sizes {
		total += float64(s.quantity) * s.run
	}
	span := total / capacity / load * 7 * 24 / (5 * 16) // s until the last due date
	days := int(span/86400)*2 + 14
	for m, h := range heads {
		c := Calendar{Shifts: []Shift{{Days: weekdays, From: clock(6, 0), To: clock(14, 0)},
			{Days: weekdays, From: clock(14, 0), To: clock(22, 0)}}}
		p.Machines = append(p.Machines, Machine{
			ID: fmt.Sprintf("m%d", m), Windows: c.Windows(p.Origin, days), Attention: 0.3,
			Setup: SetupTimes{Job: 180, Cone: 45 * float64(h), Hoop: 60 * float64(h)},
		})
	}
	for j, s := range sizes {
		job := Job{ID: fmt.Sprintf("o%d", j), Quantity: s.quantity, Weight: float64(1 + rng.IntN(3)),
			Due: span * (0.05 + 0.95*rng.Float64()), Design: fmt.Sprintf("d%d",
				rng.IntN(jobs/2+1)), Hoop: []string{"flat", "flat", "flat", "cap"}[rng.IntN(4)]}
		if rng.IntN(5) == 0 {
			job.Release = max(0, job.Due-span*0.3)
		}
		for k := 2 + rng.IntN(6); k > 0; k-- {
			job.Cones = append(job.Cones, palette[rng.IntN(8)*rng.IntN(8)])
		}
		for m, h := range heads {
			if job.Hoop == "cap" && h == 12 {
				continue
			}
			job.Fits = append(job.Fits, Fit{Machine: m, Run: s.run*(0.9+0.2*rng.Float64()) + 60 + 20*float64(h),
				Pieces: h})
		}
		p.Jobs = append(p.Jobs, job)
	}
	return p
}

// withJob is the problem with one more order.
func withJob(p *Problem, j Job) *Problem {
	q := *p
	q.Jobs = append(slices.Clone(p.Jobs), j)
	return &q
}

// withDown is the problem with a machine down from second from to second to.
// A machine that was always open gets working windows up to horizon (s).
func withDown(p *Problem, machine int, from, to, horizon float64) *Problem {
	q := *p
	q.Machines = slices.Clone(p.Machines)
	m := &q.Machines[machine]
	win := m.Windows
	if len(win) == 0 {
		win = []Window{{0, max(horizon, to+1), 1}}
	}
	m.Windows = without(win, from, to)
	return &q
}

// withOperators is the problem with n operators more (or fewer) at all times at
// which there are any. It matters only where Crew is given.
func withOperators(p *Problem, n float64) *Problem {
	q := *p
	q.Crew = slices.Clone(p.Crew)
	for i := range q.Crew {
		if q.Crew[i].Operators > 0 {
			q.Crew[i].Operators = max(q.Crew[i].Operators+n, 0)
		}
	}
	return &q
}

// whole never cuts a job.
func whole(j *Job, _ int) []int { return []int{j.Quantity} }
