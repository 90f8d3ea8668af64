package ask

import (
	"context"
	"math"

	"needlepace/book"
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
	Counted        int     `json:"breaks_counted" doc:"in reports and recordings"`
	Sewn           float64 `json:"head_stitches" doc:"that they were counted over"`
	CountedHeard   int     `json:"breaks_heard" doc:"of breaks_counted, those that were heard in recordings"`
	SewnHeard      float64 `json:"head_stitches_heard" doc:"of head_stitches, those of recordings"`
	Recordings     int     `json:"recordings" doc:"that count"`
	InReports      int     `json:"recordings_in_reports" doc:"recordings that do not count, since a report has their run in it"`
	Doubtful       int     `json:"stops_doubtful" doc:"stops in recordings that may be breaks or not; they are not counted"`
	Pace           float64 `json:"pace" doc:"real over predicted seconds that is believed now; before reports it is 1"`
	PaceEvidence   float64 `json:"pace_evidence" doc:"of the timed hours alone; 0: none"`
	Hours          float64 `json:"hours_timed"`
	Reports        int     `json:"reports_timed"`
	// Speed is what was counted by set speed; nil: nothing was.
	Speed *SpeedEffect  `json:"speed,omitempty" doc:"how breaks go with the set speed; left out: nothing was counted"`
	Heard []RecordedRun `json:"heard" doc:"recordings of its runs that were kept, oldest first"`
}

// RecordedRun is a recording of a run that was kept.
type RecordedRun struct {
	book.Heard
	Design string `json:"design_name"`
	Counts bool   `json:"counts" doc:"false: a report has the run in it"`
}

// SpeedEffect is how a machine's thread breaks go with the set speed.
type SpeedEffect struct {
	Known  bool          `json:"known" doc:"breaks are known to grow with the speed; false: no effect is known"`
	Grows  float64       `json:"grows" doc:"chance that they do, 0 to 1; 0.5 is no idea"`
	Slope  float64       `json:"slope" doc:"the rate goes as the speed to this power; with little evidence it is near 0, no effect"`
	Low    float64       `json:"slope_low" doc:"to slope_high: 90 %"`
	High   float64       `json:"slope_high"`
	From   float64       `json:"from" doc:"the slowest set speed that was counted at, stitches/min"`
	To     float64       `json:"to" doc:"the fastest"`
	Speeds []BreaksAt    `json:"speeds" doc:"slowest first"`
	Say    words.Message `json:"verdict"`
}

// BreaksAt is a machine's thread breaks at a set speed.
type BreaksAt struct {
	Speed   float64 `json:"set_speed" doc:"stitches/min, to the next 50"`
	Counted int     `json:"breaks_counted"`
	Sewn    float64 `json:"head_stitches"`
	Breaks  float64 `json:"breaks_per_1000" doc:"a head and 1,000 stitches, as is believed of this speed"`
	Low     float64 `json:"breaks_low" doc:"to breaks_high: 90 %"`
	High    float64 `json:"breaks_high"`
}

// speedEffect is what a machine's counts tell of the set speed; nil where nothing was counted.
func speedEffect(r *book.Rates, expected float64) *SpeedEffect {
	b := r.SpeedEffect(expected)
	if b == nil {
		return nil
	}
	e := &SpeedEffect{Known: b.Known(), Grows: b.Grows, Slope: b.Slope, Low: b.Low, High: b.High, From: b.From, To: b.To,
		Speeds: []BreaksAt{}}
	for _, c := range b.Counted() {
		x := BreaksAt{Speed: c.Speed, Counted: c.Breaks, Sewn: c.Sewn}
		x.Breaks, x.Low, x.High = b.At(c.Speed, clock.DefaultLevel)
		e.Speeds = append(e.Speeds, x)
	}
	e.Say = saySpeeds(b)
	return e
}

// saySpeeds says what counts tell of the set speed. Beyond the speeds that were counted at
// nothing is said.
func saySpeeds(b *book.SpeedBelief) words.Message {
	times := func(slope float64) words.Value { return words.Fixed(math.Pow(b.To/b.From, slope), 1) }
	breaks, from, to := words.Count(b.Breaks, "break"), words.Whole(int(b.From+.5)), words.PerMinute(b.To)
	switch {
	case b.Known():
		return words.Say("reported.speed-known", words.Args{"breaks": breaks, "from": from, "to": to, "chance": words.Chance(b.Grows),
			"times": times(b.Slope), "low": times(b.Low), "high": times(b.High)})
	case b.One():
		return words.Say("reported.speed-one", words.Args{"to": to})
	}
	return words.Say("reported.speed-unknown", words.Args{"breaks": breaks, "from": from, "to": to})
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
			Sewn: r.Sewn, Pace: r.Pace, PaceEvidence: r.Real, Hours: r.Hours, Reports: r.Runs,
			CountedHeard: r.Heard.Counted, SewnHeard: r.Heard.Sewn, Recordings: r.Heard.Recordings, InReports: r.Heard.Reported,
			Doubtful: r.Heard.Doubtful, Speed: speedEffect(r, st.expected)}
		if r.Sewn > 0 {
			x.BreaksEvidence = float64(r.Counted) / (r.Sewn / 1000)
		}
		x.BreaksLow, x.BreaksHigh = r.BreaksWithin(st.expected, clock.DefaultLevel)
		if x.Heard, err = recorded(ctx, from, st.ID); err != nil {
			return nil, err
		}
		a.Machines = append(a.Machines, x)
	}
	if machine != "" && len(a.Machines) == 0 {
		return nil, unfound(words.Say("refused.no-such-machine"))
	}
	a.Verdict.Say("reported.what")
	inReports, doubtful := 0, 0
	for i := range a.Machines {
		inReports, doubtful = inReports+a.Machines[i].InReports, doubtful+a.Machines[i].Doubtful
	}
	if inReports > 0 {
		a.Verdict.Say("reported.in-reports", words.Args{"n": words.Whole(inReports)})
	}
	if doubtful > 0 {
		a.Verdict.Say("reported.doubtful", words.Args{"n": words.Whole(doubtful)})
	}
	if !a.Used {
		a.Verdict.Say("reported.unused")
	}
	return a, nil
}

