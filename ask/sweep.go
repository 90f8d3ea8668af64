package ask

import (
	"context"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/words"
)

// SweepQuestion asks how the run time depends on the set speed. The job's speed
// is not used.
type SweepQuestion struct {
	Design, Machine string // by the asker's names for them
	Job
}

// SweepAnswer is the run time at each set speed, and the knee: the speed past
// which more hardly pays.
type SweepAnswer struct {
	Points    []clock.SweepPoint `json:"sweep"`
	KneeSpeed float64            `json:"knee_speed" doc:"stitches/min: past it the next 50 buy less than 1 %"`
	Verdict   words.Sentences    `json:"verdict"`

	Knee    int         `json:"-"` // index of the knee in Points
	machine words.Value // for captions
}

// Sweep answers how the run time depends on the set speed.
func Sweep(ctx context.Context, from Shelf, q SweepQuestion) (*SweepAnswer, error) {
	job, err := q.Job.Clock()
	if err != nil {
		return nil, err
	}
	sheet, err := from.Sheet(ctx, q.Machine)
	if err != nil {
		return nil, err
	}
	d, err := from.Design(ctx, q.Design)
	if err != nil {
		return nil, err
	}
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	return sweep(d, sheet, job), nil
}

func sweep(d *Design, sheet *machine.Sheet, job clock.Job) *SweepAnswer {
	points, knee := clock.Sweep(d.Design, sheet, job)
	at, last := points[knee], points[len(points)-1]
	a := &SweepAnswer{Points: points, KneeSpeed: at.SetSpeed, Knee: knee, machine: words.Name(sheet.Name)}
	step := words.PerMinute(clock.SweepStep)
	if knee == len(points)-1 {
		a.Verdict = words.Sentences{words.Say("sweep.no-knee",
			words.Args{"speed": words.PerMinute(last.SetSpeed), "step": step, "gain": words.Level(clock.KneeGain)})}
		return a
	}
	a.Verdict = words.Sentences{words.Say("sweep.knee", words.Args{"speed": words.PerMinute(at.SetSpeed),
		"time": words.Seconds(at.Seconds), "step": step, "gain": words.Level(clock.KneeGain)})}
	if more := at.Seconds - last.Seconds; more > worthSaying {
		a.Verdict = append(a.Verdict, words.Say("sweep.to-the-top",
			words.Args{"speed": words.PerMinute(last.SetSpeed), "time": words.Seconds(more)}))
	}
	return a
}

// worthSaying is the least time worth a sentence, s.
const worthSaying = 0.5

// Table is the run time at each set speed.
func (a *SweepAnswer) Table() *Table {
	t := &Table{
		Key: "sweep", Caption: words.Say("sweep.caption", words.Args{"machine": a.machine}),
		Columns: []Column{
			{Key: "set_speed_per_min", Heading: words.Say("sweep.set", nil), Unit: "1/min", Number: true},
			{Key: "seconds", Heading: words.Say("clock.run-time", nil), Unit: "s", Number: true},
			{Key: "held_speed_per_min", Heading: words.Say("clock.held", nil), Unit: "1/min", Number: true},
			{Key: "gained_seconds", Heading: words.Say("sweep.gained", nil), Unit: "s", Number: true},
			{Key: "knee", Heading: words.Say("sweep.note", nil)},
		},
	}
	for i, p := range a.Points {
		row := []words.Value{words.PerMinute(p.SetSpeed), words.Seconds(p.Seconds), words.PerMinute(p.HeldSpeed), nil, nil}
		if i > 0 {
			row[3] = words.Seconds(a.Points[i-1].Seconds - p.Seconds)
		}
		if i == a.Knee {
			row[4] = coded{words.Say("sweep.mark", nil), "knee"}
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
