package ask

import (
	"slices"
	"strings"

	"needlepace/floor"
	"needlepace/words"
)

// ShiftAnswer is a simulated shift: the written contract of `floor --json` and
// of the API (docs/json.md).
type ShiftAnswer struct {
	Shop         string          `json:"shop"`
	File         string          `json:"file,omitempty" doc:"of the shop, where it is a file"`
	Seed         uint64          `json:"seed"`
	Replications int             `json:"replications"`
	Level        float64         `json:"level"`
	Narrow       bool            `json:"narrow" doc:"the interval is as narrow as asked"`
	ShiftSeconds float64         `json:"shift_seconds"`
	Pieces       Estimate        `json:"pieces"`
	Good         Estimate        `json:"good"`
	UnderWay     float64         `json:"under_way" doc:"pieces' worth under way at the end"`
	Calls        float64         `json:"calls" doc:"of machines for an operator"`
	Waited       float64         `json:"calls_waited" doc:"of them, not answered at once"`
	OEE          OEE             `json:"oee"`
	Machines     []ShiftMachine  `json:"machines"`
	Operators    []ShiftOperator `json:"operators"`
	Jobs         []ShiftJob      `json:"jobs"`
	WhatIf       []ShiftChange   `json:"what_if,omitempty"`
	Crews        []Crew          `json:"machines_for_one_operator,omitempty"`
	Currency     string          `json:"currency,omitempty" doc:"of the crews' costs"`
	Best         []ShiftBest     `json:"best_speeds,omitempty" doc:"where the shift goes by reports: the set speeds that make most good pieces, job by job on each machine of the shop"`
	ByShift      []float64       `json:"by_shift,omitempty" doc:"yield of each simulated shift (at most 2,000), for a histogram"`
	Verdict      words.Sentences `json:"verdict" doc:"the answer in sentences"`
	Caveats      words.Sentences `json:"caveats" doc:"what to know before relying on it"`

	prices words.Sentences // what to know of those that the crews' costs are made from
}

// mostByShift is the most single shifts that an answer carries.
const mostByShift = 2000

// ShiftBest is the best set speed of a job on a machine.
type ShiftBest struct {
	Machine string `json:"machine"`
	Job     string `json:"job"`
	BestSpeed
}

// BestTable is a job on a machine a row: the knee, and the speed that makes most good pieces.
func (a *ShiftAnswer) BestTable() *Table {
	t := table("best-speeds", words.Say("bestspeed.shift"),
		column("machine", "column.machine"), column("job", "column.job"), number("knee_per_min", "bestspeed.at-knee"),
		number("best_per_min", "bestspeed.at-best"), number("sure", "bestspeed.sure"))
	for i := range a.Best {
		b := &a.Best[i]
		var knee, best, sure words.Value = words.None{}, words.None{}, words.None{}
		if b.Knee > 0 {
			knee = words.Whole(int(b.Knee + .5))
		}
		if b.Speed > 0 {
			best = words.Whole(int(b.Speed + .5))
		}
		if b.Sure > 0 {
			sure = words.Chance(b.Sure)
		}
		t.add(words.Name(b.Machine), words.Name(b.Job), knee, best, sure)
	}
	return t
}

// BestSay says why, once for jobs of which the same is known.
func (a *ShiftAnswer) BestSay() (out words.Sentences) {
	for i := range a.Best {
		say := a.Best[i].Say[0]
		if !slices.ContainsFunc(out, func(m words.Message) bool { return m.Text(nil) == say.Text(nil) }) {
			out = append(out, say)
		}
	}
	if len(out) > 0 {
		out.Say("reported.caution")
	}
	return out
}

// ShiftMachine is one machine of a shift.
type ShiftMachine struct {
	Machine string             `json:"machine"`
	Heads   int                `json:"heads"`
	Pieces  Estimate           `json:"pieces"`
	Good    float64            `json:"good"`
	Seconds map[string]float64 `json:"seconds" doc:"of the shift, by what the machine does; they add up to it"`
	Breaks  float64            `json:"thread_breaks"`
	Bobbins float64            `json:"bobbins"`
	Runs    float64            `json:"runs"`
	OEE     OEE                `json:"oee"`
}

