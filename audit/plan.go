package audit

import (
	"context"
	"fmt"

	"needlepace/audit/sequence"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// tick is the unit in which orders are weighed: whole numbers of 10 µs, so
// that the search is exact and the same everywhere.
const tick = 1e-5

func ticks(seconds float64) int32 {
	t := seconds / tick
	switch {
	case t > sequence.MaxCost/4:
		return sequence.MaxCost / 4
	case t >= 0:
		return int32(t + 0.5)
	}
	return int32(t - 0.5)
}

// orders is the problem of sewing a design's objects in the fewest seconds
// with everything that touches in its old order.
type orders struct {
	l       *layout
	touch   *pairs
	clock   *clock.Clock
	sheet   *machine.Sheet
	job     clock.Job
	threads []int
	build   build
	// keepBlocks holds colour blocks in their order, objects within them.
	keepBlocks bool
	// most is how many nodes the search gets; beyond it neighbouring objects
	// of one block are kept in chains.
	most int
	// fold puts neighbouring blocks of a single object each into one chain, for
	// a search with keepBlocks that asks for the order alone: its costs then
	// leave out their stops.
	fold bool

	piece *clock.Clock // of a piece of the design, and over how many revolutions a change is felt, see runsOn
	felt  int
	// search searches in place of sequence.Solve; nil: that does.
	search func(context.Context, *sequence.Problem, sequence.Options) (sequence.Result, error)
}

// chain is objects that stay together in their old order.
type chain struct{ first, last int }

// chains begins with every object alone and joins the nearest neighbours of
// one block until there are few enough.
func (p *orders) chains() []chain {
	n := len(p.l.objects)
	cs := make([]chain, n)
	for k := range cs {
		cs[k] = chain{k, k}
	}
	if p.fold {
		cs = p.folded(cs)
	}
	for limit := 10; len(cs) > p.most; limit *= 2 {
		kept := cs[:1]
		for k, c := range cs[1:] {
			last := &kept[len(kept)-1]
			j := &p.l.joints[c.first]
			near := max(j.dx, -j.dx, j.dy, -j.dy) <= limit
			over := len(kept)+len(cs)-1-k > p.most
			if over && near && len(j.cuts) <= 1 && !j.has(stitch.ColourStop) && !p.l.walled(c.first) {
				last.last = c.last
				continue
			}
			kept = append(kept, c)
		}
		cs = kept
		if limit > farthest {
			break
		}
	}
	return cs
}

// folded are the chains with those that no order of whole blocks can part as
// one.
func (p *orders) folded(cs []chain) []chain {
	block := func(k int) int { return p.l.objects[k].Block }
	alone := func(k int) bool {
		return (k == 0 || block(k-1) != block(k)) && (k+1 == len(cs) || block(k+1) != block(k))
	}
	kept := cs[:1]
	for k := 1; k < len(cs); k++ {
		if alone(k-1) && alone(k) {
			kept[len(kept)-1].last = k
		} else {
			kept = append(kept, chain{k, k})
		}
	}
	return kept
}

// solve searches the best order. The result's costs are in ticks and leave out
// what no order changes.
func (p *orders) solve(ctx context.Context, o sequence.Options) ([]int, sequence.Result, error) {
	cs := p.chains()
	n := len(cs)
	start, end := n, n+1
	N := n + 2
	pr := &sequence.Problem{N: N, Cost: make([]int32, N*N), Start: start, End: end, Group: make([]int, N),
		Switch: ticks(p.sheet.Rest.ColourStop)}
	pr.Group[start], pr.Group[end] = -1, -1
	// threads as small numbers
	number := map[int]int{}
	for k, c := range cs {
		t := p.threads[p.l.objects[c.first].Block]
		if _, ok := number[t]; !ok {
			number[t] = len(number)
		}
		pr.Group[k] = number[t]
	}
	if len(number) < 2 {
		pr.Group = nil
	}
	for a, ca := range cs {
		first := &p.l.objects[ca.first]
		pr.Cost[start*N+a] = ticks(p.way(stitch.Point{}, first.Lead, 0))
		last := &p.l.objects[ca.last]
		pr.Cost[a*N+end] = ticks(p.finish(ca.last))
		least := int32(0)
		for b, cb := range cs {
			if a != b {
				next := &p.l.objects[cb.first]
				c := p.between(last, next)
				if p.runOn(last, next) {
					c -= p.runsOn(last, next)
				}
				pr.Cost[a*N+b] = ticks(c)
				least = min(least, pr.Cost[a*N+b])
			}
		}
		if least < 0 { // costs are none below 0: what comes after a adds as much, whatever it is
			for b := range N {
				pr.Cost[a*N+b] -= least
			}
		}
	}
	p.precedence(cs, pr)
	if !p.l.loose() {
		for k := range n - 1 {
			pr.Before = append(pr.Before, [2]int{k, n - 1})
		}
	}
	o.Initial = make([]int, 0, N)
	o.Initial = append(o.Initial, start)
	for k := range cs {
		o.Initial = append(o.Initial, k)
	}
	o.Initial = append(o.Initial, end)
	search := sequence.Solve
	if p.search != nil {
		search = p.search
	}
	r, err := search(ctx, pr, o)
	if err != nil {
		return nil, r, fmt.Errorf("the order of objects: %w", err)
	}
	order := make([]int, 0, len(p.l.objects))
	for _, k := range r.Order {
		if k < n {
			for i := cs[k].first; i <= cs[k].last; i++ {
				order = append(order, i)
			}
		}
	}
	return order, r, nil
}

// precedence: whatever touches keeps its order, nothing crosses an operator's
// stop, and blocks keep their order if asked.
func (p *orders) precedence(cs []chain, pr *sequence.Problem) {
	of := make([]int, len(p.l.objects))
	for k, c := range cs {
		for i := c.first; i <= c.last; i++ {
			of[i] = k
		}
	}
	before := newPairs(len(cs))
	add := func(a, b int) {
		if a < b && b >= 0 && !before.has(a, b) {
			before.set(a, b)
			pr.Before = append(pr.Before, [2]int{a, b})
		}
	}
	for i := range p.l.objects {
		for j := range p.touch.after(i) {
			add(of[i], of[j])
		}
	}
	for k, c := range cs {
		wall := false
		for i := c.first; i <= c.last; i++ {
			wall = wall || p.l.fixed(i, p.build)
		}
		if !wall {
			continue
		}
		for a := range cs {
			add(min(a, k), max(a, k))
			add(a, k-1) // what stands before the wall stays there: the wall has its thread
		}
	}
	if p.keepBlocks {
		block := func(k int) int { return p.l.objects[cs[k].first].Block }
		for a, b := 0, 0; b < len(cs); a = b {
			for b < len(cs) && block(b) == block(a) {
				b++
			}
			for k := b; k < len(cs) && block(k) == block(b); k++ {
				for i := a; i < b; i++ {
					add(i, k)
				}
			}
		}
	}
}

// way is the seconds of a straight way in at least n jumps.
func (p *orders) way(a, b stitch.Point, n int) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	return p.clock.TravelSeconds(dx, dy, max(n, jumpsFor(dx, dy)))
}

