package audit

import (
	"slices"

	"needlepace/stitch"
)

// cureKind is a way to be rid of a finding, for the clock alone: nobody sews it.
type cureKind int

const (
	cureOrder    cureKind = iota // other groups or another order of the objects
	cureStrike                   // the stitch to hole from goes
	cureJoin                     // stitches from ≤ k < to of a usable length
	cureShorten                  // long stitches from ≤ k < to cut down to the limit
	cureRunOn                    // the trim of the joint goes, n stitches lead on
	cureOneCut                   // the trim beside the joint's colour stop goes
	cureSpare                    // the joint's last n colour stops go
	cureLeaveOut                 // the object goes
	cureIdle                     // record n, a stop, goes
)

// cure is what would be done about a finding.
type cure struct {
	kind     cureKind
	object   int
	from, to int // holes
	joint    int
	n        int
}

// objects are the objects whose time the cure changes: from ≤ k < to.
func (c *cure) objects(all int) (from, to int) {
	switch c.kind {
	case cureOrder:
		return 0, 0
	case cureRunOn, cureOneCut, cureSpare:
		return max(0, c.joint-1), min(all, c.joint+1)
	case cureLeaveOut:
		return max(0, c.object-1), min(all, c.object+2)
	}
	return c.object, c.object + 1
}

// together solves the costs of findings that overlap: those whose cures change
// the same objects are clocked with all of them done, then the whole design
// with everything done. Where their costs add up to more than that saves, each
// gets its share. So Σ Seconds ≤ what all cures save, by the clock.
func (v *survey) together(found []*Finding) {
	n := len(v.l.objects)
	sets := newSets(n)
	cures := 0
	for i := range found {
		cures += len(found[i].cures)
	}
	all := make([]cure, 0, cures)
	of := map[int][]int{} // findings by the set of their objects
	for i := range found {
		f := found[i]
		if f.Seconds <= 0 {
			continue
		}
		all = append(all, f.cures...)
		first := -1
		for _, c := range f.cures {
			for k, to := c.objects(n); k < to; k++ {
				if first < 0 {
					first = k
				}
				sets.join(first, k)
			}
		}
	}
	if len(all) == 0 {
		return
	}
	for i := range found {
		if f := found[i]; f.Seconds > 0 && len(f.cures) > 0 && f.cures[0].kind != cureOrder {
			k, _ := f.cures[0].objects(n)
			of[sets.of(k)] = append(of[sets.of(k)], i)
		}
	}
	cured, gone := v.cured(all)
	b := build{explicit: v.explicit}
	stays := func(order []int) []int {
		return slices.DeleteFunc(slices.Clone(order), func(k int) bool { return gone[k] })
	}
	threads := identity(v.l.blocks)
	saved := map[int]float64{} // by set
	for k := 0; k < n; {
		root, from := sets.of(k), k
		for k++; k < n && sets.of(k) == root; k++ {
		}
		if len(of[root]) < 2 {
			continue
		}
		stretch := identity(k)[from:]
		saved[root] += v.seconds(v.l.rebuild(stretch, threads, b).rec) - v.seconds(cured.rebuild(stays(stretch), threads, b).rec)
	}
	for root, which := range of {
		if len(which) > 1 {
			share(found, which, saved[root])
		}
	}
	order := identity(n)
	if v.merged != nil {
		order, threads = v.inGroups(v.merged)
	}
	best := v.secondsOf(cured.rebuild(stays(order), threads, b))
	if v.order != nil {
		best = min(best, v.secondsOf(cured.rebuild(stays(v.order), identity(v.l.blocks), b)))
	}
	share(found, identity(len(found)), v.run.Seconds-best)
}

// share cuts the costs of some findings down to what they save together.
func share(found []*Finding, which []int, saved float64) {
	sum := 0.0
	for _, i := range which {
		sum += found[i].Seconds
	}
	if sum <= saved || sum <= 0 {
		return
	}
	// A hair less, so that the sum of what is rounded stays below.
	by := max(0, saved) / sum * (1 - 1e-12)
	for _, i := range which {
		found[i].Seconds *= by
	}
}

