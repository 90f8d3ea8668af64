package report

import (
	"fmt"

	"needlepace/clock"
	"needlepace/stitch"
	"needlepace/thread"
)

// Clock is one design on one machine.
type Clock struct {
	Design       string             `json:"design"`
	File         string             `json:"file"`
	Machine      string             `json:"machine" doc:"the machine's name"`
	SetSpeed     float64            `json:"set_speed" doc:"stitches/min, after all caps"`
	RatedSpeed   float64            `json:"rated_speed" doc:"stitches/min"`
	Seconds      float64            `json:"seconds"`
	Interval     clock.Interval     `json:"interval"`
	Stitches     int                `json:"stitches"`
	Revolutions  int                `json:"revolutions"`
	Trims        int                `json:"trims"`
	ColourStops  int                `json:"colour_stops"`
	Jumps        int                `json:"jumps"`
	WidthMM      float64            `json:"width_mm"`
	HeightMM     float64            `json:"height_mm"`
	HeldSpeed    float64            `json:"held_speed" doc:"stitches/min"`
	OverallSpeed float64            `json:"overall_speed" doc:"stitches/min"`
	NaiveSeconds float64            `json:"naive_seconds" doc:"stitches ÷ rated speed"`
	Parts        clock.Parts        `json:"parts" doc:"seconds; they add up to seconds"`
	LongBy       clock.LongBy       `json:"long_stitches_by"`
	Rethreads    int                `json:"rethreads" doc:"colours beyond the machine's needles"`
	Thread       *ThreadUse         `json:"thread,omitempty" doc:"what one piece takes"`
	Warnings     []string           `json:"warnings"`
	Blocks       []Block            `json:"blocks,omitempty"`
	Sweep        []clock.SweepPoint `json:"sweep,omitempty"`
	KneeSpeed    float64            `json:"knee_speed,omitempty" doc:"stitches/min: past it the next 50 buy less than 1 %"`
	Why          []Why              `json:"why,omitempty" doc:"what the interval hangs on, largest share first"`
}

// Block is one colour block of a Clock.
type Block struct {
	Block        int          `json:"block" doc:"from 1"`
	Needle       int          `json:"needle" doc:"from 1"`
	Seconds      float64      `json:"seconds"`
	Stitches     int          `json:"stitches"`
	Revolutions  int          `json:"revolutions"`
	Trims        int          `json:"trims"`
	Jumps        int          `json:"jumps"`
	HeldSpeed    float64      `json:"held_speed"`
	OverallSpeed float64      `json:"overall_speed"`
	Parts        clock.Parts  `json:"parts"`
	LongBy       clock.LongBy `json:"long_stitches_by"`
}

// Why is what one constant contributes to the interval.
type Why struct {
	Constant string  `json:"constant" doc:"path in the sheet; model is the model's own error"`
	Share    float64 `json:"share" doc:"of the variance, 0 to 1"`
	Seconds  float64 `json:"seconds" doc:"what one standard deviation of it does to the run time"`
}

// ThreadUse is what one piece takes.
type ThreadUse struct {
	Top     float64   `json:"top_m"`
	Bobbin  float64   `json:"bobbin_m"`
	Grams   float64   `json:"top_g"`
	ByBlock []float64 `json:"top_m_by_block"`
}

// ThreadOf is thread use as a report has it.
func ThreadOf(u *thread.Use) *ThreadUse {
	t := &ThreadUse{Top: u.Total.Top, Bobbin: u.Total.Bobbin, Grams: u.Grams(), ByBlock: []float64{}}
	for _, b := range u.Blocks {
		t.ByBlock = append(t.ByBlock, b.Top)
	}
	return t
}

// ClockOf is a result and its interval as a report has them, on the machine
// of the given name. Design, file and size are the caller's to add, and so are
// blocks, sweep and why where they are asked for.
func ClockOf(machine string, r *clock.Result, how *clock.Uncertainty) *Clock {
	return &Clock{
		Machine: machine, SetSpeed: r.SetSpeed, RatedSpeed: r.RatedSpeed,
		Seconds: r.Seconds, Interval: how.Interval,
		Stitches: r.Stitches, Revolutions: r.Revolutions, Trims: r.Trims,
		ColourStops: r.ColourStops, Jumps: r.Jumps,
		HeldSpeed: r.HeldSpeed(), OverallSpeed: r.OverallSpeed(), NaiveSeconds: r.NaiveSeconds(),
		Parts: r.Parts, LongBy: r.LongBy, Rethreads: r.Rethreads, Warnings: []string{},
	}
}

// AddBlocks adds the colour blocks of the result.
func (c *Clock) AddBlocks(r *clock.Result) {
	for _, b := range r.Blocks {
		c.Blocks = append(c.Blocks, Block{
			b.Index + 1, b.Needle + 1, b.Seconds, b.Stitches, b.Revolutions, b.Trims, b.Jumps,
			b.HeldSpeed(), b.OverallSpeed(), b.Parts, b.LongBy,
		})
	}
}

// AddSweep adds the run time against set speed.
func (c *Clock) AddSweep(points []clock.SweepPoint, knee int) {
	c.Sweep = points
	if knee < len(points) {
		c.KneeSpeed = points[knee].SetSpeed
	}
}

// AddWhy adds what the interval hangs on.
func (c *Clock) AddWhy(how *clock.Uncertainty) {
	for _, s := range how.Shares {
		path := s.Path
		if path == "" {
			path = "model"
		}
		c.Why = append(c.Why, Why{path, s.Share, s.Seconds})
	}
}

// Warning is a warning with its byte offset, where it has one.
func Warning(w stitch.Warning) string {
	if w.Offset >= 0 {
		return fmt.Sprintf("%s (byte %d)", w.Text, w.Offset)
	}
	return w.Text
}
