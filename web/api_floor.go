package web

import (
	"math"
	"strings"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/money"
	"needlepace/shop"
)

func floorRoutes() []*route {
	return []*route{
		{name: "simulateFloor", method: "POST", path: "/floor", need: shop.Operator, summary: "Simulate a shift (a setup by its ID, or TOML), as work; the result is a Shift with the keys of the floor command's JSON.", in: simAsked{}, out: Work{}, status: 202, result: shiftAnswer{}, do: simulateFloor},
		{name: "compare", method: "POST", path: "/compare", need: shop.Operator, summary: "Compare machines on a mix (a setup by its ID, or TOML), as work; the result is a Comparison with the keys of the compare command's JSON.", in: simAsked{}, out: Work{}, status: 202, result: comparisonAnswer{}, do: compareMix},
		{name: "checkSetup", method: "POST", path: "/setups/check", need: shop.Operator, summary: "What is wrong with a shift's or mix's TOML: 204 for nothing.", in: setupCheck{}, do: checkSetup},
	}
}

type setupCheck struct {
	Kind string `json:"kind" enum:"floor,mix"`
	TOML string `json:"toml"`
}

func checkSetup(c *call) (any, error) {
	var in setupCheck
	if err := c.read(&in); err != nil {
		return nil, err
	}
	return nil, c.s.shop.CheckSetup(c.ctx, shop.SetupKind(in.Kind), in.TOML)
}

type simAsked struct {
	Setup     string  `json:"setup,omitempty" doc:"ID of a setup; or give toml"`
	TOML      string  `json:"toml,omitempty"`
	Seed      uint64  `json:"seed,omitempty" doc:"left out: 1; the same seed gives the same numbers"`
	Level     float64 `json:"level,omitempty" doc:"of the intervals, 0.5 to 0.999; left out: 0.9"`
	Precision float64 `json:"precision,omitempty" doc:"floor: known to ± this share of the mean; left out: 0.005"`
	WhatIf    bool    `json:"what_if,omitempty" doc:"floor: also one more of each, and machines for one operator"`
	Weeks     int     `json:"weeks,omitempty" doc:"compare: simulated; left out: 300"`
	Base      string  `json:"base,omitempty" doc:"compare: the machine measured against"`
}

// readSim reads what is asked and the TOML it is about, and checks that.
func (c *call) readSim(kind shop.SetupKind) (string, shop.SimAsked, error) {
	var in simAsked
	if err := c.read(&in); err != nil {
		return "", shop.SimAsked{}, err
	}
	toml := in.TOML
	if in.Setup != "" {
		st, err := c.s.shop.Setup(c.ctx, in.Setup)
		if err != nil {
			return "", shop.SimAsked{}, err
		}
		if st.Kind != kind {
			return "", shop.SimAsked{}, shop.Errorf(shop.Invalid, "%s is a %s, not a %s", st.Name, st.Kind, kind)
		}
		toml = st.TOML
	} else if toml == "" {
		return "", shop.SimAsked{}, shop.Errorf(shop.Invalid, "give setup or toml")
	}
	return toml, shop.SimAsked{Seed: in.Seed, Level: in.Level, Precision: in.Precision, WhatIf: in.WhatIf, Weeks: in.Weeks, Base: in.Base},
		c.s.shop.CheckSetup(c.ctx, kind, toml)
}

func simulateFloor(c *call) (any, error) {
	toml, ask, err := c.readSim(shop.FloorSetup)
	if err != nil {
		return nil, err
	}
	return c.begin("floor", func(w *work) (any, error) {
		r, err := c.s.shop.Floor(w.ctx, toml, ask, w.step)
		if err != nil {
			return nil, err
		}
		return shiftOf(r), nil
	})
}

func compareMix(c *call) (any, error) {
	toml, ask, err := c.readSim(shop.MixSetup)
	if err != nil {
		return nil, err
	}
	return c.begin("compare", func(w *work) (any, error) {
		r, err := c.s.shop.Compare(w.ctx, toml, ask, w.step)
		if err != nil {
			return nil, err
		}
		return comparisonOf(r, max(ask.Seed, 1)), nil
	})
}

