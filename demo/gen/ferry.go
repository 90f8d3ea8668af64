package main

import (
	"needlepace/demo"
	dz "needlepace/demo/digitize"
)

// ferry is a polo-shirt logo whose blocks follow the digitizer's mood: two
// threads come back for no reason and one stop changes nothing.
func ferry() *job {
	j := newJob("larkess-ferry.dst", "LARKESS FERRY", "Larkess ferry", "Larkess Ferry Company",
		"polo shirt, left chest")

	j.thread(navy)
	hull := dz.Area(dz.Path(-38, 2, 40, 2, 36, -9, -31, -9))
	j.FillUnderlay(hull, 0)
	j.Fill(hull, 0, 0.42, 4)

	j.thread(white)
	bridge := dz.Area(dz.Rect(-14, 8, 10, 15))
	j.FillUnderlay(bridge, 90)
	j.Fill(bridge, 90, 0.42, 4)
	house := dz.Area(dz.Path(-24, 1, 22, 1, 19, 9, -24, 9))
	j.FillUnderlay(house, 90)
	j.Fill(house, 90, 0.42, 4)
	j.hop()
	a, b := dz.Rails(dz.Path(36, -3.2, -33, -3.2), 1.6)
	j.Column(a, b, 0.42)

	name := dz.Lettering{Height: 7, Stroke: 1.4}
	w := name.Width("LARKESS FERRY")
	name.Bend = dz.On(dz.XY(-w/2, -24), 0)
	j.cutOff()
	j.ColourStop()
	j.facts.Threads = append(j.facts.Threads, navy)
	j.Lock()
	j.plant(demo.ThreadReturns, 1,
		"harbour navy was on in block 1 and comes back in block 7; the white between touches no letter", func() {
			j.Text("LARKESS FERRY", name)
		})

	j.thread(red)
	funnel := dz.Area(dz.Path(-6, 14, 3, 14, 2, 26, -5, 26))
	j.FillUnderlay(funnel, 0)
	j.Fill(funnel, 0, 0.42, 4)

	j.cutOff()
	j.ColourStop()
	j.facts.Threads = append(j.facts.Threads, red)
	j.Lock()
	j.plant(demo.StopWithoutChange, 1, "lamp red follows lamp red: a stop and a cut for nothing", func() {
		a, b = dz.Rails(dz.Path(-33, 2, -33, 18), 1.4)
		j.Column(a, b, 0.42)
		j.Column(dz.Path(-32.4, 18, -25, 17, -19, 18.6), dz.Path(-32.4, 11.6, -25, 10.6, -19, 12.2), 0.42)
	})

	j.cutOff()
	j.ColourStop()
	j.facts.Threads = append(j.facts.Threads, foam)
	j.Lock()
	j.Column(wave(-40, 40, -12), wave(-40, 40, -14.2), 0.42)

	j.cutOff()
	j.ColourStop()
	j.facts.Threads = append(j.facts.Threads, white)
	j.Lock()
	j.plant(demo.ThreadReturns, 1, "sail white was on in block 2; nothing after it touches the gulls", func() {
		for i, g := range dz.Path(20, 26, 31, 31) {
			if i > 0 {
				j.hop()
			}
			gullMark(j, g, 9)
		}
	})

	// windows and portholes lie on the white house and must come after it
	j.cutOff()
	j.ColourStop()
	j.facts.Threads = append(j.facts.Threads, navy)
	j.Lock()
	j.plant(demo.ThreadReturns, 1, "the windows must follow the white of block 2, and could have done so in block 3; "+
		"of the three navy blocks one can go", func() {
		for i, x := range []float64{14, 3, -8, -19} {
			if i > 0 {
				j.hop()
			}
			j.Column(dz.Path(x-1.3, 3.2, x-1.3, 6.8), dz.Path(x+1.3, 3.2, x+1.3, 6.8), 0.42)
		}
		j.hop()
		j.Column(dz.Path(-12, 12.4, 8, 12.4), dz.Path(-12, 9.6, 8, 9.6), 0.42)
	})
	j.Lock()
	return j
}

// gullMark is a gull far off: two satin wings about its middle.
func gullMark(j *job, c dz.Pt, span float64) {
	for _, side := range []float64{-1, 1} {
		at := func(x, y float64) dz.Pt { return dz.XY(c.X+side*x*span, c.Y+y*span) }
		upper := dz.Curve(at(0, 0.02), at(0.3, 0.34), at(0.62, 0.36), at(1, 0.16))
		lower := dz.Curve(at(0, -0.14), at(0.3, 0.14), at(0.62, 0.19), at(1, 0.03))
		j.ColumnBack(upper, lower, 0.42)
	}
}
