package clock

import (
	"iter"
	"strings"

	"needlepace/stitch"
	"needlepace/words"
)

// Parts is where the seconds go (MODEL section 5). They add up to the run
// time. A new part is a field here, a constant, a row of partTable and a term of sum below;
// its look is a row in package picture, its name a line of words/en.toml.
type Parts struct {
	AtSetSpeed   float64 `json:"at_set_speed"`  // every revolution at the set speed
	LongStitches float64 `json:"long_stitches"` // what the speed law adds: Σ (1/N_i − 1/N_set)
	Ramps        float64 `json:"ramps"`         // starting, slowing, soft start: Σ (t_i − 1/N_i)
	Control      float64 `json:"control"`       // speed steps and lag: what they add to 1/N_i
	Trims        float64 `json:"trims"`
	ColourStops  float64 `json:"colour_stops"`
	Travel       float64 `json:"travel"`
	Stops        float64 `json:"stops"`
	StartEnd     float64 `json:"start_end"`
}

// Part is one kind of the seconds of a run.
type Part uint8

// The parts of a run: what sewing takes, then what standing takes.
const (
	AtSetSpeed Part = iota
	LongStitches
	Ramps
	Control
	Trims
	ColourStops
	Travel
	Stops
	StartEnd
	NumParts int = iota // how many parts there are
)

var partTable = [NumParts]struct {
	key string // in JSON and CSV; in words/en.toml with - for _
	of  func(*Parts) *float64
}{
	{"at_set_speed", func(p *Parts) *float64 { return &p.AtSetSpeed }},
	{"long_stitches", func(p *Parts) *float64 { return &p.LongStitches }},
	{"ramps", func(p *Parts) *float64 { return &p.Ramps }},
	{"control", func(p *Parts) *float64 { return &p.Control }},
	{"trims", func(p *Parts) *float64 { return &p.Trims }},
	{"colour_stops", func(p *Parts) *float64 { return &p.ColourStops }},
	{"travel", func(p *Parts) *float64 { return &p.Travel }},
	{"stops", func(p *Parts) *float64 { return &p.Stops }},
	{"start_end", func(p *Parts) *float64 { return &p.StartEnd }},
}

// String is the part's key as in JSON: at_set_speed, long_stitches, …
func (k Part) String() string {
	if int(k) < NumParts {
		return partTable[k].key
	}
	return "unknown"
}

// Name is the part in the words of the trade.
func (k Part) Name() words.Message {
	return words.Say("part."+strings.ReplaceAll(k.String(), "_", "-"), nil)
}

// Each goes through the parts and their seconds in the order of the constants.
func (p Parts) Each() iter.Seq2[Part, float64] {
	return func(yield func(Part, float64) bool) {
		for k := range partTable {
			if !yield(Part(k), *partTable[k].of(&p)) {
				return
			}
		}
	}
}

// Sum is the run time in seconds.
func (p Parts) Sum() float64 { return p.sum() }

// sum and add take pointers: the table's functions would have a copy on the heap. sum goes
// without the table, in its order: it is asked for every colour block of every variant.
func (p *Parts) sum() float64 {
	return p.AtSetSpeed + p.LongStitches + p.Ramps + p.Control + p.Trims + p.ColourStops + p.Travel + p.Stops + p.StartEnd
}

// Sewing is the seconds in which the shaft turns to sew.
func (p Parts) Sewing() float64 { return p.AtSetSpeed + p.LongStitches + p.Ramps + p.Control }

// Add adds the parts of another run, so many times.
func (p *Parts) Add(q Parts, times float64) {
	for k := range partTable {
		*partTable[k].of(p) += times * *partTable[k].of(&q)
	}
}

func (p *Parts) add(q *Parts) {
	for k := range partTable {
		*partTable[k].of(p) += *partTable[k].of(q)
	}
}

// LongBy splits Parts.LongStitches by the limit that bound, in seconds. Turn
// is what turns add: penalty, correction and cap; the rest of such a stitch is its axis's.
type LongBy struct {
	FrameX float64 `json:"frame_x"`
	FrameY float64 `json:"frame_y"`
	Turn   float64 `json:"turn"`
	Ladder float64 `json:"ladder"`
}

// Sum is Parts.LongStitches again.
func (l LongBy) Sum() float64 { return l.FrameX + l.FrameY + l.Turn + l.Ladder }

func (l *LongBy) add(m LongBy) {
	l.FrameX += m.FrameX
	l.FrameY += m.FrameY
	l.Turn += m.Turn
	l.Ladder += m.Ladder
}

// Block is one colour block: from the colour stop that opens it (the start,
// for the first) to the next (the end, for the last).
type Block struct {
	Index       int // from 0
	Needle      int // from 0
	Stitches    int // needle penetrations
	Revolutions int // stitches, and jumps sewn through
	Jumps       int // jump records
	Trims       int
	ColourStops int // 1, and 0 for the first block
	Stops       int
	Seconds     float64
	Parts       Parts
	LongBy      LongBy
}

// sewing is the seconds charged so far that the shaft turns.
func (b *Block) sewing() float64 {
	return b.Parts.AtSetSpeed + b.LongBy.Sum() + b.Parts.Ramps + b.Parts.Control
}

func (b *Block) add(c *Block) {
	b.Stitches += c.Stitches
	b.Revolutions += c.Revolutions
	b.Jumps += c.Jumps
	b.Trims += c.Trims
	b.ColourStops += c.ColourStops
	b.Stops += c.Stops
	b.Seconds += c.Seconds
	b.Parts.add(&c.Parts)
	b.LongBy.add(c.LongBy)
}

// Result is one design on one machine: the whole as a Block (with Index −1),
// and its colour blocks.
type Result struct {
	Block
	SetSpeed   float64 // stitches/min, after all caps
	RatedSpeed float64 // stitches/min, the machine's maximum
	Blocks     []Block
	Rethreads  int // colours beyond the machine's needles: each needs a re-thread
	Warnings   []stitch.Warning
}

// HeldSpeed is stitches over sewing time, in stitches/min; 0 without sewing.
func (b *Block) HeldSpeed() float64 { return perMinute(b.Stitches, b.Parts.Sewing()) }

// OverallSpeed is stitches over run time, in stitches/min.
func (b *Block) OverallSpeed() float64 { return perMinute(b.Stitches, b.Seconds) }

// NaiveSeconds is stitches ÷ rated speed, the figure that leaves out all else.
func (r *Result) NaiveSeconds() float64 {
	return float64(r.Stitches) / r.RatedSpeed * 60
}

func perMinute(stitches int, seconds float64) float64 {
	if seconds <= 0 {
		return 0
	}
	return float64(stitches) / seconds * 60
}
