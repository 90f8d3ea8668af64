package plan

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"
)

// shopChange is what may happen to a shop between two plans. before, where it is given, is what the old plan was made for.
type shopChange struct {
	name          string
	before, after func(p *Problem, s *Schedule) *Problem
}

// anotherFits is the problem with the fits of its jobs changed.
func anotherFits(p *Problem, change func(f *Fit)) *Problem {
	q := *p
	q.Jobs = slices.Clone(p.Jobs)
	for i := range q.Jobs {
		q.Jobs[i].Fits = slices.Clone(q.Jobs[i].Fits)
		for k := range q.Jobs[i].Fits {
			change(&q.Jobs[i].Fits[k])
		}
	}
	return &q
}

// anotherJobs is the problem with its jobs changed.
func anotherJobs(p *Problem, change func(jobs []Job) []Job) *Problem {
	q := *p
	q.Jobs = change(slices.Clone(p.Jobs))
	return &q
}

// shopChanges are the nine changes of a day that a shop tells of.
func shopChanges() []shopChange {
	const day = 86400
	down := func(p *Problem, _ *Schedule) *Problem { return withDown(p, 1, 0, 3*day, 0) }
	return []shopChange{
		{name: "rush", after: func(p *Problem, _ *Schedule) *Problem {
			j := p.Jobs[1]
			j.ID, j.Due, j.Weight, j.Release = "rush", 10*3600, 4, 0
			return withJob(p, j)
		}},
		{name: "down", after: func(p *Problem, _ *Schedule) *Problem { return withDown(p, 0, 0, 12*3600, 0) }},
		{name: "goods late", after: func(p *Problem, s *Schedule) *Problem {
			return anotherJobs(p, func(jobs []Job) []Job {
				n := 0
				for _, l := range s.Lots { // of the first that begin after two hours
					if l.From > 2*3600 && jobs[l.Job].Release < 4*day && n < 1+len(jobs)/60 {
						jobs[l.Job].Release = 4 * day
						n++
					}
				}
				return jobs
			})
		}},
		{name: "hours cut", after: func(p *Problem, _ *Schedule) *Problem {
			for d := range 5 { // the second shift of a week
				p = withDown(p, 3, float64(d)*day+8*3600, float64(d)*day+16*3600, 0)
			}
			return p
		}},
		{name: "back", before: down, after: func(p *Problem, _ *Schedule) *Problem { return p }},
		{name: "speed", after: func(p *Problem, _ *Schedule) *Problem {
			return anotherFits(p, func(f *Fit) {
				if f.Machine == 2 {
					f.Run *= 1.2
				}
			})
		}},
		{name: "operator", after: func(p *Problem, _ *Schedule) *Problem { return withOperators(p, -1) }},
		{name: "withdrawn", after: func(p *Problem, s *Schedule) *Problem {
			return anotherJobs(p, func(jobs []Job) []Job {
				l := slices.MaxFunc(s.Lots, func(a, b Lot) int { return int(a.Work - b.Work) })
				return slices.Delete(jobs, l.Job, l.Job+1)
			})
		}},
		{name: "doubled", after: func(p *Problem, s *Schedule) *Problem {
			return anotherJobs(p, func(jobs []Job) []Job {
				jobs[s.Lots[len(s.Lots)/3].Job].Quantity *= 2
				return jobs
			})
		}},
	}
}

// both is two changes at once.
func both(a, b shopChange) shopChange {
	c := shopChange{name: a.name + " + " + b.name, before: a.before, after: func(p *Problem, s *Schedule) *Problem {
		return b.after(a.after(p, s), s)
	}}
	if c.before == nil {
		c.before = b.before
	}
	return c
}

