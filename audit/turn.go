package audit

import (
	"context"
	"math"
	"slices"

	"needlepace/audit/sequence"
	"needlepace/clock"
	"needlepace/stitch"
)

// A line is an object that looks the same sewn from its other end: single
// stitches one after the other, none of which comes as near as a thread's width
// to another but at the hole they share, and both ends alike: with lock stitches
// at both, which then are at both again, or at neither. Locks and the meeting of
// both ends may lie on themselves: it is one thread, with nothing between.

// lineEnd is how many stitches at either end may lie on one another; longestLine
// bounds the work on one object, in stitches.
const (
	lineEnd     = 8
	longestLine = 2000
)

// lines says which objects are lines.
func (l *layout) lines() []bool {
	is := make([]bool, len(l.objects))
	for k := range is {
		is[k] = l.line(&l.objects[k])
	}
	return is
}

func (l *layout) line(o *Object) bool {
	n := o.Last - o.First
	if o.Bare || o.Wall || n > longestLine || o.To-o.From != n || o.Exit != o.End {
		return false
	}
	for _, r := range l.rec[o.From:o.To] {
		if r.Op != stitch.Sew {
			return false
		}
	}
	pieces := make([]line, 0, n)
	for k := o.First + 1; k < o.Last; k++ {
		if a, b := l.holes[k-1], l.holes[k]; a.x != b.x || a.y != b.y {
			pieces = append(pieces, line{a.x, a.y, b.x, b.y, 0})
		}
	}
	atEnd := func(i int) bool { return i < lineEnd || i >= len(pieces)-lineEnd }
	for i := range pieces {
		for j := i + 2; j < len(pieces); j++ {
			if !(atEnd(i) && atEnd(j)) && touch(&pieces[i], &pieces[j]) {
				return false
			}
		}
	}
	return l.lockedAt(o, false) == l.lockedAt(o, true)
}

// lockedAt says whether the object has lock stitches at its end, or its beginning.
func (l *layout) lockedAt(o *Object, end bool) bool {
	v := survey{l: l, lim: DefaultLimits()}
	return v.lockedAt(o, end)
}

// mayTurn says whether object k could be sewn from its other end: it is a line,
// and what stands before it and after it is no more than a cut and a way.
func (l *layout) mayTurn(k int, b build) bool {
	if l.fixed(k, b) || k == 0 && len(l.joints[0].cuts) > 0 || !l.line(&l.objects[k]) {
		return false
	}
	after := &l.joints[k+1]
	if k+1 == len(l.objects) {
		return after.from == after.to && !l.walled(k+1)
	}
	return !l.fixed(k+1, b)
}

// turn is the layout with some of its objects sewn from their other end, in
// their old places.
func (l *layout) turn(which []bool) *layout {
	t := *l
	t.objects, t.rec, t.turned = slices.Clone(l.objects), slices.Clone(l.rec), which
	for k, turned := range which {
		if !turned {
			continue
		}
		o := &t.objects[k]
		rec := t.rec[o.From:o.To]
		rec[0] = stitch.Record{Op: stitch.Sew}
		for i := 1; i < len(rec); i++ {
			a, b := l.holes[o.Last-i], l.holes[o.Last-i-1]
			rec[i] = stitch.Record{DX: int16(b.x - a.x), DY: int16(b.y - a.y), Op: stitch.Sew}
		}
		o.Lead, o.Start, o.End, o.Exit = o.End, o.End, o.Start, o.Start
	}
	return &t
}

// turns is the search for the end at which each line begins.
type turns struct {
	p       *orders
	ways    [2]*layout // as it is, and with all that may turn turned
	may     []bool
	seconds [2][]float64 // of each object alone
}

func newTurns(p *orders) *turns {
	t := &turns{p: p, may: make([]bool, len(p.l.objects))}
	any := false
	for k := range t.may {
		t.may[k] = p.l.mayTurn(k, p.build)
		any = any || t.may[k]
	}
	if !any {
		return nil
	}
	t.ways = [2]*layout{p.l, p.l.turn(t.may)}
	still := p.sheet.Clone()
	still.Travel.ReturnToStart = false
	c := clock.New(still, clock.Job{Speed: p.job.Speed, Kinds: p.job.Kinds, Cap: p.job.Cap, AccelFactor: p.job.AccelFactor})
	for way, l := range t.ways {
		t.seconds[way] = make([]float64, len(t.may))
		for k := range t.may {
			if t.may[k] {
				o := &l.objects[k]
				t.seconds[way][k] = c.Seconds(l.rec[o.From:o.To])
			}
		}
	}
	return t
}

