package audit

import (
	"needlepace/stitch"
	"needlepace/words"
)

// How objects begin and end.
const (
	MissingLock   Kind = "missing-lock"
	FewStitches   Kind = "few-stitches"
	DraggedThread Kind = "dragged-thread"
)

// lockWithin is how many stitches beside a cut are looked at for a lock.
const lockWithin = 6

// loose says of each object whether its thread is locked neither where it begins
// (starts) nor where it ends (ends), and whether nearly every one is so: then
// somebody left it to the machine.
type loose struct {
	starts, ends         []bool
	mostStarts, mostEnds bool
}

// loose looks behind every cut, and at the start, for lock stitches, and before
// every cut, and at the end. Common practice, no published source: lock stitches at
// both ends of a thread.
func (v *survey) loose() *loose {
	if v.unlocked != nil {
		return v.unlocked
	}
	n := len(v.l.objects)
	u := &loose{starts: make([]bool, n), ends: make([]bool, n)}
	v.unlocked = u
	starts, ends := 0, 0
	for k := range v.l.objects {
		o, j := &v.l.objects[k], &v.l.joints[k+1]
		few := o.Last-o.First < int(v.lim.FewStitches) // that is findFew's
		u.starts[k] = !o.Bare && !few && !v.lockedAt(o, false)
		sews := k < n-1 || len(j.cuts) > 0 || j.from < j.to || o.Last-o.First > 1
		u.ends[k] = !o.Bare && sews && !v.lockedAt(o, true)
		if u.starts[k] {
			starts++
		}
		if u.ends[k] {
			ends++
		}
	}
	u.mostStarts, u.mostEnds = v.most(starts), v.most(ends)
	return u
}

// saidAt is the object at whose loose end the loose beginning of object k is said:
// what one look takes in is one thing to do. A cut has two sides, and a closed line
// begins where it ends. −1: it stands for itself.
func (v *survey) saidAt(k int) int {
	u := v.loose()
	if u.mostStarts || u.mostEnds {
		return -1
	}
	for i := max(0, k-1); i <= k; i++ {
		if u.ends[i] && v.long(v.l.objects[k].First, v.l.objects[i].Last-1) <= oneLook*stitch.UnitsPerMM {
			return i
		}
	}
	return -1
}

// findLocks: a loose end costs no time; the thread comes undone.
func findLocks(v *survey) []Finding {
	u := v.loose()
	ends := 0
	for _, is := range u.ends {
		if is {
			ends++
		}
	}
	found := make([]Finding, 0, ends)
	begin, beside := 0, map[int]int{} // loose beginnings, in all and by the end they are said at
	for k, is := range u.starts {
		if is {
			begin++
			beside[v.saidAt(k)]++
		}
	}
	for k := range v.l.objects {
		o := &v.l.objects[k]
		if !u.ends[k] {
			continue
		}
		what := words.Say("finding.no-lock-trim")
		switch {
		case v.l.joints[k+1].has(stitch.ColourStop):
			what = words.Say("finding.no-lock-colour")
		case k == len(v.l.objects)-1:
			what = words.Say("finding.no-lock-end")
		}
		f := Finding{From: o.Last, To: o.Last, Count: 1, Risk: RiskUnravel, What: what, Ask: words.Say("finding.no-lock-ask")}
		if beside[k] > 0 {
			f.Count, f.What = 1+beside[k], words.Say("finding.no-lock-nor-tie-in", words.Args{"what": what})
			f.Ask = words.Say("finding.no-lock-nor-tie-in-ask")
		}
		f.Block = o.Block
		f.X, f.Y = v.mm(o.Last - 1)
		found = append(found, f)
	}
	if !u.mostEnds {
		return found
	}
	n, threads := words.Whole(len(found)), words.Count(len(v.l.objects), "stretch")
	if !u.mostStarts {
		return asOne(found, words.Say("finding.no-locks", words.Args{"n": n, "threads": threads}))
	}
	all := asOne(found, words.Say("finding.no-locks-nor-tie-ins", words.Args{"n": n, "threads": threads,
		"begin": words.Whole(begin)}))
	all[0].Count, all[0].Ask = all[0].Count+begin, words.Say("finding.no-lock-nor-tie-in-ask")
	return all
}

