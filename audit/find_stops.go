package audit

import (
	"slices"

	"needlepace/stitch"
	"needlepace/words"
)

// Colour stops that could go.
const (
	ThreadReturns Kind = "thread-returns"
	NoChange      Kind = "stop-without-change"
	DoubleCut     Kind = "double-cut"
)

// group is objects sewn one after the other in one thread: a colour block at
// first, several after they were put together.
type group struct {
	block  int // of its first object
	thread int
	list   int // of its objects in survey.lists: without a pointer a thousand are moved up at once
}

// in are the objects of a group, in their order.
func (v *survey) in(g group) []int { return v.lists[g.list] }

// groups are the objects by colour blocks.
func (v *survey) groups() []group {
	groups := make([]group, 0, v.l.blocks)
	v.lists = slices.Grow(v.lists, 2*v.l.blocks) // and those of groups put together
	all := identity(len(v.l.objects))
	for k, to := 0, 0; k < len(all); k = to {
		b := v.l.objects[k].Block
		for to = k + 1; to < len(all) && v.l.objects[to].Block == b; to++ {
		}
		groups = append(groups, group{block: b, thread: v.threads[b], list: len(v.lists)})
		v.lists = append(v.lists, all[k:to:to])
	}
	return groups
}

// stopFindings puts blocks of one thread together, one stop after the other,
// each costed with those before it done: so the costs of several add up to what
// all of them save.
func (v *survey) stopFindings() (noChange, returns []Finding) {
	if !v.known || v.touch == nil || v.l.blocks < 2 {
		return nil, nil
	}
	groups, cost := v.groups(), newStopCost(v)
	returns = make([]Finding, 0, len(groups))
	order := []cure{{kind: cureOrder}}
	// apply puts groups b and c together, if that saves time.
	apply := func(found *[]Finding, b, c, to int, say func(a, b words.Value) (what, ask words.Message)) bool {
		seconds := cost.saved(groups, b, c, to)
		if seconds <= leastSaved {
			return false
		}
		g := v.in(groups[c])
		f := Finding{From: v.l.objects[g[0]].First, To: v.l.objects[g[len(g)-1]].Last, Count: 1, Seconds: seconds,
			Risk: RiskWrong, cures: order}
		f.What, f.Ask = say(words.Whole(groups[b].block+1), words.Whole(groups[c].block+1))
		f = v.place(f, g[0])
		if c == b+1 { // the stop itself, not what would be sewn elsewhere
			f = v.atStop(f, g[0])
		}
		*found = append(*found, f)
		groups = v.merge(groups, b, c, to)
		return true
	}
	for c := 1; c < len(groups); {
		if v.ctx.Err() != nil {
			v.off(words.Say("finding.off-stops"))
			break
		}
		g := groups[c]
		same := func(a, b words.Value) (what, ask words.Message) {
			return words.Say("finding.no-change", words.Args{"a": a, "b": b}), words.Say("finding.no-change-ask")
		}
		back := func(a, b words.Value) (what, ask words.Message) {
			return words.Say("finding.returns", words.Args{"a": a, "b": b}), words.Say("finding.returns-ask", words.Args{"a": a, "b": b})
		}
		if groups[c-1].thread == g.thread && !v.l.walled(v.in(g)[0]) {
			before := v.in(groups[c-1])
			found, say := &noChange, same
			if v.l.objects[before[len(before)-1]].Block+1 != v.l.objects[v.in(g)[0]].Block { // others lay between, and are sewn elsewhere now
				found, say = &returns, back
			}
			if apply(found, c-1, c, c-1, say) {
				continue
			}
		}
		moved := false
		for b := c - 2; b >= 0 && !moved; b-- {
			if groups[b].thread != g.thread {
				continue
			}
			if to, ok := v.meet(groups, b, c); ok {
				moved = apply(&returns, b, c, to, back)
			}
			break
		}
		if !moved {
			c++
		} else if c > len(groups)-1 {
			break
		}
	}
	v.merged = groups
	return noChange, returns
}

// meet says where groups b and c, with others between, could be sewn together:
// at b if nothing between touches c, at c if nothing between touches b.
func (v *survey) meet(groups []group, b, c int) (int, bool) {
	free := func(g group) bool {
		for _, other := range groups[b+1 : c] {
			for _, i := range v.in(other) {
				for _, j := range v.in(g) {
					if v.touch.has(i, j) {
						return false
					}
				}
			}
		}
		return true
	}
	for _, g := range groups[b : c+1] {
		if slices.ContainsFunc(v.in(g), v.l.walled) {
			return 0, false
		}
	}
	switch {
	case free(groups[c]):
		return b, true
	case free(groups[b]):
		return c, true
	}
	return 0, false
}

