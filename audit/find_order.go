package audit

import (
	"needlepace/audit/sequence"
	"needlepace/words"
)

// Order is that another order of the objects saves travel.
const Order Kind = "order"

// A short search is enough to see whether a better order is worth asking for;
// mend searches in earnest.
const (
	auditNodes  = 250
	auditRounds = 500
)

// findOrder looks for a better order within the colour blocks; what putting
// blocks together saves is ThreadReturns' business.
func findOrder(v *survey) []Finding {
	if v.touch == nil || len(v.l.objects) < 3 {
		return nil
	}
	if v.ctx.Err() != nil {
		v.off(words.Say("finding.off-order"))
		return nil
	}
	p := &orders{l: v.l, touch: v.touch, clock: v.clock, sheet: v.sheet, job: v.job, threads: identity(v.l.blocks),
		build: build{explicit: v.explicit}, keepBlocks: true, most: auditNodes, fold: true}
	order, _, err := p.solve(v.ctx, sequence.Options{Seed: v.o.Seed, Rounds: auditRounds, Quick: true})
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
	if f.Seconds < v.lim.OrderSeconds || f.Seconds < v.lim.OrderShare*v.run.Seconds {
		return nil
	}
	v.order = order
	return []Finding{v.place(f, first)}
}
