package audit

import (
	"cmp"
	"math"
	"slices"

	"needlepace/stitch"
	"needlepace/words"
)

// DenseSpot is too many holes close together.
const DenseSpot Kind = "dense-spot"

// What is close is reckoned around every hole and not on a grid: a spot is the
// same one wherever the design lies and however it is turned.
const (
	spotReach  = 5   // 0.1 mm: the radius of a square millimetre, 0.56 mm, in whole ones
	spotReach2 = 31  // its square: 97 places of 0.1 mm lie so near
	spotLink   = 10  // 0.1 mm: holes up to so far apart are of one spot
	spotRing   = 0.8 // mm around its middle
)

// findDense gathers the holes around which a square millimetre has too many. It
// costs no time by itself; the thread breaks it makes are the floor's. A lock or
// a sharp corner fills a square millimetre too and harms nothing: a spot smaller
// than a stack counts only where it is far beyond the limit.
func findDense(v *survey) []Finding {
	b, near := v.places(), v.crowd()
	spots := newSets(len(b.at))
	for i, p := range b.at {
		if float64(near[i]) > v.lim.Density {
			b.near(p, spotLink, spotLink*spotLink, func(o int32) {
				if int(o) < i && float64(near[o]) > v.lim.Density {
					spots.join(int(o), i)
				}
			})
		}
	}
	in := map[int][]int{} // the places of a spot
	for i := range near {
		if float64(near[i]) > v.lim.Density {
			in[spots.of(i)] = append(in[spots.of(i)], i)
		}
	}
	var found []Finding
	for _, of := range in {
		f := Finding{Spread: true, Radius: spotRing, Risk: RiskBreak}
		area := 0.0 // mm²: n holes with n around each fill one
		var holes []int
		for _, i := range of {
			p := b.at[i]
			area += float64(p.strikes()) / float64(near[i])
			if peak := float64(near[i]); peak > f.Peak {
				f.Peak = peak
				f.X, f.Y = float64(p.x)/stitch.UnitsPerMM, float64(p.y)/stitch.UnitsPerMM
			}
			for _, k := range b.strikes(p) {
				holes = append(holes, int(k))
			}
			f.lies(float64(p.x), float64(p.y))
		}
		slices.Sort(holes)
		f.Count, f.Over = max(1, int(math.Round(area))), f.Peak/v.lim.Density
		if f.Count < stackLeast && f.Over < lockOver {
			continue
		}
		f.From, f.To = mostOf(holes)
		f.Block = v.l.objects[v.objectOf(f.From)].Block
		if f.Severity = worse(Shows, f.Over); f.Severity == Hurts {
			f.Risk = RiskNeedle
		}
		found = append(found, f)
	}
	slices.SortFunc(found, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y))
	})
	return found
}

// lockOver is how far a lock may pass the limit of penetrations: four stitches to
// and fro on a corner of satin stay below. Engineering choice.
const lockOver = 1.5

// crowd is how many holes lie in the square millimetre around each place; 0 where they
// cannot be more than Density.
func (v *survey) crowd() []int32 {
	b := v.places()
	if v.crowded == nil {
		v.crowded = make([]int32, len(b.at))
		for i, p := range b.at {
			if float64(b.most(p, spotReach)) > v.lim.Density {
				v.crowded[i] = b.count(p, spotReach, spotReach2)
			}
		}
	}
	return v.crowded
}

// mostOf is the shortest stretch of sewing in which three in four of some holes, in
// their order, are struck: a thread that comes by early or late does not make it
// long.
func mostOf(holes []int) (from, to int) {
	n := (3*len(holes) + 3) / 4
	from, to = holes[0], holes[len(holes)-1]+1
	for i := n - 1; i < len(holes); i++ {
		if a, b := holes[i-n+1], holes[i]+1; b-a < to-from {
			from, to = a, b
		}
	}
	return from, to
}

func sayDense(_ *survey, f *Finding) {
	f.What = words.Say("finding.dense", words.Args{"peak": words.Count(int(f.Peak), "penetration"),
		"one": words.AreaMM2(1), "area": words.AreaMM2(f.Count)})
	f.Ask = words.Say("finding.dense-ask")
}