// merge puts groups b and c together at the place of group at. It takes the
// slice over.
func (v *survey) merge(groups []group, b, c, at int) []group {
	// What append may write to behind the list of b belongs to nobody: of two lists that
	// go on from it only one is kept.
	v.lists = append(v.lists, append(v.in(groups[b]), v.in(groups[c])...))
	groups[at] = group{groups[b].block, groups[b].thread, len(v.lists) - 1}
	return slices.Delete(groups, b+c-at, b+c-at+1)
}

// arrange writes the groups in their order.
func (v *survey) arrange(groups []group) rebuilt {
	order, threads := v.inGroups(groups)
	return v.l.rebuild(order, threads, build{explicit: v.explicit})
}

// inGroups is the order of the objects in groups; only what is in one group
// shares a thread.
func (v *survey) inGroups(groups []group) (order, threads []int) {
	threads = identity(v.l.blocks)
	for _, g := range groups {
		for _, k := range v.in(g) {
			threads[v.l.objects[k].Block] = g.block
		}
		order = append(order, v.in(g)...)
	}
	return order, threads
}

// atStop moves a finding to where the frame stands at the last colour stop of joint
// k: what is sewn next may begin far from there.
func (v *survey) atStop(f Finding, k int) Finding {
	cuts := v.l.joints[k].cuts
	if at := lastStop(cuts); at >= 0 {
		f.X, f.Y = cuts[at].at.MM()
	}
	return f
}

func findReturns(v *survey) []Finding {
	v.noChange, v.returns = v.stopFindings()
	return v.returns
}

// findNoChange adds to the stops between blocks of one thread those that sew
// nothing before the next, or before the end.
func findNoChange(v *survey) []Finding {
	found := v.noChange
	for k := range v.l.joints {
		j := &v.l.joints[k]
		spare := j.count(stitch.ColourStop)
		if k > 0 && k < len(v.l.objects) {
			spare-- // one changes the thread
		}
		if spare < 1 || j.held {
			continue
		}
		rec := v.withoutStops(j, spare)
		f := Finding{Count: spare, Risk: RiskWrong, Seconds: v.run.Seconds - v.clock.Seconds(rec),
			What: words.Say("finding.empty-stop", words.Args{"stops": words.Count(spare, "colour-stop")}),
			Ask:  words.Say("finding.empty-stop-ask"), cures: []cure{{kind: cureSpare, joint: k, n: spare}}}
		if k == len(v.l.objects) {
			f.What = words.Say("finding.last-stop", words.Args{"stops": words.Count(spare, "colour-stop")})
			f.From = len(v.l.holes)
			f.To = f.From
			f = v.place(f, k-1)
		} else {
			f.From = v.l.objects[k].First
			f.To = f.From
			f = v.place(f, k)
		}
		if f.Seconds > 0 {
			found = append(found, v.atStop(f, k))
		}
	}
	return found
}

// withoutStops is the design without the last n colour stops of a joint.
func (v *survey) withoutStops(j *joint, n int) []stitch.Record {
	out := append([]stitch.Record(nil), v.l.rec[:j.from]...)
	return append(append(out, v.fewerStops(j, n)...), v.l.rec[j.to:]...)
}

// fewerStops is a joint without its last n colour stops. A cut that the last one
// made before a way becomes a trim.
func (v *survey) fewerStops(j *joint, n int) (out []stitch.Record) {
	w := writer{&out, max(trimJumps, v.l.trimAfter), v.explicit}
	left := j.count(stitch.ColourStop) - n
	if left == 0 && j.from > 0 { // at the end
		if j.dx != 0 || j.dy != 0 || j.has(stitch.Trim) {
			w.trim(stitch.Point{X: j.dx, Y: j.dy})
		}
		return out
	}
	for range left {
		w.put(stitch.ColourStop, 0, 0)
	}
	w.way(stitch.Point{X: j.dx, Y: j.dy}, 0)
	return out
}

// findDoubleCut: a colour stop cuts by itself (MODEL section 4).
func findDoubleCut(v *survey) []Finding {
	var found []Finding
	for k := 1; k < len(v.l.objects); k++ {
		j := &v.l.joints[k]
		if !j.has(stitch.Trim) || !j.has(stitch.ColourStop) || j.held {
			continue
		}
		b := &v.l.objects[k]
		with, without := v.ends(v.last(k-1), v.l.rec[j.from:j.to], v.first(k), func(out []stitch.Record) []stitch.Record {
			return append(out, v.fewerStops(j, 0)...)
		})
		if s := v.seconds(with) - v.seconds(without); s > 0 {
			found = append(found, v.atStop(v.place(Finding{From: b.First, To: b.First, Count: 1, Seconds: s,
				What: words.Say("finding.double-cut"), Ask: words.Say("finding.double-cut-ask"),
				cures: []cure{{kind: cureOneCut, joint: k}}}, k), k))
		}
	}
	return found
}
