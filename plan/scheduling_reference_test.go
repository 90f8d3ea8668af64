// Sources: OR-Library weighted tardiness instances (Beasley; Crauwels, Potts, Van Wassenhove 1998), Cicirello's weighted tardiness instances with set-ups, Vallada and Ruiz 2011 (unrelated parallel machines with set-ups), Pinedo, Scheduling (hand-size examples, quoted from memory and recomputed).
package plan

import (
	"context"
	"math"
	"strconv"
	"testing"
)

func solved(t *testing.T, in instance, moves int64) *Schedule {
	t.Helper()
	in.p.LotSeconds = -1
	s, err := Solve(context.Background(), in.p, Options{Moves: moves, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	// The value is taken from the written lots, not from the search.
	if got := slowCost(in.p, asQueues(in.p, s)); math.Abs(got.Lateness-s.Lateness) > 1e-6 || math.Abs(got.MakeSpan-s.MakeSpan) > 1e-6 {
		t.Fatalf("%s: the schedule says %v, its queues come to %v", in.name, s.Totals, got)
	}
	return s
}

func asQueues(p *Problem, s *Schedule) [][]part {
	q := make([][]part, len(p.Machines))
	for _, l := range s.Lots {
		q[l.Machine] = append(q[l.Machine], part{job: l.Job, quantity: l.Quantity})
	}
	return q
}

// Source: OR-Library, wtopt40, wtopt50 (optimal values; CHECKS-OR section 2). A
// sample; `./dev study plan` runs all.
func TestWeightedTardinessIsOptimalOnASample(t *testing.T) {
	every := 14
	if testing.Short() {
		every = 28
	}
	for _, n := range []int{40, 50} {
		for i, in := range weightedTardiness(t, n) {
			if i%every != 4 {
				continue
			}
			s := solved(t, in, 1_500_000)
			if s.Lateness != in.best {
				t.Errorf("%s: %v, the optimum is %v", in.name, s.Lateness, in.best)
			}
			if s.Bound > in.best+1e-6 {
				t.Errorf("%s: the bound %v is above the optimum %v", in.name, s.Bound, in.best)
			}
		}
	}
}

// Source: Cicirello's wtsds; total weighted tardiness of the order 0…59 and brute-forced optima of the first ten jobs (CHECKS-OR section 2).
func TestSetupInstancesAreReadAsPublished(t *testing.T) {
	for _, c := range []struct {
		no            int
		identity, ten float64
	}{{1, 159430, 0}, {41, 431724, -1}, {81, 964190, 500}, {86, 760371, 2693}, {91, 1208185, 3789}, {116, 1565766, 5915}} {
		in := setupTardiness(t, c.no)
		q := [][]part{nil}
		for j := range in.p.Jobs {
			q[0] = append(q[0], part{job: j, quantity: 1})
		}
		if got := slowCost(in.p, q).Lateness; got != c.identity {
			t.Errorf("%s: the identity order comes to %v, published %v", in.name, got, c.identity)
		}
		if c.ten < 0 {
			continue
		}
		cut := *in.p
		cut.Weights = Weights{Lateness: 1}
		cut.Jobs = cut.Jobs[:10]
		co := &Changeover{Between: [][][]float64{nil}, First: [][]float64{in.p.Changeover.First[0][:10]}}
		for i := range 10 {
			co.Between[0] = append(co.Between[0], in.p.Changeover.Between[0][i][:10])
		}
		cut.Changeover = co
		if s := solved(t, instance{in.name, &cut, c.ten}, 100_000); s.Lateness != c.ten {
			t.Errorf("%s, first ten jobs: %v, brute force %v", in.name, s.Lateness, c.ten)
		}
	}
}

// Source: Cicirello's wtsds; upper bounds by a long search of our own, not optima.
func TestSetupTardinessIsCloseToLongSearches(t *testing.T) {
	for _, no := range []int{71, 81, 101} {
		in := setupTardiness(t, no)
		s := solved(t, in, 2_000_000)
		// A short search for a quick test; the study gives a search its time.
		if s.Lateness > 1.03*in.best {
			t.Errorf("%s: %v is more than 3 %% above %v", in.name, s.Lateness, in.best)
		}
		if s.Bound > in.best {
			t.Errorf("%s: the bound %v is above a known value %v", in.name, s.Bound, in.best)
		}
	}
}

// Source: Vallada and Ruiz 2011, small instances with published optima, recomputed exactly; one published value (80) is not optimal (75; CHECKS-OR section 7).
func TestParallelSetupsAreOptimalOnASample(t *testing.T) {
	rows := table(t, "parallel-setups/small_optimal.csv")
	for i, r := range rows {
		special := r["instance"] == "I_12_5_S_1-99_3"
		if i%40 != 0 && !special {
			continue
		}
		best, err := strconv.ParseFloat(r["exact_recomputed"], 64)
		if err != nil {
			t.Fatal(err)
		}
		in := parallelSetups(t, "small", r["instance"], best)
		s := solved(t, in, 150_000)
		if s.MakeSpan != best {
			t.Errorf("%s: make-span %v, exact %v", in.name, s.MakeSpan, best)
		}
		if special && (r["published"] != "80" || best != 75) {
			t.Errorf("the instance whose published 80 is really 75 reads %v", r)
		}
	}
}

// Source: Pinedo, Scheduling, ATCS example (from memory; recomputed by brute force): optimum 98 by 2,4,3,1, and the rule itself gives it.
func TestPinedoSetupExample(t *testing.T) {
	p := single([]int{13, 9, 13, 10}, []int{2, 4, 2, 5}, []int{12, 37, 21, 22})
	p.Changeover = &Changeover{
		First:   [][]float64{{1, 1, 3, 4}},
		Between: [][][]float64{{{0, 4, 1, 3}, {0, 0, 1, 0}, {1, 2, 0, 3}, {4, 3, 1, 0}}},
	}
	s := solved(t, instance{"Pinedo ATCS", p, 98}, 5000)
	if s.Lateness != 98 {
		t.Errorf("weighted tardiness %v, want 98", s.Lateness)
	}
	for k, want := range []int{1, 3, 2, 0} {
		if s.Lots[k].Job != want {
			t.Errorf("place %d has job %d, want %d", k+1, s.Lots[k].Job+1, want+1)
		}
	}
	// The index with k1 5.4 and k2 0.5; p̄ 11.25, s̄ 2 as printed. Ours takes s̄
	// from the first set-ups (2.25): the same order.
	md := compile(p, whole)
	st := newState(md)
	st.set(construct(md, 5.4, 0.5))
	if st.value() != 98 {
		t.Errorf("the rule's own order comes to %v, want 98", st.value())
	}
}

// Source: Pinedo, Scheduling, example 3.4 (total tardiness; from memory, brute-forced): optimum 370. The second is our own, brute-forced: 75.
func TestHandSizeTardiness(t *testing.T) {
	for _, c := range []struct {
		p, w, d []int
		want    float64
	}{
		{[]int{121, 79, 147, 83, 130}, []int{1, 1, 1, 1, 1}, []int{260, 266, 266, 336, 337}, 370},
		{[]int{12, 8, 15, 9}, []int{4, 1, 6, 5}, []int{16, 26, 25, 27}, 75},
	} {
		p := single(c.p, c.w, c.d)
		s := solved(t, instance{"hand", p, c.want}, 5000)
		if s.Lateness != c.want || brute(p) != c.want {
			t.Errorf("weighted tardiness %v, brute force %v, want %v", s.Lateness, brute(p), c.want)
		}
	}
}
