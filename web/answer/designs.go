package answer

import (
	"context"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/clock"
	"needlepace/shop"
)

type DesignPage struct {
	Designs  []ListedDesign `json:"designs"`
	Total    int            `json:"total" doc:"designs that fit the search, on all pages"`
	Machines []MachineName  `json:"machines" doc:"the shop's machines, in the order of times"`
}

type MachineName struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

type ListedDesign struct {
	*shop.Design
	Times []ListedTime `json:"times" doc:"one a machine; empty where times was not asked for"`
}

type ListedTime struct {
	Machine   string         `json:"machine"`
	Seconds   float64        `json:"seconds"`
	Interval  clock.Interval `json:"interval"`
	SetSpeed  float64        `json:"set_speed" doc:"stitches/min"`
	HeldSpeed float64        `json:"held_speed" doc:"stitches/min"`
	Parts     clock.Parts    `json:"parts"`
}

// Designs is a page of designs as the API and the pages show it.
func Designs(ctx context.Context, s *act.Shop, q shop.DesignQuery, times bool) (*DesignPage, error) {
	designs, total, err := s.Designs.List(ctx, q)
	if err != nil {
		return nil, err
	}
	machines, err := s.Machines.List(ctx)
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
	all, err := s.Times(ctx, ids, machines)
	if err != nil {
		return nil, err
	}
	for i := range all {
		for k, t := range all[i] {
			page.Designs[i].Times = append(page.Designs[i].Times, ListedTime{
				machines[k].ID, t.Seconds, clock.Interval{Low: t.Low, High: t.High, Level: ask.DefaultLevel}, t.SetSpeed, t.HeldSpeed, t.Parts,
			})
		}
	}
	return page, nil
}
