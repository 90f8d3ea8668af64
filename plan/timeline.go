package plan

import (
	"math"
	"slices"
	"sort"
)

// hair is the tolerance in s for a lot that ends exactly with a shift:
// rounding must not push it over the night.
const hair = 1e-5

// timeline turns working seconds of a machine into seconds of the plan and
// back. A lot stands still while the machine is closed and goes on after.
type timeline struct {
	always bool // open at any time at rate 1: working seconds are plan seconds
	win    []Window
	cum    []float64 // working seconds before window i; one more: after the last
	rate   float64   // after the last window: the windows' average, so that a plan stays finite
	bucket []int32   // first window to look at for a working second
	perS   float64   // buckets a working second
	slow   []float64 // plan seconds a working second in window i
}

// linesOf are machines' time lines by their windows.
func linesOf(windows [][]Window) (lines []timeline) {
	for _, win := range windows {
		lines = append(lines, newTimeline(win))
	}
	return lines
}

func newTimeline(win []Window) timeline {
	if len(win) == 0 {
		return timeline{always: true}
	}
	t := timeline{}
	for _, w := range win {
		if w.Rate == 0 {
			w.Rate = 1
		}
		w.From = max(w.From, 0)
		if w.To > w.From && w.Rate > 0 {
			t.win = append(t.win, w)
		}
	}
	if len(t.win) == 0 { // closed for good as far as anyone knows
		t.win = []Window{{0, 0, 1}}
	}
	t.cum = make([]float64, len(t.win)+1)
	for i, w := range t.win {
		t.cum[i+1] = t.cum[i] + (w.To-w.From)*w.Rate
		t.slow = append(t.slow, 1/w.Rate)
	}
	last := t.win[len(t.win)-1].To
	total := t.cum[len(t.win)]
	t.rate = 1
	if last > 0 && total > 0 {
		t.rate = total / last
	}
	n := 2 * len(t.win)
	width := max(total/float64(n), 1e-9)
	t.perS = 1 / width
	t.bucket = make([]int32, n+1)
	k := 0
	for b := range t.bucket {
		for k < len(t.win)-1 && t.cum[k+1] < float64(b)*width*(1-1e-9) {
			k++
		}
		t.bucket[b] = int32(k)
	}
	return t
}

// end is when e working seconds are done: the earliest such second.
func (t *timeline) end(e float64) float64 {
	if t.always {
		return e
	}
	e -= hair
	if e <= 0 {
		return min(t.win[0].From, max(e+hair, 0))
	}
	n := len(t.win)
	if e > t.cum[n] {
		return t.win[n-1].To + (e-t.cum[n])/t.rate + hair
	}
	k := int(t.bucket[min(int(e*t.perS), len(t.bucket)-1)])
	for t.cum[k+1] < e {
		k++
	}
	return t.win[k].From + (e-t.cum[k])*t.slow[k] + hair
}

// start is when the work after e working seconds begins: the latest such second.
func (t *timeline) start(e float64) float64 {
	if t.always {
		return e
	}
	n := len(t.win)
	if e+hair >= t.cum[n] {
		return t.win[n-1].To + max(e-t.cum[n], 0)/t.rate
	}
	k := sort.Search(n, func(i int) bool { return t.cum[i+1] > e+hair })
	return t.win[k].From + max(e-t.cum[k], 0)/t.win[k].Rate
}

// work is the working seconds until second s.
func (t *timeline) work(s float64) float64 {
	if t.always || math.IsInf(s, 1) {
		return s
	}
	n := len(t.win)
	if s >= t.win[n-1].To {
		return t.cum[n] + (s-t.win[n-1].To)*t.rate
	}
	k := sort.Search(n, func(i int) bool { return t.win[i].To > s })
	return t.cum[k] + max(s-t.win[k].From, 0)*t.win[k].Rate
}

// horizon is the end of the last window; +Inf without windows.
func (t *timeline) horizon() float64 {
	if t.always {
		return math.Inf(1)
	}
	return t.win[len(t.win)-1].To
}

// Staffed gives each machine's windows with the rate that the operators on duty allow.
func Staffed(p *Problem) [][]Window { return staffed(p) }

// staffed gives each machine's windows with the rate that the operators on
// duty allow: where the open machines ask for more operators than there are,
// all of them run slower in proportion. It is an average over waiting times:
// the floor's simulation says what a shift really yields. Outside all
// presences nobody is there.
func staffed(p *Problem) [][]Window {
	out := make([][]Window, len(p.Machines))
	for m := range p.Machines {
		out[m] = p.Machines[m].Windows
	}
	if len(p.Crew) == 0 {
		return out
	}
	var cuts []float64
	for _, c := range p.Crew {
		cuts = append(cuts, c.From, c.To)
	}
	for _, ws := range out {
		for _, w := range ws {
			cuts = append(cuts, w.From, w.To)
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	next := make([]int, len(out)) // first window of each machine not yet passed
	res := make([][]Window, len(out))
	open := make([]float64, len(out))
	for i := 0; i+1 < len(cuts); i++ {
		a, b := cuts[i], cuts[i+1]
		if b <= 0 {
			continue
		}
		operators := 0.0
		for _, c := range p.Crew {
			if c.From <= a && b <= c.To {
				operators += c.Operators
			}
		}
		asked := 0.0
		for m, ws := range out {
			open[m] = 0
			for next[m] < len(ws) && ws[next[m]].To <= a {
				next[m]++
			}
			if len(ws) == 0 {
				open[m] = 1
			} else if next[m] < len(ws) && ws[next[m]].From <= a {
				open[m] = ws[next[m]].Rate
				if open[m] == 0 {
					open[m] = 1
				}
			}
			if open[m] > 0 {
				asked += p.Machines[m].Attention
			}
		}
		for m := range out {
			rate := open[m]
			if p.Machines[m].Attention > 0 && asked > operators {
				rate *= operators / asked
			}
			if rate <= 0 {
				continue
			}
			if k := len(res[m]) - 1; k >= 0 && res[m][k].To == a && res[m][k].Rate == rate {
				res[m][k].To = b
			} else {
				res[m] = append(res[m], Window{a, b, rate})
			}
		}
	}
	for m := range res {
		if len(res[m]) == 0 { // nobody ever there: closed, not "always open"
			res[m] = []Window{{0, 0, 1}}
		}
	}
	return res
}
