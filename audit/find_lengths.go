package audit

import (
	"math"

	"needlepace/stitch"
	"needlepace/words"
)

// Stitches too long and too short.
const (
	LongStitches  Kind = "long-stitches"
	SnagStitches  Kind = "snag-stitches"
	ShortStitches Kind = "short-stitches"
)

// cluster is holes within one object that belong together.
type cluster struct {
	object   int
	from, to int // holes: from ≤ k < to
	count    int
	most     float64 // mm
}

// clusters gathers the stitches, by the hole they lead to, for which is says yes; up
// to gap others may lie between two of one cluster. Those that jumps lead are for is to take.
func (v *survey) clusters(gap int, is func(k int, mm float64) bool) []cluster {
	var out []cluster
	for i := range v.l.objects {
		o := &v.l.objects[i]
		last := -1
		for k := o.First + 1; k < o.Last; k++ {
			mm := v.step(k)
			if !is(k, mm) {
				continue
			}
			if last < 0 || k-last > gap+1 {
				out = append(out, cluster{object: i, from: k})
			}
			c := &out[len(out)-1]
			c.to, c.count, c.most = k+1, c.count+1, max(c.most, mm)
			last = k
		}
	}
	return out
}

// led says whether jumps lead to hole k: not a stitch, unless it is carried.
func (v *survey) led(k int) bool { return v.l.holes[k].record != v.l.holes[k-1].record+1 }

// carryMM is the longest way along an axis that every format can write as one stitch, mm: a
// .dst record goes no further.
const carryMM = 12.1

// carried says whether the jumps to hole k only carry a stitch that is too long for a file: it
// is longer than a record can be, they go straight, and a stitch beside it is half as long
// at least, as in wide satin. What else jumps lead to leaves the thread lying.
func (v *survey) carried(o *Object, k int) bool {
	a, b := v.l.holes[k-1], v.l.holes[k]
	if max(abs32(b.x-a.x), abs32(b.y-a.y)) <= carryMM*stitch.UnitsPerMM {
		return false
	}
	half := v.long(k-1, k) / 2
	if !(k-2 >= o.First && v.long(k-2, k-1) >= half) && !(k+1 < o.Last && v.long(k, k+1) >= half) {
		return false
	}
	at := stitch.Point{X: int(a.x), Y: int(a.y)}
	for _, r := range v.l.rec[a.record+1 : b.record] {
		at.X, at.Y = at.X+int(r.DX), at.Y+int(r.DY)
		if r.Op != stitch.Jump || !within(int32(at.X), int32(at.Y), &line{a.x, a.y, b.x, b.y, 0}, spotLink) {
			return false
		}
	}
	return true
}

func abs32(n int32) int32 { return max(n, -n) }

// apart lets so many other stitches lie between two long ones of a stretch:
// fill and satin have them at every turn.
const apart = 60

// window is the records of an object that a change to a cluster can touch, and
// where the cluster's begin and end within them.
func (v *survey) window(c cluster) (rec []stitch.Record, from, to int) {
	o := &v.l.objects[c.object]
	first, last := int(v.l.holes[c.from].record), int(v.l.holes[c.to-1].record)+1
	a, b := max(o.From, first-v.clip), min(o.To, last+v.clip)
	return v.l.rec[a:b], first - a, last - a
}

// with is a copy of the window with every stitch of the cluster changed.
func (v *survey) with(c cluster, change edit) []stitch.Record {
	rec, from, to := v.window(c)
	out := append(make([]stitch.Record, 0, len(rec)+to-from), rec[:from]...)
	for _, r := range rec[from:to] {
		if r.Op == stitch.Sew {
			out = change(r, out)
		} else {
			out = append(out, r)
		}
	}
	return append(out, rec[to:]...)
}

// findLonger finds stretches of stitches longer than a limit, of least of them; those that jumps
// carry too where carried says so.
func (v *survey) findLonger(limit float64, least int, carried bool) []Finding {
	var found []Finding
	is := func(k int, mm float64) bool {
		return mm > limit && (!v.led(k) || carried && v.carried(&v.l.objects[v.objectOf(k)], k))
	}
	for _, c := range v.clusters(apart, is) {
		if c.count < least {
			continue
		}
		is, _, _ := v.window(c)
		now := v.seconds(is)
		shorter := v.with(c, shorten(limit))
		split := v.with(c, func(r stitch.Record, out []stitch.Record) []stitch.Record {
			mm := stitch.LengthMM(int(r.DX), int(r.DY))
			dx, dy := int(r.DX), int(r.DY)
			for n := max(1, int(math.Ceil(mm/limit))); n > 0; n-- {
				sx, sy := dx/n, dy/n
				out = append(out, stitch.Record{DX: int16(sx), DY: int16(sy), Op: stitch.Sew})
				dx, dy = dx-sx, dy-sy
			}
			return out
		})
		f := Finding{From: c.from, To: c.to, Count: c.count, Peak: c.most, Over: c.most / limit,
			Seconds: max(0, now-v.seconds(shorter)), Split: v.seconds(split) - now,
			cures: []cure{{kind: cureShorten, object: c.object, from: c.from, to: c.to}}}
		v.cover(&f, c.from, c.to)
		f = v.place(f, c.object)
		v.around(&f, c.from, c.to)
		found = append(found, f)
	}
	return found
}

