package clock_test

import (
	"cmp"
	"math"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// The oracle is MODEL.md written down a second time, as plainly as possible:
// arrays, square roots and no tables. It shares no code with package clock
// and reads the records itself.

type oracleTimes struct {
	parts                                           clock.Parts
	by                                              clock.LongBy
	stitches, revolutions, jumps, trims, colourCuts int
}

// doubleS is the time of a move from rest to rest of length d under the limits
// of speed v, acceleration a and jerk j, in the steps of Biagiotti and Melchiorri
// 2008, section 3.4: first as if the top speed were reached.
func doubleS(d, a, v, j float64) float64 {
	ta := a/j + v/a
	if v*j < a*a {
		ta = 2 * math.Sqrt(v/j)
	}
	if tv := d/v - ta; tv >= 0 {
		return 2*ta + tv
	}
	if ta = (a*a/j + math.Sqrt(a*a*a*a/(j*j)+4*a*d)) / (2 * a); ta < 2*a/j {
		// Four equal pieces of full jerk, each of which goes j·t³/6 and more.
		return 4 * math.Pow(d/(2*j), 1.0/3)
	}
	return 2 * ta
}

// between is a factor whose logarithm is straight between nodes.
func between(at, factor []float64, x float64) float64 {
	if len(at) == 0 {
		return 1
	}
	x = max(at[0], min(at[len(at)-1], x))
	for k := 1; k < len(at); k++ {
		if x <= at[k] {
			share := (x - at[k-1]) / (at[k] - at[k-1])
			return math.Pow(factor[k-1], 1-share) * math.Pow(factor[k], share)
		}
	}
	return factor[0]
}

// lagBehind is the speed one revolution later of a shaft at speed m under the
// cap n with the lag tau: the root of the law's equation, by bisection in the
// logarithm of what is missing to n.
func lagBehind(m, n, tau float64) float64 {
	if m >= n {
		return n
	}
	lo, hi := -60.0, 0.0 // of ln((n − m_i)/(n − m))
	for range 80 {
		mid := (lo + hi) / 2
		next := n - (n-m)*math.Exp(mid)
		if tau*(-n*mid-(next-m)) > 1 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return n - (n-m)*math.Exp((lo+hi)/2)
}

func oracle(d *stitch.Design, s *machine.Sheet, j clock.Job) oracleTimes {
	var o oracleTimes
	nset, factor := s.MaxSpeed, 1.0
	limits := []float64{j.Speed, j.Cap}
	if j.Kinds&machine.Metallic > 0 && j.Cap == 0 {
		limits = append(limits, cmp.Or(s.Job.MetallicSpeed, 550))
	}
	if j.Kinds&machine.Woollen > 0 && j.Cap == 0 {
		limits = append(limits, cmp.Or(s.Job.WoollenSpeed, 600))
	}
	if j.Kinds&machine.CapFrame > 0 {
		factor *= cmp.Or(s.Job.CapFrameAccel, 1)
		if j.Cap == 0 {
			limits = append(limits, cmp.Or(s.Job.CapFrameSpeed, 650))
		}
	}
	if j.Kinds&machine.LargeHoop > 0 {
		factor *= cmp.Or(s.Job.LargeHoopAccel, 0.85)
	}
	if j.AccelFactor > 0 {
		factor *= j.AccelFactor
	} else if j.Kinds&machine.Heavy > 0 {
		factor *= cmp.Or(s.Job.HeavyAccel, 0.7)
	}
	for _, v := range limits {
		if v > 0 && v < nset {
			nset = v
		}
	}
	if f := s.Speed.True; f > 0 {
		nset *= f
	}
	if top := s.Speed.Top; top > 0 {
		nset = min(nset, top)
	}
	nset /= 60
	inColour := 0 // revolutions
	tj := 0.0     // the frame's within a stitch; none for travel
	move := func(d, a, v float64) float64 {
		d = math.Abs(d)
		if d == 0 {
			return 0
		}
		if tj > 0 {
			return doubleS(d, a, v, a/tj)
		}
		if d <= v*v/a {
			return 2 * math.Sqrt(d/a)
		}
		return d/v + v/a
	}
	type rev struct {
		dx, dy int
		jump   bool
	}
	endRun := func(run []rev) {
		R := len(run)
		if R == 0 {
			return
		}
		now := o.parts.Sum() - s.Rest.End
		capAt := make([]float64, R+1) // 1…R
		soft := make([]float64, R+1)
		for i := 1; i <= R; i++ {
			dx, dy := float64(run[i-1].dx)/10, float64(run[i-1].dy)/10
			tj = s.Frame.JerkTime
			L := math.Sqrt(float64(run[i-1].dx*run[i-1].dx+run[i-1].dy*run[i-1].dy)) / 10
			tx := move(dx, s.Frame.AccelX*factor, s.Frame.SpeedX)
			ty := move(dy, s.Frame.AccelY*factor, s.Frame.SpeedY)
			tj = 0
			cos, before, theta := 1.0, 0.0, 0.0
			if i > 1 {
				px, py := float64(run[i-2].dx)/10, float64(run[i-2].dy)/10
				if M := math.Sqrt(px*px + py*py); M > 0 && L > 0 {
					before = M
					theta = math.Atan2(math.Abs(dx*py-dy*px), dx*px+dy*py) / math.Pi * 180
					cos = (dx*px + dy*py) / (L * M)
				}
			}
			frame := func(turn bool) float64 {
				if L == 0 {
					return math.Inf(1)
				}
				tau := math.Max(tx, ty) + s.Frame.Settle
				if turn {
					tau += math.Max(tx, ty) * s.Frame.Turn * (1 - cos) / 2
					tau *= between(s.Correction.TurnAngle, s.Correction.TurnFactor,
						theta)
				}
				return s.Frame.Window / (tau * between(s.Correction.Length, s.Correction.Factor, L))
			}
			ladder := math.Inf(1)
			for k := range s.Ladder.Length {
				ladder = s.Ladder.Speed[k] / 60
				far := L
				if s.Ladder.ByAxis == 1 {
					far = max(math.Abs(dx), math.Abs(dy))
				}
				if far <= s.Ladder.Length[k] {
					break
				}
			}
			n := min(nset, frame(true), ladder)
			if t := s.Turns; t.Speed > 0 && t.Speed < 1 && before > 0 {
				from, to := math.Cos(t.Angle*math.Pi/180), math.Cos(t.To*math.Pi/180)
				long := max(L*L, before*before)
				if cos <= from+1e-9 && cos >= to-1e-9 && long <= t.Length*t.Length*(1+1e-9) {
					n = min(n, t.Speed*nset)
				}
			}
			straight := min(nset, max(frame(false), frame(true)), ladder)
			stepped := n
			if q := float64(s.Shaft.SpeedStep) / 60; q > 0 && !(s.Shaft.StepFreeSet == 1 && n == nset) {
				down := math.Floor(n/q*(1+1e-9)) * q
				stepped = min(n, max(down, min(n, max(q, s.Shaft.CreepSpeed/60))))
			}
			o.parts.Control += 1/stepped - 1/n
			capAt[i] = stepped
			soft[i] = stepped
			if i <= s.Shaft.SoftStartStitches {
				soft[i] = min(stepped, s.Shaft.SoftStartSpeed/60)
			}
			if s.Slow.Speed > 0 && s.Slow.Speed < 1 && (now < s.Slow.Seconds || inColour < s.Slow.Stitches) {
				soft[i] = min(soft[i], s.Slow.Speed*nset)
			}
			now += 1 / soft[i]
			inColour++
			o.parts.AtSetSpeed += 1 / nset
			long := 1/n - 1/nset
			o.parts.LongStitches += long
			turn := 1/n - 1/straight
			o.by.Turn += turn
			switch {
			case long == turn:
			case ladder <= frame(true):
				o.by.Ladder += long - turn
			case tx >= ty:
				o.by.FrameX += long - turn
			default:
				o.by.FrameY += long - turn
			}
			o.revolutions++
			if run[i-1].jump {
				o.jumps++
			} else {
				o.stitches++
			}
		}
		creep := s.Shaft.CreepSpeed / 60
		if tau := s.Shaft.Lag; tau > 0 {
			m := min(creep, soft[1])
			for i := 1; i <= R; i++ {
				n := soft[i]
				m = lagBehind(m, n, tau)
				o.parts.Control += 1/m - 1/n
				capAt[i] = 1 / (1/capAt[i] + 1/m - 1/n) // so that ramps are what is left
				soft[i] = m
			}
		}
		b := make([]float64, R+1)
		b[0] = min(creep, soft[1])
		for i := 1; i < R; i++ {
			b[i] = min(soft[i], soft[i+1])
		}
		b[R] = min(creep, soft[R])
		for i := R - 1; i >= 0; i-- {
			b[i] = min(b[i], math.Sqrt(b[i+1]*b[i+1]+2*s.Shaft.AccelDown))
		}
		for i := range R {
			b[i+1] = min(b[i+1], math.Sqrt(b[i]*b[i]+2*s.Shaft.AccelUp))
		}
		up, down := s.Shaft.AccelUp, s.Shaft.AccelDown
		for i := 1; i <= R; i++ {
			u, v, c := b[i-1], b[i], soft[i]
			p := math.Sqrt((2*up*down + down*u*u + up*v*v) / (up + down))
			var t float64
			if p <= c {
				t = (p-u)/up + (p-v)/down
			} else {
				t = (c-u)/up + (c-v)/down + (1-(c*c-u*u)/(2*up)-(c*c-v*v)/(2*down))/c
			}
			o.parts.Ramps += t - 1/capAt[i]
		}
	}
	travel := func(dx, dy float64, n int) float64 {
		if s.Travel.Mode == "shaft" && n >= 0 {
			return float64(n) * 60 / s.Travel.ShaftSpeed
		}
		return math.Max(move(dx/10, s.Travel.Accel, s.Travel.Speed), move(dy/10, s.Travel.Accel, s.Travel.Speed))
	}
	needle := func(k int) int {
		if k < len(j.Needles) {
			return j.Needles[k]
		}
		return k % s.Needles
	}

	o.parts.StartEnd = s.Rest.Start + s.Rest.End
	var run []rev
	thread, block := false, 0
	x, y := 0, 0
	r := d.Records
	i := 0
	jumps := func(dx, dy, n int) { // a travel that begins with what a record carried
		carried := n
		for i < len(r) && !thread && (r[i].Op == stitch.Jump || r[i].Op == stitch.Trim) {
			if r[i].Op == stitch.Jump {
				n++
			} else if r[i].DX != 0 || r[i].DY != 0 {
				n++
				carried++
			}
			dx += int(r[i].DX)
			dy += int(r[i].DY)
			i++
		}
		x += dx
		y += dy
		o.jumps += n - carried
		o.parts.Travel += travel(float64(dx), float64(dy), n)
	}
	carried := func(q stitch.Record) int {
		if q.DX != 0 || q.DY != 0 {
			return 1
		}
		return 0
	}
	for i < len(r) {
		q := r[i]
		switch q.Op {
		case stitch.Sew, stitch.Sequin:
			run = append(run, rev{int(q.DX), int(q.DY), false})
			x += int(q.DX)
			y += int(q.DY)
			thread = true
			i++
		case stitch.Jump:
			n := 0
			for i+n < len(r) && r[i+n].Op == stitch.Jump {
				n++
			}
			switch {
			case !thread:
				endRun(run)
				run = nil
				jumps(0, 0, 0)
			case n < s.Reading.TrimAfterJumps:
				for k := 0; k < n; k++ {
					run = append(run, rev{int(r[i+k].DX), int(r[i+k].DY), true})
					x += int(r[i+k].DX)
					y += int(r[i+k].DY)
				}
				i += n
			default:
				endRun(run)
				run = nil
				thread = false
				o.trims++
				o.parts.Trims += s.Rest.Trim
				jumps(0, 0, 0)
			}
		case stitch.Trim:
			endRun(run)
			run = nil
			if thread {
				o.trims++
				o.parts.Trims += s.Rest.Trim
			}
			thread = false
			i++
			jumps(int(q.DX), int(q.DY), carried(q))
		case stitch.ColourStop:
			endRun(run)
			run = nil
			thread = false
			o.colourCuts++
			inColour = 0
			o.parts.ColourStops += s.Rest.ColourStop + s.Rest.PerNeedle*math.Abs(float64(needle(block+1)-needle(block)))
			block++
			i++
			jumps(int(q.DX), int(q.DY), carried(q))
		case stitch.Stop:
			endRun(run)
			run = nil
			o.parts.Stops += s.Rest.Stop
			i++
			jumps(int(q.DX), int(q.DY), carried(q))
		}
	}
	endRun(run)
	if s.Travel.ReturnToStart {
		o.parts.Travel += travel(float64(x), float64(y), -1)
	}
	return o
}