type shiftAnswer struct {
	Shop         string         `json:"shop"`
	Seed         uint64         `json:"seed"`
	Replications int            `json:"replications"`
	Level        float64        `json:"level"`
	Narrow       bool           `json:"narrow" doc:"the interval is as narrow as asked"`
	ShiftSeconds float64        `json:"shift_seconds"`
	Pieces       estimate       `json:"pieces"`
	Good         estimate       `json:"good"`
	UnderWay     float64        `json:"under_way" doc:"pieces' worth under way at the end"`
	OEE          oee            `json:"oee"`
	Machines     []shiftMachine `json:"machines"`
	Operators    []shiftHand    `json:"operators"`
	Jobs         []shiftJob     `json:"jobs"`
	WhatIf       []shiftChange  `json:"what_if"`
	Crews        []shiftCrew    `json:"machines_for_one_operator"`
	ByShift      []float64      `json:"by_shift" doc:"yield of each simulated shift (at most 2,000), for a histogram"`
}

type estimate struct {
	Mean       float64 `json:"mean"`
	MeanLow    float64 `json:"mean_low" doc:"interval of the mean"`
	MeanHigh   float64 `json:"mean_high"`
	SingleLow  float64 `json:"single_low" doc:"range of single shifts"`
	SingleHigh float64 `json:"single_high"`
}

func estimateOf(e floor.Estimate) estimate { return estimate{e.Mean, e.Low, e.High, e.From, e.To} }

type oee struct {
	Availability  float64 `json:"availability"`
	Effectiveness float64 `json:"effectiveness"`
	Quality       float64 `json:"quality_ratio"`
	OEE           float64 `json:"oee"`
	Technical     float64 `json:"technical_efficiency"`
	Setup         float64 `json:"setup_ratio"`
}

func oeeOf(o floor.OEE) oee {
	return oee{number(o.Availability), number(o.Effectiveness), number(o.Quality), number(o.OEE), number(o.Technical), number(o.Setup)}
}

// number keeps JSON to what it can hold.
func number(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}

type shiftMachine struct {
	Machine string             `json:"machine"`
	Heads   int                `json:"heads"`
	Pieces  estimate           `json:"pieces"`
	Good    float64            `json:"good"`
	Seconds map[string]float64 `json:"seconds" doc:"of the shift, by what the machine does; they add up to it"`
	Breaks  float64            `json:"thread_breaks"`
	Bobbins float64            `json:"bobbins"`
	Runs    float64            `json:"runs"`
	OEE     oee                `json:"oee"`
}

type shiftHand struct {
	Operator string  `json:"operator"`
	Use      float64 `json:"use"`
	Machines float64 `json:"machine_seconds"`
	Hooping  float64 `json:"hooping_seconds"`
	Walking  float64 `json:"walking_seconds"`
	Away     float64 `json:"pause_seconds"`
}

type shiftJob struct {
	Job      string  `json:"job"`
	Pieces   float64 `json:"pieces"`
	Quantity int     `json:"quantity" doc:"0: as many as the shift yields"`
}

type shiftChange struct {
	Change string   `json:"change"`
	Pieces estimate `json:"more_pieces"`
	Sooner *float64 `json:"sooner_seconds" doc:"null where the shift never gets all its work done"`
}

type shiftCrew struct {
	Machine string      `json:"machine"`
	Best    int         `json:"best"`
	By      []crewPoint `json:"by_number"`
}

type crewPoint struct {
	Machines int      `json:"machines"`
	Pieces   estimate `json:"pieces"`
	Use      float64  `json:"operator_use"`
	Waiting  float64  `json:"machines_waiting"`
	Cost     string   `json:"machine_and_labour_per_piece" doc:"decimal, in the shift's currency; empty without money"`
}

