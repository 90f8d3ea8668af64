package main

import (
	. "needlepace/demo/digitize"
)

// whale is line art: one thread, running stitch, the body one unbroken line.
func whale() *job {
	j := newJob("whale-line.dst", "WHALE LINE", "Whale in one line", "Pellsand Pilots", "tote bag")
	j.facts.Clean = true

	j.thread(ink)
	const mm = 2.4
	// along a side line to its end and back beside it
	spur := func(c []Pt) {
		j.Run(c, mm)
		back := Offset(Reverse(c), -0.5)
		back[len(back)-1] = c[0]
		j.Run(back, mm*1.07)
	}
	j.Run(Arc(XY(-28, 1.6), 1.5, 1.5, 0, 330), 1.4) // the eye
	j.hop()
	// the line begins and ends at the tip of the flipper, near the middle
	tip, root := XY(6, -1), XY(-9, -20.4)
	j.Run(Curve(tip, XY(-2, -4), XY(-7, -11), root), mm)
	j.Run(Curve(root, XY(-22, -19.5), XY(-34, -16), XY(-42, -10)), mm)
	spur(Curve(XY(-42, -10), XY(-33, -6.4), XY(-24, -6.6), XY(-17, -2)))
	j.Run(Curve(XY(-42, -10), XY(-46, -2), XY(-43.5, 8), XY(-34, 16.4), XY(-20, 20.4)), mm)
	spout := XY(-20, 20.4)
	spur(Curve(spout, XY(-21, 27), XY(-26, 32), XY(-32, 32), XY(-34, 28)))
	spur(Curve(spout, XY(-18, 27), XY(-13, 32), XY(-7, 32), XY(-5, 28)))
	j.Run(Curve(spout, XY(-4, 20.6), XY(12, 17.6), XY(26, 11.4), XY(37, 8.6), XY(44, 12), XY(47, 18)), mm)
	j.Run(Join(
		Curve(XY(47, 18), XY(40, 20), XY(34, 26), XY(33, 33), XY(41, 33.6), XY(47, 31), XY(51, 26)),
		Curve(XY(51, 26), XY(56, 31), XY(63, 33), XY(69, 31), XY(66, 24), XY(60, 19), XY(53, 17))), mm)
	j.Run(Curve(XY(53, 17), XY(50, 7), XY(42, -3), XY(29, -12), XY(12, -18), XY(-5, -20.6)), mm)
	j.Run(Curve(XY(-5, -20.6), XY(-1, -15), XY(4, -9), tip), mm)
	j.Lock()
	return j
}
