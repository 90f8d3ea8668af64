package ask

import (
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/words"
)

// SweepAnswer is the run time at each set speed, and the knee: the speed past
// which more hardly pays.
type SweepAnswer struct {
	Points    []clock.SweepPoint `json:"sweep"`
	KneeSpeed float64            `json:"knee_speed" doc:"stitches/min: past it the next 50 buy less than 1 %"`
	Verdict   words.Sentences    `json:"verdict"`

	Knee    int         `json:"-"` // index of the knee in Points
	machine words.Value // for captions
}

// sweep answers how the run time depends on the set speed; the job's is not used.
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
		a.Verdict.Say("sweep.to-the-top",
			words.Args{"speed": words.PerMinute(last.SetSpeed), "time": words.Seconds(more)})
	}
	return a
}

// worthSaying is the least time worth a sentence, s.
const worthSaying = 0.5

// Table is the run time at each set speed.
func (a *SweepAnswer) Table() *Table {
	t := table("sweep", words.Say("sweep.caption", words.Args{"machine": a.machine}),
		number("set_speed_per_min", "sweep.set"),
		number("seconds", "clock.run-time"),
		number("held_speed_per_min", "clock.held"),
		number("gained_seconds", "sweep.gained"),
		column("knee", "sweep.note"),
	)
	for i, p := range a.Points {
		row := []words.Value{words.PerMinute(p.SetSpeed), words.Seconds(p.Seconds), words.PerMinute(p.HeldSpeed), nil,
			nil}
		if i > 0 {
			row[3] = words.Seconds(a.Points[i-1].Seconds - p.Seconds)
		}
		if i == a.Knee {
			row[4] = coded{words.Say("sweep.mark"), "knee"}
		}
		t.add(row...)
	}
	return t
}