// ShiftOperator is one operator of a shift: the seconds by what they were spent on.
type ShiftOperator struct {
	Operator string  `json:"operator"`
	Use      float64 `json:"use"`
	Machines float64 `json:"machine_seconds"`
	Hooping  float64 `json:"hooping_seconds"`
	Walking  float64 `json:"walking_seconds"`
	Away     float64 `json:"pause_seconds"`
	Free     float64 `json:"free_seconds"`
}

// ShiftJob is one job of a shift.
type ShiftJob struct {
	Job      string  `json:"job"`
	Pieces   float64 `json:"pieces"`
	Quantity int     `json:"quantity" doc:"0: as many as the shift yields"`
}

// ShiftChange is what one more head, operator or hoop set would give.
type ShiftChange struct {
	Change string   `json:"change"`
	Pieces Estimate `json:"more_pieces"`
	Sooner *float64 `json:"sooner_seconds,omitempty" doc:"null where the shift never gets all its work done"`
}

// Crew is how many machines like one of the shift's an operator keeps.
type Crew struct {
	Machine string          `json:"machine"`
	Best    int             `json:"best"`
	Alike   []int           `json:"alike,omitempty" doc:"numbers whose cost cannot be told apart from the best's"`
	By      []CrewPoint     `json:"by_number"`
	Verdict words.Sentences `json:"verdict" doc:"how many, and why more yield fewer pieces each"`
}

// CrewPoint is a Crew of one size.
type CrewPoint struct {
	Machines int      `json:"machines"`
	Pieces   Estimate `json:"pieces"`
	Each     float64  `json:"pieces_each" doc:"of one machine"`
	Use      float64  `json:"operator_use"`
	Waiting  float64  `json:"machines_waiting"`
	Cost     string   `json:"machine_and_labour_per_piece,omitempty" doc:"decimal, in the shift's currency; empty without money"`
}

// stateKey is a state's name as a key.
func stateKey(s floor.State) string { return strings.ReplaceAll(s.String(), " ", "_") }

// In is the seconds of the shift that the machine spends in a state.
func (m *ShiftMachine) In(s floor.State) float64 { return m.Seconds[stateKey(s)] }

func shiftAnswer(r *floor.Result, seed uint64) *ShiftAnswer {
	a := &ShiftAnswer{Shop: r.Shop.Name, Seed: seed, Replications: r.Replications, Level: r.Level, Narrow: r.Narrow,
		ShiftSeconds: r.Length, Pieces: EstimateOf(r.Pieces), Good: EstimateOf(r.Good), UnderWay: r.Left,
		Calls: r.Calls, Waited: r.Waited, OEE: OEEOf(r.OEE),
		Machines: []ShiftMachine{}, Operators: []ShiftOperator{}, Jobs: []ShiftJob{},
		ByShift: r.ByShift[:min(len(r.ByShift), mostByShift)]}
	for i, m := range r.Machines {
		row := ShiftMachine{m.Name, r.Shop.Machines[i].Heads, EstimateOf(m.Pieces), m.Good, map[string]float64{},
			m.Breaks,
			m.Bobbins, m.Runs, OEEOf(m.OEE)}
		for st, s := range m.Seconds {
			row.Seconds[stateKey(floor.State(st))] = s
		}
		a.Machines = append(a.Machines, row)
	}
	for o, h := range r.Hands {
		free := r.Length - h.Away - h.Machines - h.Hooping - h.Walking
		a.Operators = append(a.Operators, ShiftOperator{r.Shop.Operators[o].Name, finite(r.HandUse(o)),
			h.Machines, h.Hooping, h.Walking, h.Away, free})
	}
	for j, n := range r.Jobs {
		a.Jobs = append(a.Jobs, ShiftJob{r.Shop.Jobs[j].Name, n, r.Shop.Jobs[j].Quantity})
	}
	return a
}

