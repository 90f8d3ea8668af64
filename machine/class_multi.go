package machine

// Multi-head machines: the longer the frame, the more mass and the slower it
// moves. Frame constants are planning figures of engineering practice, no
// published source: k = 1900 and 1750 stitches/min·sqrt(mm) for four to six
// heads, 1450 and 1300 for long machines. Shafts of 15 and 10 rev/s², a trim of
// 5.5 s and 6 s and a colour change of 10 s and 11 s with the ramps are
// planned with them; at the set speed the ramps and the slow start take about
// 2 s of each and are taken out of the rests below (MODEL section 4).

// multi6 is the long end of four to six heads, so a little below their k.
func multi6() *Sheet {
	return &Sheet{
		Name: "multi-6", Class: "multi-head, 6 heads, 15 needles, 1,000/min",
		Heads: 6, Needles: 15, MaxSpeed: 1000,
		Shaft:  Shaft{AccelUp: 15, AccelDown: 20, CreepSpeed: 100, SoftStartSpeed: 200},
		Frame:  Frame{Window: window, AccelX: accelFor(1800), AccelY: accelFor(1650), SpeedX: 500, SpeedY: 460},
		Travel: TravelLaw{Accel: 2000, Speed: 250, ShaftSpeed: 400},
		Rest:   Rest{Start: 3, Trim: 3.7, ColourStop: 7.8, PerNeedle: 0.4, End: 3},
	}
}

// multi12 lies between six heads and the long machines.
func multi12() *Sheet {
	return &Sheet{
		Name: "multi-12", Class: "multi-head, 12 heads, 15 needles, 1,000/min",
		Heads: 12, Needles: 15, MaxSpeed: 1000,
		Shaft:  Shaft{AccelUp: 12, AccelDown: 16, CreepSpeed: 100, SoftStartSpeed: 200},
		Frame:  Frame{Window: window, AccelX: accelFor(1600), AccelY: accelFor(1450), SpeedX: 440, SpeedY: 400},
		Travel: TravelLaw{Accel: 1600, Speed: 220, ShaftSpeed: 400},
		Rest:   Rest{Start: 3, Trim: 3.8, ColourStop: 8.2, PerNeedle: 0.4, End: 3},
	}
}

func multi20() *Sheet {
	return &Sheet{
		Name: "multi-20", Class: "multi-head, 20 heads, 9 needles, 1,000/min",
		Heads: 20, Needles: 9, MaxSpeed: 1000,
		Shaft:  Shaft{AccelUp: 10, AccelDown: 14, CreepSpeed: 100, SoftStartSpeed: 200},
		Frame:  Frame{Window: window, AccelX: accelFor(1450), AccelY: accelFor(1300), SpeedX: 390, SpeedY: 350},
		Travel: TravelLaw{Accel: 1200, Speed: 200, ShaftSpeed: 400},
		Rest:   Rest{Start: 4, Trim: 3.8, ColourStop: 8.5, PerNeedle: 0.4, End: 4},
	}
}

// multi20Slow is a large machine of an older build, rated 850/min: k = 1300
// and 1150, a tenth below the long machines.
func multi20Slow() *Sheet {
	return &Sheet{
		Name: "multi-20-slow", Class: "multi-head, 20 heads, 9 needles, 850/min",
		Heads: 20, Needles: 9, MaxSpeed: 850,
		Shaft:  Shaft{AccelUp: 8, AccelDown: 11, CreepSpeed: 80, SoftStartSpeed: 200},
		Frame:  Frame{Window: window, AccelX: accelFor(1300), AccelY: accelFor(1150), SpeedX: 350, SpeedY: 310},
		Travel: TravelLaw{Accel: 1000, Speed: 150, ShaftSpeed: 400},
		Rest:   Rest{Start: 4, Trim: 3.8, ColourStop: 8.5, PerNeedle: 0.5, End: 4},
	}
}
