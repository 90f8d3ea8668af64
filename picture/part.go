package picture

import "math"

// Part is one stretch of the strip: what the seconds were spent on.
type Part struct {
	Key     Key
	Seconds float64
}

// Key names a part of a run (MODEL section 5). Its string is the JSON name.
type Key uint8

// The parts of a run in the order of the strip: what sewing takes, quietest
// first, then what standing takes.
const (
	AtSetSpeed Key = iota
	LongStitches
	Ramps
	Trims
	ColourStops
	Travel
	Stops
	StartEnd
	numParts int = iota
)

// Keys are all parts in the order of the strip.
var Keys = [numParts]Key{AtSetSpeed, LongStitches, Ramps, Trims, ColourStops, Travel, Stops, StartEnd}

var partNames = [numParts]struct {
	key, name string
	hatch     hatch
	glyph     rune
	ascii     byte
}{
	{"at_set_speed", "at set speed", hatchNone, '░', '.'},
	{"long_stitches", "long stitches", hatchRise, '▓', '#'},
	{"ramps", "ramps", hatchFall, '▞', '/'},
	{"trims", "trims", hatchSolid, '█', 'T'},
	{"colour_stops", "colour stops", hatchUpright, '▌', 'C'},
	{"travel", "travel", hatchLevel, '▂', '_'},
	{"stops", "stops", hatchCross, '▀', 'S'},
	{"start_end", "start and end", hatchDots, '▒', ':'},
}

func (k Key) ok() bool { return int(k) < numParts }

// String is the part's key as in JSON: at_set_speed, long_stitches, …
func (k Key) String() string {
	if k.ok() {
		return partNames[k].key
	}
	return "unknown"
}

// Name is the part in the words of the trade.
func (k Key) Name() string {
	if k.ok() {
		return partNames[k].name
	}
	return "unknown"
}

// Tone is the part's colour role.
func (k Key) Tone() Tone {
	if k.ok() {
		return partTone + Tone(k)
	}
	return Quiet
}

// KeyNamed finds a part by its key.
func KeyNamed(s string) (Key, bool) {
	for _, k := range Keys {
		if partNames[k].key == s {
			return k, true
		}
	}
	return 0, false
}

// seconds is the part's length as drawn: never negative, never not a number.
func (p Part) seconds() float64 {
	if p.Seconds > 0 && !math.IsInf(p.Seconds, 1) {
		return p.Seconds
	}
	return 0
}

func total(parts []Part) float64 {
	s := 0.0
	for _, p := range parts {
		s += p.seconds()
	}
	return s
}

// hatch is the pattern that tells parts apart without colour.
type hatch uint8

const (
	hatchNone hatch = iota
	hatchSolid
	hatchRise
	hatchFall
	hatchUpright
	hatchLevel
	hatchCross
	hatchDots
)

// fillPart paints a box as a part: its colour, then its hatching, drawn as
// lines so that every backend gives the same and no pattern needs an id.
func fillPart(c Canvas, b Box, k Key) {
	if b.W <= 0 || b.H <= 0 {
		return
	}
	c.Rect(b.X, b.Y, b.W, b.H, Of(k.Tone()))
	if !k.ok() {
		return
	}
	h := partNames[k].hatch
	if h == hatchDots {
		var dots []Box
		for row, y := 0, b.Y+2.5; y+1.2 <= b.Bottom()-1; row, y = row+1, y+4 {
			for x := b.X + 2 + float64(row%2)*2.5; x+1.2 <= b.Right()-0.5; x += 5 {
				dots = append(dots, Box{x, y, 1.2, 1.2})
			}
		}
		if len(dots) > 0 {
			c.Rects(dots, Paint{Tone: Hatch, Opacity: 0.55})
		}
		return
	}
	if segs := h.lines(b); len(segs) > 0 {
		c.Lines(segs, Stroke{Paint: Paint{Tone: Hatch, Opacity: 0.5}, Width: 1})
	}
}

// lines are the hatching lines of a box, cut off at its sides.
func (h hatch) lines(b Box) []Seg {
	var out []Seg
	diagonal := func(step float64, rising bool) {
		for d := step / 2; d < b.W+b.H; d += step {
			// the line x − X + y' = d, y' measured up from the bottom (rising: from the top)
			x0, x1 := max(0, d-b.H), min(b.W, d)
			if x1-x0 < 0.4 {
				continue
			}
			p, q := Pt{b.X + x0, b.Y + (d - x0)}, Pt{b.X + x1, b.Y + (d - x1)}
			if !rising {
				p.Y, q.Y = 2*b.Y+b.H-p.Y, 2*b.Y+b.H-q.Y
			}
			out = append(out, Seg{p, q})
		}
	}
	switch h {
	case hatchRise:
		diagonal(7, true)
	case hatchFall:
		diagonal(4.5, false)
	case hatchCross:
		diagonal(7, true)
		diagonal(7, false)
	case hatchUpright:
		for x := b.X + 2; x < b.Right()-0.5; x += 4 {
			out = append(out, Seg{Pt{x, b.Y}, Pt{x, b.Bottom()}})
		}
	case hatchLevel:
		for y := b.Y + 3; y < b.Bottom()-1; y += 4 {
			out = append(out, Seg{Pt{b.X, y}, Pt{b.Right(), y}})
		}
	}
	return out
}
