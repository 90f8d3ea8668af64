package main

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strings"

	"needlepace/floor"
)

// The written contract of floor --json (docs/json.md): changes only add keys.
type floorRow struct {
	Shop         string        `json:"shop"`
	File         string        `json:"file"`
	Seed         uint64        `json:"seed"`
	Replications int           `json:"replications"`
	Level        float64       `json:"level"`
	Narrow       bool          `json:"narrow"`
	ShiftSeconds float64       `json:"shift_seconds"`
	Pieces       estimateRow   `json:"pieces"`
	Good         estimateRow   `json:"good"`
	UnderWay     float64       `json:"under_way"`
	OEE          oeeRow        `json:"oee"`
	Machines     []machineRow  `json:"machines"`
	Operators    []operatorRow `json:"operators"`
	Jobs         []jobRow      `json:"jobs"`
	WhatIf       []changeRow   `json:"what_if,omitempty"`
	Crews        []crewRow     `json:"machines_for_one_operator,omitempty"`
}

// estimateRow: the mean with its own interval, and the range of single shifts.
type estimateRow struct {
	Mean       float64 `json:"mean"`
	MeanLow    float64 `json:"mean_low"`
	MeanHigh   float64 `json:"mean_high"`
	SingleLow  float64 `json:"single_low"`
	SingleHigh float64 `json:"single_high"`
}

func estimateOf(e floor.Estimate) estimateRow {
	return estimateRow{e.Mean, e.Low, e.High, e.From, e.To}
}

type oeeRow struct {
	Availability  float64 `json:"availability"`
	Effectiveness float64 `json:"effectiveness"`
	Quality       float64 `json:"quality_ratio"`
	OEE           float64 `json:"oee"`
	Technical     float64 `json:"technical_efficiency"`
	Setup         float64 `json:"setup_ratio"`
}

func oeeOf(o floor.OEE) oeeRow {
	return oeeRow{o.Availability, o.Effectiveness, o.Quality, o.OEE, o.Technical, o.Setup}
}

type machineRow struct {
	Machine string             `json:"machine"`
	Heads   int                `json:"heads"`
	Pieces  estimateRow        `json:"pieces"`
	Good    float64            `json:"good"`
	Seconds map[string]float64 `json:"seconds"`
	Breaks  float64            `json:"thread_breaks"`
	Bobbins float64            `json:"bobbins"`
	Runs    float64            `json:"runs"`
	OEE     oeeRow             `json:"oee"`
}

type operatorRow struct {
	Operator string  `json:"operator"`
	Use      float64 `json:"use"`
	Machines float64 `json:"machine_seconds"`
	Hooping  float64 `json:"hooping_seconds"`
	Walking  float64 `json:"walking_seconds"`
	Away     float64 `json:"pause_seconds"`
}

type jobRow struct {
	Job      string  `json:"job"`
	Pieces   float64 `json:"pieces"`
	Quantity int     `json:"quantity"` // 0: as many as the shift yields
}

type changeRow struct {
	Change string      `json:"change"`
	Pieces estimateRow `json:"more_pieces"`
	Sooner *float64    `json:"sooner_seconds,omitempty"`
}

type crewRow struct {
	Machine string      `json:"machine"`
	Best    int         `json:"best"`
	By      []crewPoint `json:"by_number"`
}

type crewPoint struct {
	Machines int         `json:"machines"`
	Pieces   estimateRow `json:"pieces"`
	Use      float64     `json:"operator_use"`
	Waiting  float64     `json:"machines_waiting"`
	Cost     string      `json:"machine_and_labour_per_piece,omitempty"` // decimal, in the shop's currency
}

// stateKey is a state's name in JSON and CSV.
func stateKey(s floor.State) string { return strings.ReplaceAll(s.String(), " ", "_") }

func (ans *floorAnswer) row() floorRow {
	r := ans.Result
	out := floorRow{Shop: r.Shop.Name, File: ans.file, Seed: ans.seed, Replications: r.Replications, Level: r.Level, Narrow: r.Narrow,
		ShiftSeconds: r.Length, Pieces: estimateOf(r.Pieces), Good: estimateOf(r.Good), UnderWay: r.Left, OEE: oeeOf(r.OEE)}
	for i, m := range r.Machines {
		row := machineRow{m.Name, r.Shop.Machines[i].Heads, estimateOf(m.Pieces), m.Good, map[string]float64{}, m.Breaks, m.Bobbins, m.Runs, oeeOf(m.OEE)}
		for st, s := range m.Seconds {
			row.Seconds[stateKey(floor.State(st))] = s
		}
		out.Machines = append(out.Machines, row)
	}
	for o, h := range r.Hands {
		out.Operators = append(out.Operators, operatorRow{r.Shop.Operators[o].Name, r.HandUse(o), h.Machines, h.Hooping, h.Walking, h.Away})
	}
	for j, n := range r.Jobs {
		out.Jobs = append(out.Jobs, jobRow{r.Shop.Jobs[j].Name, n, r.Shop.Jobs[j].Quantity})
	}
	for _, x := range ans.changes {
		row := changeRow{Change: x.Name, Pieces: estimateOf(x.Pieces)}
		if x.AllWas {
			row.Sooner = &x.Sooner.Mean
		}
		out.WhatIf = append(out.WhatIf, row)
	}
	for _, x := range ans.crews {
		row := crewRow{Machine: x.machine, Best: x.crews[x.best].Machines}
		for i, k := range x.crews {
			p := crewPoint{k.Machines, estimateOf(k.Pieces), k.HandUse, k.Waiting, ""}
			if x.cost != nil {
				p.Cost = x.cost[i].StringFixed(4)
			}
			row.By = append(row.By, p)
		}
		out.Crews = append(out.Crews, row)
	}
	return out
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

func (ans *floorAnswer) json(w io.Writer) error { return writeJSON(w, ans.row()) }

func (ans *floorAnswer) csv(w io.Writer) error {
	header := []string{"machine", "heads", "pieces", "pieces_low", "pieces_high", "good", "thread_breaks", "bobbins", "runs"}
	for st := range floor.NumStates {
		header = append(header, stateKey(st)+"_seconds")
	}
	header = append(header, "availability", "effectiveness", "quality_ratio", "oee")
	var rows [][]string
	for _, m := range ans.row().Machines {
		row := []string{cell(m.Machine), whole(m.Heads), num(m.Pieces.Mean), num(m.Pieces.SingleLow), num(m.Pieces.SingleHigh), num(m.Good), num(m.Breaks), num(m.Bobbins), num(m.Runs)}
		for st := range floor.NumStates {
			row = append(row, num(m.Seconds[stateKey(st)]))
		}
		rows = append(rows, append(row, num(m.OEE.Availability), num(m.OEE.Effectiveness), num(m.OEE.Quality), num(m.OEE.OEE)))
	}
	return writeCSV(w, header, rows)
}

// writeRows is writeCSV for what follows a header already written.
func writeRows(w io.Writer, rows [][]string) error {
	c := csv.NewWriter(w)
	if err := c.WriteAll(rows); err != nil {
		return err
	}
	return c.Error()
}