// Title names the shift.
func (a *ShiftAnswer) Title() words.Value {
	if a.Shop == "" {
		return words.Say("shift.the-shop")
	}
	return words.Name(a.Shop)
}

// What is the shift that was simulated, in a sentence.
func (a *ShiftAnswer) What() words.Message {
	return words.Say("shift.shift-of", words.Args{"length": words.Seconds(a.ShiftSeconds),
		"machines":  words.Count(len(a.Machines), "machine"),
		"operators": words.Count(len(a.Operators), "operator")})
}

// OEESay is the shift's OEE, and what it is measured against.
func (a *ShiftAnswer) OEESay() words.Sentences {
	return words.Sentences{
		words.Say("shift.by-oee", words.Args{"availability": words.Share(a.OEE.Availability),
			"effectiveness": words.Share(a.OEE.Effectiveness), "quality": words.Share(a.OEE.Quality),
			"oee": words.Share(a.OEE.OEE)}),
		words.Say("shift.against"),
	}
}

// say puts the figures in sentences.
func (a *ShiftAnswer) say() {
	whole := func(v float64) words.Value { return words.Fixed(v, 0) }
	a.Verdict = words.Sentences{
		words.Say("shift.yields", words.Args{"pieces": pieces(a.Pieces.Mean), "level": words.Level(a.Level),
			"low": whole(a.Pieces.SingleLow), "high": whole(a.Pieces.SingleHigh)}),
		words.Say("shift.good", words.Args{"good": words.Figure(a.Good.Mean), "left": words.Fixed(a.UnderWay, 1)}),
		words.Say("shift.known", words.Args{"half": words.Mean((a.Pieces.MeanHigh-a.Pieces.MeanLow)/2, "piece"),
			"shifts": words.Count(a.Replications,
				"simulated-shift"), "seed": words.Name(words.Fixed(float64(a.Seed), 0).Raw())}),
	}
	if a.Calls > 0 {
		a.Verdict.Say("shift.calls", words.Args{
			"calls": words.Figure(a.Calls), "share": words.Share(a.Waited / a.Calls)})
	}
	a.Caveats = append(words.Sentences{}, a.prices...)
	if !a.Narrow {
		a.Caveats.Say("shift.not-narrow")
	}
	for i := range a.WhatIf {
		if a.WhatIf[i].Sooner != nil {
			a.Caveats.Say("shift.all-done")
			break
		}
	}
	for i := range a.Crews {
		a.Crews[i].say()
	}
	a.Caveats.Say("shift.leaving")
}

// pieces is a mean number of pieces for people.
func pieces(n float64) words.Number {
	if n >= 100 {
		return words.Number{V: n, Noun: "piece"}
	}
	return words.Mean(n, "piece")
}

func (c *Crew) say() {
	why := words.Say("crew.yields-nine-tenths")
	if c.By[0].Cost != "" {
		why = words.Say("crew.costs-least")
	}
	c.Verdict = words.Sentences{words.Say("crew.keeps", words.Args{
		"machine": words.Name(c.Machine), "machines": words.Count(c.Best, "machine"), "why": why})}
	if len(c.Alike) > 0 {
		var others words.List
		for _, n := range c.Alike {
			others = append(others, words.Whole(n))
		}
		c.Verdict.Say("crew.alike", words.Args{"others": others, "machines": words.Whole(c.Best)})
	}
	// Why each yields less: who waits for whom, from one machine to the most tried.
	first, last := &c.By[0], &c.By[len(c.By)-1]
	if last.Each < first.Each {
		c.Verdict.Say("crew.each-less", words.Args{
			"one": words.Figure(first.Each), "many": words.Figure(last.Each), "machines": words.Count(last.Machines,
				"machine"),
			"busy": words.Share(last.Use), "waiting": words.Share(last.Waiting)})
	}
}