// between is the seconds from the last hole of a to the first of b, without
// what every change of thread costs alike.
func (p *orders) between(a, b *Object) float64 {
	if p.threads[a.Block] != p.threads[b.Block] {
		needles := p.sheet.Rest.PerNeedle * float64(p.crossed(a.Block, b.Block))
		return needles + p.way(a.Exit, b.Lead, 0)
	}
	if p.runOn(a, b) {
		return 0 // and what it saves beside, see runsOn
	}
	n := 0
	if !p.build.explicit {
		n = max(trimJumps, p.l.trimAfter, p.build.jumps)
	}
	return p.sheet.Rest.Trim + p.way(a.Exit, b.Lead, n)
}

// runOn says whether the thread is not cut between a and b.
func (p *orders) runOn(a, b *Object) bool {
	return p.build.join && p.threads[a.Block] == p.threads[b.Block] && joins(a, b)
}

// runsOn is the seconds that the stitches of a and b take less where the thread is not
// cut in the hole between them: the shaft need not slow down there and start again, and
// the second stitch into the hole can go (dropHoles). Exact where an object joined at both its
// ends is as long as what a change at its end is felt over.
func (p *orders) runsOn(a, b *Object) float64 {
	if p.piece == nil {
		s := p.sheet.Clone()
		s.Slow, s.Travel.ReturnToStart = machine.Slow{}, false
		p.piece = clock.New(s, p.job)
		p.felt = feltOver(s, p.piece.Run(&stitch.Design{}).SetSpeed)
	}
	tail, head := p.l.rec[max(a.From, a.To-p.felt):a.To], p.l.rec[b.From:min(b.To, b.From+p.felt)]
	rec := append(make([]stitch.Record, 0, len(tail)+len(head)+8), tail...)
	w := writer{rec: &rec, explicit: true}
	way := stitch.Point{X: b.Lead.X - a.Exit.X, Y: b.Lead.Y - a.Exit.Y}
	w.trim(way)
	w.copy(head)
	cut := p.piece.Seconds(rec) - p.sheet.Rest.Trim - p.way(stitch.Point{}, way, 0)
	rec = append(append(rec[:len(tail)], stitch.Record{Op: head[0].Op}), head[1:]...)
	on := p.piece.Seconds(rec)
	if b.Last-b.First > lockStitches && a.Last-a.First >= lockStitches && head[0].Op == stitch.Sew && head[1].Op == stitch.Sew &&
		tail[len(tail)-1].Op == stitch.Sew {
		on = min(on, p.piece.Seconds(append(rec[:len(tail)], head[1:]...)))
	}
	return cut - on
}

// crossed is the needle positions between two blocks: by the job if it names
// needles, else one.
func (p *orders) crossed(a, b int) int {
	if a < len(p.job.Needles) && b < len(p.job.Needles) {
		d := p.job.Needles[a] - p.job.Needles[b]
		return max(d, -d)
	}
	if p.sheet.Needles < 2 {
		return 0
	}
	return 1
}

// finish is the seconds from object k to where the design ends, and home.
func (p *orders) finish(k int) float64 {
	tail := &p.l.joints[len(p.l.objects)]
	at := p.l.objects[k].Exit
	if tail.from == tail.to {
		return p.clock.HomeSeconds(at.X, at.Y)
	}
	n := 0
	if !p.build.explicit {
		n = max(trimJumps, p.l.trimAfter, p.build.jumps)
	}
	return p.way(at, p.l.end, n)
}
