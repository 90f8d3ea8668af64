package report

import (
	"math"

	"needlepace/clock"
	"needlepace/money"
)

// Comparison is machines compared on a mix.
type Comparison struct {
	Mix      string            `json:"mix"`
	File     string            `json:"file,omitempty" doc:"of the mix, where it is a file"`
	Currency string            `json:"currency"`
	Seed     uint64            `json:"seed"`
	Weeks    int               `json:"weeks"`
	Level    float64           `json:"level"`
	Base     string            `json:"base"`
	Machines []ComparedMachine `json:"machines"`
	Designs  []ComparedDesign  `json:"designs"`
	Pairs    []ComparedPair    `json:"pairs" doc:"every machine but the base against the base"`
	Beats    [][]float64       `json:"beats" doc:"[i][j]: chance that machine i's year costs less than j's"`
}

// MoneyRange is an amount and its interval.
type MoneyRange struct {
	Mid  string `json:"mid" doc:"decimal"`
	Low  string `json:"low"`
	High string `json:"high"`
}

func moneyOf(r money.Range, places int32) MoneyRange {
	return MoneyRange{r.Mid.StringFixed(places), r.Low.StringFixed(places), r.High.StringFixed(places)}
}

// ComparedMachine is one machine of a Comparison.
type ComparedMachine struct {
	Machine        string            `json:"machine"`
	Existing       bool              `json:"existing"`
	Heads          int               `json:"heads"`
	RatedSpeed     float64           `json:"rated_speed"`
	HeldSpeed      float64           `json:"held_speed"`
	Hours          Estimate          `json:"hours_a_week"`
	Available      float64           `json:"hours_available"`
	Needed         int               `json:"machines_needed"`
	PiecesPerShift Estimate          `json:"pieces_per_shift"`
	OEE            OEE               `json:"oee"`
	PerPiece       MoneyRange        `json:"cost_per_piece"`
	Year           MoneyRange        `json:"cost_per_year"`
	Lines          map[string]string `json:"year_lines"`
}

// ComparedDesign is one design of a Comparison.
type ComparedDesign struct {
	Design      string       `json:"design"`
	Weekly      int          `json:"weekly"`
	MeanStitch  float64      `json:"mean_stitch_mm"`
	First       string       `json:"first" doc:"whose run ends first"`
	FirstChance float64      `json:"first_chance"`
	Most        string       `json:"most" doc:"who yields most pieces an hour"`
	MostChance  float64      `json:"most_chance"`
	Why         string       `json:"why"`
	On          []ComparedOn `json:"on"`
}

// ComparedOn is one design on one machine.
type ComparedOn struct {
	Machine  string         `json:"machine"`
	Seconds  float64        `json:"seconds"`
	Interval clock.Interval `json:"interval"`
	Held     float64        `json:"held_speed"`
	PerPiece float64        `json:"machine_seconds_per_piece"`
	Parts    clock.Parts    `json:"parts"`
}

// ComparedPair is one machine against the base.
type ComparedPair struct {
	Machine    string      `json:"machine"`
	Base       string      `json:"base"`
	Cheaper    float64     `json:"chance_cheaper"`
	Faster     float64     `json:"chance_fewer_hours"`
	Invest     string      `json:"invest"`
	Saving     MoneyRange  `json:"saving_per_year"`
	Payback    []string    `json:"payback_years"`
	Discounted []string    `json:"discounted_payback_years"`
	NPV        MoneyRange  `json:"net_present_value"`
	Worth      float64     `json:"chance_npv_positive"`
	Tie        *MoneyRange `json:"tie_price" doc:"price of one machine at which a year costs the same; null where there is none"`
	Reason     string      `json:"reason"`
	Turning    []Turning   `json:"turning"`
}