// most says whether nearly every object has such an end.
func (v *survey) most(ends int) bool {
	return ends >= mostlyLeast && float64(ends) >= v.lim.LockShare*float64(len(v.l.objects))
}

// asOne makes one finding of those that nearly every object has: a line for
// each would hide the rest.
func asOne(found []Finding, what words.Message) []Finding {
	f := found[0]
	for _, x := range found {
		f.Places = append(f.Places, x.asPlace())
	}
	f.What, f.Count, f.Spread, f.To = what, len(found), true, found[len(found)-1].To
	return []Finding{f}
}

// mostlyLeast findings at least are made one.
const mostlyLeast = 5

// tinyLeast to tinyMost tiny stitches in a row lock the thread, straight on too, if
// the next one is so much longer than they are. Else they are a line of tiny ones.
const (
	tinyLeast  = 3
	tinyMost   = 8
	tinyLonger = 1.8
)

// overItself is the cosine between two stitches of which the second leads back over
// the first, and not along the edge to the next row, as in a fill.
const overItself = -0.5

// lockedAt reports whether the thread of an object is locked where it begins, or
// ends, in one of the two ways that are common practice (no published source): a
// small stitch back over a small one before it, or a few tiny ones in a row.
func (v *survey) lockedAt(o *Object, end bool) bool {
	if end {
		return v.tied(max(o.First+1, o.Last-lockWithin+1), o.Last, o.First, o.Last-1) || v.tiny(o, end)
	}
	return v.tied(o.First+1, min(o.Last, o.First+1+lockWithin), o.First, o.First) || v.tiny(o, end)
}

// tied reports whether one of the stitches to holes from ≤ k < to leads back over
// the one before it, both small and no farther than two such from hole end, where
// the thread begins or ends. first is the first hole of their object.
func (v *survey) tied(from, to, first, end int) bool {
	for k := from; k < to; k++ {
		if v.lockTurn(k, first, end) {
			return true
		}
	}
	return false
}

// tiny reports whether a few tiny stitches stand where an object begins, or ends, and
// as close to it. More stitches into one hole are tiny ones.
func (v *survey) tiny(o *Object, end bool) bool {
	n, sum := 0, 0.0
	for m := 1; m < o.Last-o.First && n <= tinyMost; m++ {
		k, far := o.First+m, v.long(o.First, o.First+m-1)
		if end {
			k, far = o.Last-m, v.long(o.Last-1, o.Last-m)
		}
		switch mm := v.step(k); {
		case n == 0 && (m > lockWithin || far > 2*v.lim.LockStitch*stitch.UnitsPerMM):
			return false
		case mm <= v.lim.LockTiny:
			n, sum = n+1, sum+mm
		case n >= tinyLeast:
			return mm*float64(n) >= tinyLonger*sum
		default:
			n, sum = 0, 0
		}
	}
	return false
}

// lockTurn reports whether the stitch to hole k leads back over the last one with a
// length before it, both small and close to hole end.
func (v *survey) lockTurn(k, first, end int) bool {
	j := k - 1
	for j > first && v.step(j) == 0 {
		j--
	}
	most := v.lim.LockStitch * stitch.UnitsPerMM
	if j <= first || v.long(j, k) > most || v.long(j-1, j) > most || v.long(j, end) > 2*most {
		return false
	}
	a, b, c := v.l.holes[j-1], v.l.holes[j], v.l.holes[k]
	dot := int64(b.x-a.x)*int64(c.x-b.x) + int64(b.y-a.y)*int64(c.y-b.y)
	return float64(dot) < overItself*v.long(j-1, j)*v.long(j, k)
}

