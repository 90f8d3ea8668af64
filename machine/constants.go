package machine

import "needlepace/words"

// Constant is one number of a sheet: where it stands, its unit and the range a
// sheet may give; package words says what it means. The list is the single
// place these are written: validation, the TOML form, intervals and learning
// all read it.
type Constant struct {
	Path     string // "frame.accel_x"
	Unit     string // as in the sheet, "" for a fraction
	Min, Max float64
	Whole    bool // an integer in the sheet
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

func field(path, unit string, lo, hi float64, at func(*Sheet) *float64) Constant {
	return Constant{Path: path, Unit: unit, Min: lo, Max: hi,
		Get: func(s *Sheet) float64 { return *at(s) },
		Set: func(s *Sheet, v float64) { *at(s) = v }}
}

func count(path, unit string, lo, hi float64, at func(*Sheet) *int) Constant {
	return Constant{Path: path, Unit: unit, Min: lo, Max: hi, Whole: true,
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
	count("heads", "", 1, 120, func(s *Sheet) *int { return &s.Heads }).or(1),
	count("needles", "", 1, 60, func(s *Sheet) *int { return &s.Needles }),
	field("max_speed", "stitches/min", 50, 3000, func(s *Sheet) *float64 { return &s.MaxSpeed }),

	field("shaft.accel_up", "rev/s²", 0.5, 500, func(s *Sheet) *float64 { return &s.Shaft.AccelUp }),
	field("shaft.accel_down", "rev/s²", 0.5, 500, func(s *Sheet) *float64 { return &s.Shaft.AccelDown }),
	field("shaft.creep_speed", "stitches/min", 1, 1000, func(s *Sheet) *float64 { return &s.Shaft.CreepSpeed }),
	count("shaft.soft_start_stitches", "", 0, 50, func(s *Sheet) *int { return &s.Shaft.SoftStartStitches }).or(0),
	field("shaft.soft_start_speed", "stitches/min", 10, 3000, func(s *Sheet) *float64 { return &s.Shaft.SoftStartSpeed }).or(300),

	field("frame.window", "", 0.1, 0.9, func(s *Sheet) *float64 { return &s.Frame.Window }).or(0.44),
	field("frame.accel_x", "mm/s²", 100, 500_000, func(s *Sheet) *float64 { return &s.Frame.AccelX }),
	field("frame.accel_y", "mm/s²", 100, 500_000, func(s *Sheet) *float64 { return &s.Frame.AccelY }),
	field("frame.speed_x", "mm/s", 5, noLimit, func(s *Sheet) *float64 { return &s.Frame.SpeedX }).or(noLimit),
	field("frame.speed_y", "mm/s", 5, noLimit, func(s *Sheet) *float64 { return &s.Frame.SpeedY }).or(noLimit),
	field("frame.settle", "s", 0, 0.2, func(s *Sheet) *float64 { return &s.Frame.Settle }).or(0),
	field("frame.turn", "", 0, 5, func(s *Sheet) *float64 { return &s.Frame.Turn }).or(0),

	field("travel.accel", "mm/s²", 10, 100_000, func(s *Sheet) *float64 { return &s.Travel.Accel }),
	field("travel.speed", "mm/s", 1, 5_000, func(s *Sheet) *float64 { return &s.Travel.Speed }),
	field("travel.shaft_speed", "stitches/min", 10, 3000, func(s *Sheet) *float64 { return &s.Travel.ShaftSpeed }).or(400),

	field("rest.start", "s", 0, 600, func(s *Sheet) *float64 { return &s.Rest.Start }),
	field("rest.trim", "s", 0, 120, func(s *Sheet) *float64 { return &s.Rest.Trim }),
	field("rest.colour_stop", "s", 0, 3600, func(s *Sheet) *float64 { return &s.Rest.ColourStop }),
	field("rest.per_needle", "s", 0, 30, func(s *Sheet) *float64 { return &s.Rest.PerNeedle }).or(0),
	field("rest.stop", "s", 0, 3600, func(s *Sheet) *float64 { return &s.Rest.Stop }).or(0),
	field("rest.end", "s", 0, 600, func(s *Sheet) *float64 { return &s.Rest.End }),

	count("reading.trim_after_jumps", "", 1, 20, func(s *Sheet) *int { return &s.Reading.TrimAfterJumps }).or(3),
}

// Means is what the constant is.
func (c Constant) Means() words.Message { return words.Say("constant." + c.Path) }

// ConstantAt finds a constant by its path.
func ConstantAt(path string) (Constant, bool) {
	for _, c := range Constants {
		if c.Path == path {
			return c, true
		}
	}
	return Constant{}, false
}