// best is the cheapest way to sew the objects in an order, each line from
// either end, and what it costs: seconds, what all orders take alike left out.
// Dynamic programming over the end at which the last object began.
func (t *turns) best(order []int) ([]bool, float64) {
	n := len(order)
	from := make([][2]int8, n)
	var cost [2]float64
	for i, k := range order {
		next := [2]float64{math.Inf(1), math.Inf(1)}
		for way := range 2 {
			if way == 1 && !t.may[k] {
				continue
			}
			o := &t.ways[way].objects[k]
			if i == 0 {
				next[way] = t.p.way(stitch.Point{}, o.Lead, 0)
			}
			for was := 0; i > 0 && was < 2; was++ {
				a := &t.ways[was].objects[order[i-1]]
				if was == 1 && !t.may[order[i-1]] {
					continue
				}
				c := cost[was] + t.p.between(a, o)
				if t.p.threads[a.Block] != t.p.threads[o.Block] {
					c += t.p.sheet.Rest.ColourStop
				}
				if c < next[way] {
					next[way], from[i][way] = c, int8(was)
				}
			}
			next[way] += t.seconds[way][k]
		}
		cost = next
	}
	last := order[n-1]
	way := 0
	for w := range 2 {
		q := *t.p
		q.l = t.ways[w]
		if cost[w] += q.finish(last); cost[w] < cost[way] {
			way = w
		}
	}
	total := cost[way]
	which := make([]bool, n)
	for i := n - 1; i >= 0; i-- {
		which[order[i]] = way == 1
		way = int(from[i][way])
	}
	return which, total
}

// minTurnSaving is what turning lines must save, in seconds a run: for less
// nothing is sewn otherwise than it was drawn. An engineering choice.
const minTurnSaving = 0.05

// turnTimes bounds how often order and ends are looked for in turn.
const turnTimes = 4

// turn sews lines from their other end where that saves time, in an order that
// suits it; the colour blocks keep theirs. The search is short and the same every time: a
// design that it does not better is not bettered by it when mended again.
func (m *mender) turn(ctx context.Context, l *layout) error {
	if len(l.objects) < 2 || len(l.objects) > mostNodes {
		return nil
	}
	p := m.orders(l)
	p.keepBlocks = true
	t := newTurns(p)
	if t == nil {
		return nil
	}
	order := identity(len(l.objects))
	which, least := t.best(order)
	for range turnTimes {
		q := *p
		q.l = l.turn(which)
		next, _, err := q.solve(context.WithoutCancel(ctx), sequence.Options{Seed: 1, Rounds: againRounds, Quick: true})
		if err != nil {
			return err
		}
		turned, cost := t.best(next)
		if cost > least-tick {
			break
		}
		order, which, least = next, turned, cost
	}
	count := 0
	for _, turned := range which {
		if turned {
			count++
		}
	}
	if count == 0 {
		return nil
	}
	return m.takeTurned(l.turn(which), order, p, Change{Kind: ChangeTurn, Count: count})
}

// takeTurned keeps lines sewn otherwise if that saves enough, and is proved: up
// to where they are sewn so, each still cut off from the next (two that are
// joined can be no line), and from there on.
func (m *mender) takeTurned(l *layout, order []int, p *orders, ch Change) error {
	r := l.rebuild(order, p.threads, p.build)
	before, after := state{m.rec, m.blocks}, state{r.rec, m.blockMap(r.blocks)}
	if m.now-m.seconds(after.rec, after.blocks) < minTurnSaving {
		return nil
	}
	apart := p.build
	apart.join = false
	r0 := l.rebuild(order, p.threads, apart)
	cut := state{r0.rec, m.blockMap(r0.blocks)}
	for _, step := range []struct {
		from, to state
		turned   bool
	}{{before, cut, true}, {cut, after, false}} {
		proof, err := m.proveStep(step.from, step.to, step.turned)
		if err != nil || proof.Before != proof.After {
			return err
		}
	}
	if m.take(after.rec, after.blocks, r.holes, ch) {
		m.links = append(m.links, before, cut)
	}
	return nil
}
