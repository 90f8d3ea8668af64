package main

import (
	dz "needlepace/demo/digitize"
)

// whale is line art: one thread, running stitch, the body one unbroken line.
func whale() *job {
	j := newJob("whale-line.dst", "WHALE LINE", "Whale in one line", "Pellsand Pilots", "tote bag")
	j.facts.Clean = true

	j.thread(ink)
	const mm = 2.4
	// along a side line to its end and back beside it
	spur := func(c []dz.Pt) {
		j.Run(c, mm)
		back := dz.Offset(dz.Reverse(c), -0.5)
		back[len(back)-1] = c[0]
		j.Run(back, mm*1.07)
	}
	j.Run(dz.Arc(dz.XY(-28, 1.6), 1.5, 1.5, 0, 330), 1.4) // the eye
	j.hop()
	// the line begins and ends at the tip of the flipper, near the middle
	tip, root := dz.XY(6, -1), dz.XY(-9, -20.4)
	j.Run(dz.Curve(tip, dz.XY(-2, -4), dz.XY(-7, -11), root), mm)
	j.Run(dz.Curve(root, dz.XY(-22, -19.5), dz.XY(-34, -16), dz.XY(-42, -10)), mm)
	spur(dz.Curve(dz.Path(-42, -10, -33, -6.4, -24, -6.6, -17, -2)...))
	j.Run(dz.Curve(dz.Path(-42, -10, -46, -2, -43.5, 8, -34, 16.4, -20, 20.4)...), mm)
	spout := dz.XY(-20, 20.4)
	spur(dz.Curve(spout, dz.XY(-21, 27), dz.XY(-26, 32), dz.XY(-32, 32), dz.XY(-34, 28)))
	spur(dz.Curve(spout, dz.XY(-18, 27), dz.XY(-13, 32), dz.XY(-7, 32), dz.XY(-5, 28)))
	j.Run(dz.Curve(spout, dz.XY(-4, 20.6), dz.XY(12, 17.6), dz.XY(26, 11.4), dz.XY(37, 8.6), dz.XY(44, 12),
		dz.XY(47, 18)), mm)
	j.Run(dz.Join(
		dz.Curve(dz.Path(47, 18, 40, 20, 34, 26, 33, 33, 41, 33.6, 47, 31, 51, 26)...),
		dz.Curve(dz.Path(51, 26, 56, 31, 63, 33, 69, 31, 66, 24, 60, 19, 53, 17)...)), mm)
	j.Run(dz.Curve(dz.Path(53, 17, 50, 7, 42, -3, 29, -12, 12, -18, -5, -20.6)...), mm)
	j.Run(dz.Curve(dz.XY(-5, -20.6), dz.XY(-1, -15), dz.XY(4, -9), tip), mm)
	j.Lock()
	return j
}
