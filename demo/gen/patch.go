package main

import (
	dz "needlepace/demo/digitize"
)

// chowderPatch is a round patch, filled to the edge and bordered in satin.
func chowderPatch() *job {
	j := newJob("chowder-patch.dst", "CHOWDER PATCH", "Gull & Ladle patch", "Gull & Ladle chowder house",
		"patch, twill")

	const r = 38.0
	bowl := dz.Join(dz.Path(-22, -2), dz.Arc(dz.XY(0, -2), 22, 19, 180, 360))

	j.thread(green)
	ground := dz.Area(dz.Circle(dz.XY(0, 0), r))
	j.FillUnderlay(ground, 0)
	j.Fill(ground, 0, 0.42, 4)

	j.thread(white)
	b := dz.Area(bowl)
	j.FillUnderlay(b, 90)
	j.Fill(b, 90, 0.42, 4)
	rimA, rimB := dz.Rails(dz.Path(22, -2, -24, -2), 3)
	j.Column(rimA, rimB, 0.42)
	j.hop()
	for _, x := range []float64{-8, 0, 8} { // steam
		if x > -8 {
			j.hop()
		}
		c := dz.Curve(dz.Path(x, 3, x+2, 7, x-1.6, 11, x+1.4, 16)...)
		sa, sb := dz.Rails(c, 1.9)
		j.Column(sa, sb, 0.42)
	}

	j.thread(rope)
	ladle := dz.Curve(dz.Path(12, 1, 17, 9, 21, 17, 24, 23)...)
	la, lb := dz.Rails(ladle, 2.4)
	j.Column(la, lb, 0.42)

	j.thread(blue)
	wa, wb := wave(-17, 17, -8), wave(-17, 17, -10.4)
	j.Column(wa, wb, 0.42)

	j.thread(red)
	a, c := dz.Circle(dz.XY(0, 0), r+1.8), dz.Circle(dz.XY(0, 0), r-1.8)
	j.Column(a, c, 0.4)
	j.Lock()
	return j
}
