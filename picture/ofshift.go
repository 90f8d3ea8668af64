package picture

import (
	"needlepace/ask"
	"needlepace/floor"
	"needlepace/words"
)

// useOf is each state of a machine as the strip shows it.
var useOf = [floor.NumStates]Use{
	floor.Running: UseRunning, floor.Waiting: UseWaiting, floor.WaitHoop: UseWaitHoop, floor.Repair: UseBreaks,
	floor.Bobbins: UseBobbins, floor.Attending: UseStops, floor.Loading: UseLoading, floor.Changeover: UseChangeover,
	floor.Pausing: UsePause, floor.NoWork: UseNoWork,
}

// MachineSpans is a machine's shift as a strip.
func MachineSpans(m *ask.ShiftMachine) []Span {
	var out []Span
	for st := range floor.NumStates {
		out = append(out, Span{useOf[st], m.In(st)})
	}
	return out
}

// ShiftMachines draws where each machine's shift goes.
func ShiftMachines(a *ask.ShiftAnswer, w *words.Writer, width float64) *Shift {
	p := &Shift{Name: a.StateTable().Caption.Text(w), Width: width}
	for i := range a.Machines {
		m := &a.Machines[i]
		p.Rows = append(p.Rows, ShiftRow{Label: m.Machine, Note: words.Count(m.Heads, "head").Text(w),
			Spans: MachineSpans(m),
			After: words.Number{V: m.Pieces.Mean, Noun: "piece"}.Text(w)})
	}
	return p
}

// ShiftOperators draws where the operators' time goes.
func ShiftOperators(a *ask.ShiftAnswer, w *words.Writer, width float64) *Shift {
	p := &Shift{Name: a.OperatorTable().Caption.Text(w), Width: width}
	for _, h := range a.Operators {
		p.Rows = append(p.Rows, ShiftRow{Label: h.Operator,
			After: words.Say("shift.busy", words.Args{"share": words.Share(h.Use)}).Text(w),
			Spans: []Span{{UseMachines, h.Machines}, {UseHooping, h.Hooping}, {UseWalking, h.Walking},
				{UseIdle, h.Free}, {UsePause, h.Away}}})
	}
	return p
}

// ShiftYields draws how single shifts' yields are spread.
func ShiftYields(a *ask.ShiftAnswer, w *words.Writer, width, height float64) *Histogram {
	return &Histogram{Name: words.Say("shift.spread").Text(w),
		Text: words.Count(a.Replications, "simulated-shift").Text(w),
		Axis: Axis{Label: words.Say("column.pieces").Text(w)}, Values: a.ByShift, Low: a.Pieces.SingleLow,
		High: a.Pieces.SingleHigh,
		Between: words.Say("shift.of-shifts",
			words.Args{"level": words.Level(a.Level)}).Text(w), Width: width, Height: height}
}
