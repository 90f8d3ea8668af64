package ask

import (
	"context"
	"fmt"
	"math"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/words"
)

// BestSpeed is the set speed at which a machine makes most good pieces of a design: faster
// sewing shortens the run, and where breaks grow with the speed more of them stop it and
// spoil pieces. Its JSON is a written contract: later versions add keys and never change one.
type BestSpeed struct {
	Known  bool            `json:"known" doc:"breaks are known to grow with the speed; false: no effect is known, and best_speed is left out"`
	Speed  float64         `json:"best_speed,omitempty" doc:"stitches/min; never above the rated speed, the goods' limits and what breaks were counted at"`
	Top    float64         `json:"top_speed,omitempty" doc:"stitches/min: the fastest that was weighed"`
	Sure   float64         `json:"sure,omitempty" doc:"chance that best_speed makes more good pieces than top_speed; left out where they are one"`
	Knee   float64         `json:"knee_speed,omitempty" doc:"stitches/min: past it the next 50 buy less than 1 % of the run; left out where no effect is known"`
	Speeds []SpeedYield    `json:"speeds,omitempty" doc:"those that were weighed, slowest first"`
	Say    words.Sentences `json:"verdict"`

	machine words.Value // for captions
}

// SpeedYield is what a machine makes of a design at a set speed, with an operator at hand.
type SpeedYield struct {
	Speed  float64 `json:"set_speed" doc:"stitches/min"`
	Breaks float64 `json:"breaks_per_1000" doc:"a head and 1,000 stitches, as is believed of this speed"`
	Good   float64 `json:"good_pieces_an_hour" doc:"over all heads"`
}

// BestSpeedOf weighs the set speeds of a design on a machine of the shop, for a job whose
// own speed is not used.
func BestSpeedOf(ctx context.Context, from LineFrom, design, machineID string, job clock.Job) (*BestSpeed, error) {
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	st, err := stationOf(ctx, from, w, machineID)
	if err != nil {
		return nil, err
	}
	if out, belief := st.speedsKnown(); belief == nil {
		return out, nil
	}
	d, err := from.Design(ctx, design)
	if err != nil {
		return nil, err
	}
	k, err := lineAt(ctx, from, &book.OrderLine{Line: 1, Quantity: 1, DesignID: design}, d, st)
	if err != nil || !k.Why.IsZero() {
		return nil, err
	}
	knee, err := kneeOn(ctx, from, design, st, job)
	if err != nil {
		return nil, err
	}
	return bestSpeed(ctx, from, design, st, k, job, math.Inf(1), knee)
}

// kneeOn is the knee of a design's run on a machine, stitches/min.
func kneeOn(ctx context.Context, from LineFrom, design string, st *station, job clock.Job) (float64, error) {
	job.Speed = 0
	return from.Memory().knees.get(ctx, mostFigures, st.kneeKey(design, job), func() (float64, error) {
		d, err := from.Stitches(ctx, design)
		if err != nil {
			return 0, err
		}
		points, best := clock.Sweep(d, st.Sheet, job)
		return points[best].SetSpeed, nil
	})
}

