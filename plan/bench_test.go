package plan

import (
	"math/rand/v2"
	"testing"
)

// The load of the issue: 2,000 open orders on 40 machines. A new plan is to
// take under 7 s, one of 500 on 10 under 5 s, an edit's effect under 200 ms.

func load() *Problem { return weighed(shop(rand.New(rand.NewPCG(1, 1)), 2000, 40, 0.9)) }

func BenchmarkNewPlan500Jobs10Machines(b *testing.B) {
	p := weighed(shop(rand.New(rand.NewPCG(1, 1)), 500, 10, 0.9))
	for b.Loop() {
		s := must(b, p, Options{})
		b.ReportMetric(s.Cost/p.Weights.Money, "machine-h")
	}
}

func BenchmarkNewPlan2000Jobs40Machines(b *testing.B) {
	p := load()
	for b.Loop() {
		s := must(b, p, Options{})
		b.ReportMetric(float64(s.Late), "late")
		b.ReportMetric(s.Lateness/3600, "weighted-h-late")
		b.ReportMetric(float64(s.Moves), "moves")
	}
}

func BenchmarkFirstPlan2000Jobs40Machines(b *testing.B) {
	p := load()
	for b.Loop() {
		must(b, p, Options{Moves: 1, NoBound: true})
	}
}

func BenchmarkReplanAfterRushOrder2000Jobs40Machines(b *testing.B) {
	p := load()
	s := must(b, p, Options{Moves: 1_000_000, NoBound: true})
	rush := p.Jobs[0]
	rush.ID, rush.Due, rush.Weight = "rush", 86400, 5
	q := withJob(p, rush)
	for b.Loop() {
		if _, err := Replan(ctx, Plan{p, s}, q, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// toOther is a lot and another machine that can make it.
func toOther(b *testing.B, p *Problem, s *Schedule) (lot, machine int) {
	for i := range s.Lots {
		for _, f := range p.Jobs[s.Lots[i].Job].Fits {
			if i >= 100 && f.Machine != s.Lots[i].Machine && len(s.Queue(f.Machine)) > 5 {
				return i, f.Machine
			}
		}
	}
	b.Fatal("no lot can change machines")
	return 0, 0
}

func BenchmarkWhatIfMove2000Jobs40Machines(b *testing.B) {
	p := load()
	s := must(b, p, Options{Moves: 200_000, NoBound: true})
	lot, m := toOther(b, p, s)
	for b.Loop() {
		d, err := NewDesk(p, s)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := d.WhatIfMove(lot, m, 5); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkWhatIfMoveOnDesk2000Jobs40Machines(b *testing.B) {
	p := load()
	s := must(b, p, Options{Moves: 200_000, NoBound: true})
	d, err := NewDesk(p, s)
	if err != nil {
		b.Fatal(err)
	}
	lot, m := toOther(b, p, d.Schedule())
	for b.Loop() {
		if _, err := d.WhatIfMove(lot, m, 5); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEarliest2000Jobs40Machines(b *testing.B) {
	p := load()
	s := must(b, p, Options{Moves: 200_000, NoBound: true})
	job := p.Jobs[5]
	job.ID = "asked"
	for b.Loop() {
		if _, err := Earliest(p, s, job); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPromise2000Jobs40Machines(b *testing.B) {
	p := load()
	s := must(b, p, Options{Moves: 200_000, NoBound: true})
	q := LogNormal(0.2)
	for b.Loop() {
		if _, err := Promise(ctx, p, s, Uncertainty{Lot: func(_, _ int, u float64) float64 { return q(u) }},
			PromiseOptions{Chance: 0.9}); err != nil {
			b.Fatal(err)
		}
	}
}
