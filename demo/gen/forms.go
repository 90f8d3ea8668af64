package main

import (
	"math"

	dz "needlepace/demo/digitize"
)

func abs(v float64) float64 { return math.Abs(v) }

// swell is a wave with sharp crests and round troughs, one a unit of x.
func swell(x float64) float64 { return 1.4 * (1 - 2*math.Abs(math.Sin(math.Pi*x))) * -1 * 0.6 }

// skyArea is the part of the circle of radius r above the line y = horizon.
func skyArea(r, horizon float64) dz.Shape {
	from := math.Asin(horizon/r) * 180 / math.Pi
	return dz.Area(dz.Arc(dz.XY(0, 0), r, r, from, 180-from))
}

// seaArea is the part below.
func seaArea(r, horizon float64) dz.Shape {
	from := math.Asin(horizon/r) * 180 / math.Pi
	return dz.Area(dz.Arc(dz.XY(0, 0), r, r, 180-from, 360+from))
}

// clipAbove keeps the part of a ring above the line y = floor.
func clipAbove(ring []dz.Pt, floor float64) []dz.Pt {
	var out []dz.Pt
	for i, a := range ring {
		if a.Y >= floor {
			out = append(out, a)
		}
		if b := ring[(i+1)%len(ring)]; (a.Y >= floor) != (b.Y >= floor) {
			out = append(out, a.Lerp(b, (floor-a.Y)/(b.Y-a.Y)))
		}
	}
	return out
}
