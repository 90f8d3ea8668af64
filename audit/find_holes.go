package audit

import (
	"fmt"
	"slices"
	"sort"

	"needlepace/stitch"
	"needlepace/words"
)

// Holes struck too often, and too many of them.
const (
	SameHole  Kind = "same-hole"
	DenseSpot Kind = "dense-spot"
)

// findSameHole finds the holes that the needle strikes SameHole times or more
// within an object, wherever in it. A stretch is the strikes of such holes that
// follow one another closely; a hole counts with the stretch that strikes it
// most. The cost is that of a stretch's strikes after the second.
func findSameHole(v *survey) []Finding {
	var found []Finding
	times := map[uint64]int32{}
	key := func(h hole) uint64 { return uint64(uint32(h.x))<<32 | uint64(uint32(h.y)) }
	least := int32(v.lim.SameHole)
	for i := range v.l.objects {
		o := &v.l.objects[i]
		clear(times)
		hot := false
		for _, h := range v.l.holes[o.First:o.Last] {
			k := key(h)
			times[k]++
			hot = hot || times[k] >= least
		}
		if !hot {
			continue
		}
		type stretch struct {
			cluster
			seen map[uint64]int32
		}
		var all []stretch
		var order []uint64 // the hot holes as they are first struck
		struck := map[uint64]bool{}
		for k := o.First; k < o.Last; k++ {
			h := key(v.l.holes[k])
			if times[h] < least {
				continue
			}
			if n := len(all); n == 0 || k-all[n-1].to > 20 {
				all = append(all, stretch{cluster{object: i, from: k}, map[uint64]int32{}})
			}
			s := &all[len(all)-1]
			s.seen[h]++
			s.to = k + 1
			if !struck[h] {
				struck[h] = true
				order = append(order, h)
			}
		}
		holes := make([][]int32, len(all)) // how often each of its holes is struck in all
		for _, h := range order {
			most := 0
			for n := range all {
				if all[n].seen[h] > all[most].seen[h] {
					most = n
				}
			}
			holes[most] = append(holes[most], times[h])
		}
		for n, of := range holes {
			if len(of) > 0 {
				found = append(found, v.sameHole(all[n].cluster, of, least))
			}
		}
	}
	return found
}

// sameHole is the finding of a stretch with how often each of its holes is struck.
func (v *survey) sameHole(c cluster, struck []int32, least int32) Finding {
	is, _, _ := v.window(c)
	strikes := map[[2]int]int{}
	x, y, dx, dy := 0, 0, 0, 0
	fewer := v.with(c, func(r stitch.Record, out []stitch.Record) []stitch.Record {
		x, y = x+int(r.DX), y+int(r.DY)
		dx, dy = dx+int(r.DX), dy+int(r.DY)
		if strikes[[2]int{x, y}]++; strikes[[2]int{x, y}] > 2 {
			return out
		}
		r.DX, r.DY = int16(dx), int16(dy)
		dx, dy = 0, 0
		return append(out, r)
	})
	what := fmt.Sprintf("the needle strikes %s %d times", words.Count(len(struck), "hole").Text(nil),
		slices.Max(struck))
	if len(struck) > 1 {
		what = fmt.Sprintf("the needle strikes %s %d times or more, up to %d",
			words.Count(len(struck), "hole").Text(nil), least, slices.Max(struck))
	}
	return v.place(Finding{From: c.from, To: c.to, Count: len(struck), Risk: RiskHole,
		Seconds: max(0, v.seconds(is)-v.seconds(fewer)),
		What:    what, Ask: "spread the stitches; twice in one hole is enough to lock"}, c.object)
}

// heat counts penetrations by square millimetre.
func (v *survey) heat() Heat {
	b := v.bounds
	if b.Empty {
		return Heat{}
	}
	h := Heat{}
	x0, y0 := floorDiv(b.MinX, stitch.UnitsPerMM), floorDiv(b.MinY, stitch.UnitsPerMM)
	h.X0, h.Y0 = float64(x0), float64(y0)
	h.NX, h.NY = floorDiv(b.MaxX, stitch.UnitsPerMM)-x0+1, floorDiv(b.MaxY, stitch.UnitsPerMM)-y0+1
	if int64(h.NX)*int64(h.NY) > maxHeat {
		v.off("density was not looked at: the design is %d × %d mm", h.NX, h.NY)
		return Heat{}
	}
	h.Counts = make([]int32, h.NX*h.NY)
	for _, p := range v.l.holes {
		h.Counts[h.cell(p)]++
	}
	return h
}

// maxHeat is the most cells of a heat picture: 4 m².
const maxHeat = 4_000_000

func (h *Heat) cell(p hole) int {
	return (floorDiv(int(p.y), stitch.UnitsPerMM)-int(h.Y0))*h.NX + floorDiv(int(p.x), stitch.UnitsPerMM) - int(h.X0)
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// findDense gathers neighbouring square millimetres with too many holes. It
// costs no time by itself; the thread breaks it makes are the floor's.
func findDense(v *survey) []Finding {
	h := &v.report.Penetrations
	spot := make([]int32, len(h.Counts)) // number of the spot, from 1
	type spotInfo struct {
		cells, first, last int
		peak               int32
		at                 int
	}
	var spots []spotInfo
	var stack []int
	for c, n := range h.Counts {
		if float64(n) <= v.lim.Density || spot[c] > 0 {
			continue
		}
		spots = append(spots, spotInfo{first: -1})
		id := int32(len(spots))
		s := &spots[id-1]
		spot[c] = id
		stack = append(stack[:0], c)
		for len(stack) > 0 {
			c := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			s.cells++
			if h.Counts[c] > s.peak {
				s.peak, s.at = h.Counts[c], c
			}
			x, y := c%h.NX, c/h.NX
			for ny := max(0, y-1); ny <= min(h.NY-1, y+1); ny++ {
				for nx := max(0, x-1); nx <= min(h.NX-1, x+1); nx++ {
					if k := ny*h.NX + nx; spot[k] == 0 && float64(h.Counts[k]) > v.lim.Density {
						spot[k] = id
						stack = append(stack, k)
					}
				}
			}
		}
	}
	if len(spots) == 0 {
		return nil
	}
	for k, p := range v.l.holes {
		if id := spot[h.cell(p)]; id > 0 {
			s := &spots[id-1]
			if s.first < 0 {
				s.first = k
			}
			s.last = k
		}
	}
	var found []Finding
	for _, s := range spots {
		f := Finding{From: s.first, To: s.last + 1, Count: s.cells, Risk: RiskBreak,
			What: fmt.Sprintf("up to %d penetrations in a square millimetre, over %d mm²", s.peak, s.cells),
			Ask:  "fewer layers over one another, or a wider spacing where they cross"}
		f = v.place(f, v.objectOf(s.first))
		f.X, f.Y = h.X0+float64(s.at%h.NX)+0.5, h.Y0+float64(s.at/h.NX)+0.5
		found = append(found, f)
	}
	return found
}

// objectOf finds the object of a hole.
func (v *survey) objectOf(k int) int {
	return max(0, sort.Search(len(v.l.objects), func(i int) bool { return v.l.objects[i].First > k })-1)
}
