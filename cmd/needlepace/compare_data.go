package main

import (
	"fmt"
	"io"

	"needlepace/money"
	"needlepace/picture"
	"needlepace/report"
)

// compareRowOf is the comparison as JSON has it.
func compareRowOf(k *money.Comparison, file string, seed uint64) *report.Comparison {
	out := report.ComparisonOf(k, seed)
	out.File = file
	return out
}

func compareCSV(w io.Writer, k *money.Comparison) error {
	header := []string{"design", "weekly", "mean_stitch_mm", "machine", "seconds", "interval_low", "interval_high", "held_speed", "machine_seconds_per_piece", "first", "first_chance", "why",
		"machine_hours_a_week", "pieces_per_shift", "cost_per_piece", "cost_per_piece_low", "cost_per_piece_high", "currency"}
	var rows [][]string
	for _, d := range k.Designs {
		for i := range d.On {
			o, x := &d.On[i], &k.Machines[i]
			first, chance, why := "", "", ""
			if i == d.First {
				first, chance, why = "1", num(d.FirstChance.P()), cell(d.Why)
			}
			rows = append(rows, []string{cell(d.Name), whole(d.Weekly), num(d.Mean), cell(x.Name), num(o.Result.Seconds), num(o.Low), num(o.High), num(o.Result.HeldSpeed()), num(o.PerPiece),
				first, chance, why, num(x.Hours.Mean), num(x.PiecesPerShift.Mean), x.PerPiece.Mid.StringFixed(4), x.PerPiece.Low.StringFixed(4), x.PerPiece.High.StringFixed(4), cell(k.Mix.Rates.Currency)})
		}
	}
	return writeCSV(w, header, rows)
}

// comparePicture is the comparison from the answer (cost a piece) to the
// reason: the strips of every design on every machine, and for which stitch
// lengths machines turn.
func comparePicture(k *money.Comparison) picture.Picture {
	cur := k.Mix.Rates.Currency
	best := 0
	for i := range k.Machines {
		if k.Machines[i].YearCost.Mid.LessThan(k.Machines[best].YearCost.Mid) {
			best = i
		}
	}
	costs := &picture.Intervals{Name: title(k.Mix.Name), Text: fmt.Sprintf("cost of a piece in %s, %.0f %% intervals", cur, 100*k.Level), Axis: picture.Axis{Label: cur + " a piece", FromZero: true}, Width: 800}
	for i := range k.Machines {
		x := &k.Machines[i]
		f := func(d money.Dec) float64 { return d.InexactFloat64() }
		costs.Rows = append(costs.Rows, picture.Interval{Label: x.Name, Low: f(x.PerPiece.Low), Mid: f(x.PerPiece.Mid), High: f(x.PerPiece.High),
			Note: x.PerPiece.Mid.StringFixed(2) + " " + cur, Strong: i == best})
	}
	stack := &picture.Stack{Name: title(k.Mix.Name), Pictures: []picture.Picture{costs}}
	for _, d := range k.Designs {
		s := &picture.Strips{Name: fmt.Sprintf("%s, mean stitch %.1f mm", d.Name, d.Mean)}
		for i := range d.On {
			o := &d.On[i]
			note := fmt.Sprintf("held %.0f/min", o.Result.HeldSpeed())
			if i == d.First {
				note = "first with " + chanceText(d.FirstChance.P())
			}
			s.Rows = append(s.Rows, picture.StripRow{Label: k.Machines[i].Name, Note: note, Parts: picture.PartsOf(o.Result.Parts), Low: o.Low, High: o.High})
		}
		stack.Pictures = append(stack.Pictures, s)
	}
	for _, p := range k.Pairs {
		x, b := k.Machines[p.Machine].Name, k.Machines[p.Base].Name
		for _, t := range p.Turns {
			ch := &picture.Chart{Name: fmt.Sprintf("%s against %s: %s", x, b, t.Shape), Text: "test designs of one stitch length, with the mix's own trims and colour stops",
				X: picture.Axis{Label: "stitch length, mm"}, Y: picture.Axis{Label: "seconds per 1,000 stitches", FromZero: true}, Width: 800, Height: 300,
				Series: []picture.Series{{Name: x, Style: picture.Fitted, X: t.Length, Y: t.Machine}, {Name: b, Style: picture.Plain, X: t.Length, Y: t.Base}}}
			for _, u := range t.At {
				ch.Flags = append(ch.Flags, picture.Flag{X: u.Length, Text: fmt.Sprintf("turns at %.1f mm", u.Length)})
			}
			stack.Pictures = append(stack.Pictures, ch)
		}
	}
	return stack
}
