package ask

import (
	"context"
	"fmt"

	"gonum.org/v1/gonum/stat/distuv"

	"needlepace/clock"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/words"
)

// LawFrom is what a machine's speed law is drawn from.
type LawFrom interface {
	// Laws gives a machine's sheet, the one that it was learned from (nil where
	// it was not learned), and what was read off its display.
	Laws(ctx context.Context, machine string) (now, before *machine.Sheet, read []learn.Observation, err error)
	// Memory remembers what was reckoned before; it is never nil.
	Memory() *Memory
}

// LawQuestion asks how fast a machine sews stitches of each length.
type LawQuestion struct {
	Machine string // by the asker's name for it
	Zigzag  bool   // to and fro, as in satin; else straight on
}

// Lengths of stitches, mm.
const (
	lawLength  = 12.0 // of the chart: the longest stitch of the 3-byte tape format is little more
	satinLimit = 7.0  // for which a held speed is named: the longest satin of common practice
)

// LawAnswer is the speed that a machine holds against stitch length. Its JSON
// is a written contract: later versions add keys and never change one.
type LawAnswer struct {
	Machine  string       `json:"machine" doc:"its name"`
	SetSpeed float64      `json:"set_speed" doc:"stitches/min"`
	Zigzag   bool         `json:"zigzag" doc:"stitches to and fro, as in satin; else straight on"`
	Now      LawCurve     `json:"now"`
	Before   *LawCurve    `json:"before" doc:"of the sheet before learning; null for one never learned"`
	Readings []LawReading `json:"readings" doc:"speeds read off the display"`
	Timings  []LawTiming  `json:"timings" doc:"timed runs and blocks, where the sheet is being learned from them"`
}

// LawCurve is speed against stitch length.
type LawCurve struct {
	LengthMM []float64 `json:"length_mm"`
	Low      []float64 `json:"low" doc:"stitches/min, 90 % band"`
	Mid      []float64 `json:"mid"`
	High     []float64 `json:"high"`
}

// LawReading is a speed that was read off the display.
type LawReading struct {
	LengthMM float64 `json:"length_mm"`
	Shown    float64 `json:"shown_speed"`
	Zigzag   bool    `json:"zigzag"`
}

// LawTiming is a timed run or block as one point of the law: at the length of the
// stitches that the sheet sews as fast as it says of that run, the speed that it
// was timed at. Standing still is taken from the time as the sheet says it.
type LawTiming struct {
	Row      int     `json:"row" doc:"line of the timings; 0: none"`
	LengthMM float64 `json:"length_mm" doc:"stitches of which the sheet holds what it says of this run"`
	Held     float64 `json:"held_speed" doc:"stitches/min while it sewed"`
	Low      float64 `json:"low" doc:"90 % interval of reading and prediction together"`
	High     float64 `json:"high"`
}

// Law answers how fast a machine sews stitches of each length.
func Law(ctx context.Context, from LawFrom, q LawQuestion) (*LawAnswer, error) {
	now, before, read, err := from.Laws(ctx, q.Machine)
	if err != nil {
		return nil, err
	}
	key := fmt.Sprint(string(now.TOML()), q.Zigzag, read)
	if before != nil {
		key += string(before.TOML())
	}
	return from.Memory().laws.get(ctx, mostLaws, key, func() (*LawAnswer, error) {
		return lawOf(now, before, read, q.Zigzag), nil
	})
}

// Law is the speed law before and after learning.
func (a *LearnAnswer) Law() *LawAnswer {
	var read []learn.Observation
	for i := range a.Result.Runs {
		read = append(read, a.Result.Runs[i].Observation)
	}
	law := lawOf(a.Result.Sheet, a.Before, read, true)
	for i := range a.Result.Runs {
		if t, ok := law.timing(a.Result.Sheet, &a.Result.Runs[i]); ok {
			law.Timings = append(law.Timings, t)
		}
	}
	return law
}

