package zoo

import (
	"math"

	"needlepace/stitch"
)

// setCaps fills the caps of a run, in rev/s. What goes by time goes by the time that
// the caps alone would take.
func (s *sewing) setCaps(rec []stitch.Record) {
	s.caps = s.caps[:0]
	soft, softEnds := s.Sheet.Shaft.SoftStartSpeed/60, s.seconds+s.SoftSeconds
	now := s.seconds
	px, py := 0.0, 0.0
	for i, r := range rec {
		dx, dy := float64(r.DX)/stitch.UnitsPerMM, float64(r.DY)/stitch.UnitsPerMM
		s.x += dx
		s.y += dy
		n := min(s.most, s.frame(dx, dy, px, py), s.rung(dx, dy), s.turn(dx, dy, px, py), s.habit(rec, i, dx, dy, px, py))
		px, py = dx, dy
		if i < s.Sheet.Shaft.SoftStartStitches || now < softEnds {
			n = min(n, soft)
		}
		if s.fresh && i < s.Recover {
			n = min(n, s.RecoverShare*s.set)
		}
		if len(rec)-i <= s.Brake {
			n = min(n, s.BrakeShare*s.set)
		}
		if now < s.WarmSeconds {
			n = min(n, s.WarmShare*s.set)
		}
		n *= s.mood(rec, i, now)
		if s.AvoidFrom > 0 && n > s.AvoidFrom && n < s.AvoidTo {
			n = s.AvoidFrom
		}
		if step := s.Step / 60; step > 0 && !(s.FreeSet && n == s.set) {
			n = max(math.Floor(n/step*(1+1e-12))*step, step)
		}
		s.caps = append(s.caps, n)
		now += 1 / n
	}
	s.held()
}

// frame is the fastest turn that leaves the frame time for its move; +Inf
// where it does not move.
func (s *sewing) frame(dx, dy, px, py float64) float64 {
	l := math.Sqrt(dx*dx + dy*dy)
	if l == 0 {
		return math.Inf(1)
	}
	f := &s.Sheet.Frame
	var tau float64
	if s.Euclid {
		tau = s.axis(l, f.AccelX*s.accel, f.SpeedX, s.JerkX)
	} else {
		tx, ty := s.known(0, dx), s.known(1, dy)
		if dx*px < 0 {
			tx += s.Backlash
		}
		if dy*py < 0 {
			ty += s.Backlash
		}
		tau = max(tx, ty)
	}
	if l > s.LeastMM {
		tau = max(tau, s.LeastMove)
	}
	if p := math.Sqrt(px*px + py*py); p > 0 && f.Turn > 0 {
		tau *= 1 + f.Turn*(1-(dx*px+dy*py)/(l*p))/2
	}
	n := f.Window / (tau + f.Settle)
	if s.WindowLoss > 0 {
		n = narrowed(tau+f.Settle, f.Window, s.WindowLoss, s.Sheet.MaxSpeed/60)
	}
	if s.FarSlow > 0 {
		n *= 1 - min(s.FarSlow*math.Sqrt(s.x*s.x+s.y*s.y)/100, 0.5)
	}
	if s.Uneven > 0 {
		n *= 1 + s.Uneven*(dx*math.Cos(s.Towards)+dy*math.Sin(s.Towards))/l
	}
	return n
}

// known is axis' move along x (0) or y (1) for a displacement in whole units,
// reckoned once a run.
func (s *sewing) known(axis int, d float64) float64 {
	units := int(math.Round(math.Abs(d) * stitch.UnitsPerMM))
	f := &s.Sheet.Frame
	a, v, jerk := f.AccelX, f.SpeedX, s.JerkX
	if axis == 1 {
		a, v, jerk = f.AccelY, f.SpeedY, s.JerkY
	}
	mm := float64(units) / stitch.UnitsPerMM
	if units >= len(s.moves[axis]) {
		return s.axis(mm, a*s.accel, v, jerk)
	}
	t := &s.moves[axis][units]
	if *t == 0 && units > 0 {
		*t = s.axis(mm, a*s.accel, v, jerk)
	}
	return *t
}

