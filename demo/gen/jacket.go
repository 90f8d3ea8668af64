package main

import (
	"needlepace/demo"
	dz "needlepace/demo/digitize"
)

// jacketBack is the harbour at dawn in a ring, 280 mm across: over 60,000
// stitches, and a file that starts at the drawing's lower left as it left the screen.
func jacketBack() *job {
	j := newJob("harbour-jacket-back.dst", "HARBOUR BACK", "Pellsand harbour at dawn", "Pellsand Pilots", "jacket back")
	const r = 118.0 // of the picture

	j.StartAt(dz.XY(-96, -92))
	j.offStart = true
	sky, sea, sun := skyArea(r, -26), seaArea(r, -26), dz.Circle(dz.XY(22, 4), 34)

	j.thread(foam)
	j.facts.Faults = append(j.facts.Faults, demo.Fault{Kind: demo.FarStart,
		Note: "the frame starts at the lower left, over 100 mm from the middle of the design"})
	j.FillUnderlay(sky, 0)
	j.Fill(sky, 0, 0.4, 3.5)

	j.thread(dawn)
	disc := dz.Area(clipAbove(sun, -26))
	j.FillUnderlay(disc, 90)
	j.Fill(disc, 90, 0.4, 4)

	j.thread(blue)
	j.FillUnderlay(sea, 0)
	j.Fill(sea, 0, 0.4, 3.5)

	j.thread(green)
	land := dz.Area(dz.Curve(dz.Path(-112, -32, -104, -12, -92, 0, -76, 8, -60, 6, -46, -8, -34, -20, -22, -30, -40,
		-40, -70, -46, -100, -44, -112, -32)...))
	j.FillUnderlay(land, 30)
	j.Fill(land, 30, 0.38, 3.6)

	j.thread(white)
	light := dz.Area(dz.Path(-80, 2, -60, 2, -64, 62, -76, 62))
	j.FillUnderlay(light, 0)
	j.Fill(light, 0, 0.4, 3.6)
	j.hop()
	sail := dz.Area(dz.Path(33, -36, 66, -36, 33, 34))
	j.FillUnderlay(sail, 60)
	j.Fill(sail, 60, 0.4, 4)
	j.hop()
	jib := dz.Area(dz.Path(28, -36, 8, -36, 28, 24))
	j.FillUnderlay(jib, 120)
	j.Fill(jib, 120, 0.4, 4)
	for i, g := range dz.Path(-4, 82, 26, 96, 58, 76) {
		j.hop()
		gullMark(j, g, 15-2*float64(i))
	}

	j.thread(red)
	for i, y := range []float64{14, 34, 52} {
		if i > 0 {
			j.hop()
		}
		h := 10 - (y-2)*0.0667
		band := dz.Area(dz.Path(-70-h, y, -70+h, y, -70+h-0.5, y+8, -70-h+0.5, y+8))
		j.Fill(band, 0, 0.4, 3.6)
	}
	j.hop()
	roof := dz.Area(dz.Path(-77, 76, -63, 76, -70, 86))
	j.FillUnderlay(roof, 0)
	j.Fill(roof, 0, 0.4, 3.6)
	j.hop()
	hull := dz.Area(dz.Curve(dz.Path(0, -39, 20, -40, 46, -40, 76, -37, 66, -50, 50, -54, 24, -54, 10, -50, 0, -39)...))
	j.FillUnderlay(hull, 0)
	j.Fill(hull, 0, 0.4, 4)

	j.thread(yellow)
	lamp := dz.Area(dz.Rect(-75.5, 64, -64.5, 76))
	j.Fill(lamp, 90, 0.4, 3.6)
	for _, deg := range []float64{-14, 8} {
		put := dz.On(dz.XY(-64, 70), deg)
		j.ColumnBack(dz.Map(dz.Path(0, 0.8, 42, 3.4), put), dz.Map(dz.Path(0, -0.8, 42, -3.4), put), 0.46)
	}
	for _, s := range []struct{ x0, x1, y float64 }{{2, 62, -64}, {58, 8, -74}, {14, 52, -84}} {
		j.hop()
		j.Column(wave(s.x0, s.x1, s.y+1.4), wave(s.x0, s.x1, s.y-1.4), 0.44) // the sun on the water
	}

	j.thread(navy)
	mast, mastB := dz.Rails(dz.Path(30.5, -39, 30.5, 40), 3)
	j.Column(mast, mastB, 0.42)
	j.hop()
	gallery, galleryB := dz.Rails(dz.Path(-79, 63, -61, 63), 3)
	j.Column(gallery, galleryB, 0.42)
	for _, w := range dz.Path(-70, 44, -70, 25, -70, 4) {
		j.hop()
		j.Column(dz.Path(w.X-2, w.Y, w.X-2, w.Y+6), dz.Path(w.X+2, w.Y, w.X+2, w.Y+6), 0.42)
	}
	for _, s := range []struct{ x0, x1, y float64 }{{-84, -10, -58}, {-14, -76, -70}, {-66, -8, -82}, {-16, -50, -94}} {
		j.hop()
		j.Column(wave(s.x0, s.x1, s.y+1.3), wave(s.x0, s.x1, s.y-1.3), 0.44)
	}
	j.hop()
	ringA, ringB := dz.Circle(dz.XY(0, 0), r+3), dz.Circle(dz.XY(0, 0), r-2.6)
	j.Column(ringA, ringB, 0.4)
	j.hop()
	top := dz.Lettering{Height: 16, Stroke: 3, Gap: 4}
	w := top.Width("PELLSAND PILOTS")
	top.Bend = dz.OnArc(dz.XY(0, 0), r+7, 90, w, true)
	top.Between = j.letters
	j.Text("PELLSAND PILOTS", top)
	j.hop()
	low := dz.Lettering{Height: 12, Stroke: 2.3, Gap: 3}
	w = low.Width("HARBOUR WATCH")
	low.Bend = dz.OnArc(dz.XY(0, 0), r+20, 270, w, false)
	low.Between = j.lettersTrimmed
	j.Text("HARBOUR WATCH", low)
	j.Lock()
	return j
}
