package main

import (
	dz "needlepace/demo/digitize"
)

// The Ostrel Point light: a left-chest logo, once as it should be and once with
// a trim at every opportunity.

func lightClean() *job {
	j := newJob("ostrel-light.dst", "OSTREL LIGHT", "Ostrel Point light", "Ostrel Point Light Society", "left chest")
	j.facts.Clean = true
	drawLight(j, func(string) {}, nil)
	return j
}

func lightTrims() *job {
	j := newJob("ostrel-light-trims.dst", "OSTREL TRIMS", "Ostrel Point light, as first delivered",
		"Ostrel Point Light Society", "left chest")
	drawLight(j, j.needless, j.lettersTrimmed)
	return j
}

// drawLight calls gap wherever the needle goes on to an object close by,
// and letters between two letters.
func drawLight(j *job, gap func(note string), letters func(float64)) {
	tower := func(y float64) float64 { return 7.6 - (y+12)*0.085 } // half width at a height
	edge := func(y float64) float64 { return tower(y) - 0.45 }     // of what the outline covers

	j.thread(slate)
	rock := dz.Curve(dz.Path(-25, -19.5, -21, -15, -16, -14.5, -12, -10.5, -6, -10, 0, -9.2, 7, -10, 12, -12, 17, -14.5,
		22, -15.5, 26, -19.5)...)
	area := dz.Area(dz.Join(rock, dz.Path(26, -20.5, -25, -20.5)))
	j.FillUnderlay(area, 10)
	j.Fill(area, 10, 0.42, 4)

	j.thread(white)
	body := dz.Area(dz.Path(-edge(-9), -9, edge(-9), -9, edge(22), 22, -edge(22), 22))
	j.FillUnderlay(body, 0)
	j.Fill(body, 0, 0.42, 4)

	// roof and bands; the ways between them lie where the outline is sewn later
	j.thread(red)
	j.Column(dz.Path(-5.2, 30, 0, 30, 5.2, 30), dz.Path(-5.2, 31.2, 0, 35.4, 5.2, 31.2), 0.42)
	j.Run(dz.Path(3.4, 30.4, 3.4, 23, tower(21), 21, tower(17.4), 17.4), dz.ConnectorMM)
	gap("roof to band: the way lies under the outline")
	j.Column(dz.Path(edge(17.4), 17.4, -edge(17.4), 17.4), dz.Path(edge(12.4), 12.4, -edge(12.4), 12.4), 0.46)
	j.Run(dz.Path(-tower(12.4), 12.4, -tower(4.6), 4.6), dz.ConnectorMM)
	gap("band to band: the way lies under the outline")
	j.Column(dz.Path(-edge(4.6), 4.6, edge(4.6), 4.6), dz.Path(-edge(-0.4), -0.4, edge(-0.4), -0.4), 0.46)

	// rays rooted under the lamp, out by underlay and back by satin
	j.thread(yellow)
	lamp := dz.XY(0, 26.2)
	for i, deg := range []float64{154, 180, 206, 334, 0, 26} {
		if i > 0 {
			gap("ray to ray: the way lies under the lamp")
		}
		length := 19.0
		if deg != 0 && deg != 180 {
			length = 16
		}
		root, tip := dz.XY(4, 0), dz.XY(length, 0)
		if deg != 0 && deg != 180 {
			root.X = 4.4
		}
		a := []dz.Pt{root.Add(dz.XY(0, 0.65)), tip.Add(dz.XY(0, 1.5))}
		b := []dz.Pt{root.Sub(dz.XY(0, 0.65)), tip.Sub(dz.XY(0, 1.5))}
		put := dz.On(lamp, deg)
		j.ColumnBack(dz.Map(a, put), dz.Map(b, put), 0.44)
	}
	light := dz.Area(dz.Rect(-4.2, 22.8, 4.2, 29.8))
	j.FillUnderlay(light, 90)
	j.Fill(light, 90, 0.42, 4)

	// lettering, sea, then the outline that ends at the door, the middle of the design
	j.thread(navy)
	text := dz.Lettering{Height: 7.2, Stroke: 1.5, Gap: 1.5, Spacing: 0.45, Between: letters}
	w := text.Width("OSTREL POINT")
	text.Bend = dz.On(dz.XY(-w/2, -42.5), 0)
	j.Text("OSTREL POINT", text)
	j.hop()
	for i, s := range []struct{ x0, x1, y float64 }{{29, -29, -24.6}, {-29, 27, -20.6}} {
		if i > 0 {
			gap("wave to wave")
		}
		j.Column(wave(s.x0, s.x1, s.y+1.1), wave(s.x0, s.x1, s.y-1.1), 0.42)
	}
	j.Lock()
	j.Trim()
	j.Lock()
	outline := func(c []dz.Pt) { a, b := dz.Rails(c, 2); j.Column(a, b, 0.46) }
	outline(dz.Path(tower(-9)+0.2, -10.4, tower(21)+0.2, 21.3))
	gap("outline to gallery")
	a, b := dz.Rails(dz.Path(7, 22.4, -7, 22.4), 2)
	j.Column(a, b, 0.42)
	gap("gallery to outline")
	outline(dz.Path(-tower(21)-0.2, 21.3, -tower(-9)-0.2, -10.4))
	j.Run(dz.Path(-tower(-9)-0.2, -10.4, -4, -10.2, 0, -10), dz.ConnectorMM)
	gap("outline to door")
	j.Column(dz.Path(-2, -9.4, -2, -4.2, 0, -2.2), dz.Path(2, -9.4, 2, -4.2, 0.4, -2.2), 0.42)
	j.Lock()
}

// wave is a line of swell from x0 to x1 at height y.
func wave(x0, x1, y float64) []dz.Pt {
	const crest = 9.0 // mm from crest to crest
	n := 6 * int(abs(x1-x0)/crest+1)
	pts := make([]dz.Pt, n+1)
	for i := range pts {
		x := x0 + (x1-x0)*float64(i)/float64(n)
		pts[i] = dz.XY(x, y+swell(x/crest))
	}
	return pts
}