// cured is the layout with all cures done, objects still in their order, and
// which objects go.
func (v *survey) cured(all []cure) (*layout, []bool) {
	gone := make([]bool, len(v.l.objects))
	byObject := map[int][]cure{}
	byJoint := map[int]cure{}
	stops := map[int]bool{} // records
	for _, c := range all {
		switch c.kind {
		case cureOrder:
		case cureIdle:
			stops[c.n] = true
		case cureLeaveOut: // below
		case cureRunOn, cureOneCut:
			if byJoint[c.joint].kind != cureSpare {
				byJoint[c.joint] = c
			}
		case cureSpare:
			byJoint[c.joint] = c
		default:
			byObject[c.object] = append(byObject[c.object], c)
		}
	}
	for _, c := range all { // an object that joins its neighbour need not go
		if c.kind == cureLeaveOut && byJoint[c.object].kind != cureRunOn && byJoint[c.object+1].kind != cureRunOn {
			gone[c.object] = true
		}
	}
	out := &layout{trimAfter: v.l.trimAfter, holes: v.l.holes, end: v.l.end, blocks: v.l.blocks,
		objects: slices.Clone(v.l.objects), joints: slices.Clone(v.l.joints),
		rec: make([]stitch.Record, 0, len(v.l.rec))}
	for k := range out.joints {
		j := &out.joints[k]
		between := v.l.rec[j.from:j.to]
		if len(stops) > 0 {
			from := j.from
			between = idle(between, func(i int) bool { return stops[from+i] })
		}
		var lead []stitch.Record
		switch c := byJoint[k]; c.kind {
		case cureRunOn:
			lead = v.runOn(k, c.n)
			between = lead[:len(lead)-1]
		case cureOneCut:
			between = v.fewerStops(&v.l.joints[k], 0)
		case cureSpare:
			between = v.fewerStops(&v.l.joints[k], c.n)
			j.cuts = slices.Clone(j.cuts)
			for left := c.n; left > 0; left-- {
				if at := lastStop(j.cuts); at >= 0 {
					j.cuts = slices.Delete(j.cuts, at, at+1)
				}
			}
		}
		j.from = len(out.rec)
		out.rec = append(out.rec, between...)
		j.to = len(out.rec)
		if k == len(out.objects) {
			break
		}
		o := &out.objects[k]
		body := v.body(k, byObject[k])
		o.From = len(out.rec)
		out.rec = append(out.rec, body...)
		o.To = len(out.rec)
		if len(lead) > 0 {
			last := lead[len(lead)-1]
			out.rec[o.From].DX, out.rec[o.From].DY = last.DX, last.DY
			o.Lead = stitch.Point{X: o.Start.X - int(last.DX), Y: o.Start.Y - int(last.DY)}
		}
	}
	return out, gone
}

func lastStop(cuts []cut) int {
	for k := len(cuts) - 1; k >= 0; k-- {
		if cuts[k].op == stitch.ColourStop {
			return k
		}
	}
	return -1
}

// runOn leads the thread over joint k in n stitches, one at least: the last goes
// into the first hole of object k.
func (v *survey) runOn(k, n int) (out []stitch.Record) {
	a, b := &v.l.objects[k-1], &v.l.objects[k]
	dx, dy := b.Start.X-a.Exit.X, b.Start.Y-a.Exit.Y
	for n = max(n, 1); n > 0; n-- {
		sx, sy := dx/n, dy/n
		out = append(out, stitch.Record{DX: int16(sx), DY: int16(sy), Op: stitch.Sew})
		dx, dy = dx-sx, dy-sy
	}
	return out
}

// body is an object's records after the cures of its stitches. Its first stitch
// stays.
func (v *survey) body(object int, cures []cure) []stitch.Record {
	o := &v.l.objects[object]
	rec := v.l.rec[o.From:o.To]
	if len(cures) == 0 {
		return rec
	}
	was := identity(len(rec))     // of each record: its number at first
	of := make([]int32, len(rec)) // by that number: the cure it is part of, +1; or 1: it is struck once too often
	var has [cureShorten + 1]bool // by kind
	for _, c := range cures {
		has[c.kind] = true
		if i := int(v.l.holes[c.from].record) - o.From; c.kind == cureStrike && i > 0 {
			of[i] = 1
		}
	}
	if has[cureStrike] {
		rec = without(rec, func(i int) bool { return of[i] > 0 })
		was = slices.DeleteFunc(was, func(i int) bool { return of[i] > 0 })
	}
	for _, kind := range []cureKind{cureJoin, cureShorten} {
		if !has[kind] {
			continue
		}
		clear(of)
		for n, c := range cures {
			if c.kind != kind {
				continue
			}
			for i := int(v.l.holes[c.from].record) - o.From; i <= int(v.l.holes[c.to-1].record)-o.From; i++ {
				of[i] = int32(n + 1)
			}
		}
		var out []stitch.Record
		var number []int
		var change edit
		in := int32(0)
		for i, r := range rec {
			if c := of[was[i]]; c != in {
				if in = c; kind == cureJoin {
					change = joinTiny()
				} else {
					change = shorten(v.lim.LongStitch)
				}
			}
			if in == 0 || i == 0 || r.Op != stitch.Sew {
				out = append(out, r)
			} else {
				out = change(r, out)
			}
			for len(number) < len(out) {
				number = append(number, was[i])
			}
		}
		rec, was = out, number
	}
	return rec
}
