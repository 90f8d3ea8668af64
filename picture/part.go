package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"needlepace/clock"
	"needlepace/words"
)

// Part is one stretch of the strip: what the seconds were spent on.
type Part struct {
	Key     Key
	Seconds float64
}

// Key names a part of a run as package clock does (MODEL section 5). Its string
// is the JSON name.
type Key clock.Part

// The parts of a run in the order of the strip: what sewing takes, quietest
// first, then what standing takes.
const (
	AtSetSpeed   = Key(clock.AtSetSpeed)
	LongStitches = Key(clock.LongStitches)
	Ramps        = Key(clock.Ramps)
	Control      = Key(clock.Control)
	Trims        = Key(clock.Trims)
	ColourStops  = Key(clock.ColourStops)
	Travel       = Key(clock.Travel)
	Stops        = Key(clock.Stops)
	StartEnd     = Key(clock.StartEnd)
	numParts     = clock.NumParts
)

// Keys are all parts in the order of the strip.
var Keys = func() (all [numParts]Key) {
	for k := range all {
		all[k] = Key(k)
	}
	return all
}()

// partLooks are how the parts look, wherever they are drawn or written.
//
// The colours are the eight of Okabe and Ito, "Color Universal Design" (2008):
// #0072B2 blue and #56B4E9 sky blue for sewing slower than set, #D55E00
// vermilion and #E69F00 orange for the cuts a digitizer can take out, #F0E442
// yellow for travel, #CC79A7 reddish purple for stops, #009E73 bluish green for
// what the controller adds. What nobody can mend, at
// set speed and start and end, is a quiet grey. On a dark ground blue is
// lightened so that it stands out; the others are as published.
var partLooks = [numParts]struct {
	light, dark, print string
	hatch              hatch
	glyph              rune
	ascii              byte
	ansi               int     // the nearest of the 256 terminal colours
	lane               float64 // how high it stands in the lane of rests; 0: no rest
}{
	AtSetSpeed:   {"#d8d7d0", "#4b5257", "#e8e8e8", hatchNone, '░', '.', 250, 0},
	LongStitches: {"#0072b2", "#2680c0", "#5aa5d2", hatchRise, '▓', '#', 26, 0},
	Ramps:        {"#56b4e9", "#56b4e9", "#a8d6f0", hatchFall, '▞', '/', 74, 0},
	Control:      {"#009e73", "#00a87b", "#5bb894", hatchGrid, '▚', '+', 36, 0},
	Trims:        {"#d55e00", "#d55e00", "#d55e00", hatchSolid, '█', 'T', 166, 0.65},
	ColourStops:  {"#e69f00", "#e69f00", "#eebb55", hatchUpright, '▌', 'C', 178, 1},
	Travel:       {"#f0e442", "#f0e442", "#f6ef8f", hatchLevel, '▂', '_', 227, 0.3},
	Stops:        {"#cc79a7", "#cc79a7", "#e2b0cb", hatchCross, '▀', 'S', 175, 1},
	StartEnd:     {"#62676b", "#656b70", "#9b9b9b", hatchDots, '▒', ':', 245, 0.3},
}

func (k Key) ok() bool { return int(k) < numParts }

// String is the part's key as in JSON: at_set_speed, long_stitches, …
func (k Key) String() string { return clock.Part(k).String() }

// Name is the part in the words of the trade.
func (k Key) Name() words.Message {
	if k.ok() {
		return clock.Part(k).Name()
	}
	return words.Message{}
}

func (k Key) dashed() string { return strings.ReplaceAll(k.String(), "_", "-") }

// Hatched reports whether lines tell the part apart, beside its colour.
func (k Key) Hatched() bool {
	return k.ok() && partLooks[k].hatch != hatchNone && partLooks[k].hatch != hatchSolid
}

// Lane is how high a rest of that kind stands in the lane under a trace, as a
// share of the lane; 0 where it is no rest.
func (k Key) Lane() float64 {
	if !k.ok() {
		return 0
	}
	return partLooks[k].lane
}

// RestKeys are the parts that are rests, the lowest in the lane first, so that
// a trim or a stop is never hidden by travel.
func RestKeys() (out []Key) {
	for _, k := range Keys {
		if k.Lane() > 0 {
			out = append(out, k)
		}
	}
	slices.SortStableFunc(out, func(a, b Key) int { return cmp.Compare(a.Lane(), b.Lane()) })
	return out
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
		if k.String() == s {
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
	hatchGrid
	hatchDots
)

// fillPart paints a box as a part: its colour, then its hatching, drawn as
// lines so that every backend gives the same and no pattern needs an id.
func fillPart(c Canvas, b Box, k Key) {
	if b.W <= 0 || b.H <= 0 {
		return
	}
	fillBox(c, b, Of(k.Tone()))
	if !k.ok() {
		return
	}
	h := partLooks[k].hatch
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
	upright := func(step float64) {
		for x := b.X + 2; x < b.Right()-0.5; x += step {
			out = append(out, Seg{Pt{x, b.Y}, Pt{x, b.Bottom()}})
		}
	}
	level := func(step float64) {
		for y := b.Y + 3; y < b.Bottom()-1; y += step {
			out = append(out, Seg{Pt{b.X, y}, Pt{b.Right(), y}})
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
		upright(4)
	case hatchLevel:
		level(4)
	case hatchGrid:
		upright(6)
		level(6)
	}
	return out
}

// Patterns are the hatchings as SVG patterns for a page, named h-KEY: the same
// as fillPart draws.
func Patterns() string {
	var b strings.Builder
	for _, k := range Keys {
		if k.Hatched() {
			w, h, lines := partLooks[k].hatch.pattern()
			fmt.Fprintf(&b, `<pattern id="h-%s" width="%g" height="%g" patternUnits="userSpaceOnUse">%s</pattern>`, k,
				w, h, lines)
		}
	}
	return b.String()
}

// pattern is a hatching as a tile that repeats.
func (h hatch) pattern() (width, height float64, svg string) {
	switch h {
	case hatchRise:
		return 7, 7, `<path d="M-1 8L8 -1M-1 1L1 -1M6 8L8 6"/>`
	case hatchFall:
		return 4.5, 4.5, `<path d="M-1 -1L5.500 5.500M-1 3.500L1 5.500M3.500 -1L5.500 1"/>`
	case hatchUpright:
		return 4, 4, `<line x1="2" y1="0" x2="2" y2="4"/>`
	case hatchLevel:
		return 4, 4, `<line x1="0" y1="3" x2="4" y2="3"/>`
	case hatchCross:
		return 7, 7, `<path d="M0 0L7 7M7 0L0 7"/>`
	case hatchGrid:
		return 6, 6, `<path d="M2 0L2 6M0 3L6 3"/>`
	case hatchDots:
		return 5, 8, `<circle cx="2" cy="2.500" r=".7"/><circle cx="4.500" cy="6.500" r=".7"/>`
	}
	return 0, 0, ""
}