// turn is the scalar product of the stitches to and from hole k, (0.1 mm)²:
// below 0 where the needle turns back. Hole k must have one before and after it.
func (v *survey) turn(k int) int64 {
	a, b, c := v.l.holes[k-1], v.l.holes[k], v.l.holes[k+1]
	return int64(b.x-a.x)*int64(c.x-b.x) + int64(b.y-a.y)*int64(c.y-b.y)
}

// findFew: the cost is the object and its cut, less the way past it.
func findFew(v *survey) []Finding {
	few := func(o *Object) bool { return float64(o.Last-o.First) < v.lim.FewStitches && !o.Wall }
	all := 0
	for k := range v.l.objects {
		if few(&v.l.objects[k]) {
			all++
		}
	}
	found := make([]Finding, 0, all)
	cures := make([]cure, 0, all)
	say := map[int]words.Message{} // by the number of stitches
	for k := range v.l.objects {
		o := &v.l.objects[k]
		n := o.Last - o.First
		if !few(o) {
			continue
		}
		if say[n].IsZero() {
			say[n] = words.Say("finding.few", words.Args{"stitches": words.Count(n, "stitch")})
		}
		f := Finding{From: o.First, To: o.Last, Count: 1, What: say[n], Ask: words.Say("finding.few-ask")}
		before, after := &v.l.joints[k], &v.l.joints[k+1]
		if k > 0 && k+1 < len(v.l.objects) && len(before.cuts) == 1 && len(after.cuts) == 1 {
			a, b := &v.l.objects[k-1], &v.l.objects[k+1]
			with, without := v.ends(v.last(k-1), v.l.rec[before.from:after.to], v.first(k+1), func(out []stitch.Record) []stitch.Record {
				w := writer{&out, max(trimJumps, v.l.trimAfter), v.explicit}
				way := stitch.Point{X: b.Lead.X - a.Exit.X, Y: b.Lead.Y - a.Exit.Y}
				stops := before.count(stitch.ColourStop) + after.count(stitch.ColourStop)
				if stops == 0 {
					w.trim(way)
				} else {
					w.colour(way)
					for range stops - 1 { // the colours stay what they are
						w.put(stitch.ColourStop, 0, 0)
					}
				}
				return out
			})
			f.Seconds = max(0, v.seconds(with)-v.seconds(without))
			cures = append(cures, cure{kind: cureLeaveOut, object: k})
			f.cures = cures[len(cures)-1 : len(cures) : len(cures)]
		}
		found = append(found, v.place(f, k))
	}
	return found
}

// findDrags looks for jumps inside objects and before cuts, where the thread is
// not cut. A trim would cost time; what is lost here is the trimming by hand.
func findDrags(v *survey) []Finding {
	var found []Finding
	for i := range v.l.objects {
		o := &v.l.objects[i]
		for k := o.First + 1; k < o.Last; k++ {
			a, b := v.l.holes[k-1], v.l.holes[k]
			if !v.led(k) || v.step(k) <= v.lim.DragWay || v.carried(o, k) {
				continue
			}
			jumps := 0
			for _, r := range v.l.rec[a.record+1 : b.record] {
				if r.Op == stitch.Jump {
					jumps++
				}
			}
			if jumps == 0 {
				continue
			}
			if v.hidden(stitch.Point{X: int(a.x), Y: int(a.y)}, stitch.Point{X: int(b.x), Y: int(b.y)}, i) {
				continue // nobody will see it, nor cut it
			}
			f := Finding{From: k, To: k, Count: 1, Risk: RiskLoose, Over: v.step(k) / v.lim.DragWay,
				What: words.Say("finding.drag", words.Args{"jumps": words.Count(jumps, "jump"), "way": words.MM(v.step(k))}),
				Ask:  words.Say("finding.drag-ask")}
			found = append(found, v.place(f, i))
		}
	}
	return found
}
