package pages

import (
	"context"
	"fmt"
	"time"

	"github.com/pelletier/go-toml/v2"

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
	return c.show("floors.html", &page{Title: "Floor", Nav: "floor", Data: list})
}

// makeFloor makes a shift of the shop's machines and newest designs.
func makeFloor(c *call) error {
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return err
	}
	designs, _, err := c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Limit: 4})
	if err != nil {
		return err
	}
	if len(machines) == 0 || len(designs) == 0 {
		return shop.Invalidf("a shift needs at least one machine and one design of yours: add them first")
	}
	var on, sewn []ask.Named
	for _, m := range machines {
		on = append(on, ask.Named{ID: m.ID, Name: m.Name})
	}
	for _, d := range designs {
		sewn = append(sewn, ask.Named{ID: d.ID, Name: d.Name})
	}
	sf := ask.FirstShift(on, sewn)
	b, err := toml.Marshal(sf)
	if err != nil {
		return err
	}
	kept, err := c.Shop.Setups.Save(c.Ctx, shop.Setup{Kind: shop.FloorSetup, Name: sf.Name, TOML: string(b)})
	if err != nil {
		return err
	}
	return c.see("/floor/" + kept.ID)
}

// floorData is a simulated shift as the page shows it.
type floorData struct {
	*setupAsked
	Setup  *shop.Setup
	Groups []fieldGroup
	Asked  bool
	R      *ask.ShiftAnswer // nil: what is kept cannot be worked out
	More   bool
	Crews  []crewData
}

type crewData struct {
	Table   string // its name among the page's tables
	Verdict words.Sentences
}

func showFloor(c *call) error {
	s, err := c.shiftAsked(c.URL.Query())
	if err != nil {
		return err
	}
	return c.floorPage(s)
}

// floorPage shows a shift with its form: as it was asked for, or as it is kept
// where what was asked for is wrong.
func (c *call) floorPage(s *shiftAsked) error {
	more := s.own.More
	ctx, cancel := context.WithTimeout(c.Ctx, 25*time.Second)
	defer cancel()
	a, err := answerTo(s.setupAsked, func(toml string) (*ask.ShiftAnswer, error) {
		return act.Answer(ctx, c.Shop, ask.Shift, ask.ShiftQuestion{Name: "the shift", TOML: []byte(toml), WhatIf: more})
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
	data.Asked = s.form.sent && !s.form.bad()
	p.Pics = map[string]pic{
		"machines":  {picture.ShiftMachines(a, w, 860), picture.ShiftMachines(a, w, 350)},
		"operators": {picture.ShiftOperators(a, w, 860), picture.ShiftOperators(a, w, 350)},
		"yield":     {picture.ShiftYields(a, w, 640, 260), picture.ShiftYields(a, w, 340, 260)},
	}
	p.addTables(w, a.MachineTable(), a.StateTable(), a.OperatorTable(), a.JobTable(), a.WhatIfTable())
	for i := range a.Crews {
		crew := crewData{fmt.Sprintf("crew-%d", i+1), a.Crews[i].Verdict}
		p.Tables[crew.Table] = tableOf(a.Crews[i].Table(a.Currency), crew.Table, w)
		data.Crews = append(data.Crews, crew)
	}
	return c.show("floor.html", p)
}

// keepFloor keeps a shift with the form's changes, or a whole file.
func keepFloor(c *call) error {
	values := c.PostForm
	s, err := c.shiftAsked(values)
	if err != nil {
		return err
	}
	if kept, err := c.keepSetup(s.setupAsked); kept || err != nil {
		return c.seeOr("/floor/"+s.kept.ID, err)
	}
	return c.floorPage(s)
}
