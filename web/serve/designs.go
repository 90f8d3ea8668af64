package serve

import (
	"needlepace/ask"
	"needlepace/clock"
	"needlepace/shop"
)

// DesignPage is a page of the list of designs.
type DesignPage struct {
	Designs  []ListedDesign `json:"designs"`
	Total    int            `json:"total" doc:"designs that fit the search, on all pages"`
	Machines []MachineName  `json:"machines" doc:"the shop's machines, in the order of times"`
}

// MachineName is a machine by its name.
type MachineName struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

// ListedDesign is a design of the list.
type ListedDesign struct {
	*shop.Design
	Times []ListedTime `json:"times" doc:"one a machine; empty where times was not asked for"`
}

// ListedTime is a run time on a machine.
type ListedTime struct {
	Machine   string         `json:"machine"`
	Seconds   float64        `json:"seconds"`
	Interval  clock.Interval `json:"interval"`
	SetSpeed  float64        `json:"set_speed" doc:"stitches/min"`
	HeldSpeed float64        `json:"held_speed" doc:"stitches/min"`
	Parts     clock.Parts    `json:"parts"`
}

// Designs is a page of designs as the API and the pages show it.
func (c *Call) Designs(q shop.DesignQuery, times bool) (*DesignPage, error) {
	designs, total, err := c.Shop.Designs.List(c.Ctx, q)
	if err != nil {
		return nil, err
	}
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return nil, err
	}
	page := &DesignPage{Designs: []ListedDesign{}, Total: total, Machines: []MachineName{}}
	for _, m := range machines {
		page.Machines = append(page.Machines, MachineName{m.ID, m.Name})
	}
	var ids []string
	for _, d := range designs {
		ids = append(ids, d.ID)
		page.Designs = append(page.Designs, ListedDesign{d, []ListedTime{}})
	}
	if !times {
		return page, nil
	}
	all, err := c.Shop.Times(c.Ctx, ids, machines)
	if err != nil {
		return nil, err
	}
	for i := range all {
		for k, t := range all[i] {
			page.Designs[i].Times = append(page.Designs[i].Times, ListedTime{
				machines[k].ID, t.Seconds, clock.Interval{Low: t.Low, High: t.High, Level: ask.DefaultLevel},
				t.SetSpeed, t.HeldSpeed, t.Parts,
			})
		}
	}
	return page, nil
}
