package api

import (
	"needlepace/act"
	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/words"
)

func floorRoutes() []*route {
	return []*route{
		op("simulateFloor", "POST /floor", shop.SeeMoney,
			"Simulate a shift (a setup by its ID, or TOML), as work; the result is a Shift with the keys of the "+
				"floor command's JSON.",
			begins[ask.ShiftAnswer](simulateFloor)),
		op("compare", "POST /compare", shop.SeeMoney,
			"Compare machines on a mix (a setup by its ID, or TOML), as work; the result is a Comparison with the "+
				"keys of the compare command's JSON.",
			begins[ask.ComparisonAnswer](compareMix)),
		op("checkSetup", "POST /setups/check", shop.SeeMoney,
			"What is wrong with a shift's or mix's TOML: 204 for nothing.", takesOnly(checkSetup)),
	}
}

type setupCheck struct {
	Kind string `json:"kind" enum:"floor,mix"`
	TOML string `json:"toml"`
}

func checkSetup(c *call, in setupCheck) error {
	return c.Shop.CheckSetup(c.Ctx, shop.SetupKind(in.Kind), in.TOML)
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

// toml is what is asked about.
func (in *simAsked) toml(c *call, kind shop.SetupKind) ([]byte, error) {
	if in.Setup == "" {
		if in.TOML == "" {
			return nil, shop.Invalidf("give setup or toml")
		}
		return []byte(in.TOML), nil
	}
	st, err := c.Shop.Setups.Get(c.Ctx, in.Setup)
	if err != nil {
		return nil, err
	}
	if st.Kind != kind {
		return nil, shop.Invalidf("%s is a %s, not a %s", st.Name, st.Kind, kind)
	}
	return []byte(st.TOML), nil
}

func (in *simAsked) simulation() ask.Simulation {
	return ask.Simulation{Seed: in.Seed, Level: in.Level}
}

// tells has a simulation tell how far the work has come.
func (w *work) tells(s *ask.Simulation) {
	s.Progress = func(f float64, doing words.Message) { w.step(f, doing.Text(nil)) }
}

func simulateFloor(c *call, in simAsked) (*jobs.Work, error) {
	toml, err := in.toml(c, shop.FloorSetup)
	if err != nil {
		return nil, err
	}
	q := ask.ShiftQuestion{Best: c.Shop.ShiftBest, Name: "the shift", TOML: toml, Simulation: in.simulation(), Precision: in.Precision,
		WhatIf: in.WhatIf}
	if err := c.Shop.Check(c.Ctx, &q); err != nil {
		return nil, err
	}
	return c.begin("floor", func(w *work) (any, error) {
		w.tells(&q.Simulation)
		return act.Answer(w.ctx, c.Shop, ask.Shift, q)
	})
}

func compareMix(c *call, in simAsked) (*jobs.Work, error) {
	toml, err := in.toml(c, shop.MixSetup)
	if err != nil {
		return nil, err
	}
	q := ask.CompareQuestion{Name: "the mix", TOML: toml, Simulation: in.simulation(), Weeks: in.Weeks, Base: in.Base}
	if err := c.Shop.Check(c.Ctx, &q); err != nil {
		return nil, err
	}
	return c.begin("compare", func(w *work) (any, error) {
		w.tells(&q.Simulation)
		return act.Answer(w.ctx, c.Shop, ask.Compare, q)
	})
}
