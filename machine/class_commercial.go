package machine

// Commercial single heads: stiff drives, so that ordinary designs sew at the
// set speed. Frame constants are planning figures of engineering practice
// (k = 2470 and 2300 stitches/min·sqrt(mm) for a light single head at
// 1,200/min), no published source. The top speed within a stitch is just out
// of reach of the longest stitch of the 3-byte record, 12.1 mm.

// single15Fast is a commercial single head rated 1,200/min. A trim of about
// 5 s and a colour change of about 9 s with the ramps (trade guides, see
// clock/classes_reference_test.go) leave 3.6 s and 7.2 s of action.
func single15Fast() *Sheet {
	return &Sheet{
		Name: "single-15-1200", Class: "single head, 15 needles, commercial, 1,200/min",
		Heads: 1, Needles: 15, MaxSpeed: 1200,
		Shaft:  Shaft{AccelUp: 20, AccelDown: 26, CreepSpeed: 120, SoftStartSpeed: 250},
		Frame:  Frame{Window: window, AccelX: accelFor(2470), AccelY: accelFor(2300), SpeedX: 650, SpeedY: 650},
		Travel: TravelLaw{Accel: 3000, Speed: 300, ShaftSpeed: 500},
		Rest:   Rest{Start: 2, Trim: 3.6, ColourStop: 7, PerNeedle: 0.4, End: 3},
	}
}

// compact8 is a small commercial head run at 800/min. Common practice, no
// published source: it holds that speed on an ordinary design, and stops and
// ramps together cost about 5 s each. How stiff such a small machine is nobody
// says: somewhat less than the full-size head is assumed, with a wider spread.
func compact8() *Sheet {
	return &Sheet{
		Name: "compact-8", Class: "compact commercial, 8 needles, 800/min",
		Heads: 1, Needles: 8, MaxSpeed: 800,
		Shaft:  Shaft{AccelUp: 20, AccelDown: 26, CreepSpeed: 120, SoftStartSpeed: 300},
		Frame:  Frame{Window: window, AccelX: accelFor(2250), AccelY: accelFor(2100), SpeedX: 600, SpeedY: 560},
		Travel: TravelLaw{Accel: 3000, Speed: 300, ShaftSpeed: 400},
		Rest:   Rest{Start: 2, Trim: 3.2, ColourStop: 4.2, PerNeedle: 0.3, End: 2},
		SD: map[string]float64{"frame.accel_x": 0.5, "frame.accel_y": 0.5, "rest.trim": 0.35,
			"rest.colour_stop": 0.35},
	}
}
