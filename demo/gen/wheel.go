package main

import (
	"needlepace/demo"
	dz "needlepace/demo/digitize"
)

// wheelBadge is a ship's wheel drawn without thought for the needle: eight
// spokes through one hub, ticks of half-millimetre stitches, no locks.
func wheelBadge() *job {
	j := newJob("wheel-badge.dst", "WHEEL BADGE", "Ship's wheel", "Pellsand Sea Cadets", "badge, left sleeve")

	j.thread(rope)
	a, b := dz.Circle(dz.XY(0, 0), 27), dz.Circle(dz.XY(0, 0), 23.4)
	j.Column(a, b, 0.42)
	j.hop()
	j.plant(demo.DenseSpot, 1, "four spokes cross at the hub and a hub disc lies over them", func() {
		for i := range 4 {
			put := dz.On(dz.XY(0, 0), float64(i)*45+90)
			sa, sb := dz.Rails(dz.Path(-37, 0, 37, 0), 2.4)
			if i%2 == 1 {
				sa, sb = dz.Reverse(sa), dz.Reverse(sb)
			}
			if i > 0 {
				j.hop()
			}
			j.Column(dz.Map(sa, put), dz.Map(sb, put), 0.4)
		}
		j.hop()
		hub := dz.Area(dz.Circle(dz.XY(0, 0), 6))
		j.Fill(hub, 0, 0.3, 3)
		j.Fill(hub, 90, 0.3, 3)
	})

	j.thread(ink)
	// degree ticks in tiny stitches, a trim after each, and nothing to hold the ends
	cutLoose := func() {
		j.plant(demo.MissingLock, 1, "cut with no small stitches to hold the end", nil)
		j.Trim()
	}
	for i := range 12 {
		put := dz.On(dz.XY(0, 0), float64(i)*30+15)
		j.plant(demo.TinyStitches, 0, "tick of 0.5 mm stitches", func() {
			j.Run(dz.Map(dz.Path(41, 0, 46, 0), put),
				0.5)
		})
		cutLoose()
	}
	j.Lock()

	// rivets: the needle hammers one spot
	for i := range 4 {
		if i > 0 {
			j.hop()
		}
		c := dz.XY(25.2, 0).Rotate(float64(i)*90 + 22.5)
		j.plant(demo.RepeatedHoles, 2, "rivet: to and fro between the same two holes", func() {
			for range 4 {
				j.Run([]dz.Pt{c, c.Add(dz.XY(1.2, 0))}, 2)
				j.Run([]dz.Pt{c.Add(dz.XY(1.2, 0)), c}, 2)
			}
		})
	}
	j.Lock()
	// two lozenges on the lower spoke's sides, the thread left lying between them
	lozenge := func(c dz.Pt) []dz.Pt {
		return []dz.Pt{c.Add(dz.XY(0, 2.5)), c.Add(dz.XY(2, 0)), c.Add(dz.XY(0, -2.5)), c.Add(dz.XY(-2, 0)),
			c.Add(dz.XY(0, 2.5))}
	}
	j.hop()
	j.Run(lozenge(dz.XY(9, -33)), 1.6)
	j.plant(demo.DraggedThread, 1, "jumps of 18 mm with the thread left lying on the cloth", nil)
	j.MoveTo(dz.XY(-9, -30.5))
	j.Run(lozenge(dz.XY(-9, -33)), 1.6)
	j.Lock()
	j.Trim()
	for i := range 3 {
		if i > 0 {
			cutLoose()
		}
		c := dz.XY(-12+12*float64(i), -50)
		j.plant(demo.FewStitches, 1, "a dot of a few stitches with a cut before and after", func() {
			j.Run([]dz.Pt{c, c.Add(dz.XY(1.5, 0.6)), c.Add(dz.XY(0.2, 1.2)), c.Add(dz.XY(1.4, 1.8)),
				c.Add(dz.XY(0.4, 0.3))}, 3)
		})
	}
	j.Lock()
	return j
}