// timing is a run as a point of the law; false where it is none: nothing timed, set
// aside, or so slow or fast that no length on the chart is sewn like it.
func (a *LawAnswer) timing(s *machine.Sheet, r *learn.Run) (LawTiming, bool) {
	if r.Design == nil || r.Aside || r.Ignored || r.Only != "" {
		return LawTiming{}, false
	}
	k := clock.New(s, clock.Job{Speed: r.SetSpeed, Kinds: r.Job}).Run(r.Design)
	b := &k.Block
	if r.Kind == learn.BlockRun {
		if r.Block < 1 || r.Block > len(k.Blocks) {
			return LawTiming{}, false
		}
		b = &k.Blocks[r.Block-1]
	}
	sewing, off, half := b.Parts.Sewing(), r.Residual(), distuv.UnitNormal.Quantile((1+DefaultLevel)/2)*r.SD
	if sewing+off-half <= 0 {
		return LawTiming{}, false
	}
	held := func(seconds float64) float64 { return float64(b.Stitches) / seconds * 60 }
	mm, ok := a.Now.lengthAt(held(sewing))
	return LawTiming{Row: r.Row, LengthMM: mm, Held: held(sewing + off), Low: held(sewing + off + half),
		High: held(sewing + off - half)}, ok
}

// lengthAt is the shortest length, mm, of which no more than that speed is held;
// false where the curve begins below it or never comes down to it.
func (c *LawCurve) lengthAt(speed float64) (float64, bool) {
	for i, v := range c.Mid {
		if v > speed {
			continue
		}
		if i == 0 {
			return 0, false
		}
		share := (c.Mid[i-1] - speed) / (c.Mid[i-1] - v)
		return c.LengthMM[i-1] + share*(c.LengthMM[i]-c.LengthMM[i-1]), true
	}
	return 0, false
}

func lawOf(now, before *machine.Sheet, read []learn.Observation, zigzag bool) *LawAnswer {
	a := &LawAnswer{Machine: now.Name, SetSpeed: now.MaxSpeed, Zigzag: zigzag, Now: lawCurve(now, zigzag),
		Readings: []LawReading{}, Timings: []LawTiming{}}
	if before != nil {
		c := lawCurve(before, zigzag)
		a.Before, a.SetSpeed = &c, max(a.SetSpeed, before.MaxSpeed)
	}
	for _, o := range read {
		if o.Kind == learn.DisplayReading {
			a.Readings = append(a.Readings, LawReading{o.LengthMM, o.Shown, o.Zigzag})
		}
	}
	return a
}

func lawCurve(s *machine.Sheet, zigzag bool) (c LawCurve) {
	for _, p := range clock.SpeedByLength(s, clock.Job{}, lawLength, zigzag, DefaultLevel) {
		c.LengthMM = append(c.LengthMM, p.LengthMM)
		c.Low, c.Mid, c.High = append(c.Low, p.Low), append(c.Mid, p.Mid), append(c.High, p.High)
	}
	return c
}

// lawEach is how many points of a curve a row of its table stands for.
const lawEach = 5

// Table is the present sheet's speed at every half millimetre.
func (a *LawAnswer) Table() *Table {
	t := table("speed", words.Say("law.caption"),
		number("length_mm", "law.length"),
		number("speed_per_min", "law.speed"),
		number("low_per_min", "law.low"),
		number("high_per_min", "law.high"),
	)
	for i := lawEach - 1; i < len(a.Now.Mid); i += lawEach {
		t.add(words.StitchMM(a.Now.LengthMM[i]), words.PerMinute(a.Now.Mid[i]),
			words.PerMinute(a.Now.Low[i]), words.PerMinute(a.Now.High[i]))
	}
	return t
}

// Held is what a machine holds on satin, in two figures.
type Held struct {
	FullMM float64 // the longest stitch it sews at its rated speed; 0: none
	LongMM float64 // a long satin stitch
	Speed  float64 // what it holds on that, stitches/min
}

// HeldOf says what a machine holds on satin.
func HeldOf(s *machine.Sheet) Held {
	h := Held{LongMM: satinLimit}
	for _, p := range clock.SpeedByLength(s, clock.Job{}, satinLimit, true, 0) {
		if p.Mid >= s.MaxSpeed*0.999 {
			h.FullMM = p.LengthMM
		}
		h.Speed = p.Mid
	}
	return h
}
