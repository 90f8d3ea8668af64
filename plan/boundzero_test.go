package plan

import (
	"math"
	"math/rand/v2"
	"testing"
)

// congested is how full the fullest class of machines is, up to any moment, where every job is in time, may be
// shared by the classes and in each takes the last hours before its due date; +Inf where a job cannot be. At most 1
// says that a plan of the bound's relaxation has no lateness, and the bound is 0 whatever its prices. It is the
// best of many rounds of multiplicative weights (S. A. Plotkin, D. B. Shmoys, É. Tardos, Mathematics of Operations
// Research 20, 1995): what was too full costs more in the next.
func congested(x *relaxed, rounds int) float64 {
	price := make([][]float64, len(x.class)) // of a machine second in a slot
	sum := make([][]float64, len(x.class))   // what all rounds used up to a slot's end
	for c, g := range x.class {
		price[c], sum[c] = make([]float64, len(g.end)), make([]float64, len(g.end))
	}
	most := math.Inf(1)
	for round := 1; round <= rounds; round++ {
		for c, g := range x.class {
			capacity, all := 0.0, make([]float64, len(g.end))
			for k := range g.end {
				capacity += g.capacity[k]
				all[k] = math.Exp(40*(sum[c][k]/float64(round)/capacity-1)) / capacity
			}
			total := 0.0
			for k := len(all) - 1; k >= 0; k-- {
				total += all[k]
				price[c][k] = total
			}
			clear(g.use)
		}
		for i := range x.jobs {
			j := &x.jobs[i]
			best, where := math.Inf(1), -1
			for c, g := range x.class {
				on := &j.on[c]
				length := on.work / on.wide
				if math.IsInf(on.work, 1) || on.dueU < on.ready || on.dueU < length {
					continue
				}
				cost := 0.0
				for k := range g.end {
					from, to := max(g.end[k]-g.width[k], on.dueU-length), min(g.end[k], on.dueU)
					cost += max(0, to-from) * on.wide * price[c][k]
				}
				if cost < best {
					best, where = cost, c
				}
			}
			if where < 0 {
				return math.Inf(1)
			}
			on := &j.on[where]
			x.class[where].occupy(on.dueU-on.work/on.wide, on.dueU, on.wide)
		}
		full := 0.0
		for c, g := range x.class {
			used, capacity := 0.0, 0.0
			for k := range g.end {
				used += g.use[k]
				capacity += g.capacity[k]
				sum[c][k] += used
				full = max(full, sum[c][k]/float64(round)/capacity)
			}
		}
		most = min(most, full)
	}
	return most
}

// Booked to 90 % a mixed shop's machine-hours need no lateness, so that such a bound can say nothing; booked to
// 130 % they do, and it does.
func TestMachineHoursNeedNoLatenessAtNinety(t *testing.T) {
	for _, load := range []float64{.9, 1.3} {
		p := shop(rand.New(rand.NewPCG(1, 1)), 500, 10, load)
		md := compile(p, split(p, defaultLotSeconds))
		full := congested(md.relax(), 400)
		low := bound(ctx, md, 1e9)
		t.Logf("booked to %.0f %%: fullest %.3f, bound %.0f weighted hours", 100*load, full, low/3600)
		if (full <= 1) != (load < 1) || (low > 0) != (load > 1) {
			t.Errorf("booked to %.0f %%: fullest %v, bound %v", 100*load, full, low)
		}
	}
}
