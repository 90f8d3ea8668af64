package audit

import (
	"math"

	"needlepace/stitch"
	"needlepace/words"
)

// NeedlessTrim is a trim where the thread could run on.
const NeedlessTrim Kind = "needless-trim"

// findTrims clocks each trim with a short or hidden way against the thread
// running on: a single stitch over a short way, a running stitch over a way
// that later stitches cover. Only the ends of the two objects are clocked; what
// lies further off cannot change.
func findTrims(v *survey) []Finding {
	var found []Finding
	for k := 1; k < len(v.l.objects); k++ {
		j := &v.l.joints[k]
		if len(j.cuts) != 1 || j.cuts[0].op != stitch.Trim {
			continue
		}
		a, b := &v.l.objects[k-1], &v.l.objects[k]
		dx, dy := b.Start.X-a.Exit.X, b.Start.Y-a.Exit.Y
		way := stitch.LengthMM(dx, dy)
		n := jumpsFor(dx, dy)
		f := Finding{From: b.First, To: b.First, Count: 1}
		switch {
		case way == 0:
			f.What, f.Ask = words.Say("finding.trim-same-hole"), words.Say("finding.trim-same-hole-ask")
		case way <= v.lim.TrimWay:
			f.What = words.Say("finding.trim-short", words.Args{"way": words.MM(way)})
			f.Ask = words.Say("finding.trim-short-ask")
		case way <= v.lim.CoveredWay && v.hidden(a.Exit, b.Start, k-1):
			n = max(n, int(math.Ceil(way/v.lim.CoveredStitch)))
			f.What = words.Say("finding.trim-covered", words.Args{"way": words.MM(way)})
			f.Ask = words.Say("finding.trim-covered-ask")
		default:
			continue
		}
		stitches := n
		with, without := v.ends(v.tail(a), v.l.rec[j.from:b.From+1], v.head(b)[1:], func(out []stitch.Record) []stitch.Record {
			for ; n > 0; n-- {
				sx, sy := dx/n, dy/n
				out = append(out, stitch.Record{DX: int16(sx), DY: int16(sy), Op: stitch.Sew})
				dx, dy = dx-sx, dy-sy
			}
			return out
		})
		if f.Seconds = v.seconds(with) - v.seconds(without); f.Seconds > 0 {
			f.cures = []cure{{kind: cureRunOn, joint: k, n: stitches}}
			f.Risk = RiskUnravel
			found = append(found, v.place(f, k))
		}
	}
	return found
}

// hidden says whether the straight way from a to b lies under what is sewn after
// object after. The way is as wide as thread, and so is what covers it. It is looked
// at along wayLines lines across that width, both edges included, at every 0.1 mm of
// them: CoveredShare of each must be covered, and nowhere may more than the width of a thread
// lie bare.
func (v *survey) hidden(a, b stitch.Point, after int) bool {
	dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
	long := math.Hypot(dx, dy)
	if long == 0 {
		return true
	}
	n, by := int(math.Ceil(long)), int32(-1)
	for k := range wayLines { // the middle and the edges first: most ways are bare there
		off := reach * (float64((k+1)*(wayLines/2)%wayLines)/(wayLines-1) - 0.5)
		x0, y0 := float64(a.X)-dy/long*off, float64(a.Y)+dx/long*off
		bare, gap := (1-v.lim.CoveredShare)*float64(n+1), 0
		for i := 0; i <= n; i++ {
			t := float64(i) / float64(n)
			by = v.grid.covered(x0+t*dx, y0+t*dy, after, wayReach*wayReach, by)
			if by >= 0 {
				gap = 0
				continue
			}
			bare--
			if gap++; bare < 0 || gap > reach {
				return false
			}
		}
	}
	return true
}

// wayLines is along how many lines a way is looked at: 0.05 mm from each other.
// wayReach is how far from its middle a thread covers, 0.1 mm: half its width and a
// quarter of what a file can tell, so that rows drawn side by side have no slits from
// rounding.
const (
	wayLines = 9
	wayReach = reach/2 + 0.25
)
