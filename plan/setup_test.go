package plan

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// However many cones a shop has, those that a job needs and the one before did not have are put on.
func TestConesAreCountedInLargeShops(t *testing.T) {
	for _, cones := range []int{40, 100, 900} {
		rng := rand.New(rand.NewPCG(uint64(cones), 1))
		p := &Problem{Machines: []Machine{{ID: "a", Setup: SetupTimes{Job: 1, Cone: 1000, Hoop: 100}, Loaded: []string{"cone 7"}}}}
		for j := range 100 {
			job := Job{ID: fmt.Sprint(j), Design: fmt.Sprint("d", j%15), Hoop: fmt.Sprint("h", j%2), Quantity: 1, Fits: []Fit{{0, 10, 1, 0}}}
			for range 1 + rng.IntN(12) {
				job.Cones = append(job.Cones, fmt.Sprint("cone ", rng.IntN(cones)))
			}
			p.Jobs = append(p.Jobs, job)
		}
		md := compile(p, split(p, -1))
		put := func(have []string, j int) int {
			need := map[string]bool{}
			for _, c := range p.Jobs[j].Cones {
				need[c] = true
			}
			for _, c := range have {
				delete(need, c)
			}
			return len(need)
		}
		for a := range p.Jobs {
			if got, want := md.changes(0, -1, int32(a)), put(p.Machines[0].Loaded, a); got != want {
				t.Fatalf("%d cones, job %d first: %d to put on, want %d", cones, a, got, want)
			}
			for b := range p.Jobs {
				n := put(p.Jobs[a].Cones, b)
				seconds := 1000 * float64(n)
				if p.Jobs[a].Hoop != p.Jobs[b].Hoop {
					seconds += 100
				}
				if p.Jobs[a].Design != p.Jobs[b].Design {
					seconds++
				}
				if got, s := md.changes(0, int32(a), int32(b)), md.setup(0, int32(a), int32(b)); got != n || s != seconds {
					t.Fatalf("%d cones, job %d after %d: %d to put on in %v s, want %d in %v", cones, b, a, got, s, n, seconds)
				}
			}
		}
	}
}

// Of more cones than a set-up's code can count, 63, so many are counted: a job of 70 is neither without any nor on another frame.
func TestSoManyConesAreStillCones(t *testing.T) {
	p := &Problem{Machines: []Machine{{ID: "a", Setup: SetupTimes{Cone: 1, Hoop: 1000, Job: 1e6}}}}
	for _, n := range []int{1, 63, 64, 70} {
		job := Job{ID: fmt.Sprint(n), Design: "one", Quantity: 1, Fits: []Fit{{0, 10, 1, 0}}}
		for k := range n {
			job.Cones = append(job.Cones, fmt.Sprint(n, " cone ", k))
		}
		p.Jobs = append(p.Jobs, job)
	}
	md := compile(p, whole)
	for k, want := range []float64{63, 63, 63} {
		if got := md.setup(0, 0, int32(k+1)); got != want {
			t.Errorf("a job of %s cones after another is set up in %v s, want %v", p.Jobs[k+1].ID, got, want)
		}
	}
}
