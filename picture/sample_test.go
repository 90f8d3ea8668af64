package picture

import (
	"math"

	"needlepace/stitch"
)

// sampleRun is an invented badge (a leaf in a ring over a filled field) sewn
// by a toy machine, with all a Run picture shows. detail 1 is about 9,000
// stitches; smaller is coarser.
func sampleRun(detail float64) *Run {
	d := &stitch.Design{Name: "Leaf badge"}
	x, y := 0.0, 0.0 // mm
	ix, iy := 0, 0
	step := func(op stitch.Op, tx, ty float64) {
		x, y = tx, ty
		nx, ny := int(math.Round(tx*10)), int(math.Round(ty*10))
		d.Records = append(d.Records, stitch.Record{DX: int16(nx - ix), DY: int16(ny - iy), Op: op})
		ix, iy = nx, ny
	}
	travel := func(tx, ty float64) {
		n := max(3, int(math.Hypot(tx-x, ty-y)/12)+1)
		sx, sy := x, y
		for i := 1; i <= n; i++ {
			f := float64(i) / float64(n)
			step(stitch.Jump, sx+(tx-sx)*f, sy+(ty-sy)*f)
		}
	}
	colour := func() { d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop}) }
	// Field: rows of 4 mm stitches in a circle.
	const radius = 42.0
	right := true
	travel(0, -radius+1)
	for ry := -radius + 1; ry < radius-1; ry += 0.45 / detail {
		half := math.Sqrt(radius*radius - ry*ry)
		n := max(1, int(2*half/4))
		for i := 0; i <= n; i++ {
			f := float64(i) / float64(n)
			if !right {
				f = 1 - f
			}
			step(stitch.Sew, -half+2*half*f, ry)
		}
		right = !right
	}
	colour()
	// Ring: satin from narrow to wide.
	travel(radius, 0)
	for a := 0.0; a < 2*math.Pi; a += 0.009 / detail {
		w := 2.5 + 2.5*(1-math.Cos(a))
		step(stitch.Sew, (radius-w/2)*math.Cos(a), (radius-w/2)*math.Sin(a))
		step(stitch.Sew, (radius+w/2)*math.Cos(a), (radius+w/2)*math.Sin(a))
	}
	colour()
	// Leaf: two satin halves and veins, with a trim before each vein.
	travel(0, -28)
	for t := 0.0; t <= 1; t += 0.007 / detail {
		w := 15 * math.Sin(math.Pi*t)
		step(stitch.Sew, 0.3, -28+56*t)
		step(stitch.Sew, w, -28+56*t+0.3*w)
	}
	for t := 1.0; t >= 0; t -= 0.007 / detail {
		w := 15 * math.Sin(math.Pi*t)
		step(stitch.Sew, -0.3, -28+56*t)
		step(stitch.Sew, -w, -28+56*t+0.3*w)
	}
	colour()
	for i := range 7 {
		t := 0.15 + 0.1*float64(i)
		for _, side := range []float64{-1, 1} {
			w := 13 * math.Sin(math.Pi*t)
			travel(0, -28+56*t)
			for f := 0.0; f <= 1; f += 2 / w {
				step(stitch.Sew, side*w*f, -28+56*t+0.3*w*f)
			}
		}
	}

	r := &Run{Design: d.Name, Machine: "Bay 2 at 1,000/min", Rated: 1000, SetSpeed: 1000, Level: 0.9}
	r.Segs = Sewn(d, 3)
	// The toy machine: a stitch of length L may run at 60·0.22·√(13800/L)
	// per minute; 2 s to reach 1,000/min; a trim 4 s, a colour stop 6 s.
	var parts [numParts]float64
	now, speed, seg := 0.0, 120.0, 0
	rest := func(k Key, s float64, label string) {
		r.Trace = append(r.Trace, TracePoint{now, 0}, TracePoint{now + s, 0})
		r.Rests = append(r.Rests, Rest{now, now + s, k, label})
		parts[k] += s
		now += s
	}
	rest(StartEnd, 3, "")
	letters := []string{"", "2", "3", "4"}
	for e := range d.Events(3) {
		switch e.Kind {
		case stitch.TrimCut:
			rest(Trims, 4, "")
		case stitch.ColourCut:
			rest(ColourStops, 6, letters[min(e.Block, 3)])
		case stitch.Travel:
			rest(Travel, 0.3+math.Hypot(float64(e.DX), float64(e.DY))/1500, "")
		case stitch.Run:
			speed = 120
			for i := e.From; i < e.To; i++ {
				rec := d.Records[i]
				limit := 1000.0
				if l := stitch.LengthMM(int(rec.DX), int(rec.DY)); l > 0 {
					limit = min(limit, 60*0.22*math.Sqrt(13800/l))
				}
				target := min(limit, 140+35*float64(e.To-1-i))
				speed = min(target, speed+35)
				t := 60 / speed
				r.Trace = append(r.Trace, TracePoint{now, speed}, TracePoint{now + t, speed})
				now += t
				parts[AtSetSpeed] += 60 / 1000.0
				parts[LongStitches] += 60/limit - 60/1000.0
				parts[Ramps] += t - 60/limit
				r.Speeds = append(r.Speeds, float32(speed))
				seg++
			}
		}
	}
	rest(StartEnd, 3, "")
	r.Seconds, r.Low, r.High = now, now*0.95, now*1.06
	r.Stitches = d.Count().Stitches
	sewing := parts[AtSetSpeed] + parts[LongStitches] + parts[Ramps]
	r.Held, r.Overall, r.Naive = float64(seg)/sewing*60, float64(seg)/now*60, float64(seg)/1000*60
	for _, k := range Keys {
		if parts[k] > 0 {
			r.Parts = append(r.Parts, Part{k, parts[k]})
		}
	}
	return r
}

// density counts the needle penetrations of a design by cells of cell mm and
// gives them per mm². Every segment ends in one penetration.
func density(segs []Segment, cell float64) Grid {
	b, ok := extent(segs)
	if !ok {
		return Grid{Cell: 1}
	}
	if !(cell >= 0.1) || math.IsInf(cell, 1) {
		cell = 1
	}
	for (b.WidthMM()/cell+2)*(b.HeightMM()/cell+2) > 1<<20 {
		cell *= 2
	}
	g := Grid{X0: math.Floor(float64(b.MinX)/10/cell) * cell, Y0: math.Floor(float64(b.MinY)/10/cell) * cell,
		Cell: cell}
	g.NX = int((float64(b.MaxX)/10-g.X0)/cell) + 1
	g.NY = int((float64(b.MaxY)/10-g.Y0)/cell) + 1
	g.Values = make([]float32, g.NX*g.NY)
	each := float32(1 / (cell * cell))
	for i := range segs {
		ix := min(int((float64(segs[i].X1)/10-g.X0)/cell), g.NX-1)
		iy := min(int((float64(segs[i].Y1)/10-g.Y0)/cell), g.NY-1)
		g.Values[iy*g.NX+ix] += each
	}
	return g
}
