package ask

import (
	"context"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/words"
)

// ReportedAnswer is what the floor's reports say about the machines: what was
// expected before them, what they say alone, and what is believed now. Its JSON is
// a written contract: later versions add keys and never change one.
type ReportedAnswer struct {
	Used     bool              `json:"used" doc:"plans, promises and quotes go by it; the workshop's from_reports"`
	Machines []ReportedMachine `json:"machines" doc:"by name"`
	Verdict  words.Sentences   `json:"verdict"`
}

// ReportedMachine is what the reports say about one machine.
type ReportedMachine struct {
	ID             string  `json:"id"`
	Machine        string  `json:"machine"`
	Breaks         float64 `json:"breaks_per_1000" doc:"thread breaks a head and 1,000 stitches that are believed now"`
	BreaksPrior    float64 `json:"breaks_prior" doc:"expected without reports"`
	BreaksEvidence float64 `json:"breaks_evidence" doc:"counted alone; 0: none or nothing counted"`
	BreaksLow      float64 `json:"breaks_low" doc:"to breaks_high: 90 %"`
	BreaksHigh     float64 `json:"breaks_high"`
	Counted        int     `json:"breaks_counted"`
	Sewn           float64 `json:"head_stitches"`
	Pace           float64 `json:"pace" doc:"real over predicted seconds that is believed now; before reports it is 1"`
	PaceEvidence   float64 `json:"pace_evidence" doc:"of the timed hours alone; 0: none"`
	Hours          float64 `json:"hours_timed"`
	Reports        int     `json:"reports_timed"`
}

// Reported answers what the floor's reports say about the machines; machine is
// one's ID, empty for all.
func Reported(ctx context.Context, from LineFrom, machine string) (*ReportedAnswer, error) {
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	all, err := stations(ctx, from, w)
	if err != nil {
		return nil, err
	}
	a := &ReportedAnswer{Used: w.UsesReports(), Machines: []ReportedMachine{}, Verdict: words.Sentences{}}
	for _, st := range all {
		if machine != "" && st.ID != machine {
			continue
		}
		r := &st.said
		x := ReportedMachine{ID: st.ID, Machine: st.Name, Breaks: r.Breaks, BreaksPrior: st.expected, Counted: r.Counted,
			Sewn: r.Sewn, Pace: r.Pace, PaceEvidence: r.Real, Hours: r.Hours, Reports: r.Runs}
		if r.Sewn > 0 {
			x.BreaksEvidence = float64(r.Counted) / (r.Sewn / 1000)
		}
		x.BreaksLow, x.BreaksHigh = r.BreaksWithin(st.expected, clock.DefaultLevel)
		a.Machines = append(a.Machines, x)
	}
	if machine != "" && len(a.Machines) == 0 {
		return nil, unfound("refused.no-such-machine")
	}
	a.Verdict.Say("reported.what")
	if !a.Used {
		a.Verdict.Say("reported.unused")
	}
	return a, nil
}

// FloorReported is what the reports make of a machine for a floor's simulation,
// as plans and quotes have it, whether they use it or not; breaks is the rate that
// the floor's file expects.
func FloorReported(ctx context.Context, from LineFrom, machine string, breaks float64) (floor.Reported, error) {
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return floor.Reported{}, err
	}
	all, err := stations(ctx, from, w)
	if err != nil {
		return floor.Reported{}, err
	}
	for _, st := range all {
		if st.ID == machine {
			r := st.sums.Of(st.ID, breaks, Timing(st.Sheet), st.Digest)
			return floor.Reported{Breaks: r.Breaks, Pace: r.Pace}, nil
		}
	}
	return floor.Reported{}, unfound("refused.no-such-machine")
}

// Table is a machine a row: prior, evidence, now.
func (a *ReportedAnswer) Table() *Table {
	t := table("reported", words.Say("reported.caption"),
		column("machine", "column.machine"),
		number("breaks_prior", "reported.breaks-prior"),
		number("breaks_evidence", "reported.breaks-evidence"),
		number("breaks_per_1000", "reported.breaks-now"),
		number("breaks_low", "reported.breaks-low").inFile(),
		number("breaks_high", "reported.breaks-high").inFile(),
		column("breaks_range", "reported.breaks-range"),
		number("breaks_counted", "reported.counted"),
		number("pace_evidence", "reported.pace-evidence"),
		number("pace", "reported.pace-now"),
		number("hours_timed", "reported.hours"),
	)
	every := func(rate float64) words.Value {
		if rate <= 0 {
			return words.None{}
		}
		return coded{words.Whole(int(1000/rate + .5)), words.Fixed(rate, 6).Raw()}
	}
	for i := range a.Machines {
		x := &a.Machines[i]
		var within, real words.Value = words.None{}, words.None{}
		if x.Sewn > 0 && x.BreaksLow > 0 {
			within = words.Say("reported.between", words.Args{"low": words.Whole(int(1000/x.BreaksHigh + .5)),
				"high": words.Whole(int(1000/x.BreaksLow + .5))})
		}
		if x.PaceEvidence > 0 {
			real = words.Fixed(x.PaceEvidence, 2)
		}
		t.add(words.Name(x.Machine), every(x.BreaksPrior), every(x.BreaksEvidence), every(x.Breaks),
			words.Fixed(x.BreaksLow, 6), words.Fixed(x.BreaksHigh, 6), within, words.Whole(x.Counted), real,
			words.Fixed(x.Pace, 2), words.Fixed(x.Hours, 1))
	}
	return t
}
