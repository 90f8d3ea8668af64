package clock

import "needlepace/stitch"

// Parts is where the seconds go (MODEL section 5). They add up to the run
// time.
type Parts struct {
	AtSetSpeed   float64 `json:"at_set_speed"`  // every revolution at the set speed
	LongStitches float64 `json:"long_stitches"` // what the speed law adds: Σ (1/N_i − 1/N_set)
	Ramps        float64 `json:"ramps"`         // starting, slowing, soft start: Σ (t_i − 1/N_i)
	Trims        float64 `json:"trims"`
	ColourStops  float64 `json:"colour_stops"`
	Travel       float64 `json:"travel"`
	Stops        float64 `json:"stops"`
	StartEnd     float64 `json:"start_end"`
}

// Sum is the run time in seconds.
func (p Parts) Sum() float64 {
	return p.AtSetSpeed + p.LongStitches + p.Ramps + p.Trims + p.ColourStops + p.Travel + p.Stops + p.StartEnd
}

// Sewing is the seconds in which the shaft turns to sew.
func (p Parts) Sewing() float64 { return p.AtSetSpeed + p.LongStitches + p.Ramps }

func (p *Parts) add(q Parts) {
	p.AtSetSpeed += q.AtSetSpeed
	p.LongStitches += q.LongStitches
	p.Ramps += q.Ramps
	p.Trims += q.Trims
	p.ColourStops += q.ColourStops
	p.Travel += q.Travel
	p.Stops += q.Stops
	p.StartEnd += q.StartEnd
}

// LongBy splits Parts.LongStitches by the limit that bound, in seconds. Turn
// is what the turn penalty adds; the rest of such a stitch is its axis's.
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

func (b *Block) add(c Block) {
	b.Stitches += c.Stitches
	b.Revolutions += c.Revolutions
	b.Jumps += c.Jumps
	b.Trims += c.Trims
	b.ColourStops += c.ColourStops
	b.Stops += c.Stops
	b.Seconds += c.Seconds
	b.Parts.add(c.Parts)
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
