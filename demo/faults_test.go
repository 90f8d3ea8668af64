package demo

import (
	"fmt"
	"math"
	"slices"

	"needlepace/stitch"
)

// check says what is missing where the fault is not in the file.
func (s sewn) check(f Fault) error {
	switch f.Kind {
	case NeedlessTrim:
		for _, c := range s.trims {
			if c.at == f.From {
				if c.mm > 5.5 && !s.covered(c.at) {
					return fmt.Errorf("the way is %.1f mm and shows", c.mm)
				}
				return nil
			}
		}
		return fmt.Errorf("no trim there")
	case ThreadReturns:
		return s.returns(f)
	case StopWithoutChange:
		if f.Block == 0 || s.Threads[f.Block] != s.Threads[f.Block-1] {
			return fmt.Errorf("the thread changes")
		}
	case LongStitches, TinyStitches:
		n := 0
		for _, l := range s.mm[f.From:f.To] {
			if f.Kind == LongStitches && l >= LongMM || f.Kind == TinyStitches && l < TinyMM {
				n++
			}
		}
		if n != f.Count || n < 5 {
			return fmt.Errorf("%d such stitches, table has %d", n, f.Count)
		}
	case RepeatedHoles:
		n := 0
		for _, k := range s.holes(f.From, f.To) {
			if k >= 3 {
				n++
			}
		}
		if n != f.Count {
			return fmt.Errorf("%d such holes, table has %d", n, f.Count)
		}
	case DenseSpot:
		for _, n := range s.cells(f.From, f.To) {
			if n > 8 {
				return nil
			}
		}
		return fmt.Errorf("no square millimetre with more than 8 penetrations")
	case MissingLock:
		for _, c := range s.trims {
			if c.at == f.From {
				if s.locked(c.at) {
					return fmt.Errorf("the trim has a lock")
				}
				return nil
			}
		}
		return fmt.Errorf("no trim there")
	case FewStitches:
		from, to := 0, len(s.at)
		for _, c := range append(cuts(s.trims), s.stops...) {
			if c <= f.From {
				from = max(from, c)
			} else {
				to = min(to, c)
			}
		}
		if to-from >= 10 {
			return fmt.Errorf("%d stitches between cuts", to-from)
		}
	case DraggedThread:
		if slices.Contains(s.drag, f.From) {
			return nil
		}
		return fmt.Errorf("no jump with thread in the fabric there")
	case FarStart:
		b := s.file.Count().Bounds
		if far := away(stitch.Point{X: (b.MinX + b.MaxX) / 2, Y: (b.MinY + b.MaxY) / 2}, stitch.Point{}); far < 50 {
			return fmt.Errorf("the frame starts %.0f mm from the middle", far)
		}
	default:
		return fmt.Errorf("unknown kind")
	}
	return nil
}

// returns checks that the fault's block could be sewn right after an earlier
// block with its thread: no block between comes nearer to it than a millimetre.
func (s sewn) returns(f Fault) error {
	earlier := -1
	for b := range f.Block {
		if s.Threads[b] == s.Threads[f.Block] {
			earlier = b
		}
	}
	if earlier < 0 || earlier == f.Block-1 {
		return fmt.Errorf("the thread was not on before, or only just")
	}
	mine := map[stitch.Point]bool{}
	s.walk(func(i int, cell stitch.Point) {
		if s.block[i] == f.Block {
			mine[cell] = true
		}
	})
	touch := -1
	s.walk(func(i int, c stitch.Point) {
		if s.block[i] <= earlier || s.block[i] >= f.Block {
			return
		}
		for dx := -1; dx <= 1; dx++ {
			for dy := -1; dy <= 1; dy++ {
				if mine[stitch.Point{X: c.X + dx, Y: c.Y + dy}] {
					touch = i
				}
			}
		}
	})
	if touch >= 0 {
		return fmt.Errorf("stitch %d of block %d lies in the way", touch, s.block[touch])
	}
	return nil
}

// walk calls f for the square millimetres that each stitch's thread runs over.
func (s sewn) walk(f func(i int, cell stitch.Point)) {
	for i := 1; i < len(s.at); i++ {
		a, b := s.at[i-1], s.at[i]
		if s.block[i] != s.block[i-1] || stitch.LengthMM(b.X-a.X, b.Y-a.Y) > 12.2 {
			a = b
		}
		for k := 0; k <= 16; k++ {
			f(i, cell(stitch.Point{X: a.X + (b.X-a.X)*k/16, Y: a.Y + (b.Y-a.Y)*k/16}))
		}
	}
}

// covered reports whether later stitches lie on the straight way that the trim
// before stitch n makes.
func (s sewn) covered(n int) bool {
	later := map[stitch.Point]bool{}
	s.walk(func(i int, c stitch.Point) {
		if i > n+8 { // past the lock at the end of the way
			later[c] = true
		}
	})
	a, b := s.at[n-1], s.at[n]
	hidden := 0
	for k := 1; k < 20; k++ {
		if later[cell(stitch.Point{X: a.X + (b.X-a.X)*k/20, Y: a.Y + (b.Y-a.Y)*k/20})] {
			hidden++
		}
	}
	return hidden >= 18
}

// locked reports whether small stitches end at stitch n: two of the last three
// shorter than 1.3 mm and a turn back among them.
func (s sewn) locked(n int) bool {
	if n < 4 {
		return false
	}
	small, turns := 0, 0
	for i := n - 3; i < n; i++ {
		if s.mm[i] < 1.3 {
			small++
		}
		p, q, r := s.at[i-2], s.at[i-1], s.at[i]
		if (q.X-p.X)*(r.X-q.X)+(q.Y-p.Y)*(r.Y-q.Y) < 0 {
			turns++
		}
	}
	return small >= 2 && turns >= 2
}

func (s sewn) holes(from, to int) map[stitch.Point]int {
	m := map[stitch.Point]int{}
	for _, p := range s.at[from:to] {
		m[p]++
	}
	return m
}

// cells counts penetrations by square millimetre.
func (s sewn) cells(from, to int) map[stitch.Point]int {
	m := map[stitch.Point]int{}
	for _, p := range s.at[from:to] {
		m[cell(p)]++
	}
	return m
}

func cell(p stitch.Point) stitch.Point {
	return stitch.Point{X: int(math.Floor(float64(p.X) / 10)), Y: int(math.Floor(float64(p.Y) / 10))}
}

func away(a, b stitch.Point) float64 { return stitch.LengthMM(a.X-b.X, a.Y-b.Y) }

func cuts(ts []trim) []int {
	var out []int
	for _, c := range ts {
		out = append(out, c.at)
	}
	return out
}