func shiftOf(r *shop.Shift) *shiftAnswer {
	out := &shiftAnswer{Shop: r.Shop.Name, Seed: r.Seed, Replications: r.Replications, Level: r.Level, Narrow: r.Narrow, ShiftSeconds: r.Length,
		Pieces: estimateOf(r.Pieces), Good: estimateOf(r.Good), UnderWay: r.Left, OEE: oeeOf(r.OEE),
		Machines: []shiftMachine{}, Operators: []shiftHand{}, Jobs: []shiftJob{}, WhatIf: []shiftChange{}, Crews: []shiftCrew{}, ByShift: []float64{}}
	for i, m := range r.Machines {
		row := shiftMachine{m.Name, r.Shop.Machines[i].Heads, estimateOf(m.Pieces), m.Good, map[string]float64{}, m.Breaks, m.Bobbins, m.Runs, oeeOf(m.OEE)}
		for st, s := range m.Seconds {
			row.Seconds[strings.ReplaceAll(floor.State(st).String(), " ", "_")] = s
		}
		out.Machines = append(out.Machines, row)
	}
	for o, h := range r.Hands {
		out.Operators = append(out.Operators, shiftHand{r.Shop.Operators[o].Name, number(r.HandUse(o)), h.Machines, h.Hooping, h.Walking, h.Away})
	}
	for j, n := range r.Jobs {
		out.Jobs = append(out.Jobs, shiftJob{r.Shop.Jobs[j].Name, n, r.Shop.Jobs[j].Quantity})
	}
	for _, x := range r.Changes {
		row := shiftChange{Change: x.Name, Pieces: estimateOf(x.Pieces)}
		if x.AllWas {
			row.Sooner = &x.Sooner.Mean
		}
		out.WhatIf = append(out.WhatIf, row)
	}
	for _, x := range r.Crews {
		row := shiftCrew{Machine: x.Machine, Best: x.Crews[x.Best].Machines, By: []crewPoint{}}
		for i, k := range x.Crews {
			p := crewPoint{k.Machines, estimateOf(k.Pieces), number(k.HandUse), number(k.Waiting), ""}
			if x.Cost != nil {
				p.Cost = x.Cost[i].StringFixed(4)
			}
			row.By = append(row.By, p)
		}
		out.Crews = append(out.Crews, row)
	}
	out.ByShift = append(out.ByShift, r.ByShift[:min(len(r.ByShift), 2000)]...)
	return out
}

type comparisonAnswer struct {
	Mix      string            `json:"mix"`
	Currency string            `json:"currency"`
	Seed     uint64            `json:"seed"`
	Weeks    int               `json:"weeks"`
	Level    float64           `json:"level"`
	Base     string            `json:"base"`
	Machines []comparedMachine `json:"machines"`
	Designs  []comparedDesign  `json:"designs"`
	Pairs    []comparedPair    `json:"pairs" doc:"every machine but the base against the base"`
	Beats    [][]float64       `json:"beats" doc:"[i][j]: chance that machine i's year costs less than j's"`
}

type moneyRange struct {
	Mid  string `json:"mid" doc:"decimal"`
	Low  string `json:"low"`
	High string `json:"high"`
}

func moneyOf(r money.Range, places int32) moneyRange {
	return moneyRange{r.Mid.StringFixed(places), r.Low.StringFixed(places), r.High.StringFixed(places)}
}

type comparedMachine struct {
	Machine        string            `json:"machine"`
	Existing       bool              `json:"existing"`
	Heads          int               `json:"heads"`
	RatedSpeed     float64           `json:"rated_speed"`
	HeldSpeed      float64           `json:"held_speed"`
	Hours          estimate          `json:"hours_a_week"`
	Available      float64           `json:"hours_available"`
	Needed         int               `json:"machines_needed"`
	PiecesPerShift estimate          `json:"pieces_per_shift"`
	OEE            oee               `json:"oee"`
	PerPiece       moneyRange        `json:"cost_per_piece"`
	Year           moneyRange        `json:"cost_per_year"`
	Lines          map[string]string `json:"year_lines"`
}

type comparedDesign struct {
	Design      string       `json:"design"`
	Weekly      int          `json:"weekly"`
	MeanStitch  float64      `json:"mean_stitch_mm"`
	First       string       `json:"first" doc:"whose run ends first"`
	FirstChance float64      `json:"first_chance"`
	Most        string       `json:"most" doc:"who yields most pieces an hour"`
	MostChance  float64      `json:"most_chance"`
	Why         string       `json:"why"`
	On          []comparedOn `json:"on"`
}

