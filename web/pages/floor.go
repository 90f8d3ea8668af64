package pages

import (
	"context"
	"fmt"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/words"
)

func showFloors(c *call) error {
	list, err := c.setupList(shop.FloorSetup)
	if err != nil {
		return err
	}
	if err := c.listSetups(list, "Shifts", "/floor/"); err != nil {
		return err
	}
	return c.show("floors.html", &page{Title: "Floor", Nav: "floor", Data: list})
}

// makeFloor makes a shift of the shop's machines and newest designs.
func makeFloor(c *call) error {
	machines, designs, err := c.toBegin("a shift", 4)
	if err != nil {
		return err
	}
	var on []ask.Named
	for _, m := range machines {
		on = append(on, ask.Named{ID: m.ID, Name: m.Name})
	}
	first := ask.FirstShift(on, designs)
	to, err := c.newSetup("/floor/", shop.FloorSetup, first.Name, first)
	return c.seeOr(to, err)
}

// floorData is a simulated shift as the page shows it.
type floorData struct {
	*setupAsked
	Setup  *shop.Setup
	Groups []fieldGroup
	R      *ask.ShiftAnswer // nil: what is kept cannot be worked out
	More   bool
	Crews  []crewData
	// Reported is what the floor's reports say of the shop's machines; Used whether the shift goes by them.
	Reported *ask.ReportedAnswer
}

type crewData struct {
	Table   string // its name among the page's tables
	Verdict words.Sentences
}

// showFloor shows a shift as it is asked for, or keeps it with the form's changes or as a whole file.
func showFloor(c *call) error {
	s, err := c.shiftAsked()
	if err != nil {
		return err
	}
	if done, err := c.keepSetup(s.setupAsked, "/floor/"); done || err != nil {
		return err
	}
	return c.floorPage(s)
}

// floorPage shows a shift with its form: as it was asked for, or as it is kept
// where what was asked for is wrong.
func (c *call) floorPage(s *shiftAsked) error {
	more := s.own.More
	ctx, cancel := context.WithTimeout(c.Shop.Elsewhere(c.Ctx), 25*time.Second)
	defer cancel()
	a, err := answerTo(s.setupAsked, func(toml string) (*ask.ShiftAnswer, error) {
		return act.Answer(ctx, c.Shop, ask.Shift, ask.ShiftQuestion{Best: c.Shop.ShiftBest, Name: "the shift", TOML: []byte(toml),
			WhatIf: more})
	})
	if err != nil {
		return err
	}
	groups, err := s.groups(c)
	if err != nil {
		return err
	}
	w := c.writer()
	data := &floorData{setupAsked: s.setupAsked, Setup: s.kept, Groups: groups, R: a, More: more}
	p := &page{Title: s.kept.Name, Nav: "floor", Told: s.form.message(), Data: data}
	if a == nil {
		return c.show("floor.html", p)
	}
	p.Pics = map[string]pic{
		"machines":  {picture.ShiftMachines(a, w, 860), picture.ShiftMachines(a, w, 350)},
		"operators": {picture.ShiftOperators(a, w, 860), picture.ShiftOperators(a, w, 350)},
		"yield":     {picture.ShiftYields(a, w, 640, 260), picture.ShiftYields(a, w, 340, 260)},
	}
	if data.Reported, err = ask.Reported(c.Ctx, c.Shop.Asked(), ""); err != nil {
		return err
	}
	p.addTables(w, data.Reported.Table(), data.Reported.SpeedTable(), a.BestTable(), a.MachineTable(), a.StateTable(), a.OperatorTable(), a.JobTable(), a.WhatIfTable())
	p.cards("reported", "break-speeds")
	for i := range a.Crews {
		crew := crewData{fmt.Sprintf("crew-%d", i+1), a.Crews[i].Verdict}
		p.addTable(tableOf(a.Crews[i].Table(a.Currency), crew.Table, w))
		data.Crews = append(data.Crews, crew)
	}
	if p.Paper, err = s.paper(c); err != nil {
		return err
	}
	return c.show("floor.html", p)
}
