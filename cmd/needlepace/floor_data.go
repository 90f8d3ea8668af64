package main

import (
	"encoding/csv"
	"encoding/json"
	"io"

	"needlepace/floor"
	"needlepace/report"
)

// row is the answer as JSON and CSV have it.
func (ans *floorAnswer) row() *report.Shift {
	out := report.ShiftOf(ans.Result, ans.seed)
	out.File = ans.file
	out.AddChanges(ans.changes)
	for _, x := range ans.crews {
		out.AddCrew(x.machine, x.crews, x.best, x.cost)
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
		header = append(header, report.StateKey(st)+"_seconds")
	}
	header = append(header, "availability", "effectiveness", "quality_ratio", "oee")
	var rows [][]string
	for _, m := range ans.row().Machines {
		row := []string{cell(m.Machine), whole(m.Heads), num(m.Pieces.Mean), num(m.Pieces.SingleLow), num(m.Pieces.SingleHigh), num(m.Good), num(m.Breaks), num(m.Bobbins), num(m.Runs)}
		for st := range floor.NumStates {
			row = append(row, num(m.Seconds[report.StateKey(st)]))
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
