package digitize

import (
	"math"

	"needlepace/stitch"
)

// Run sews a running stitch along the polyline with stitches of about mm
// millimetres, equal between corners. Corners sharper than 30° get a penetration.
func (p *Piece) Run(pts []Pt, mm float64) {
	pts = distinct(pts)
	if len(pts) < 2 {
		return
	}
	p.begin(pts[0], pts[1])
	p.walk(pts, mm)
}

func (p *Piece) walk(pts []Pt, mm float64) {
	mm = max(mm, leastRun)
	if p.making == stitch.NotSewn {
		defer p.as(stitch.Running)()
	}
	from := 0
	for i := 1; i < len(pts); i++ {
		if i < len(pts)-1 && !corner(pts[i-1], pts[i], pts[i+1]) {
			continue
		}
		part := pts[from : i+1]
		n := max(1, int(math.Round(Length(part)/mm)))
		for _, q := range resample(part, fractions(n)) {
			if p.At().Dist(q) >= min(0.8*LeastMM, 0.7*mm) { // corners may lie close together
				p.Stitch(q)
			}
		}
		from = i
	}
}

// Bean sews a running stitch whose every stitch is sewn there, back and there
// again: a triple stitch, which lies bold on the cloth.
func (p *Piece) Bean(pts []Pt, mm float64) {
	pts = distinct(pts)
	if len(pts) < 2 {
		return
	}
	p.begin(pts[0], pts[1])
	defer p.as(stitch.Bean)()
	n := max(1, int(math.Round(Length(pts)/max(mm, LeastMM))))
	from := p.At()
	for _, q := range resample(pts, fractions(n)) {
		p.Stitch(q)
		p.Stitch(from)
		p.Stitch(q)
		from = q
	}
}

// fractions are 1/n, 2/n, …, 1.
func fractions(n int) []float64 {
	ts := make([]float64, n)
	for i := range ts {
		ts[i] = float64(i+1) / float64(n)
	}
	return ts
}

func corner(a, b, c Pt) bool {
	u, v := b.Sub(a).Unit(), c.Sub(b).Unit()
	return u.X*v.X+u.Y*v.Y < math.Cos(math.Pi/6)
}

// Satin sews to and fro between two rails, from their first points to their
// last. Rails of equally many points are matched point by point, others by their
// share of the length. The spacing is the trade's, from the first line to the
// third: adjacent lines lie spacing/2 apart (0.2 mm for 0.40), measured two
// thirds of the way to the outer rail of a bend. Where a bend crowds the inner edge, every other stitch
// there is shortened by a quarter.
func (p *Piece) Satin(a, b []Pt, spacing float64) {
	if len(a) < 2 || len(b) < 2 {
		return
	}
	n := max(2, int(math.Round(pace(a, b)/(max(spacing, leastSpacing)/2))))
	ra, rb := matched(a, b, n)
	p.begin(ra[0], rb[0])
	kind := openSatin
	if spacing < openMM {
		kind = stitch.Satin
		defer func() { p.cover(Join(a, Reverse(b))) }()
	}
	defer p.as(kind)()
	near, far := rb, ra
	for i := 1; i <= n; i++ {
		q := near[i]
		if i >= 2 && i/2%2 == 1 && i < n && near[i-2].Dist(q) < 0.75*spacing && near[i].Dist(far[i]) > 1.5 {
			q = q.Lerp(far[i], 0.25)
		}
		// the sharp ends of a column would give stitches too small to sew
		if p.At().Dist(q) >= LeastMM {
			p.Stitch(q)
		}
		near, far = far, near
	}
}

// pace is the length along a column by which its lines are spaced.
func pace(a, b []Pt) float64 {
	if len(a) != len(b) {
		return outer(Length(a), Length(b))
	}
	l := 0.0
	for k := 1; k < len(a); k++ {
		l += outer(a[k-1].Dist(a[k]), b[k-1].Dist(b[k]))
	}
	return l
}

// outer weighs the lengths of the two rails so that the outer edge of a bend is
// covered without crowding the inner one.
func outer(a, b float64) float64 { return (min(a, b) + 2*max(a, b)) / 3 }

