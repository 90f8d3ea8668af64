package machine

// Constant is one number of a sheet: where it stands, its unit, the range a
// sheet may give, and what it means. The list is the single place these are
// written: validation, the TOML form, intervals and learning all read it.
type Constant struct {
	Path     string // "frame.accel_x"
	Unit     string // as in the sheet, "" for a fraction
	Min, Max float64
	Whole    bool // an integer in the sheet
	Means    string
	Get      func(*Sheet) float64
	Set      func(*Sheet, float64)
}

func field(path, unit string, lo, hi float64, means string, at func(*Sheet) *float64) Constant {
	return Constant{path, unit, lo, hi, false, means,
		func(s *Sheet) float64 { return *at(s) },
		func(s *Sheet, v float64) { *at(s) = v }}
}

func count(path, unit string, lo, hi float64, means string, at func(*Sheet) *int) Constant {
	return Constant{path, unit, lo, hi, true, means,
		func(s *Sheet) float64 { return float64(*at(s)) },
		func(s *Sheet, v float64) { *at(s) = int(v) }}
}

// Constants are the numbers of a sheet in the order of the file. The ranges
// are wide: they keep out wrong units and slips, not unusual machines.
var Constants = []Constant{
	count("heads", "", 1, 120, "heads that sew the same design at once", func(s *Sheet) *int { return &s.Heads }),
	count("needles", "", 1, 60, "needles a head", func(s *Sheet) *int { return &s.Needles }),
	field("max_speed", "stitches/min", 50, 3000, "the machine's own maximum", func(s *Sheet) *float64 { return &s.MaxSpeed }),

	field("shaft.accel_up", "rev/s²", 0.5, 500, "how fast the shaft gains speed", func(s *Sheet) *float64 { return &s.Shaft.AccelUp }),
	field("shaft.accel_down", "rev/s²", 0.5, 500, "how fast the shaft loses speed", func(s *Sheet) *float64 { return &s.Shaft.AccelDown }),
	field("shaft.creep_speed", "stitches/min", 1, 1000, "speed at the first and last boundary of a run", func(s *Sheet) *float64 { return &s.Shaft.CreepSpeed }),
	count("shaft.soft_start_stitches", "", 0, 50, "stitches at the start of a run that keep to the soft-start speed", func(s *Sheet) *int { return &s.Shaft.SoftStartStitches }),
	field("shaft.soft_start_speed", "stitches/min", 10, 3000, "speed of the first stitches of a run", func(s *Sheet) *float64 { return &s.Shaft.SoftStartSpeed }),

	field("frame.window", "", 0.1, 0.9, "fraction of a revolution in which the frame may move", func(s *Sheet) *float64 { return &s.Frame.Window }),
	field("frame.accel_x", "mm/s²", 100, 500_000, "frame acceleration, left and right", func(s *Sheet) *float64 { return &s.Frame.AccelX }),
	field("frame.accel_y", "mm/s²", 100, 500_000, "frame acceleration, to and from the operator", func(s *Sheet) *float64 { return &s.Frame.AccelY }),
	field("frame.speed_x", "mm/s", 5, 10_000, "frame top speed, left and right", func(s *Sheet) *float64 { return &s.Frame.SpeedX }),
	field("frame.speed_y", "mm/s", 5, 10_000, "frame top speed, to and from the operator", func(s *Sheet) *float64 { return &s.Frame.SpeedY }),
	field("frame.settle", "s", 0, 0.2, "settle time after each move of the frame", func(s *Sheet) *float64 { return &s.Frame.Settle }),
	field("frame.turn", "", 0, 5, "turn penalty: 1 makes a full reversal take twice as long", func(s *Sheet) *float64 { return &s.Frame.Turn }),

	field("travel.accel", "mm/s²", 10, 100_000, "frame acceleration between objects", func(s *Sheet) *float64 { return &s.Travel.Accel }),
	field("travel.speed", "mm/s", 1, 5_000, "frame top speed between objects", func(s *Sheet) *float64 { return &s.Travel.Speed }),
	field("travel.shaft_speed", "stitches/min", 10, 3000, "shaft speed over jumps, in shaft mode", func(s *Sheet) *float64 { return &s.Travel.ShaftSpeed }),

	field("rest.start", "s", 0, 600, "from the start button to the first revolution", func(s *Sheet) *float64 { return &s.Rest.Start }),
	field("rest.trim", "s", 0, 120, "a trim, standing to ready", func(s *Sheet) *float64 { return &s.Rest.Trim }),
	field("rest.colour_stop", "s", 0, 3600, "a colour stop, standing to ready, its own cut included", func(s *Sheet) *float64 { return &s.Rest.ColourStop }),
	field("rest.per_needle", "s", 0, 30, "more for each needle position crossed", func(s *Sheet) *float64 { return &s.Rest.PerNeedle }),
	field("rest.stop", "s", 0, 3600, "an operator stop, without the operator's time", func(s *Sheet) *float64 { return &s.Rest.Stop }),
	field("rest.end", "s", 0, 600, "from the last stitch to standing, last cut included", func(s *Sheet) *float64 { return &s.Rest.End }),

	count("reading.trim_after_jumps", "jumps", 1, 20, "this many jumps in a row are a trim", func(s *Sheet) *int { return &s.Reading.TrimAfterJumps }),
}

// ConstantAt finds a constant by its path.
func ConstantAt(path string) (Constant, bool) {
	for _, c := range Constants {
		if c.Path == path {
			return c, true
		}
	}
	return Constant{}, false
}
