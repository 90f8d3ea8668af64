package study

import (
	"math"

	"needlepace/machine"
	"needlepace/stitch"
)

// Controller is how a synthetic machine's controller departs from the model.
type Controller struct {
	Name   string
	Step   float64 // stitches/min: speeds are rounded down to multiples of it
	Smooth float64 // share of the gap to the cap that each stitch makes good; 0: all
	Ladder machine.Ladder
}

// Controllers are the worlds of the study. The first is the model's own.
func Controllers() []Controller {
	return []Controller{
		{Name: "as the model"},
		{Name: "speed in steps of 50/min", Step: 50},
		{Name: "speed smoothed over about 8 stitches", Smooth: 0.12},
		{Name: "speed ladder, not in the sheet", Ladder: machine.Ladder{
			Length: []float64{2, 3, 4, 5, 6, 7, 8, 9, 10, 12.1},
			Speed:  []float64{1200, 1000, 900, 800, 700, 620, 560, 500, 450, 400}}},
	}
}

// run is a plain second form of MODEL sections 2 to 4 with the controller's
// departures built in, sharing no code with package clock: the whole run, and
// each colour block as a person times it, in seconds.
func (k *Controller) run(s *machine.Sheet, d *stitch.Design, setSpeed float64) (whole float64, blocks []float64) {
	nset := min(setSpeed, s.MaxSpeed) / 60
	move := func(units int, a, v float64) float64 {
		d := math.Abs(float64(units)) / stitch.UnitsPerMM
		if d <= v*v/a {
			return 2 * math.Sqrt(d/a)
		}
		return d/v + v/a
	}
	whole = s.Rest.Start + s.Rest.End
	blocks = []float64{0}
	sewn := -1
	x, y := 0, 0
	travel := func(dx, dy int) float64 {
		return max(move(dx, s.Travel.Accel, s.Travel.Speed), move(dy, s.Travel.Accel, s.Travel.Speed))
	}
	for e := range d.Events(s.Reading.TrimAfterJumps) {
		t, timed := 0.0, true
		switch e.Kind {
		case stitch.Run:
			sewn = e.Block
			caps := make([]float64, 0, e.To-e.From)
			px, py := 0.0, 0.0
			held := nset
			for _, r := range d.Records[e.From:e.To] {
				x += int(r.DX)
				y += int(r.DY)
				dx, dy := float64(r.DX), float64(r.DY)
				n := nset
				if l := math.Hypot(dx, dy); l > 0 {
					tau := max(move(int(r.DX), s.Frame.AccelX, s.Frame.SpeedX),
						move(int(r.DY), s.Frame.AccelY, s.Frame.SpeedY))
					if p := math.Hypot(px, py); p > 0 {
						tau *= 1 + s.Frame.Turn*(1-(dx*px+dy*py)/(l*p))/2
					}
					n = min(n, s.Frame.Window/(tau+s.Frame.Settle))
					for i, len := range k.Ladder.Length {
						if l/10 <= len || i == len0(k.Ladder)-1 {
							n = min(n, k.Ladder.Speed[i]/60)
							break
						}
					}
				}
				px, py = dx, dy
				if k.Step > 0 {
					n = max(math.Floor(n*60/k.Step)*k.Step, k.Step) / 60
				}
				if k.Smooth > 0 {
					held = min(n, held+k.Smooth*(n-held)+0.02*nset)
					n = held
				}
				caps = append(caps, n)
			}
			t = ramp(s, caps)
		case stitch.TrimCut:
			t = s.Rest.Trim
		case stitch.OperatorStop:
			t = s.Rest.Stop
		case stitch.ColourCut:
			blocks = append(blocks, 0)
			n := max(s.Needles, 1)
			t = s.Rest.ColourStop + s.Rest.PerNeedle*math.Abs(float64(e.Block%n-(e.Block-1)%n))
			timed = false
		case stitch.Travel:
			x += e.DX
			y += e.DY
			t = travel(e.DX, e.DY)
			if s.Travel.Mode == machine.ShaftTravel {
				t = float64(e.Moves) * 60 / s.Travel.ShaftSpeed
			}
			timed = sewn == e.Block
		}
		whole += t
		if timed {
			blocks[e.Block] += t
		}
	}
	if s.Travel.ReturnToStart {
		whole += travel(x, y)
	}
	return whole, blocks
}

func len0(l machine.Ladder) int { return len(l.Length) }

// ramp is MODEL section 3 over one run with the given caps (rev/s).
func ramp(s *machine.Sheet, caps []float64) float64 {
	up, down, creep := s.Shaft.AccelUp, s.Shaft.AccelDown, s.Shaft.CreepSpeed/60
	r := len(caps)
	for i := range min(s.Shaft.SoftStartStitches, r) {
		caps[i] = min(caps[i], s.Shaft.SoftStartSpeed/60)
	}
	b := make([]float64, r+1)
	b[0], b[r] = min(creep, caps[0]), min(creep, caps[r-1])
	for i := 1; i < r; i++ {
		b[i] = min(caps[i-1], caps[i])
	}
	for i := r - 1; i >= 0; i-- {
		b[i] = min(b[i], math.Sqrt(b[i+1]*b[i+1]+2*down))
	}
	t := 0.0
	for i, c := range caps {
		b[i+1] = min(b[i+1], math.Sqrt(b[i]*b[i]+2*up))
		u, v := b[i], b[i+1]
		if p := math.Sqrt((2*up*down + down*u*u + up*v*v) / (up + down)); p <= c {
			t += (p-u)/up + (p-v)/down
		} else {
			t += (c-u)/up + (c-v)/down + (1-(c*c-u*u)/(2*up)-(c*c-v*v)/(2*down))/c
		}
	}
	return t
}