// matched gives n+1 points on each rail, evenly spaced by pace.
func matched(a, b []Pt, n int) (ra, rb []Pt) {
	ts := append([]float64{0}, fractions(n)...)
	if len(a) != len(b) {
		return resample(distinct(a), ts), resample(distinct(b), ts)
	}
	total, done, k := pace(a, b), 0.0, 1
	step := func(k int) float64 { return outer(a[k-1].Dist(a[k]), b[k-1].Dist(b[k])) }
	for _, t := range ts {
		for k < len(a)-1 && done+step(k) < t*total {
			done += step(k)
			k++
		}
		u := 0.0
		if s := step(k); s > 0 {
			u = min(1, max(0, (t*total-done)/s))
		}
		ra = append(ra, a[k-1].Lerp(a[k], u))
		rb = append(rb, b[k-1].Lerp(b[k], u))
	}
	return ra, rb
}

// Column sews a satin column with its underlay, from the first points of the
// rails to the last: a run along the middle and back under a narrow column, along
// both edges under a wide one.
func (p *Piece) Column(a, b []Pt, spacing float64) {
	if len(a) < 2 || len(b) < 2 {
		return
	}
	out, back := middle(a, b, 0.42), middle(a, b, 0.58)
	if width(a, b) >= 2.4 {
		out, back = inset(a, b, 0.7), inset(b, a, 0.7)
	}
	p.Run(cut(out), UnderlayMM)
	// half a stitch out of step, so that no hole is struck twice
	p.Run(shorten(Reverse(cut(back)), UnderlayMM/2), UnderlayMM)
	p.Satin(a, b, spacing)
}

// ColumnBack sews a satin column that ends where it began: the underlay goes
// out (a run along the middle, a wide zigzag under a wide column) and the satin
// comes back.
func (p *Piece) ColumnBack(a, b []Pt, spacing float64) {
	if len(a) < 2 || len(b) < 2 {
		return
	}
	if width(a, b) >= 2.4 {
		p.Satin(cut(inset(a, b, 0.6)), cut(inset(b, a, 0.6)), 4)
	} else {
		p.Run(cut(middle(a, b, 0.5)), UnderlayMM)
	}
	p.Satin(Reverse(a), Reverse(b), spacing)
}

// Rails are the two edges of a column of the given width (mm) along a centre line.
func Rails(centre []Pt, width float64) (a, b []Pt) {
	return Offset(centre, width/2), Offset(centre, -width/2)
}

func width(a, b []Pt) float64 {
	m := 0.0
	ra, rb := matched(a, b, 10)
	for i := 2; i <= 8; i++ {
		m = max(m, ra[i].Dist(rb[i]))
	}
	return m
}

// middle is the line a fraction t of the way from rail a to rail b.
func middle(a, b []Pt, t float64) []Pt {
	return between(a, b, func(p, q Pt) Pt { return p.Lerp(q, t) })
}

// inset is rail a moved mm towards rail b, never past the middle.
func inset(a, b []Pt, mm float64) []Pt {
	return between(a, b, func(p, q Pt) Pt { return p.Lerp(q, min(0.5, mm/max(p.Dist(q), 1e-9))) })
}

func between(a, b []Pt, f func(p, q Pt) Pt) []Pt {
	ra, rb := matched(a, b, max(4, int(math.Ceil(max(Length(a), Length(b))/0.5))))
	out := make([]Pt, len(ra))
	for i := range ra {
		out[i] = f(ra[i], rb[i])
	}
	return out
}

// cut takes an underlay back from both ends of its column, so that it stays
// covered and the first satin stitch is long enough.
func cut(pts []Pt) []Pt {
	const mm = 0.9
	return Reverse(shorten(Reverse(shorten(pts, mm)), mm))
}

// shorten takes mm off the start of a polyline, if it is long enough.
func shorten(pts []Pt, mm float64) []Pt {
	l := Length(pts)
	if l <= 2*mm {
		return pts
	}
	out := []Pt{Along(pts, mm/l)}
	done := 0.0
	for i := 1; i < len(pts); i++ {
		if done += pts[i-1].Dist(pts[i]); done > mm {
			out = append(out, pts[i])
		}
	}
	return out
}