type comparedOn struct {
	Machine  string         `json:"machine"`
	Seconds  float64        `json:"seconds"`
	Interval clock.Interval `json:"interval"`
	Held     float64        `json:"held_speed"`
	PerPiece float64        `json:"machine_seconds_per_piece"`
	Parts    clock.Parts    `json:"parts"`
}

type comparedPair struct {
	Machine    string      `json:"machine"`
	Base       string      `json:"base"`
	Cheaper    float64     `json:"chance_cheaper"`
	Faster     float64     `json:"chance_fewer_hours"`
	Invest     string      `json:"invest"`
	Saving     moneyRange  `json:"saving_per_year"`
	Payback    []string    `json:"payback_years"`
	Discounted []string    `json:"discounted_payback_years"`
	NPV        moneyRange  `json:"net_present_value"`
	Worth      float64     `json:"chance_npv_positive"`
	Tie        *moneyRange `json:"tie_price" doc:"price of one machine at which a year costs the same; null where there is none"`
	Reason     string      `json:"reason"`
	Turning    []turningAt `json:"turning"`
}

type turningAt struct {
	Shape   string    `json:"shape"`
	Length  []float64 `json:"length_mm"`
	Machine []float64 `json:"machine_seconds_per_1000"`
	Base    []float64 `json:"base_seconds_per_1000"`
	Chance  []float64 `json:"chance_faster"`
	Turns   []turnAt  `json:"turns"`
}

type turnAt struct {
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

func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

func comparisonOf(k *money.Comparison, seed uint64) *comparisonAnswer {
	out := &comparisonAnswer{Mix: k.Mix.Name, Currency: k.Mix.Rates.Currency, Seed: seed, Weeks: k.Weeks, Level: k.Level, Base: k.Machines[k.Base].Name,
		Machines: []comparedMachine{}, Designs: []comparedDesign{}, Pairs: []comparedPair{}, Beats: [][]float64{}}
	for i := range k.Machines {
		x := &k.Machines[i]
		row := comparedMachine{x.Name, x.Existing, x.Heads, x.Sheet.MaxSpeed, x.Held, estimateOf(x.Hours), x.Available, x.Needed, estimateOf(x.PiecesPerShift), oeeOf(x.OEE),
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
		row := comparedDesign{Design: d.Name, Weekly: d.Weekly, MeanStitch: d.Mean, First: k.Machines[d.First].Name, FirstChance: d.FirstChance,
			Most: k.Machines[d.Most].Name, MostChance: d.MostChance, Why: d.Why, On: []comparedOn{}}
		for i := range d.On {
			o := &d.On[i]
			row.On = append(row.On, comparedOn{k.Machines[i].Name, o.Result.Seconds, clock.Interval{Low: o.Low, High: o.High, Level: k.Level}, o.Result.HeldSpeed(), o.PerPiece, o.Result.Parts})
		}
		out.Designs = append(out.Designs, row)
	}
	for i := range k.Pairs {
		p := &k.Pairs[i]
		row := comparedPair{k.Machines[p.Machine].Name, k.Machines[p.Base].Name, p.Cheaper, p.Faster, p.Invest.StringFixed(2), moneyOf(p.Saving, 2),
			ups(p.Payback), ups(p.Discounted), moneyOf(p.NPV, 2), p.Worth, nil, p.Reason, []turningAt{}}
		if p.TieOK {
			tie := moneyOf(p.Tie, 2)
			row.Tie = &tie
		}
		for _, t := range p.Turns {
			tr := turningAt{string(t.Shape), t.Length, t.Machine, t.Base, t.Chance, []turnAt{}}
			for _, u := range t.At {
				below := row.Base
				if u.Below {
					below = row.Machine
				}
				tr.Turns = append(tr.Turns, turnAt{u.Length, finite(u.Low), finite(u.High), below})
			}
			row.Turning = append(row.Turning, tr)
		}
		out.Pairs = append(out.Pairs, row)
	}
	return out
}