// TestFreshStudy holds plans made anew after a change against plans from nothing whose moves are charged, with the effort of a
// new plan: for each of 12 shops of three sizes some of nine changes and six pairs of them. It runs with NEEDLEPACE_STUDY=fresh
// (./dev study fresh); NEEDLEPACE_STUDY_SET picks the changes whose names hold it, NEEDLEPACE_STUDY_EVERY (1) every n-th case,
// NEEDLEPACE_STUDY_FROM the first of them, NEEDLEPACE_STUDY_CASES the numbers of some, NEEDLEPACE_STUDY_SEED the seed (1).
func TestFreshStudy(t *testing.T) {
	if os.Getenv("NEEDLEPACE_STUDY") != "fresh" {
		t.Skip("plans after a change are held against plans from nothing with NEEDLEPACE_STUDY=fresh")
	}
	number := func(name string, other int) int {
		n := other
		fmt.Sscan(os.Getenv(name), &n) //nolint:errcheck // none: the other
		return n
	}
	every, first, seed, only := number("NEEDLEPACE_STUDY_EVERY", 1), number("NEEDLEPACE_STUDY_FROM", 0), number("NEEDLEPACE_STUDY_SEED", 1), os.Getenv("NEEDLEPACE_STUDY_SET")
	cases := strings.Fields(os.Getenv("NEEDLEPACE_STUDY_CASES"))
	all := shopChanges()
	for _, two := range [][2]int{{0, 1}, {2, 7}, {5, 8}, {6, 2}, {4, 0}, {3, 8}} {
		all = append(all, both(all[two[0]], all[two[1]]))
	}
	type result struct {
		gap, charged float64
		name         string
	}
	var results []result
	fmt.Println("| case | shop | change | lots | wide | warm | moves | s | from nothing, charged: % | s | new plan, charged after: % |")
	for k := first; k < 12*len(all); k += every {
		n, c := k/len(all), all[k%len(all)]
		if !strings.Contains(c.name, only) || len(cases) > 0 && !slices.Contains(cases, fmt.Sprint(k)) {
			continue
		}
		size := [][2]int{{90, 4}, {200, 8}, {400, 12}}[n%3]
		load := []float64{.85, .95, 1.05, .9}[n%4]
		p := shop(rand.New(rand.NewPCG(71, uint64(n))), size[0], size[1], load)
		if n%2 == 0 {
			p = weighed(p)
		}
		for _, m := range p.Machines[0].Windows {
			p.Crew = append(p.Crew, Presence{m.From, m.To, .3*float64(size[1]) + .4})
		}
		was := p
		if c.before != nil {
			was = c.before(p, nil)
		}
		s := must(t, was, Options{NoBound: true, Seed: uint64(seed)})
		q := c.after(p, s)
		old := Plan{was, s}
		known := map[string]bool{}
		for i := range was.Jobs {
			known[was.Jobs[i].ID] = true
		}
		begin := func() (*model, *state) {
			md, st := fromSeeds(q, carry(old, q))
			md.remember(st, func(job int) bool { return known[q.Jobs[job].ID] })
			return md, st
		}
		start := time.Now()
		warm, err := Replan(ctx, old, q, Options{Seed: uint64(seed)})
		if err != nil {
			t.Fatal(err)
		}
		took := time.Since(start).Seconds()
		md, st := begin()
		wide := "-"
		if reshaped(old, q) {
			wide = "machine"
		} else if st.emptied(old) {
			wide = "hole"
		} else if st.wide(s.Lateness) {
			wide = "late"
		}
		start = time.Now()
		x := newSearch(md, st, newRand(77+uint64(seed)))
		constructBest(md, x.cur)
		x.best.copyFrom(x.cur)
		if md.n <= exhaustive {
			x.iterate(ctx, min(6_000_000, int64(md.n)*10_000))
		} else {
			x.eager = true
			x.steps = mostSteps * 2 / 3
			x.walk(ctx, 4_000_000, hot, cold)
			x.press(ctx, 2_000_000, 5)
		}
		x.lastWord(ctx)
		x.share(ctx, func(job int32) bool { return known[q.Jobs[job].ID] })
		fresh, freshTook := x.best.value(), time.Since(start).Seconds()
		// A new plan, its moves charged afterwards: as that of a shop which had the one and is given the other.
		made := must(t, q, Options{NoBound: true, Seed: uint64(seed)})
		after := scored(t, old, q, made)
		results = append(results, result{100 * (warm.Cost/fresh - 1), 100 * (warm.Cost/after - 1), fmt.Sprint(n, " ", c.name)})
		fmt.Printf("| %d | %d: %d on %d, %.2f | %s | %d | %s | %.5g | %.1f M | %.1f | %+.2f | %.1f | %+.2f |\n", k, n, size[0], size[1], load, c.name, md.n, wide,
			warm.Cost, float64(warm.Moves)/1e6, took, 100*(warm.Cost/fresh-1), freshTook, 100*(warm.Cost/after-1))
	}
	sort.Slice(results, func(i, j int) bool { return results[i].gap > results[j].gap })
	sum, sumAfter, worst := 0.0, 0.0, -100.0
	for _, r := range results {
		sum, sumAfter, worst = sum+r.gap, sumAfter+r.charged, max(worst, r.charged)
	}
	fmt.Printf("%d cases: charged while searching mean %+.2f %%, worst %+.2f; charged after mean %+.2f, worst %+.2f\n", len(results), sum/float64(len(results)), results[0].gap, sumAfter/float64(len(results)), worst)
}