// recorded are the recordings of a machine's runs.
func recorded(ctx context.Context, from LineFrom, machine string) ([]RecordedRun, error) {
	heard, err := from.Heard(ctx)
	if err != nil {
		return nil, err
	}
	reports, err := from.Reports(ctx)
	if err != nil {
		return nil, err
	}
	out := []RecordedRun{}
	for i := range heard {
		h := &heard[i]
		if h.MachineID != machine {
			continue
		}
		d, err := from.Design(ctx, h.DesignID)
		if err != nil {
			return nil, err
		}
		out = append(out, RecordedRun{*h, d.Name, h.ReportedIn(reports) == nil})
	}
	return out, nil
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
	return floor.Reported{}, unfound(words.Say("refused.no-such-machine"))
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
		number("breaks_heard", "reported.counted-heard"),
		number("recordings", "reported.recordings").inFile(),
		number("pace_evidence", "reported.pace-evidence"),
		number("pace", "reported.pace-now"),
		number("hours_timed", "reported.hours"),
	)
	for i := range a.Machines {
		x := &a.Machines[i]
		var within, real words.Value = words.None{}, words.None{}
		if x.Sewn > 0 && x.BreaksLow > 0 {
			within = everyBetween(x.BreaksLow, x.BreaksHigh)
		}
		if x.PaceEvidence > 0 {
			real = words.Fixed(x.PaceEvidence, 2)
		}
		t.add(words.Name(x.Machine), every(x.BreaksPrior), every(x.BreaksEvidence), every(x.Breaks),
			words.Fixed(x.BreaksLow, 6), words.Fixed(x.BreaksHigh, 6), within, words.Whole(x.Counted), words.Whole(x.CountedHeard),
			words.Whole(x.Recordings), real,
			words.Fixed(x.Pace, 2), words.Fixed(x.Hours, 1))
	}
	return t
}

// every is a rate of breaks as the stitches of a head to one.
func every(rate float64) words.Value {
	if rate <= 0 {
		return words.None{}
	}
	return coded{words.Whole(int(1000/rate + .5)), words.Fixed(rate, 6).Raw()}
}

// everyBetween is the interval of every of a rate between two.
func everyBetween(low, high float64) words.Value {
	return words.Say("reported.between", words.Args{"low": words.Whole(int(1000/high + .5)), "high": words.Whole(int(1000/low + .5))})
}

// SpeedTable is a set speed of a machine a row: what was counted there, and what is believed.
func (a *ReportedAnswer) SpeedTable() *Table {
	t := table("break-speeds", words.Say("reported.speeds"),
		column("machine", "column.machine"),
		number("set_speed_per_min", "reported.set-speed"),
		number("breaks_counted", "reported.counted"),
		number("head_stitches", "reported.stitches"),
		number("breaks_per_1000", "reported.breaks-now"),
		number("breaks_low", "reported.breaks-low").inFile(),
		number("breaks_high", "reported.breaks-high").inFile(),
		column("breaks_range", "reported.breaks-range"),
	)
	for i := range a.Machines {
		x := &a.Machines[i]
		if x.Speed == nil {
			continue
		}
		for _, s := range x.Speed.Speeds {
			t.add(words.Name(x.Machine), words.Whole(int(s.Speed+.5)), words.Whole(s.Counted), words.Whole(int(s.Sewn+.5)), every(s.Breaks),
				words.Fixed(s.Low, 6), words.Fixed(s.High, 6), everyBetween(s.Low, s.High))
		}
	}
	return t
}

// Speeds says of each machine with counts how its breaks go with the set speed.
func (a *ReportedAnswer) Speeds() words.Sentences {
	var out words.Sentences
	for i := range a.Machines {
		if x := &a.Machines[i]; x.Speed != nil {
			out.Say("reported.speed-of", words.Args{"machine": words.Name(x.Machine), "what": x.Speed.Say})
		}
	}
	if len(out) > 0 {
		out.Say("reported.caution")
	}
	return out
}

// RecordedTable is a recording that was kept a row.
func (a *ReportedAnswer) RecordedTable() *Table {
	t := table("heard", words.Say("reported.heard"),
		column("machine", "column.machine"), column("day", "column.day"), column("design", "column.design"),
		number("set_speed_per_min", "reported.set-speed"), number("breaks_counted", "reported.counted"),
		number("stops_doubtful", "reported.may-be"), number("head_stitches", "reported.stitches"), column("counts", "reported.counts"))
	for i := range a.Machines {
		for _, h := range a.Machines[i].Heard {
			counts := words.Say("reported.counts-yes")
			if !h.Counts {
				counts = words.Say("reported.counts-no")
			}
			t.add(words.Name(a.Machines[i].Machine), h.Day, words.Name(h.Design), words.Whole(int(h.SetSpeed+.5)), words.Whole(h.Breaks),
				words.Whole(h.Doubtful), words.Whole(int(h.Stitches+.5)), counts)
		}
	}
	return t
}
