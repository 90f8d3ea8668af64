package audit

import (
	"math"
	"slices"

	"needlepace/stitch"
	"needlepace/words"
)

// NoUnderlay is wide satin with nothing sewn under it.
const NoUnderlay Kind = "no-underlay"

// A column is looked at across every fourth stitch, at points 0.3 mm apart; it
// has underlay if an earlier thread lies under underlaidShare of these stitches.
// Engineering choices: the ends of a column and its corners often have none.
const (
	underlayEvery  = 4
	underlayStep   = 3 // 0.1 mm
	underlaidShare = 0.4
	underlayShort  = 50  // 0.1 mm: a shorter column is a detail
	underlayLong   = 100 // 0.1 mm: so much of a longer one that has none counts by itself
)

// findUnderlay looks for satin wider than WideSatin that lies on the bare cloth, all of
// a column or a long stretch of it.
// Common practice, no published source: such satin has an underlay, or it sinks
// in and pulls the cloth together.
func findUnderlay(v *survey) []Finding {
	var found []Finding
	for _, c := range v.columnsOf(columnOpen) {
		if width, length := v.sizeOf(c); width <= v.lim.WideSatin*stitch.UnitsPerMM || length < underlayShort {
			continue
		}
		looked, under := 0, 0
		before := v.lineNumbers()[c.from]
		var bare []column // stretches of it
		from := c.from
		for k := c.from; k+1 < c.to; k += underlayEvery {
			looked++
			if !v.overThread(k, before) {
				continue
			}
			under++
			bare = append(bare, column{c.object, from, k})
			from = k + underlayEvery
		}
		bare = append(bare, column{c.object, min(from, c.to-1), c.to})
		if float64(under) < underlaidShare*float64(looked) {
			bare = []column{c}
		} else {
			bare = slices.DeleteFunc(bare, func(c column) bool {
				_, length := v.sizeOf(c)
				return length < underlayLong
			})
		}
		for _, c := range bare {
			width, _ := v.sizeOf(c)
			f := Finding{From: c.from, To: c.to, Count: c.to - c.from - 1, Peak: width / stitch.UnitsPerMM, Risk: RiskPucker,
				Over: width / stitch.UnitsPerMM / v.lim.WideSatin}
			v.cover(&f, c.from, c.to)
			f = v.place(f, c.object)
			v.around(&f, c.from, c.to)
			found = append(found, f)
		}
	}
	return found
}

func sayUnderlay(_ *survey, f *Finding) {
	f.What = words.Say("finding.no-underlay", words.Args{"stitches": words.Count(f.Count, "stitch"),
		"wide": words.MM(f.Peak)})
	f.Ask = words.Say("finding.no-underlay-ask")
}

// sizeOf is how wide a column is on average, across it and not along its slanting
// stitches, and how long, 0.1 mm.
func (v *survey) sizeOf(c column) (width, length float64) {
	on := 0.0 // from one stitch to the next
	for k := c.from; k+1 < c.to; k++ {
		if k+2 < c.to {
			on = v.long(k, k+2) / 2
			length += on
		}
		long := v.long(k, k+1)
		width += math.Sqrt(max(0, long*long-on*on))
	}
	return width / float64(max(1, c.to-c.from-1)), length
}

// overThread says whether a line of thread before number lies under the stitch
// from hole k.
func (v *survey) overThread(k, number int) bool {
	a, b := v.l.holes[k], v.l.holes[k+1]
	dx, dy := float64(b.x-a.x), float64(b.y-a.y)
	n := int(math.Hypot(dx, dy)) / underlayStep
	for i := 1; i < n; i++ {
		t := float64(i) / float64(n)
		x, y := a.x+int32(t*dx), a.y+int32(t*dy)
		if v.grid.any(x, y, reach*reach/4, func(line int) bool { return line < number }) {
			return true
		}
	}
	return false
}

// lineNumbers is for each hole how many lines of thread lie before it, once.
func (v *survey) lineNumbers() []int {
	if v.numbers != nil {
		return v.numbers
	}
	v.numbers = make([]int, len(v.l.holes))
	n := 0
	for i := range v.l.objects {
		o := &v.l.objects[i]
		for k := o.First; k < o.Last; k++ {
			if k > o.First && (v.l.holes[k].x != v.l.holes[k-1].x || v.l.holes[k].y != v.l.holes[k-1].y) {
				n++
			}
			v.numbers[k] = n
		}
		if o.Bare {
			n++
		}
	}
	return v.numbers
}