// sayLong tells what splitting would give, in a run of this machine.
func sayLong(v *survey, f *Finding) {
	f.What = words.Say("finding.long", words.Args{"stitches": words.Count(f.Count, "stitch"),
		"limit": words.MM(v.lim.LongStitch), "most": words.MM(f.Peak)})
	switch d := f.Split; {
	case d > leastLoss:
		f.Ask = words.Say("finding.long-ask-keep", words.Args{"seconds": words.Seconds(d)})
	case d < -leastLoss:
		f.Ask = words.Say("finding.long-ask-split", words.Args{"seconds": words.Seconds(-d)})
	default:
		f.Ask = words.Say("finding.long-ask")
	}
}

// edit puts a stitch, changed, or nothing, or more in its place, at the end of out.
type edit func(r stitch.Record, out []stitch.Record) []stitch.Record

// shorten cuts a stitch down to so many mm.
func shorten(limit float64) edit {
	return func(r stitch.Record, out []stitch.Record) []stitch.Record {
		if mm := stitch.LengthMM(int(r.DX), int(r.DY)); mm > limit {
			r.DX, r.DY = int16(float64(r.DX)*limit/mm), int16(float64(r.DY)*limit/mm)
		}
		return append(out, r)
	}
}

// joinTiny sews the same way in stitches of a usable length.
func joinTiny() edit {
	dx, dy := 0, 0
	return func(r stitch.Record, out []stitch.Record) []stitch.Record {
		dx, dy = dx+int(r.DX), dy+int(r.DY)
		if stitch.LengthMM(dx, dy) < usable {
			return out
		}
		r.DX, r.DY = int16(dx), int16(dy)
		dx, dy = 0, 0
		return append(out, r)
	}
}

// leastLoss is the least a stretch of long stitches must cost on a run, in
// seconds, to be worth a line.
const leastLoss = 0.05

// findLong: the cost is the time over stitches cut down to the limit. Where
// this machine does not slow for them there is nothing to report.
func findLong(v *survey) []Finding {
	found := v.findLonger(v.lim.LongStitch, int(v.lim.LongRun), false)
	kept := found[:0]
	for _, f := range found {
		if f.Seconds >= leastLoss {
			kept = append(kept, f)
		}
	}
	return kept
}

// findSnags: the time is in findLong already.
func findSnags(v *survey) []Finding {
	found := v.findLonger(v.lim.SnagStitch, 1, true)
	for i := range found {
		found[i].Seconds, found[i].Split, found[i].cures = 0, 0, nil
		found[i].Risk = RiskSnag
	}
	return found
}

func saySnag(v *survey, f *Finding) {
	f.What = words.Say("finding.long", words.Args{"stitches": words.Count(f.Count, "stitch"),
		"limit": words.MM(v.lim.SnagStitch), "most": words.MM(f.Peak)})
	f.Ask = words.Say("finding.snag-ask", words.Args{"limit": words.MM(v.lim.SnagStitch)})
}

// rowStep reports whether the stitch to hole k only leads to the next row: those
// beside it are not tiny and lie side by side, sewn to and fro. Every fill has them,
// and every zigzag that goes twice into its corners.
func (v *survey) rowStep(k int) bool {
	if k < 2 || k+1 >= len(v.l.holes) || v.step(k-1) < v.lim.ShortStitch || v.step(k+1) < v.lim.ShortStitch {
		return false
	}
	a, b, c, d := v.l.holes[k-2], v.l.holes[k-1], v.l.holes[k], v.l.holes[k+1]
	return int64(b.x-a.x)*int64(d.x-c.x)+int64(b.y-a.y)*int64(d.y-c.y) < 0
}

// findShort: the cost is the time over the same way in stitches of a usable
// length.
func findShort(v *survey) []Finding {
	var found []Finding
	tiny := func(k int, mm float64) bool { return mm < v.lim.ShortStitch && !v.led(k) && !v.rowStep(k) }
	for _, c := range v.clusters(3, tiny) {
		if c.count < int(v.lim.ShortRun) {
			continue
		}
		is, _, _ := v.window(c)
		longer := v.with(c, joinTiny())
		f := Finding{From: c.from, To: c.to, Count: c.count, Risk: RiskBreak,
			Seconds: max(0, v.seconds(is)-v.seconds(longer)),
			cures:   []cure{{kind: cureJoin, object: c.object, from: c.from, to: c.to}}}
		v.cover(&f, c.from, c.to)
		f = v.place(f, c.object)
		v.around(&f, c.from, c.to)
		found = append(found, f)
	}
	return found
}

func sayShort(v *survey, f *Finding) {
	f.What = words.Say("finding.short", words.Args{"stitches": words.Count(f.Count, "stitch"),
		"limit": words.FineMM(v.lim.ShortStitch)})
	f.Ask = words.Say("finding.short-ask", words.Args{"usable": words.FineMM(usable)})
}

// usable is the shortest stitch that serves, in mm: run stitches of 1.5 to
// 2 mm are the best minimum (Printwear, Feb 2016, p. 61).
const usable = 1.5
