package api

import (
	"needlepace/act"
	"needlepace/ask"
	"needlepace/shop"
	"needlepace/words"
)

func floorRoutes() []*route {
	return []*route{
		{name: "simulateFloor", at: "POST /floor", right: shop.SeeMoney,
			summary: "Simulate a shift (a setup by its ID, or TOML), as work; the result is a Shift with the keys of " +
				"the floor command's JSON.", in: simAsked{}, result: ask.ShiftAnswer{}, do: simulateFloor},
		{name: "compare", at: "POST /compare", right: shop.SeeMoney,
			summary: "Compare machines on a mix (a setup by its ID, or TOML), as work; the result is a Comparison " +
				"with the keys of the compare command's JSON.", in: simAsked{}, result: ask.ComparisonAnswer{},
			do: compareMix},
		{name: "checkSetup", at: "POST /setups/check", right: shop.SeeMoney,
			summary: "What is wrong with a shift's or mix's TOML: 204 for nothing.", in: setupCheck{},
			do: with(checkSetup)},
	}
}

type setupCheck struct {
	Kind string `json:"kind" enum:"floor,mix"`
	TOML string `json:"toml"`
}

func checkSetup(c *call, in setupCheck) (any, error) {
	return nil, c.Shop.CheckSetup(c.Ctx, shop.SetupKind(in.Kind), in.TOML)
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

// readSim reads what is asked and the TOML it is about.
func (c *call) readSim(kind shop.SetupKind) (in simAsked, toml []byte, err error) {
	if err := c.read(&in); err != nil {
		return in, nil, err
	}
	if in.Setup != "" {
		st, err := c.Shop.Setups.Get(c.Ctx, in.Setup)
		if err != nil {
			return in, nil, err
		}
		if st.Kind != kind {
			return in, nil, shop.Invalidf("%s is a %s, not a %s", st.Name, st.Kind, kind)
		}
		in.TOML = st.TOML
	} else if in.TOML == "" {
		return in, nil, shop.Invalidf("give setup or toml")
	}
	return in, []byte(in.TOML), nil
}

func (in *simAsked) simulation() ask.Simulation {
	return ask.Simulation{Seed: in.Seed, Level: in.Level}
}

// tells has a simulation tell how far the work has come.
func (w *work) tells(s *ask.Simulation) {
	s.Progress = func(f float64, doing words.Message) { w.step(f, doing.Text(nil)) }
}

func simulateFloor(c *call) (any, error) {
	in, toml, err := c.readSim(shop.FloorSetup)
	if err != nil {
		return nil, err
	}
	q := ask.ShiftQuestion{Name: "the shift", TOML: toml, Simulation: in.simulation(), Precision: in.Precision,
		WhatIf: in.WhatIf}
	if err := c.Shop.Check(c.Ctx, &q); err != nil {
		return nil, err
	}
	return c.begin("floor", func(w *work) (any, error) {
		w.tells(&q.Simulation)
		return act.Answer(w.ctx, c.Shop, ask.Shift, q)
	})
}

func compareMix(c *call) (any, error) {
	in, toml, err := c.readSim(shop.MixSetup)
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