// bestSpeed weighs the set speeds up to one that is allowed. Each slope that breaks may
// have (book.SpeedBelief) gives each speed a cycle and a share that is spoilt, as plans
// reckon them (floor.Cycle, floor.Machine.Spoilt); good pieces are their mean over the
// slopes, as likely as they are. Weighed are the speeds at which breaks were counted, and
// those between: beyond them nothing is known.
func bestSpeed(
	ctx context.Context, from LineFrom, design string, st *station, k *lineOn, job clock.Job, allowed, knee float64,
) (*BestSpeed, error) {
	out, belief := st.speedsKnown()
	if belief == nil {
		return out, nil
	}
	out.Knee = knee
	job.Speed = 0
	most, err := timedOn(ctx, from, design, st, job)
	if err != nil {
		return nil, err
	}
	top := math.Floor(min(most.SetSpeed, allowed, belief.To))
	var speeds []float64
	for v := math.Ceil(belief.From/clock.SweepStep) * clock.SweepStep; v < top; v += clock.SweepStep {
		speeds = append(speeds, v)
	}
	if speeds = append(speeds, top); top < belief.From {
		out.Say.Say("bestspeed.slower", words.Args{"machine": out.machine, "from": words.PerMinute(belief.From), "top": words.PerMinute(top)})
		return out, nil
	}
	out.Known, out.Top = true, top
	good := make([][]float64, len(speeds)) // of each speed, by slope
	var chances []float64
	best := 0
	for i, v := range speeds {
		job.Speed = v
		r, err := timedOn(ctx, from, design, st, job)
		if err != nil {
			return nil, err
		}
		y := SpeedYield{Speed: v}
		chances = chances[:0]
		belief.EachSlope(v, func(chance, rate float64) {
			g := st.goodPieces(k, r.Seconds, rate)
			good[i], chances = append(good[i], g), append(chances, chance)
			y.Good += chance * g
			y.Breaks += chance * rate
		})
		if out.Speeds = append(out.Speeds, y); y.Good > out.Speeds[best].Good {
			best = i
		}
	}
	out.Speed = speeds[best]
	last := len(speeds) - 1
	speed, pieces := words.PerMinute(out.Speed), words.Fixed(out.Speeds[best].Good, 1)
	breaks, slowest, fastest := words.Count(belief.Breaks, "break"), words.Whole(int(belief.From+.5)), words.PerMinute(belief.To)
	if best == last {
		out.Say.Say("bestspeed.top", words.Args{"machine": out.machine, "speed": speed, "pieces": pieces, "breaks": breaks,
			"from": slowest, "to": fastest})
	} else {
		for i, p := range chances {
			if good[best][i] > good[last][i] {
				out.Sure += p
			}
		}
		out.Say.Say("bestspeed.best", words.Args{"machine": out.machine, "speed": speed, "pieces": pieces, "breaks": breaks,
			"from": slowest, "to": fastest, "top": words.PerMinute(top), "chance": words.Chance(out.Sure),
			"gain": words.Share(out.Speeds[best].Good/out.Speeds[last].Good - 1)})
	}
	out.Say.Say("bestspeed.knee", words.Args{"knee": words.PerMinute(knee)})
	out.Say.Say("reported.caution")
	return out, nil
}

// speedsKnown begins an answer with how breaks grow with the speed, nil where that is not
// known: then it says so, and is whole.
func (st *station) speedsKnown() (*BestSpeed, *book.SpeedBelief) {
	out := &BestSpeed{machine: words.Name(st.Name)}
	belief := st.rates.SpeedEffect(st.expected)
	switch {
	case belief == nil:
		out.Say.Say("bestspeed.none", words.Args{"machine": out.machine})
	case !belief.Known():
		out.Say.Say("reported.speed-of", words.Args{"machine": out.machine, "what": saySpeeds(belief)})
		belief = nil
	}
	return out, belief
}

// goodPieces are what a machine makes an hour of a line whose run takes so many seconds, with
// so many breaks a head and 1,000 stitches.
func (st *station) goodPieces(k *lineOn, seconds, rate float64) float64 {
	m := st.floor
	m.Breaks = rate
	breaks := rate / 1000 * float64(k.Stitches*m.Heads)
	perBreak := m.Repair.Mean + float64(m.Resew)*seconds/math.Max(1, float64(k.Stitches))
	cycle := (k.NoBreaks - k.full.Seconds[0] + seconds + breaks*perBreak) * st.rates.Pace
	return 3600 / cycle * float64(m.Heads) * (1 - m.Spoilt(k.Stitches))
}

// Table is a set speed that was weighed a row.
func (b *BestSpeed) Table() *Table {
	t := table("best-speed", words.Say("bestspeed.caption", words.Args{"machine": b.machine}),
		number("set_speed_per_min", "reported.set-speed"), number("breaks_per_1000", "reported.breaks-now"),
		number("good_pieces_an_hour", "bestspeed.good"), column("best", "sweep.note"))
	for _, y := range b.Speeds {
		var mark words.Value = words.None{}
		if y.Speed == b.Speed {
			mark = coded{words.Say("bestspeed.mark"), "best"}
		}
		t.add(words.Whole(int(y.Speed+.5)), every(y.Breaks), words.Fixed(y.Good, 1), mark)
	}
	return t
}

// kneeKey is the same for runs that have one knee.
func (st *station) kneeKey(design string, job clock.Job) string {
	return fmt.Sprint(design, " ", st.Digest, " ", job)
}
