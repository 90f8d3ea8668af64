package stitch

// tieIn is how many stitches a tie at the start of the thread has.
func (w *knower) tieIn() int { return w.tie(0, 1) }

// tieOff is how many stitches a tie at the end of the thread has.
func (w *knower) tieOff() int { return w.tie(len(w.p)-1, -1) }

// tie counts the stitches of a tie that begins at place o and leads on (dir 1)
// or back (dir −1): small ones that stay about the place and turn back at least
// once, or tiny ones before longer ones.
func (w *knower) tie(o, dir int) int {
	n := len(w.p)
	at := func(m int) int { // the m-th stitch, from 1
		if dir > 0 {
			return o + m
		}
		return o - m + 1
	}
	inside := func(m int) bool { i := at(m); return i >= 1 && i < n }
	back := func(m int) bool { // does the thread turn back between the m-th stitch and the next?
		return w.turn[min(at(m), at(m+1))] < turnedBack
	}
	alike := func(a, b int) bool {
		i, j := at(a), at(b)
		return w.v[i].dot(w.v[j]) > 0.9*w.l[i]*w.l[j] && w.l[i] < 1.35*w.l[j] && w.l[j] < 1.35*w.l[i]
	}
	// column reports whether stitches go to and fro in one measure from the m-th on.
	column := func(m int) bool {
		if !inside(m + 4) {
			return false
		}
		for k := range 4 {
			if !back(m+k) || w.l[at(m+k)] < columnLeast {
				return false
			}
		}
		return alike(m, m+2) && alike(m+1, m+3) && alike(m+2, m+4)
	}
	most, end := 0, 0
	for m := 1; m <= tieMost && inside(m) && w.l[at(m)] <= tieLong; m++ {
		if w.k[at(m)] != NotSewn || w.p[o].to(w.p[o+dir*m]).long() > tieReach {
			break
		}
		if column(m) {
			end = m - 1
			break
		}
		most = m
	}
	if end == 0 {
		if most >= 2 && !inside(most+1) { // all of the thread: a tie if it turns back
			for m := 1; m < most; m++ {
				if back(m) {
					return most
				}
			}
			return 0
		}
		// The tie ends where the thread turns back, or into longer stitches.
		for end = most; end > 0; end-- {
			if !inside(end+1) || back(end) || end == most && w.l[at(end+1)] > tieLong {
				break
			}
		}
	}
	if end < 2 {
		return 0
	}
	// What goes on in tiny stitches is a texture and has no tie.
	if m := end + tieMost; inside(m) && w.small(min(at(end+1), at(m)), max(at(end+1), at(m))+1) {
		return 0
	}
	sum := 0.0
	for m := 1; m <= end; m++ {
		if m < end && back(m) {
			return end
		}
		sum += w.l[at(m)]
	}
	if mean := sum / float64(end); mean <= 8 && inside(end+1) && w.l[at(end+1)] >= 1.8*mean {
		return end
	}
	return 0
}

// same reports whether m stitches from i on lie on each other to the point, as at the
// end of a line that is sewn to and fro: those of a column come no nearer.
func (w *knower) same(i, m int) bool {
	for k := i; k+1 < i+m; k++ {
		if w.p[k-1].to(w.p[k+1]).long() >= samePlace {
			return false
		}
	}
	return true
}

// beans finds stitches lo ≤ i < hi that are sewn there, back and there again:
// at least two such after each other.
func (w *knower) beans(lo, hi int) {
	back := func(i int) bool { // does stitch i+1 go back over stitch i?
		return i+1 < hi && w.turn[i] < turnedBack &&
			w.p[i-1].to(w.p[i+1]).long() < max(sameHole, w.l[i]/4)
	}
	for i := lo; i < hi; {
		if i > lo && w.turn[i-1] < turnedBack { // the last lines of a column end so too
			i++
			continue
		}
		from, groups := i, 0
		for i < hi {
			m := 1
			for m < 9 && back(i+m-1) {
				m++
			}
			again := i+m < hi && w.turn[i+m-1] < turnedBack // then it is a column
			if again || m < 3 && !(m == 2 && i == 1) || m > 3 && m%2 == 0 && !w.same(i, m) {
				break
			}
			i += m
			groups++
		}
		if groups >= 2 {
			for k := from; k < i; k++ {
				w.k[k] = Bean
			}
			continue
		}
		i = from + 1
	}
}
