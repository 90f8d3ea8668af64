package main

import (
	"needlepace/demo"
	dz "needlepace/demo/digitize"
)

// oars is the rowing club's sweatshirt front: broad oar blades and a monogram in
// satin up to 11 mm wide, which looks rich, slows the frame and snags.
func oars() *job {
	j := newJob("saltmere-oars.dst", "SALTMERE OARS", "Crossed oars", "Saltmere Rowing Club",
		"sweatshirt, centre front")

	j.thread(rope)
	for i, side := range []float64{1, -1} {
		if i > 0 {
			j.hop()
		}
		put := dz.On(dz.XY(0, 0), 90-side*42)
		shaft := func(x0, x1 float64) {
			a, b := dz.Rails(dz.Path(x0, 0, x1, 0), 2.6)
			j.Column(dz.Map(a, put), dz.Map(b, put), 0.42)
		}
		shaft(-78, 48)
		j.Run(dz.Map(dz.Path(48, 0, 74, 0), put), dz.ConnectorMM)
		j.plant(demo.LongStitches, 0, "oar blade in satin 9 to 11 mm wide", func() {
			a := dz.Curve(dz.Path(46, 1.2, 52, 4.6, 60, 5.5, 72, 5.2, 78, 4.6)...)
			b := dz.Curve(dz.Path(46, -1.2, 52, -4.6, 60, -5.5, 72, -5.2, 78, -4.6)...)
			j.Satin(dz.Map(dz.Reverse(a), put), dz.Map(dz.Reverse(b), put), 0.42)
		})
	}

	j.thread(blue)
	for i, side := range []float64{1, -1} {
		if i > 0 {
			j.hop()
		}
		put := dz.On(dz.XY(0, 0), 90-side*42)
		j.plant(demo.LongStitches, 0, "blade stripe in satin along the blade, 9 mm", func() {
			j.Column(dz.Map(dz.Path(60, 5, 60, -5), put), dz.Map(dz.Path(69, 5, 69, -5), put), 0.42)
		})
	}

	j.thread(navy)
	big := dz.Lettering{Height: 46, Stroke: 9.6, Gap: 9, Spacing: 0.42}
	w := big.Width("SR")
	big.Bend = dz.On(dz.XY(-w/2, -23), 0)
	big.Between = func(float64) { j.hop() }
	j.plant(demo.LongStitches, 0, "monogram strokes in satin 9.6 mm wide", func() { j.Text("SR", big) })

	j.hop()
	small := dz.Lettering{Height: 9, Stroke: 1.8}
	w = small.Width("SALTMERE ROWING")
	small.Bend = dz.On(dz.XY(-w/2, -78), 0)
	j.Text("SALTMERE ROWING", small)
	j.Lock()
	return j
}
