package report

import (
	"math"
	"strings"

	"needlepace/floor"
	"needlepace/money"
)

// Shift is a simulated shift.
type Shift struct {
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
	OEE          OEE             `json:"oee"`
	Machines     []ShiftMachine  `json:"machines"`
	Operators    []ShiftOperator `json:"operators"`
	Jobs         []ShiftJob      `json:"jobs"`
	WhatIf       []ShiftChange   `json:"what_if,omitempty"`
	Crews        []Crew          `json:"machines_for_one_operator,omitempty"`
	ByShift      []float64       `json:"by_shift,omitempty" doc:"yield of each simulated shift (at most 2,000), for a histogram"`
}

// Estimate is the mean with its own interval, and the range of single shifts.
type Estimate struct {
	Mean       float64 `json:"mean"`
	MeanLow    float64 `json:"mean_low" doc:"interval of the mean"`
	MeanHigh   float64 `json:"mean_high"`
	SingleLow  float64 `json:"single_low" doc:"range of single shifts"`
	SingleHigh float64 `json:"single_high"`
}

// EstimateOf is an estimate as a report has it.
func EstimateOf(e floor.Estimate) Estimate { return Estimate{e.Mean, e.Low, e.High, e.From, e.To} }

// OEE is availability, effectiveness and quality by their ISO 22400-2 definitions.
type OEE struct {
	Availability  float64 `json:"availability"`
	Effectiveness float64 `json:"effectiveness"`
	Quality       float64 `json:"quality_ratio"`
	OEE           float64 `json:"oee"`
	Technical     float64 `json:"technical_efficiency"`
	Setup         float64 `json:"setup_ratio"`
}

// OEEOf is OEE as a report has it.
func OEEOf(o floor.OEE) OEE {
	return OEE{number(o.Availability), number(o.Effectiveness), number(o.Quality), number(o.OEE), number(o.Technical), number(o.Setup)}
}

// number keeps JSON to what it can hold.
func number(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}

// ShiftMachine is one machine of a Shift.
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

// ShiftOperator is one operator of a Shift: the seconds by what they were spent on.
type ShiftOperator struct {
	Operator string  `json:"operator"`
	Use      float64 `json:"use"`
	Machines float64 `json:"machine_seconds"`
	Hooping  float64 `json:"hooping_seconds"`
	Walking  float64 `json:"walking_seconds"`
	Away     float64 `json:"pause_seconds"`
}

// ShiftJob is one job of a Shift.
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

// Crew is how many machines like one of the shop's an operator keeps.
type Crew struct {
	Machine string      `json:"machine"`
	Best    int         `json:"best"`
	By      []CrewPoint `json:"by_number"`
}

// CrewPoint is a Crew of one size.
type CrewPoint struct {
	Machines int      `json:"machines"`
	Pieces   Estimate `json:"pieces"`
	Use      float64  `json:"operator_use"`
	Waiting  float64  `json:"machines_waiting"`
	Cost     string   `json:"machine_and_labour_per_piece,omitempty" doc:"decimal, in the shift's currency; empty without money"`
}

// StateKey is a state's name as a key.
func StateKey(s floor.State) string { return strings.ReplaceAll(s.String(), " ", "_") }

// ShiftOf is a simulated shift as a report has it. What-ifs, crews and single
// shifts are the caller's to add.
func ShiftOf(r *floor.Result, seed uint64) *Shift {
	out := &Shift{Shop: r.Shop.Name, Seed: seed, Replications: r.Replications, Level: r.Level, Narrow: r.Narrow, ShiftSeconds: r.Length,
		Pieces: EstimateOf(r.Pieces), Good: EstimateOf(r.Good), UnderWay: r.Left, OEE: OEEOf(r.OEE),
		Machines: []ShiftMachine{}, Operators: []ShiftOperator{}, Jobs: []ShiftJob{}}
	for i, m := range r.Machines {
		row := ShiftMachine{m.Name, r.Shop.Machines[i].Heads, EstimateOf(m.Pieces), m.Good, map[string]float64{}, m.Breaks, m.Bobbins, m.Runs, OEEOf(m.OEE)}
		for st, s := range m.Seconds {
			row.Seconds[StateKey(floor.State(st))] = s
		}
		out.Machines = append(out.Machines, row)
	}
	for o, h := range r.Hands {
		out.Operators = append(out.Operators, ShiftOperator{r.Shop.Operators[o].Name, number(r.HandUse(o)), h.Machines, h.Hooping, h.Walking, h.Away})
	}
	for j, n := range r.Jobs {
		out.Jobs = append(out.Jobs, ShiftJob{r.Shop.Jobs[j].Name, n, r.Shop.Jobs[j].Quantity})
	}
	return out
}

// AddChanges adds what one more of something would give.
func (s *Shift) AddChanges(changes []floor.Change) {
	for _, x := range changes {
		row := ShiftChange{Change: x.Name, Pieces: EstimateOf(x.Pieces)}
		if x.AllWas {
			row.Sooner = &x.Sooner.Mean
		}
		s.WhatIf = append(s.WhatIf, row)
	}
}

// AddCrew adds how many machines like the named one an operator keeps; best is
// the index of the best, cost the machine and labour a piece of each, or nil.
func (s *Shift) AddCrew(machine string, crews []floor.Crew, best int, cost []money.Dec) {
	row := Crew{Machine: machine, Best: crews[best].Machines, By: []CrewPoint{}}
	for i, k := range crews {
		p := CrewPoint{k.Machines, EstimateOf(k.Pieces), number(k.HandUse), number(k.Waiting), ""}
		if cost != nil {
			p.Cost = cost[i].StringFixed(4)
		}
		row.By = append(row.By, p)
	}
	s.Crews = append(s.Crews, row)
}
