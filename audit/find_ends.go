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

// findLocks looks before every cut for small stitches with a turn among them.
// It costs no time; the thread comes undone.
func findLocks(v *survey) []Finding {
	var found []Finding
	for k := range v.l.objects {
		o := &v.l.objects[k]
		j := &v.l.joints[k+1]
		if o.Bare || v.locked(max(o.First+1, o.Last-lockWithin), o.Last, o.First) ||
			k == len(v.l.objects)-1 && len(j.cuts) == 0 && j.from == j.to && o.Last-o.First < 2 {
			continue
		}
		what := words.Say("finding.no-lock-trim")
		switch {
		case j.has(stitch.ColourStop):
			what = words.Say("finding.no-lock-colour")
		case k == len(v.l.objects)-1:
			what = words.Say("finding.no-lock-end")
		}
		f := Finding{From: o.Last, To: o.Last, Count: 1, Risk: RiskUnravel, What: what, Ask: words.Say("finding.no-lock-ask")}
		f.Block = o.Block
		f.X, f.Y = v.mm(o.Last - 1)
		found = append(found, f)
	}
	return v.mostly(found, words.Say("finding.no-locks", words.Args{"n": words.Whole(len(found)),
		"threads": words.Count(len(v.l.objects), "stretch")}))
}

// mostly makes one finding of those that nearly every object has: somebody left
// it to the machine, and a line for each would hide the rest.
func (v *survey) mostly(found []Finding, what words.Message) []Finding {
	n := len(v.l.objects)
	if len(found) < mostlyLeast || float64(len(found)) < v.lim.LockShare*float64(n) {
		return found
	}
	f := found[0]
	for _, x := range found {
		f.Places = append(f.Places, x.asPlace())
	}
	f.What, f.Count, f.Spread, f.To = what, len(found), true, found[len(found)-1].To
	return []Finding{f}
}

// mostlyLeast findings at least are made one.
const mostlyLeast = 5

// locked: of the stitches to holes from ≤ k < to at least two are small, and the
// needle turns back on one of them. first is the first hole of their object.
func (v *survey) locked(from, to, first int) bool {
	small, turns := 0, 0
	for k := from; k < to; k++ {
		if v.step(k) > v.lim.LockStitch {
			continue
		}
		small++
		if k-1 > first && v.turn(k-1) < 0 {
			turns++
		}
	}
	return small >= 2 && turns >= 1
}

// turn is the scalar product of the stitches to and from hole k, (0.1 mm)²:
// below 0 where the needle turns back. Hole k must have one before and after it.
func (v *survey) turn(k int) int64 {
	a, b, c := v.l.holes[k-1], v.l.holes[k], v.l.holes[k+1]
	return int64(b.x-a.x)*int64(c.x-b.x) + int64(b.y-a.y)*int64(c.y-b.y)
}

// findFew: the cost is the object and its cut, less the way past it.
func findFew(v *survey) []Finding {
	var found []Finding
	for k := range v.l.objects {
		o := &v.l.objects[k]
		n := o.Last - o.First
		if float64(n) >= v.lim.FewStitches || o.Wall {
			continue
		}
		f := Finding{From: o.First, To: o.Last, Count: 1,
			What: words.Say("finding.few", words.Args{"stitches": words.Count(n, "stitch")}),
			Ask:  words.Say("finding.few-ask")}
		before, after := &v.l.joints[k], &v.l.joints[k+1]
		if k > 0 && k+1 < len(v.l.objects) && len(before.cuts) == 1 && len(after.cuts) == 1 {
			a, b := &v.l.objects[k-1], &v.l.objects[k+1]
			with := append([]stitch.Record(nil), v.tail(a)...)
			with = append(with, v.l.rec[before.from:after.to]...)
			with = append(with, v.head(b)...)
			without := append([]stitch.Record(nil), v.tail(a)...)
			w := writer{&without, max(trimJumps, v.l.trimAfter), v.explicit}
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
			without = append(without, v.head(b)...)
			f.Seconds = max(0, v.seconds(with)-v.seconds(without))
			f.cures = []cure{{kind: cureLeaveOut, object: k}}
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
			if b.record == a.record+1 || v.step(k) <= v.lim.DragWay {
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
