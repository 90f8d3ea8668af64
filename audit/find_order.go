package audit

import (
	"cmp"
	"math"
	"slices"

	"needlepace/audit/sequence"
	"needlepace/stitch"
	"needlepace/words"
)

// Order is that another order of the objects saves travel.
const Order Kind = "order"

// A short search is enough to see whether a better order is worth asking for;
// mend searches in earnest.
const (
	auditNodes  = 250
	auditRounds = 500
	// An audit takes time as the design has stitches: fewer rounds for a small one.
	stitchesARound = 20
)

// findOrder looks for a better order within the colour blocks; what putting
// blocks together saves is ThreadReturns' business.
func findOrder(v *survey) []Finding {
	if v.touch == nil || len(v.l.objects) < 3 {
		return nil
	}
	least := max(v.lim.OrderSeconds, v.lim.OrderShare*v.run.Seconds)
	if v.mostByOrder() < least {
		return nil
	}
	if v.ctx.Err() != nil {
		v.off(words.Say("finding.off-order"))
		return nil
	}
	p := v.byOrder()
	rounds := min(auditRounds, max(auditRounds/10, v.run.Stitches/stitchesARound))
	order, _, err := p.solve(v.ctx, sequence.Options{Seed: v.o.Seed, Rounds: rounds, Quick: true})
	if err != nil {
		v.off(words.Say("finding.off-order-why", words.Args{"why": words.Name(err.Error())}))
		return nil
	}
	moved, first, last := 0, -1, 0
	for n, k := range order {
		if n == 0 && k != 0 || n > 0 && order[n-1] != k-1 {
			moved++
			if first < 0 {
				first = n
			}
			last = n
		}
	}
	if moved == 0 {
		return nil
	}
	f := Finding{From: v.l.objects[first].First, To: v.l.objects[last].Last, Count: moved,
		Seconds: v.run.Seconds - v.secondsOf(v.l.rebuild(order, p.threads, p.build)),
		What:    words.Say("finding.order", words.Args{"objects": words.Count(len(v.l.objects), "object")}),
		Ask:     words.Say("finding.order-ask"),
		cures:   []cure{{kind: cureOrder}}}
	if f.Seconds < least {
		return nil
	}
	v.order = order
	return []Finding{v.place(f, first)}
}

// byOrder is the problem of a better order within the colour blocks.
func (v *survey) byOrder() *orders {
	return &orders{l: v.l, touch: v.touch, clock: v.clock, sheet: v.sheet, job: v.job, threads: identity(v.l.blocks),
		build: build{explicit: v.explicit}, keepBlocks: true, most: auditNodes, fold: true}
}

// mostByOrder is a bound, in seconds: no order of the objects within their blocks
// saves more. In any order each object of a block but one is followed by another of
// it, after a cut and the way to the nearest at least, and that one by an object of
// the next block; what the objects themselves take and the stops stays as it is.
func (v *survey) mostByOrder() float64 {
	can := v.run.Parts.Trims + v.run.Parts.Travel
	way := func(d int) float64 { // the jumps that cut the thread left out
		return v.clock.TravelSeconds(d, 0, jumpsFor(d, 0))
	}
	byLead := func(block []int) []int {
		block = slices.Clone(block)
		slices.SortFunc(block, func(a, b int) int { return cmp.Compare(v.l.objects[a].Lead.X, v.l.objects[b].Lead.X) })
		return block
	}
	groups := v.groups()
	next := byLead(v.in(groups[0]))
	for n, g := range groups {
		own := next
		if next = nil; n+1 < len(groups) {
			next = byLead(v.in(groups[n+1]))
		}
		on := math.Inf(1) // what it adds that one object goes on to the next block
		for _, k := range v.in(g) {
			within, beyond := 0.0, 0.0
			if next != nil {
				beyond = way(v.nearest(k, next))
			}
			if len(own) > 1 {
				within = v.sheet.Rest.Trim + way(v.nearest(k, own))
			}
			can -= within
			on = min(on, beyond-within)
		}
		can -= on
	}
	return can
}

// nearest is how far, in 0.1 mm along the axis on which it is farther, the way from
// object k is to the first hole of another one. others are sorted by its X.
func (v *survey) nearest(k int, others []int) int {
	at, best := v.l.objects[k].Exit, math.MaxInt
	lead := func(i int) stitch.Point { return v.l.objects[others[i]].Lead }
	near := func(i int) bool { // whether one farther along may be nearer
		p := lead(i)
		dx, dy := p.X-at.X, p.Y-at.Y
		if dx = max(dx, -dx); dx >= best {
			return false
		}
		if others[i] != k {
			best = min(best, max(dx, dy, -dy))
		}
		return true
	}
	from, _ := slices.BinarySearchFunc(others, at.X, func(j, x int) int { return cmp.Compare(v.l.objects[j].Lead.X, x) })
	for i := from; i < len(others) && near(i); i++ {
	}
	for i := from - 1; i >= 0 && near(i); i-- {
	}
	return best
}
