package machine

// Machines of light drives: a small motor moves the frame, and long stitches
// slow the shaft down much. Common practice, no published source: rated
// 1,000/min they hold about 900/min on short running stitches (2 mm) and
// about 400/min on long satin (8 to 10 mm). The frame law below is the one
// that goes through 900/min at 2 mm and 400/min at 9 mm with the window 0.44:
//
//	2·sqrt(2/a) = 0.44·60/900 s   →  a = 9,300 mm/s²
//	9/v + v/a   = 0.44·60/400 s   →  v = 204 mm/s
//
// Nothing published tells the light classes apart by their frames, so they
// share it.
const (
	lightAccel = 9300 // mm/s²
	lightSpeed = 204  // mm/s
)

func lightFrame() Frame {
	return Frame{Window: window, AccelX: lightAccel, AccelY: lightAccel, SpeedX: lightSpeed, SpeedY: lightSpeed}
}

// home1 stands for machines for the home: one needle, and the operator
// re-threads by hand at every colour. About 800/min is a usual norm of such
// machines in users' talk; a re-thread of about a minute is what a trade
// article counts for a thread break (ASI, Stitches, July 2014); a quarter of a
// minute for cutting, the foot and starting again is assumed on top. People
// differ much.
func home1() *Sheet {
	return &Sheet{
		Name: "home-1", Class: "home, 1 needle re-threaded by hand at each colour, 800/min",
		Heads: 1, Needles: 1, MaxSpeed: 800,
		Shaft:  Shaft{AccelUp: 12, AccelDown: 16, CreepSpeed: 80, SoftStartSpeed: 200},
		Frame:  lightFrame(),
		Travel: TravelLaw{Accel: 1000, Speed: 100, ShaftSpeed: 400},
		Rest:   Rest{Start: 3, Trim: 4, ColourStop: 75, End: 3},
		SD: map[string]float64{"rest.colour_stop": 0.5, "rest.trim": 0.4, "frame.accel_x": 0.45,
			"frame.accel_y": 0.45},
	}
}

// compact10Light stands between home and shop: several needles, light drives.
func compact10Light() *Sheet {
	return &Sheet{
		Name: "compact-10-light", Class: "compact, 10 needles, light drives, 1,000/min",
		Heads: 1, Needles: 10, MaxSpeed: 1000,
		Shaft:  Shaft{AccelUp: 15, AccelDown: 20, CreepSpeed: 100, SoftStartSpeed: 250},
		Frame:  lightFrame(),
		Travel: TravelLaw{Accel: 1200, Speed: 120, ShaftSpeed: 400},
		Rest:   Rest{Start: 3, Trim: 3.8, ColourStop: 8, PerNeedle: 0.5, End: 3},
	}
}

// single15Light is a shop's single head on light drives.
func single15Light() *Sheet {
	return &Sheet{
		Name: "single-15-light", Class: "single head, 15 needles, light drives, 1,000/min",
		Heads: 1, Needles: 15, MaxSpeed: 1000,
		Shaft:  Shaft{AccelUp: 18, AccelDown: 24, CreepSpeed: 120, SoftStartSpeed: 300},
		Frame:  lightFrame(),
		Travel: TravelLaw{Accel: 1500, Speed: 150, ShaftSpeed: 400},
		Rest:   Rest{Start: 3, Trim: 4, ColourStop: 7.5, PerNeedle: 0.4, End: 3},
	}
}
