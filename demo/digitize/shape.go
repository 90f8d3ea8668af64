package digitize

import "math"

// Pt is a position or a displacement in mm, x to the right and y up.
type Pt struct{ X, Y float64 }

// XY is the point (x, y), mm.
func XY(x, y float64) Pt { return Pt{x, y} }

// Add is p + q.
func (p Pt) Add(q Pt) Pt { return Pt{p.X + q.X, p.Y + q.Y} }

// Sub is p − q.
func (p Pt) Sub(q Pt) Pt { return Pt{p.X - q.X, p.Y - q.Y} }

// Mul is p scaled by k.
func (p Pt) Mul(k float64) Pt { return Pt{p.X * k, p.Y * k} }

// Dist is the distance from p to q, mm.
func (p Pt) Dist(q Pt) float64 { return math.Hypot(q.X-p.X, q.Y-p.Y) }

// Unit is p at length 1; (1, 0) where p is zero.
func (p Pt) Unit() Pt {
	l := math.Hypot(p.X, p.Y)
	if l == 0 {
		return Pt{1, 0}
	}
	return p.Mul(1 / l)
}

// Rotate turns p about (0, 0) by deg degrees, counter-clockwise.
func (p Pt) Rotate(deg float64) Pt {
	s, c := math.Sincos(deg * math.Pi / 180)
	return Pt{p.X*c - p.Y*s, p.X*s + p.Y*c}
}

// Lerp is the point a fraction t of the way from p to q.
func (p Pt) Lerp(q Pt, t float64) Pt { return Pt{p.X + (q.X-p.X)*t, p.Y + (q.Y-p.Y)*t} }

// Path makes a polyline of x, y pairs. It panics on an odd count: that is a
// slip in the program, not in its input.
func Path(xy ...float64) []Pt {
	if len(xy)%2 != 0 {
		panic("digitize: Path needs pairs of x and y")
	}
	pts := make([]Pt, 0, len(xy)/2)
	for i := 0; i < len(xy); i += 2 {
		pts = append(pts, Pt{xy[i], xy[i+1]})
	}
	return pts
}

// Arc is part of an ellipse with radii rx and ry about c, from one angle to
// another in degrees (counter-clockwise where to > from), as a fine polyline.
func Arc(c Pt, rx, ry, from, to float64) []Pt {
	n := max(4, int(math.Ceil(math.Abs(to-from)/5)))
	pts := make([]Pt, n+1)
	for i := range pts {
		s, k := math.Sincos((from + (to-from)*float64(i)/float64(n)) * math.Pi / 180)
		pts[i] = Pt{c.X + rx*k, c.Y + ry*s}
	}
	return pts
}

// Circle is a closed circle (first point = last), starting at the right.
func Circle(c Pt, r float64) []Pt { return Arc(c, r, r, 0, 360) }

// Rect is a closed rectangle from its lower left to its upper right corner.
func Rect(x0, y0, x1, y1 float64) []Pt { return Path(x0, y0, x1, y0, x1, y1, x0, y1, x0, y0) }

// Curve is a smooth line through the points (Catmull-Rom spline, E. Catmull and
// R. Rom 1974, uniform), as a fine polyline.
func Curve(pts ...Pt) []Pt {
	if len(pts) < 3 {
		return pts
	}
	const fine = 8
	at := func(i int) Pt { return pts[min(max(i, 0), len(pts)-1)] }
	out := []Pt{pts[0]}
	for i := 0; i+1 < len(pts); i++ {
		p0, p1, p2, p3 := at(i-1), at(i), at(i+1), at(i+2)
		for k := 1; k <= fine; k++ {
			t := float64(k) / fine
			w := func(a, b, c, d float64) float64 {
				return 0.5 * (2*b + (c-a)*t + (2*a-5*b+4*c-d)*t*t + (3*b-a-3*c+d)*t*t*t)
			}
			out = append(out, Pt{w(p0.X, p1.X, p2.X, p3.X), w(p0.Y, p1.Y, p2.Y, p3.Y)})
		}
	}
	return out
}

// Reverse is the polyline from its other end.
func Reverse(pts []Pt) []Pt {
	out := make([]Pt, len(pts))
	for i, q := range pts {
		out[len(pts)-1-i] = q
	}
	return out
}

// Map applies f to every point.
func Map(pts []Pt, f func(Pt) Pt) []Pt {
	out := make([]Pt, len(pts))
	for i, q := range pts {
		out[i] = f(q)
	}
	return out
}

// Join puts polylines one after the other.
func Join(parts ...[]Pt) []Pt {
	var out []Pt
	for _, s := range parts {
		out = append(out, s...)
	}
	return out
}

// Length is the length of a polyline, mm.
func Length(pts []Pt) float64 {
	l := 0.0
	for i := 1; i < len(pts); i++ {
		l += pts[i-1].Dist(pts[i])
	}
	return l
}

// Along is the point a fraction t (0…1) of the polyline's length from its start.
func Along(pts []Pt, t float64) Pt {
	return resample(pts, []float64{t})[0]
}

// resample gives the points at the fractions ts, which ascend.
func resample(pts []Pt, ts []float64) []Pt {
	out := make([]Pt, len(ts))
	total, done, k := Length(pts), 0.0, 1
	for i, t := range ts {
		want := t * total
		for k < len(pts)-1 && done+pts[k-1].Dist(pts[k]) < want {
			done += pts[k-1].Dist(pts[k])
			k++
		}
		if len(pts) < 2 {
			out[i] = pts[0]
			continue
		}
		seg := pts[k-1].Dist(pts[k])
		if seg == 0 {
			out[i] = pts[k]
			continue
		}
		out[i] = pts[k-1].Lerp(pts[k], min(1, max(0, (want-done)/seg)))
	}
	return out
}

// Offset is the polyline moved sideways by d mm, to the left of its direction
// where d > 0, mitred at corners. A polyline that ends where it starts stays closed.
func Offset(pts []Pt, d float64) []Pt {
	pts = distinct(pts)
	n := len(pts)
	if n < 2 {
		return pts
	}
	closed := pts[0].Dist(pts[n-1]) < 1e-6
	normal := func(i int) Pt { // of the segment from i to i+1
		u := pts[i+1].Sub(pts[i]).Unit()
		return Pt{-u.Y, u.X}
	}
	out := make([]Pt, n)
	for i := range pts {
		var a, b Pt
		switch {
		case i > 0 && i < n-1:
			a, b = normal(i-1), normal(i)
		case closed:
			a, b = normal(n-2), normal(0)
		case i == 0:
			a = normal(0)
			b = a
		default:
			a = normal(n - 2)
			b = a
		}
		m := a.Add(b).Unit()
		k := max(0.4, m.X*a.X+m.Y*a.Y) // no spikes at sharp corners
		out[i] = pts[i].Add(m.Mul(d / k))
	}
	return out
}

// distinct drops points that repeat the one before.
func distinct(pts []Pt) []Pt {
	var out []Pt
	for _, q := range pts {
		if len(out) == 0 || out[len(out)-1].Dist(q) > 1e-9 {
			out = append(out, q)
		}
	}
	return out
}