// Turning is run time by stitch length for one kind of stitching.
type Turning struct {
	Shape   string    `json:"shape"`
	Length  []float64 `json:"length_mm"`
	Machine []float64 `json:"machine_seconds_per_1000"`
	Base    []float64 `json:"base_seconds_per_1000"`
	Chance  []float64 `json:"chance_faster"`
	Turns   []Turn    `json:"turns"`
}

// Turn is the stitch length at which two machines change places.
type Turn struct {
	Length float64  `json:"length_mm"`
	Low    *float64 `json:"low_mm"`
	High   *float64 `json:"high_mm"`
	Below  string   `json:"faster_below"`
}

func ups(all []money.Crossing) []string {
	out := []string{}
	for _, x := range all {
		if x.Up {
			out = append(out, x.At.StringFixed(4))
		}
	}
	return out
}

func chances(all []money.Chance) []float64 {
	var out []float64
	for _, c := range all {
		out = append(out, c.P())
	}
	return out
}

func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// ComparisonOf is a comparison as a report has it.
func ComparisonOf(k *money.Comparison, seed uint64) *Comparison {
	out := &Comparison{Mix: k.Mix.Name, Currency: k.Mix.Rates.Currency, Seed: seed, Weeks: k.Weeks, Level: k.Level, Base: k.Machines[k.Base].Name,
		Machines: []ComparedMachine{}, Designs: []ComparedDesign{}, Pairs: []ComparedPair{}, Beats: [][]float64{}}
	for i := range k.Machines {
		x := &k.Machines[i]
		row := ComparedMachine{x.Name, x.Existing, x.Heads, x.Sheet.MaxSpeed, x.Held, EstimateOf(x.Hours), x.Available, x.Needed, EstimateOf(x.PiecesPerShift), OEEOf(x.OEE),
			moneyOf(x.PerPiece, 4), moneyOf(x.YearCost, 2), map[string]string{}}
		for _, l := range x.Year {
			row.Lines[l.Name] = l.Amount.StringFixed(2)
		}
		out.Machines = append(out.Machines, row)
		var beats []float64
		for j := range k.Machines {
			beats = append(beats, k.Beats(i, j).P())
		}
		out.Beats = append(out.Beats, beats)
	}
	for _, d := range k.Designs {
		row := ComparedDesign{Design: d.Name, Weekly: d.Weekly, MeanStitch: d.Mean, First: k.Machines[d.First].Name, FirstChance: d.FirstChance.P(),
			Most: k.Machines[d.Most].Name, MostChance: d.MostChance.P(), Why: d.Why, On: []ComparedOn{}}
		for i := range d.On {
			o := &d.On[i]
			row.On = append(row.On, ComparedOn{k.Machines[i].Name, o.Result.Seconds, clock.Interval{Low: o.Low, High: o.High, Level: k.Level}, o.Result.HeldSpeed(), o.PerPiece, o.Result.Parts})
		}
		out.Designs = append(out.Designs, row)
	}
	for i := range k.Pairs {
		p := &k.Pairs[i]
		row := ComparedPair{k.Machines[p.Machine].Name, k.Machines[p.Base].Name, p.Cheaper.P(), p.Faster.P(), p.Invest.StringFixed(2), moneyOf(p.Saving, 2),
			ups(p.Payback), ups(p.Discounted), moneyOf(p.NPV, 2), p.Worth.P(), nil, p.Reason, []Turning{}}
		if p.TieOK {
			tie := moneyOf(p.Tie, 2)
			row.Tie = &tie
		}
		for _, t := range p.Turns {
			tr := Turning{string(t.Shape), t.Length, t.Machine, t.Base, chances(t.Chance), []Turn{}}
			for _, u := range t.At {
				below := row.Base
				if u.Below {
					below = row.Machine
				}
				tr.Turns = append(tr.Turns, Turn{u.Length, finite(u.Low), finite(u.High), below})
			}
			row.Turning = append(row.Turning, tr)
		}
		out.Pairs = append(out.Pairs, row)
	}
	return out
}
