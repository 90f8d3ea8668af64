package machine

import (
	"fmt"
	"iter"
	"slices"
	"strconv"
	"strings"

	"needlepace/internal/tomlfile"
	"needlepace/words"
)

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
	// soft_start_speed is needed where there are soft-start stitches,
	// travel.shaft_speed in shaft mode, turns.angle and turns.length with
	// turns.speed.
	Optional bool
	Default  float64
	// Term says that the constant belongs to a term of the law that most
	// machines do not have. Where it is Absent nothing writes or shows it, and
	// no interval draws it.
	Term bool
	// Job is the kind of job that the constant is of; 0: it is the machine's.
	Job Jobs
	Get func(*Sheet) float64
	Set func(*Sheet, float64)

	spread  float64 // of what is assumed of a kind of job, relative
	node    int     // from 1, of a node of the correction tables or a rung
	isApart bool    // what it means is no name for a sentence
}

// Absent reports whether the sheet's machine does not have the term that the
// constant belongs to; false for the constants that every machine has. What is
// of a kind of job is absent where the sheet says nothing of it.
func (c Constant) Absent(s *Sheet) bool {
	if !c.Term || c.Get(s) != c.Default {
		return false
	}
	if c.Job == 0 {
		return true
	}
	_, spread := s.SD[c.Path]
	_, basis := s.BasisOf[c.Path]
	return !spread && !basis
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

// neededBy reports whether a sheet file must give the constant.
func (c Constant) neededBy(s *Sheet) bool {
	switch c.Path {
	case "shaft.soft_start_speed":
		return s.Shaft.SoftStartStitches > 0
	case "travel.shaft_speed":
		return s.Travel.Mode == ShaftTravel
	case "turns.angle", "turns.length":
		return s.Turns.Speed > 0 && s.Turns.Speed < 1
	}
	return !c.Optional
}

// term is a constant that most machines do not have.
func (c Constant) term() Constant {
	c.Term = true
	return c
}

// apart is a constant with a name of its own in sentences.
func (c Constant) apart() Constant {
	c.isApart = true
	return c
}

// noLimit is the top speed of a frame of which none is known: no stitch is
// long enough to reach it (mm/s).
const noLimit = 10_000

// NoLimit reports whether the value says that no top speed of the frame is known.
func (c Constant) NoLimit(v float64) bool { return c.Optional && c.Default == noLimit && v >= noLimit }

// Constants are the numbers of a sheet in the order of the file. The ranges
// are wide: they keep out wrong units and slips, not unusual machines.
var Constants = slices.Concat([]Constant{
	count("heads", "", 1, 120, func(s *Sheet) *int { return &s.Heads }).or(1),
	count("needles", "", 1, 60, func(s *Sheet) *int { return &s.Needles }),
	field("max_speed", "stitches/min", 50, 3000, func(s *Sheet) *float64 { return &s.MaxSpeed }),

	field("shaft.accel_up", "rev/s²", 0.5, 500, func(s *Sheet) *float64 { return &s.Shaft.AccelUp }),
	field("shaft.accel_down", "rev/s²", 0.5, 500, func(s *Sheet) *float64 { return &s.Shaft.AccelDown }),
	field("shaft.creep_speed", "stitches/min", 1, 1000, func(s *Sheet) *float64 { return &s.Shaft.CreepSpeed }),
	count("shaft.soft_start_stitches", "", 0, 50, func(s *Sheet) *int { return &s.Shaft.SoftStartStitches }).or(0),
	field("shaft.soft_start_speed", "stitches/min", 10, 3000, func(s *Sheet) *float64 { return &s.Shaft.SoftStartSpeed }).or(300),
	count("shaft.speed_step", "stitches/min", 0, 500, func(s *Sheet) *int { return &s.Shaft.SpeedStep }).or(0).term().apart(),
	count("shaft.step_free_set", "", 0, 1, func(s *Sheet) *int { return &s.Shaft.StepFreeSet }).or(0).term().apart(),
	field("shaft.lag", "s", 0, 2, func(s *Sheet) *float64 { return &s.Shaft.Lag }).or(0).term().apart(),

	field("speed.true", "", 0, 1.5, func(s *Sheet) *float64 { return &s.Speed.True }).or(0).term().apart(),
	field("speed.top", "stitches/min", 0, 3000, func(s *Sheet) *float64 { return &s.Speed.Top }).or(0).term().apart(),

	field("slow.seconds", "s", 0, 1800, func(s *Sheet) *float64 { return &s.Slow.Seconds }).or(0).term().apart(),
	count("slow.stitches", "", 0, 2000, func(s *Sheet) *int { return &s.Slow.Stitches }).or(0).term().apart(),
	field("slow.speed", "", 0, 1, func(s *Sheet) *float64 { return &s.Slow.Speed }).or(0).term().apart(),

	field("frame.window", "", 0.1, 0.9, func(s *Sheet) *float64 { return &s.Frame.Window }).or(0.44),
	field("frame.accel_x", "mm/s²", 100, 500_000, func(s *Sheet) *float64 { return &s.Frame.AccelX }),
	field("frame.accel_y", "mm/s²", 100, 500_000, func(s *Sheet) *float64 { return &s.Frame.AccelY }),
	field("frame.speed_x", "mm/s", 5, noLimit, func(s *Sheet) *float64 { return &s.Frame.SpeedX }).or(noLimit),
	field("frame.speed_y", "mm/s", 5, noLimit, func(s *Sheet) *float64 { return &s.Frame.SpeedY }).or(noLimit),
	field("frame.settle", "s", 0, 0.2, func(s *Sheet) *float64 { return &s.Frame.Settle }).or(0),
	field("frame.jerk_time", "s", 0, 0.2, func(s *Sheet) *float64 { return &s.Frame.JerkTime }).or(0).term().apart(),
	field("frame.turn", "", 0, 5, func(s *Sheet) *float64 { return &s.Frame.Turn }).or(0).apart(),

	count("ladder.by_axis", "", 0, 1, func(s *Sheet) *int { return &s.Ladder.ByAxis }).or(0).term().apart(),

	field("turns.angle", "degrees", 0, 180, func(s *Sheet) *float64 { return &s.Turns.Angle }).or(0).term().apart(),
	field("turns.to", "degrees", 0, 180, func(s *Sheet) *float64 { return &s.Turns.To }).or(180).term().apart(),
	field("turns.length", "mm", 0, maxRungMM, func(s *Sheet) *float64 { return &s.Turns.Length }).or(0).term().apart(),
	field("turns.speed", "", 0, 1, func(s *Sheet) *float64 { return &s.Turns.Speed }).or(0).term().apart(),

	field("travel.accel", "mm/s²", 10, 100_000, func(s *Sheet) *float64 { return &s.Travel.Accel }),
	field("travel.speed", "mm/s", 1, 5_000, func(s *Sheet) *float64 { return &s.Travel.Speed }),
	field("travel.shaft_speed", "stitches/min", 10, 3000, func(s *Sheet) *float64 { return &s.Travel.ShaftSpeed }).or(400),

	field("rest.start", "s", 0, 600, func(s *Sheet) *float64 { return &s.Rest.Start }).apart(),
	field("rest.trim", "s", 0, 120, func(s *Sheet) *float64 { return &s.Rest.Trim }),
	field("rest.colour_stop", "s", 0, 3600, func(s *Sheet) *float64 { return &s.Rest.ColourStop }),
	field("rest.per_needle", "s", 0, 30, func(s *Sheet) *float64 { return &s.Rest.PerNeedle }).or(0).apart(),
	field("rest.stop", "s", 0, 3600, func(s *Sheet) *float64 { return &s.Rest.Stop }).or(0),
	field("rest.end", "s", 0, 600, func(s *Sheet) *float64 { return &s.Rest.End }).apart(),

	count("reading.trim_after_jumps", "", 1, 20, func(s *Sheet) *int { return &s.Reading.TrimAfterJumps }).or(3).apart(),

	count("field.width", "mm", 0, 5000, func(s *Sheet) *int { return &s.Field.Width }).or(0).term().apart(),
	count("field.height", "mm", 0, 5000, func(s *Sheet) *int { return &s.Field.Height }).or(0).term().apart(),
}, jobConstants)

// MaxNodes is how many nodes each correction table may have.
const MaxNodes = 12

// maxLearnedRungs is how many rungs of a ladder may have a spread and be learned.
const maxLearnedRungs = 40

// The range of a correction factor: a fifth to five times the law's time.
const (
	minFactor = 0.2
	maxFactor = 5
)

// AllConstants are Constants and after them the nodes of the correction tables,
// which may have spreads and be learned like any other: "correction.length.3"
// is the third factor over stitch length, "correction.turn_angle.1" the first
// over the turn. A node that a sheet does not have is 0; Set then does nothing.
var AllConstants = append(slices.Clip(Constants),
	slices.Concat(
		nodes("correction.length", "", MaxNodes, minFactor, maxFactor, func(s *Sheet) *[]float64 { return &s.Correction.Factor }),
		nodes("correction.turn_angle", "", MaxNodes, minFactor, maxFactor,
			func(s *Sheet) *[]float64 { return &s.Correction.TurnFactor }),
		nodes("ladder.speed", "stitches/min", maxLearnedRungs, minRungSpeed, maxRungSpeed, func(s *Sheet) *[]float64 { return &s.Ladder.Speed }))...)

// nodes are the constants of one correction table.
func nodes(table, unit string, most int, lo, hi float64, of func(*Sheet) *[]float64) (out []Constant) {
	for k := range most {
		out = append(out, Constant{Path: fmt.Sprint(table, ".", k+1), Unit: unit, Min: lo, Max: hi, Optional: true,
			Term: true, node: k + 1,
			Get: func(s *Sheet) float64 {
				if f := *of(s); k < len(f) {
					return f[k]
				}
				return 0
			},
			// The table is copied: sheets that were copied by value share it.
			Set: func(s *Sheet, v float64) {
				if f := of(s); k < len(*f) {
					*f = slices.Clone(*f)
					(*f)[k] = v
				}
			}})
	}
	return out
}

// Constants goes through the constants that the machine has: all but the terms
// of the law and the nodes that are absent, in the order of AllConstants.
func (s *Sheet) Constants() iter.Seq[Constant] {
	return func(yield func(Constant) bool) {
		for _, c := range AllConstants {
			if !c.Absent(s) && !yield(c) {
				return
			}
		}
	}
}

// Named is the constant's name in a sentence. What a column says of it (Means) may be a rule, or say what its zero is.
func (c Constant) Named() words.Message {
	if c.isApart {
		return words.Say("constant-name." + c.Path)
	}
	return c.Means()
}

// Means is what the constant is, for a column of its own.
func (c Constant) Means() words.Message {
	if c.node > 0 {
		table, _ := tomlfile.Split(c.Path)
		return words.Say("constant."+table, words.Args{"n": words.Whole(c.node)})
	}
	return words.Say("constant." + c.Path)
}

// ConstantAt finds a constant of AllConstants by its path.
func ConstantAt(path string) (Constant, bool) {
	for _, c := range AllConstants {
		if c.Path == path {
			return c, true
		}
	}
	return Constant{}, false
}

// Rung is the path of node k, from 0, of a table of the sheet that is learned:
// NodePath("ladder.speed", 2) is the third rung's speed.
func NodePath(table string, k int) string { return fmt.Sprint(table, ".", k+1) }

// NodeAt is where a node of a table stands: its stitch length in mm, or its
// turn in degrees. false where the path is none, or the sheet has no such node.
func NodeAt(s *Sheet, path string) (table string, at float64, ok bool) {
	i := strings.LastIndexByte(path, '.')
	k, err := strconv.Atoi(path[i+1:])
	if i < 0 || err != nil || k < 1 {
		return "", 0, false
	}
	var nodes []float64
	switch table = path[:i]; table {
	case "correction.length":
		nodes = s.Correction.Length
	case "correction.turn_angle":
		nodes = s.Correction.TurnAngle
	case "ladder.speed":
		nodes = s.Ladder.Length
	}
	if k > len(nodes) {
		return "", 0, false
	}
	return table, nodes[k-1], true
}
