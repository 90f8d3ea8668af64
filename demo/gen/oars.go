package main

import (
	"needlepace/demo"
	. "needlepace/demo/digitize"
)

// oars is the rowing club's sweatshirt front: broad oar blades and a monogram in
// satin up to 11 mm wide, which looks rich, slows the frame and snags.
func oars() *job {
	j := newJob("saltmere-oars.dst", "SALTMERE OARS", "Crossed oars", "Saltmere Rowing Club", "sweatshirt, centre front")

	j.thread(rope)
	for i, side := range []float64{1, -1} {
		if i > 0 {
			j.hop()
		}
		put := On(XY(0, 0), 90-side*42)
		shaft := func(x0, x1 float64) {
			a, b := Rails(Path(x0, 0, x1, 0), 2.6)
			j.Column(Map(a, put), Map(b, put), 0.42)
		}
		shaft(-78, 48)
		j.Run(Map(Path(48, 0, 74, 0), put), ConnectorMM)
		j.plant(demo.LongStitches, 0, "oar blade in satin 9 to 11 mm wide", func() {
			a := Curve(Path(46, 1.2, 52, 4.6, 60, 5.5, 72, 5.2, 78, 4.6)...)
			b := Curve(Path(46, -1.2, 52, -4.6, 60, -5.5, 72, -5.2, 78, -4.6)...)
			j.Satin(Map(Reverse(a), put), Map(Reverse(b), put), 0.42)
		})
	}

	j.thread(blue)
	for i, side := range []float64{1, -1} {
		if i > 0 {
			j.hop()
		}
		put := On(XY(0, 0), 90-side*42)
		j.plant(demo.LongStitches, 0, "blade stripe in satin along the blade, 9 mm", func() {
			j.Column(Map(Path(60, 5, 60, -5), put), Map(Path(69, 5, 69, -5), put), 0.42)
		})
	}

	j.thread(navy)
	big := Lettering{Height: 46, Stroke: 9.6, Gap: 9, Spacing: 0.42}
	w := big.Width("SR")
	big.Bend = On(XY(-w/2, -23), 0)
	big.Between = func(float64) { j.hop() }
	j.plant(demo.LongStitches, 0, "monogram strokes in satin 9.6 mm wide", func() { j.Text("SR", big) })

	j.hop()
	small := Lettering{Height: 9, Stroke: 1.8}
	w = small.Width("SALTMERE ROWING")
	small.Bend = On(XY(-w/2, -78), 0)
	j.Text("SALTMERE ROWING", small)
	j.Lock()
	return j
}
