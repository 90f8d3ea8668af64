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
	// Optional says that a sheet may leave the constant out; it is then
	// Default, which means that the machine does not have the thing at all
	// (no settle time, no top speed in reach) or is what MODEL fixes.
	// soft_start_speed is needed where there are soft-start stitches, and
	// travel.shaft_speed in shaft mode.
	Optional bool
	Default  float64
	Get      func(*Sheet) float64
	Set      func(*Sheet, float64)
}

func field(path, unit string, lo, hi float64, means string, at func(*Sheet) *float64) Constant {
	return Constant{Path: path, Unit: unit, Min: lo, Max: hi, Means: means,
		Get: func(s *Sheet) float64 { return *at(s) },
		Set: func(s *Sheet, v float64) { *at(s) = v }}
}

func count(path, unit string, lo, hi float64, means string, at func(*Sheet) *int) Constant {
	return Constant{Path: path, Unit: unit, Min: lo, Max: hi, Whole: true, Means: means,
		Get: func(s *Sheet) float64 { return float64(*at(s)) },
		Set: func(s *Sheet, v float64) { *at(s) = int(v) }}
}

func (c Constant) or(v float64) Constant {
	c.Optional, c.Default = true, v
	return c
}

// noLimit is the top speed of a frame of which none is known: no stitch is
// long enough to reach it (mm/s).
const noLimit = 10_000

// Constants are the numbers of a sheet in the order of the file. The ranges
// are wide: they keep out wrong units and slips, not unusual machines.
var Constants = []Constant{
	count("heads", "", 1, 120, "heads that sew the same design at once", func(s *Sheet) *int { return &s.Heads }).or(1),
	count("needles", "", 1, 60, "needles a head", func(s *Sheet) *int { return &s.Needles }),
	field("max_speed", "stitches/min", 50, 3000, "the machine's own maximum",
		func(s *Sheet) *float64 { return &s.MaxSpeed }),

	field("shaft.accel_up", "rev/s²", 0.5, 500, "how fast the shaft gains speed",
		func(s *Sheet) *float64 { return &s.Shaft.AccelUp }),
	field("shaft.accel_down", "rev/s²", 0.5, 500, "how fast the shaft loses speed",
		func(s *Sheet) *float64 { return &s.Shaft.AccelDown }),
	field("shaft.creep_speed", "stitches/min", 1, 1000, "speed at the first and last boundary of a run",
		func(s *Sheet) *float64 { return &s.Shaft.CreepSpeed }),
	count("shaft.soft_start_stitches", "", 0, 50, "stitches at the start of a run that keep to the soft-start speed",
		func(s *Sheet) *int { return &s.Shaft.SoftStartStitches }).or(0),
	field("shaft.soft_start_speed", "stitches/min", 10, 3000, "speed of the first stitches of a run",
		func(s *Sheet) *float64 { return &s.Shaft.SoftStartSpeed }).or(300),

	field("frame.window", "", 0.1, 0.9, "fraction of a revolution in which the frame may move",
		func(s *Sheet) *float64 { return &s.Frame.Window }).or(0.44),
	field("frame.accel_x", "mm/s²", 100, 500_000, "frame acceleration, left and right",
		func(s *Sheet) *float64 { return &s.Frame.AccelX }),
	field("frame.accel_y", "mm/s²", 100, 500_000, "frame acceleration, to and from the operator",
		func(s *Sheet) *float64 { return &s.Frame.AccelY }),
	field("frame.speed_x", "mm/s", 5, noLimit, "frame top speed within a stitch, left and right",
		func(s *Sheet) *float64 { return &s.Frame.SpeedX }).or(noLimit),
	field("frame.speed_y", "mm/s", 5, noLimit, "frame top speed within a stitch, to and from the operator",
		func(s *Sheet) *float64 { return &s.Frame.SpeedY }).or(noLimit),
	field("frame.settle", "s", 0, 0.2, "settle time after each move of the frame",
		func(s *Sheet) *float64 { return &s.Frame.Settle }).or(0),
	field("frame.turn", "", 0, 5, "turn penalty: 1 makes a full reversal take twice as long",
		func(s *Sheet) *float64 { return &s.Frame.Turn }).or(0),

	field("travel.accel", "mm/s²", 10, 100_000, "frame acceleration between objects",
		func(s *Sheet) *float64 { return &s.Travel.Accel }),
	field("travel.speed", "mm/s", 1, 5_000, "frame top speed between objects",
		func(s *Sheet) *float64 { return &s.Travel.Speed }),
	field("travel.shaft_speed", "stitches/min", 10, 3000, "shaft speed over jumps, in shaft mode",
		func(s *Sheet) *float64 { return &s.Travel.ShaftSpeed }).or(400),

	field("rest.start", "s", 0, 600, "from the start button to the first revolution",
		func(s *Sheet) *float64 { return &s.Rest.Start }),
	field("rest.trim", "s", 0, 120, "a trim, standing to ready", func(s *Sheet) *float64 { return &s.Rest.Trim }),
	field("rest.colour_stop", "s", 0, 3600, "a colour stop, standing to ready, its own cut included",
		func(s *Sheet) *float64 { return &s.Rest.ColourStop }),
	field("rest.per_needle", "s", 0, 30, "more for each needle position crossed",
		func(s *Sheet) *float64 { return &s.Rest.PerNeedle }).or(0),
	field("rest.stop", "s", 0, 3600, "an operator stop, without the operator's time",
		func(s *Sheet) *float64 { return &s.Rest.Stop }).or(0),
	field("rest.end", "s", 0, 600, "from the last stitch to standing, last cut included",
		func(s *Sheet) *float64 { return &s.Rest.End }),

	count("reading.trim_after_jumps", "", 1, 20, "this many jumps in a row are a trim",
		func(s *Sheet) *int { return &s.Reading.TrimAfterJumps }).or(3),
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
