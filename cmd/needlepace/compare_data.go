package main

import (
	"fmt"
	"io"
	"math"

	"needlepace/clock"
	"needlepace/money"
	"needlepace/picture"
)

// The written contract of compare --json (docs/json.md). Money is decimal text.
type compareRow struct {
	Mix      string          `json:"mix"`
	File     string          `json:"file"`
	Currency string          `json:"currency"`
	Seed     uint64          `json:"seed"`
	Weeks    int             `json:"weeks"`
	Level    float64         `json:"level"`
	Base     string          `json:"base"`
	Machines []compareOn     `json:"machines"`
	Designs  []compareDesign `json:"designs"`
	Pairs    []comparePair   `json:"pairs"`
	Beats    [][]float64     `json:"beats"` // [i][j]: chance that machine i's year costs less than j's
}

type moneyRange struct {
	Mid  string `json:"mid"`
	Low  string `json:"low"`
	High string `json:"high"`
}

func moneyOf(r money.Range, places int32) moneyRange {
	return moneyRange{r.Mid.StringFixed(places), r.Low.StringFixed(places), r.High.StringFixed(places)}
}

type compareOn struct {
	Machine        string            `json:"machine"`
	Existing       bool              `json:"existing"`
	Heads          int               `json:"heads"`
	RatedSpeed     float64           `json:"rated_speed"`
	HeldSpeed      float64           `json:"held_speed"`
	Hours          estimateRow       `json:"hours_a_week"`
	Available      float64           `json:"hours_available"`
	Needed         int               `json:"machines_needed"`
	PiecesPerShift estimateRow       `json:"pieces_per_shift"`
	OEE            oeeRow            `json:"oee"`
	PerPiece       moneyRange        `json:"cost_per_piece"`
	Year           moneyRange        `json:"cost_per_year"`
	Lines          map[string]string `json:"year_lines"`
}

type compareDesign struct {
	Design      string     `json:"design"`
	Weekly      int        `json:"weekly"`
	MeanStitch  float64    `json:"mean_stitch_mm"`
	First       string     `json:"first"` // whose run ends first
	FirstChance float64    `json:"first_chance"`
	Most        string     `json:"most"` // who yields most pieces an hour
	MostChance  float64    `json:"most_chance"`
	Why         string     `json:"why"`
	On          []designOn `json:"on"`
}

type designOn struct {
	Machine  string         `json:"machine"`
	Seconds  float64        `json:"seconds"`
	Interval clock.Interval `json:"interval"`
	Held     float64        `json:"held_speed"`
	PerPiece float64        `json:"machine_seconds_per_piece"`
	Parts    clock.Parts    `json:"parts"`
}

type comparePair struct {
	Machine    string       `json:"machine"`
	Base       string       `json:"base"`
	Cheaper    float64      `json:"chance_cheaper"`
	Faster     float64      `json:"chance_fewer_hours"`
	Invest     string       `json:"invest"`
	Saving     moneyRange   `json:"saving_per_year"`
	Payback    []string     `json:"payback_years"`
	Discounted []string     `json:"discounted_payback_years"`
	NPV        moneyRange   `json:"net_present_value"`
	Worth      float64      `json:"chance_npv_positive"`
	Tie        *moneyRange  `json:"tie_price"`
	Reason     string       `json:"reason"`
	Turning    []turningRow `json:"turning"`
}

type turningRow struct {
	Shape   string    `json:"shape"`
	Length  []float64 `json:"length_mm"`
	Machine []float64 `json:"machine_seconds_per_1000"`
	Base    []float64 `json:"base_seconds_per_1000"`
	Chance  []float64 `json:"chance_faster"`
	Turns   []turnRow `json:"turns"`
}

type turnRow struct {
	Length float64  `json:"length_mm"`
	Low    *float64 `json:"low_mm"`
	High   *float64 `json:"high_mm"`
	Below  string   `json:"faster_below"`
}

func ups(cs []money.Crossing) []string {
	out := []string{}
	for _, x := range cs {
		if x.Up {
			out = append(out, x.At.StringFixed(4))
		}
	}
	return out
}

func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

func compareRowOf(k *money.Comparison, file string, seed uint64) compareRow {
	out := compareRow{Mix: k.Mix.Name, File: file, Currency: k.Mix.Rates.Currency, Seed: seed, Weeks: k.Weeks, Level: k.Level, Base: k.Machines[k.Base].Name}
	for i := range k.Machines {
		x := &k.Machines[i]
		row := compareOn{x.Name, x.Existing, x.Heads, x.Sheet.MaxSpeed, x.Held, estimateOf(x.Hours), x.Available, x.Needed, estimateOf(x.PiecesPerShift), oeeOf(x.OEE),
			moneyOf(x.PerPiece, 4), moneyOf(x.YearCost, 2), map[string]string{}}
		for _, l := range x.Year {
			row.Lines[l.Name] = l.Amount.StringFixed(2)
		}
		out.Machines = append(out.Machines, row)
		var beats []float64
		for j := range k.Machines {
			beats = append(beats, k.Beats(i, j))
		}
		out.Beats = append(out.Beats, beats)
	}
	for _, d := range k.Designs {
		row := compareDesign{Design: d.Name, Weekly: d.Weekly, MeanStitch: d.Mean, First: k.Machines[d.First].Name, FirstChance: d.FirstChance,
			Most: k.Machines[d.Most].Name, MostChance: d.MostChance, Why: d.Why}
		for i := range d.On {
			o := &d.On[i]
			row.On = append(row.On, designOn{k.Machines[i].Name, o.Result.Seconds, clock.Interval{Low: o.Low, High: o.High, Level: k.Level}, o.Result.HeldSpeed(), o.PerPiece, o.Result.Parts})
		}
		out.Designs = append(out.Designs, row)
	}
	for i := range k.Pairs {
		p := &k.Pairs[i]
		row := comparePair{k.Machines[p.Machine].Name, k.Machines[p.Base].Name, p.Cheaper, p.Faster, p.Invest.StringFixed(2), moneyOf(p.Saving, 2),
			ups(p.Payback), ups(p.Discounted), moneyOf(p.NPV, 2), p.Worth, nil, p.Reason, nil}
		if p.TieOK {
			tie := moneyOf(p.Tie, 2)
			row.Tie = &tie
		}
		for _, t := range p.Turns {
			tr := turningRow{string(t.Shape), t.Length, t.Machine, t.Base, t.Chance, []turnRow{}}
			for _, u := range t.At {
				below := row.Base
				if u.Below {
					below = row.Machine
				}
				tr.Turns = append(tr.Turns, turnRow{u.Length, finite(u.Low), finite(u.High), below})
			}
			row.Turning = append(row.Turning, tr)
		}
		out.Pairs = append(out.Pairs, row)
	}
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
				first, chance, why = "1", num(d.FirstChance), cell(d.Why)
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
				note = fmt.Sprintf("first with %.0f %%", 100*d.FirstChance)
			}
			s.Rows = append(s.Rows, picture.StripRow{Label: k.Machines[i].Name, Note: note, Parts: strip(o.Result.Parts), Low: o.Low, High: o.High})
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
