package audit

import (
	"context"
	"slices"

	"needlepace/audit/sequence"
	"needlepace/stitch"
)

// An object that lies over one thread and under another holds both in its
// place: where it is cut in two, the other thread can pass between, and a
// colour stop can go. The needle goes into the hole at the cut once more, and
// the thread has two more ends: both must be among lock stitches that are
// there already, as at every other cut.

// mostParts bounds how many cuts are tried at a time: the search weighs all at once.
const mostParts = 200

// partPlaces are the holes at which objects could be cut, in their order: one
// for each way to part what an object lies over and under. locked says whether
// the thread is held on both sides of a hole.
func (l *layout) partPlaces(pairs *pairs, threads []int, locked func(o *Object, hole int) bool) (places []int) {
	g := newGrid(l.threads())
	for k := range l.objects {
		o := &l.objects[k]
		before, after, other := false, false, false
		for j := range l.objects {
			if j != k && pairs.has(k, j) {
				before, after = before || j < k, after || j > k
				other = other || threads[o.Block] != threads[l.objects[j].Block]
			}
		}
		if o.Wall || !before || !after || !other {
			continue
		}
		// Where what the object touches begins and ends along it, by holes: the
		// stitch to it is the first, or the last, that touches.
		first, last := map[int32]int{}, map[int32]int{}
		for c := o.First + 1; c < o.Last; c++ {
			a, b := l.holes[c-1], l.holes[c]
			s := line{a.x, a.y, b.x, b.y, int32(k)}
			g.cells(&s, func(cell int32) {
				for _, i := range g.entry[g.start[cell]:g.start[cell+1]] {
					j := g.lines[i].object
					if int(j) == k || last[j] == c || !pairs.has(k, int(j)) || !touch(&s, &g.lines[i]) {
						continue
					}
					if _, seen := first[j]; !seen {
						first[j] = c
					}
					last[j] = c
				}
			})
		}
		var edges []int // a cut at hole edge or later parts otherwise than one before it
		for j := range first {
			edges = append(edges, first[j], last[j])
		}
		slices.Sort(edges)
		edges = slices.Compact(edges)
		for i := range len(edges) - 1 {
			for c := edges[i]; c < edges[i+1]; c++ {
				if l.plainAt(c) && locked(o, c) {
					places = append(places, c)
					break
				}
			}
		}
	}
	return places
}

// plainAt says whether hole k and those beside it are single stitches, one after the other.
func (l *layout) plainAt(k int) bool {
	for i := k - 1; i <= k+1; i++ {
		h := l.holes[i]
		if l.rec[h.record].Op != stitch.Sew || i > k-1 && l.holes[i-1].record != h.record-1 {
			return false
		}
	}
	return true
}

// lockedBeside says whether thread cut at a hole of an object would be held on
// both sides by stitches over one another: a row of tiny ones is not enough where
// nobody meant a cut.
func (l *layout) lockedBeside(o *Object, hole int) bool {
	v := survey{l: l, lim: DefaultLimits()}
	least := int(v.lim.FewStitches)
	return hole-o.First >= least && o.Last-hole >= least &&
		v.tied(max(o.First+1, hole+1-lockWithin), hole+1, o.First, hole) &&
		v.tied(hole+1, hole+1+lockWithin, hole, hole)
}

// part cuts objects at holes, which are in order, and says of each penetration
// which it was.
func (l *layout) part(places []int, b build) (*layout, []int, error) {
	rec := make([]stitch.Record, 0, len(l.rec)+8*len(places))
	w := l.writer(&rec, b)
	was := make([]int, 0, len(l.holes)+len(places))
	at, hole := 0, 0
	for _, c := range places {
		end := int(l.holes[c].record) + 1
		w.copy(l.rec[at:end])
		w.trim(stitch.Point{})
		w.put(stitch.Sew, 0, 0)
		for ; hole <= c; hole++ {
			was = append(was, hole)
		}
		was = append(was, c)
		at = end
	}
	w.copy(l.rec[at:])
	for ; hole < len(l.holes); hole++ {
		was = append(was, hole)
	}
	parted, err := lay(rec, l.trimAfter)
	if err != nil {
		return nil, nil, err
	}
	parted.parted = make([]bool, len(parted.objects))
	for k := range parted.objects {
		if f := parted.objects[k].First; f > 0 {
			parted.parted[k] = was[f] == was[f-1]
		}
	}
	return parted, was, nil
}

// cut parts objects where another thread must pass between the halves, if that
// saves time and a colour stop: for less no thread is cut once more. The search
// is short and the same every time, as that of turn.
func (m *mender) cut(ctx context.Context, l *layout) error {
	if len(l.objects) < 2 || len(l.objects)+mostParts > mostNodes {
		return nil
	}
	p := m.orders(l)
	places := l.partPlaces(p.touch, p.threads, l.lockedBeside)
	if len(places) == 0 || len(places) > mostParts {
		return nil
	}
	parted, was, err := l.part(places, p.build)
	if err != nil {
		return err
	}
	m.hold(parted)
	p = m.orders(parted)
	order, _, err := p.solve(context.WithoutCancel(ctx), sequence.Options{Seed: 1, Rounds: againRounds, Quick: true})
	if err != nil {
		return err
	}
	r := parted.rebuild(order, p.threads, p.build)
	if r.parted == 0 || len(r.blocks) >= l.blocks || m.now-m.seconds(r.rec, m.blockMap(r.blocks)) < minTurnSaving {
		return nil
	}
	for k, h := range r.holes {
		r.holes[k] = was[h]
	}
	m.take(r.rec, m.blockMap(r.blocks), r.holes, Change{Kind: ChangeCut, Count: r.parted})
	return nil
}
