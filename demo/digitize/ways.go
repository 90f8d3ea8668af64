package digitize

import "math"

// letter is a letter's strokes in place, before Bend, and the ways to sew it.
type letter struct {
	lines [][]Pt
	ways  []way
}

// way is one way to sew a letter.
type way struct {
	strokes      []int  // order
	turned, back []bool // entered at the last point; left where it was entered
	in, out      Pt
	cost         float64 // thread between the strokes, what shows counted more
}

const showing = 6 // how much worse thread beside the strokes is than thread on them

func (l Lettering) letter(g glyph, x float64) letter {
	inner := l.Height - l.Stroke
	raw := make([][]Pt, len(g.strokes))
	for i, s := range g.strokes {
		raw[i] = Map(s, func(q Pt) Pt { return Pt{x + l.Stroke/2 + q.X*inner, l.Stroke/2 + q.Y*inner} })
	}
	t := letter{lines: make([][]Pt, len(raw))}
	for i := range raw {
		t.lines[i] = l.ends(raw, i)
	}
	n := len(t.lines)
	end := func(s, e int) Pt {
		if e == 0 {
			return t.lines[s][0]
		}
		return t.lines[s][len(t.lines[s])-1]
	}
	link := map[[4]int]float64{}
	for s := range n {
		for r := range n {
			for e := range 4 {
				if s != r {
					link[[4]int{s, e & 1, r, e >> 1}] = l.shown(end(s, e&1), end(r, e>>1), raw)
				}
			}
		}
	}
	best := map[[2]Pt]int{} // by the points where the letter is entered and left
	var order []int
	var try func(used int)
	try = func(used int) {
		if len(order) < n {
			for s := range n {
				if used&(1<<s) == 0 {
					order = append(order, s)
					try(used | 1<<s)
					order = order[:len(order)-1]
				}
			}
			return
		}
		for code := range 1 << (2 * n) {
			w := way{turned: make([]bool, n), back: make([]bool, n)}
			for k, s := range order {
				first := code >> (2 * k) & 1
				last := 1 - first
				w.turned[k] = first == 1
				if code>>(2*k)&2 != 0 {
					w.back[k], last = true, first
				}
				if k == 0 {
					w.in = end(s, first)
				} else {
					prev := order[k-1]
					from := code >> (2 * (k - 1)) & 1
					if !w.back[k-1] {
						from = 1 - from
					}
					w.cost += link[[4]int{prev, from, s, first}]
				}
				w.out = end(s, last)
			}
			key := [2]Pt{w.in, w.out}
			if i, ok := best[key]; !ok {
				best[key] = len(t.ways)
			} else if t.ways[i].cost <= w.cost {
				continue
			} else {
				w.strokes = append([]int(nil), order...)
				t.ways[i] = w
				continue
			}
			w.strokes = append([]int(nil), order...)
			t.ways = append(t.ways, w)
		}
	}
	try(0)
	return t
}

// shown is the length of the straight way from a to b, what lies beside the
// strokes counted more.
func (l Lettering) shown(a, b Pt, lines [][]Pt) float64 {
	d := a.Dist(b)
	n := max(1, int(d/0.3))
	out := 0
	for i := range n {
		q := a.Lerp(b, (float64(i)+0.5)/float64(n))
		near := math.Inf(1)
		for _, c := range lines {
			for k := 1; k < len(c); k++ {
				on, _ := closest(q, c[k-1], c[k])
				near = min(near, q.Dist(on))
			}
		}
		if near > l.Stroke/2 {
			out++
		}
	}
	return d * (1 + showing*float64(out)/float64(n))
}

// order chooses a way for each letter so that the whole line of text has the
// least thread showing: a shortest path over the letters' ways.
func (l Lettering) order(word []letter) []way {
	const between = 1 + showing
	cost := make([][]float64, len(word))
	from := make([][]int, len(word))
	for i, t := range word {
		cost[i], from[i] = make([]float64, len(t.ways)), make([]int, len(t.ways))
		for k, w := range t.ways {
			if i == 0 {
				cost[i][k] = w.cost
				continue
			}
			cost[i][k] = math.Inf(1)
			for m, v := range word[i-1].ways {
				if c := cost[i-1][m] + between*v.out.Dist(w.in) + w.cost; c < cost[i][k] {
					cost[i][k], from[i][k] = c, m
				}
			}
		}
	}
	out := make([]way, len(word))
	k := 0
	for i := len(word) - 1; i >= 0; i-- {
		if i == len(word)-1 {
			for m := range cost[i] {
				if cost[i][m] < cost[i][k] {
					k = m
				}
			}
		}
		out[i] = word[i].ways[k]
		k = from[i][k]
	}
	return out
}
