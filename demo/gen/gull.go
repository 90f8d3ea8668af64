package main

import (
	dz "needlepace/demo/digitize"
)

// gullCap is a cap front: small, from the middle outwards and from the bottom
// up, the underlay pinning the cap before the satin comes back.
func gullCap() *job {
	j := newJob("gull-cap.dst", "GULL CAP", "Gull over the swell", "Gull & Ladle chowder house", "cap front")
	j.facts.Clean = true

	j.thread(blue)
	for i, s := range []struct{ half, y float64 }{{24, -20}, {36, -15}} {
		if i > 0 {
			j.Run(dz.Path(0, -19, 0, -15.6), dz.ConnectorMM)
		}
		for _, side := range []float64{-1, 1} {
			up := ribbon(side, s.half, s.y+1.3, 0.5)
			down := ribbon(side, s.half, s.y-1.3, -0.5)
			j.ColumnBack(up, down, 0.42)
		}
	}

	j.thread(yellow)
	j.Column(dz.Path(-1.9, 10, -0.6, 14.8), dz.Path(1.9, 10, 0.6, 14.8), 0.42)

	j.thread(slate)
	for _, side := range []float64{-1, 1} { // the dark wing tips
		at := func(x, y float64) dz.Pt { return dz.XY(side*x, y) }
		if side > 0 {
			j.hop()
		}
		upper := dz.Curve(at(33, 7.6), at(38, 8.6), at(44, 10.4))
		lower := dz.Curve(at(33, 5.4), at(38, 6.2), at(44, 8.8))
		j.ColumnBack(upper, lower, 0.42)
	}

	j.thread(white)
	for _, side := range []float64{-1, 1} {
		at := func(x, y float64) dz.Pt { return dz.XY(side*x, y) }
		upper := dz.Curve(at(1.4, 5.4), at(10, 11.6), at(20, 13), at(29, 9.4), at(34.6, 8.2))
		lower := dz.Curve(at(1.4, 0.2), at(11, 6), at(20, 8.2), at(29, 5.6), at(34.6, 5.4))
		j.ColumnBack(upper, lower, 0.42)
	}
	body := dz.Area(dz.Curve(dz.Path(0, -4.6, 3.6, 0, 4.1, 4, 3.2, 8.2, 0, 11.4, -3.2, 8.2, -4.1, 4, -3.6, 0, 0,
		-4.6)...))
	j.FillUnderlay(body, 90)
	j.Fill(body, 90, 0.42, 3.6)
	tail := dz.Area(dz.Path(-4.8, -7.6, 0, -9.2, 4.8, -7.6, 2.6, -1, -2.6, -1))
	j.FillUnderlay(tail, 0)
	j.Fill(tail, 0, 0.42, 3.6)
	j.Lock()
	return j
}

// ribbon is one half of a line of swell, from the middle outwards; the tip
// draws together by tip mm.
func ribbon(side, half, y, tip float64) []dz.Pt {
	const n = 48
	pts := make([]dz.Pt, n+1)
	for i := range pts {
		t := float64(i) / n
		pts[i] = dz.XY(side*half*t, y+1.5*swell(half*t/12)-tip*t)
	}
	return pts
}