// axis is one axis' move from rest to rest over d mm.
func (s *sewing) axis(d, a, v, jerk float64) float64 {
	if s.LongShare > 0 && d > s.LongFrom {
		a *= s.LongShare
	}
	switch {
	case s.Power > 0:
		const same = 4 // mm
		return trapezoid(same, a, v) * math.Pow(d/same, s.Power)
	case jerk > 0:
		return jerked(d, a, v, a/jerk)
	}
	return trapezoid(d, a, v)
}

// trapezoid is the least time over d with acceleration a and top speed v.
func trapezoid(d, a, v float64) float64 {
	if d > v*v/a {
		return d/v + v/a
	}
	return 2 * math.Sqrt(d/a)
}

// jerked is the least time over d with top speed v, acceleration a and jerk j, by
// halves: the top speed p that is reached covers p·(time up to p), and that
// grows with p, so p is found by bisection and the rest is run at v. (The
// closed forms of the seven segments are what this is meant to check.)
func jerked(d, a, v, j float64) float64 {
	rise := func(p float64) float64 { // from rest to p: with or without a stretch at full acceleration
		if p >= a*a/j {
			return p/a + a/j
		}
		return 2 * math.Sqrt(p/j)
	}
	if d >= v*rise(v) {
		return 2*rise(v) + (d-v*rise(v))/v
	}
	lo, hi := 0.0, v
	for range 60 {
		if p := (lo + hi) / 2; p*rise(p) > d {
			hi = p
		} else {
			lo = p
		}
	}
	return 2 * rise(hi)
}

func (s *sewing) rung(dx, dy float64) float64 {
	l := s.Sheet.Ladder
	if len(s.Ladder.Length) > 0 {
		l = s.Ladder
	}
	if len(l.Length) == 0 {
		return math.Inf(1)
	}
	mm := math.Sqrt(dx*dx + dy*dy)
	if s.LadderByAxis {
		mm = max(math.Abs(dx), math.Abs(dy))
	}
	for i, most := range l.Length {
		if mm <= most+1e-9 {
			return l.Speed[i] / 60
		}
	}
	return l.Speed[len(l.Speed)-1] / 60
}

func (s *sewing) turn(dx, dy, px, py float64) float64 {
	a, b := math.Sqrt(dx*dx+dy*dy), math.Sqrt(px*px+py*py)
	if s.Turns.Share == 0 || a == 0 || b == 0 || max(a, b) > s.Turns.Length {
		return math.Inf(1)
	}
	angle := math.Acos(min(max((dx*px+dy*py)/(a*b), -1), 1)) * 180 / math.Pi
	if angle < s.Turns.From || angle > s.Turns.To {
		return math.Inf(1)
	}
	return s.Turns.Share * s.set
}

// patch is how many stitches share a stumble, and dense how short they are (mm, mean).
const (
	patch = 150
	dense = 1.8
)

// mood is the factor on a cap that depends on when, not on what.
func (s *sewing) mood(rec []stitch.Record, i int, now float64) float64 {
	f := 1.0
	if s.Wander > 0 {
		k := int(now / s.WanderEvery)
		for len(s.knots) < k+2 {
			s.knots = append(s.knots, 2*s.rng.Float64()-1)
		}
		x := now/s.WanderEvery - float64(k)
		f *= 1 + s.Wander*(s.knots[k]*(1-x)+s.knots[k+1]*x)
	}
	if s.Tire > 0 {
		f *= 1 + s.Tire*math.Expm1(-float64(s.stitches+i)/s.TireStitches)
	}
	if s.Stumble > 0 {
		if i%patch == 0 {
			part := rec[i:min(i+patch, len(rec))]
			sum := 0.0
			for _, r := range part {
				sum += stitch.LengthMM(int(r.DX), int(r.DY))
			}
			s.stumbles = sum < dense*float64(len(part)) && s.rng.Float64() < s.Stumble
		}
		if s.stumbles {
			f *= 0.5
		}
	}
	return f
}
