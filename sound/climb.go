package sound

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// The fit to the strokes heard goes on from the numbers that they were given, and keeps to a
// wrong frame where these are wrong: what it must explain was found by that frame. What
// passages earn that are laid anew by another frame tells both at once.

// climbSteps are by how much (ln) the frame's accelerations and top speeds are changed; the set
// speed the fit tells better.
var climbSteps = [...]float64{0.4, 0.2, 0.1, 0.04}

const (
	climbStrokes = 1000 // that are laid for each law that is tried,
	climbWorst   = 350  // of which so many are of passages of which least is heard
	climbEarns   = 0.3  // what a step must earn, in clear strokes
	climbRounds  = 4    // at one step
	climbReach   = 0.25 // s that a passage may be off
)

// climbed is the hearing by the frame by which most is earned, sought from
// its own by ever smaller steps of one constant or of two at once.
func (h *hearing) climbed(by drifting) *hearing {
	if h.opt.Known {
		return h
	}
	some := h.climbSample()
	type place struct {
		from, to float64
		lost     bool
	}
	places := make([]place, len(some))
	for i, k := range some {
		places[i].from, places[i].to, places[i].lost = h.lost(k)
	}
	var terms []term
	for _, t := range h.fitted {
		if strings.HasPrefix(t.path, "frame.") {
			terms = append(terms, t)
		}
	}
	part := *h.score
	part.passages = nil
	for _, k := range some {
		part.passages = append(part.passages, h.score.passages[k])
	}
	earns := func(l law) float64 {
		sc := part.by(l)
		defer sc.done()
		sum := -h.unlikely(&l)
		for i, k := range some {
			t := *h.laid[k]
			t.passage = &sc.passages[i]
			t.want = make([]float64, len(t.at))
			if p := &places[i]; p.lost { // by another law it may lie elsewhere
				at, _ := h.seek(t.passage, p.from, p.to-t.total)
				for i := range t.want {
					t.want[i] = at + t.at[i]
				}
			} else {
				t.expectByLaw()
			}
			t.heard, t.gain = nil, nil
			t.follow(h.wide, h.o, by)
			sum += t.score
		}
		return sum
	}
	full := by
	by.reach = min(by.reach, climbReach)
	at, earned := h.law, earns(h.law)
	change := func(steps []float64) law {
		l := at.clone()
		for k, t := range terms {
			if steps[k] != 0 {
				t.set(&l, t.get(&l)*math.Exp(steps[k]))
			}
		}
		return l
	}
	moved := false
	for _, step := range climbSteps {
		for range climbRounds {
			best, found := earned+climbEarns, law{}
			try := func(steps []float64) (tells bool) {
				l := change(steps)
				v := earns(l)
				if v > best {
					best, found = v, l
				}
				return math.Abs(v-earned) > 0.01
			}
			one := make([]float64, len(terms))
			var told []int // constants that tell: others limit no stitch
			for k := range terms {
				one[k] = step
				up := try(one)
				one[k] = -step
				if down := try(one); up || down {
					told = append(told, k)
				}
				one[k] = 0
			}
			for i, a := range told {
				for _, b := range told[:i] {
					for _, f := range [][2]float64{{1, 1}, {-1, -1}, {1, -1}, {-1, 1}} {
						one[a], one[b] = f[0]*step, f[1]*step
						try(one)
					}
					one[b] = 0
				}
				one[a] = 0
			}
			if found.sheet == nil {
				break
			}
			at, earned, moved = found, best, true
		}
	}
	if !moved {
		return h
	}
	t := h.again()
	t.law = at
	t.relay()
	if now := t.lay(full).found(full); now.earned > h.earned {
		return now
	}
	return h
}

// climbSample are the passages that are laid for each law: of a long run those of which least is heard, for
// it may be the frame that is wrong in them, and others spread over it.
func (h *hearing) climbSample() []int {
	var all []int
	n := 0
	for k, l := range h.laid {
		if len(l.at) >= shortPassage {
			all, n = append(all, k), n+len(l.at)
		}
	}
	if n <= climbStrokes {
		return all
	}
	worst := slices.Clone(all)
	slices.SortStableFunc(worst, func(a, b int) int {
		return cmp.Compare(h.laid[a].score/float64(len(h.laid[a].at)), h.laid[b].score/float64(len(h.laid[b].at)))
	})
	strokes, taken := 0, 0
	for taken < len(worst) && strokes < climbWorst {
		strokes += len(h.laid[worst[taken]].at)
		taken++
	}
	few, others := worst[:taken:taken], worst[taken:]
	slices.Sort(others)
	every, sum, next := float64(n-strokes)/max(climbStrokes-climbWorst, 1), 0, 0.0
	for _, k := range others {
		if float64(sum) >= next {
			few, next = append(few, k), next+every*float64(len(h.laid[k].at))
		}
		sum += len(h.laid[k].at)
	}
	return few
}
