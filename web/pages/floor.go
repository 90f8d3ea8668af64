package pages

import (
	"context"
	"fmt"
	"net/url"
	"time"

	"github.com/pelletier/go-toml/v2"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/floor"
	"needlepace/money"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
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
		return shop.Errorf(shop.Invalid, "a shift needs at least one machine and one design of yours: add them first")
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

// shiftFile reads a kept shift with the form's changes.
func (c *call) shiftFile(id string, q url.Values) (*shop.Setup, *money.ShopFile, []knobGroup, error) {
	kept, err := c.Shop.Setups.Get(c.Ctx, id)
	if err != nil {
		return nil, nil, nil, err
	}
	if kept.Kind != shop.FloorSetup {
		return nil, nil, nil, shop.Errorf(shop.NotFound, "this is no shift")
	}
	if t := q.Get("toml"); t != "" {
		kept.TOML = t
	}
	sf, parsed, err := money.ParseShop("the shift", []byte(kept.TOML))
	if err != nil {
		return nil, nil, nil, shop.Errorf(shop.Invalid, "%w", err)
	}
	sheets, err := c.sheetOptions()
	if err != nil {
		return nil, nil, nil, err
	}
	designs, err := c.designOptions()
	if err != nil {
		return nil, nil, nil, err
	}
	k := newKnobs(q)
	day := knobGroup{Title: "The shift", Rows: []knobRow{{Knobs: []knob{
		k.amount("shift.hours", "Hours, pauses included", &sf.Shift.Hours), k.optional("shift.walk", "A walk, seconds", &sf.Shift.Walk), k.optional("shift.notice", "Until a stop is noticed, seconds", &sf.Shift.Notice),
		k.optional("work.breaks", "Thread breaks a head, 1,000 stitches", &sf.Work.Breaks), k.wholeOptional("work.sets", "Hoop sets a machine", &sf.Work.HoopSets),
	}}}}
	floorMachines := knobGroup{Title: "Machines"}
	var machines []floor.MachineKeys
	for i := range sf.Machine {
		m, n := sf.Machine[i], fmt.Sprintf("machine.%d", i)
		if k.dropped(n) {
			continue
		}
		row := knobRow{Drop: n + ".drop", Knobs: []knob{k.choice(n+".sheet", "Sheet", &m.Sheet, sheets), k.wholeOptional(n+".heads", "Heads in use", &m.Heads), k.amount(n+".speed", "Set speed", &m.Speed)}}
		if row.Name = m.Name; row.Name == "" {
			row.Name = m.Sheet
		}
		floorMachines.Rows = append(floorMachines.Rows, row)
		machines = append(machines, m)
	}
	if add := k.added("add_machine"); add != "" {
		machines = append(machines, floor.MachineKeys{Name: fmt.Sprintf("machine %d", len(machines)+1), Sheet: add})
	}
	sf.Machine = machines
	floorMachines.Add = &knob{Name: "add_machine", Label: "Add a machine", Kind: "choice", Options: sheets}
	people := knobGroup{Title: "Operators"}
	var hands []floor.OperatorKeys
	for i := range sf.Operator {
		o, n := sf.Operator[i], fmt.Sprintf("operator.%d", i)
		if k.dropped(n) {
			continue
		}
		duty := string(o.Duty)
		row := knobRow{Drop: n + ".drop", Knobs: []knob{k.text(n+".name", "Name", &o.Name), k.choice(n+".duty", "Does", &duty, []option{{"", "everything"}, {string(floor.MachinesOnly), "machines only"}, {string(floor.HoopingOnly), "hooping only"}})}}
		o.Duty = floor.Duty(duty)
		row.Says = o.Name
		people.Rows = append(people.Rows, row)
		hands = append(hands, o)
	}
	if k.added("add_operator") == "1" {
		hands = append(hands, floor.OperatorKeys{Name: fmt.Sprintf("operator %d", len(hands)+1)})
	}
	sf.Operator = hands
	people.Add = &knob{Name: "add_operator", Label: "One more operator", Kind: "tick"}
	jobs := knobGroup{Title: "Jobs, in their order"}
	var todo []floor.JobKeys
	for i := range sf.Job {
		j, n := sf.Job[i], fmt.Sprintf("job.%d", i)
		if k.dropped(n) {
			continue
		}
		row := knobRow{Drop: n + ".drop", Knobs: []knob{k.wholeOptional(n+".quantity", "Pieces (empty: all the shift yields)", &j.Quantity), k.tick(n+".cap_frame", "cap frame", &j.CapFrame)}}
		if row.Name = j.Name; row.Name == "" {
			row.Name = j.Design
		}
		jobs.Rows = append(jobs.Rows, row)
		todo = append(todo, j)
	}
	if add := k.added("add_job"); add != "" {
		name := add
		for _, o := range designs {
			if o.Value == add {
				name = o.Label
			}
		}
		todo = append(todo, floor.JobKeys{Name: name, Design: add})
	}
	sf.Job = todo
	jobs.Add = &knob{Name: "add_job", Label: "Add a job", Kind: "choice", Options: designs}
	if k.err != nil {
		return nil, nil, nil, k.err
	}
	if k.asked {
		var b []byte
		if parsed.Has("money") {
			b, err = toml.Marshal(sf)
		} else {
			b, err = toml.Marshal(&sf.ShopFile)
		}
		if err != nil {
			return nil, nil, nil, err
		}
		kept.TOML = string(b)
	}
	return kept, sf, []knobGroup{day, floorMachines, people, jobs}, nil
}

// floorData is a simulated shift as the page shows it.
type floorData struct {
	Setup  *shop.Setup
	Groups []knobGroup
	Asked  bool
	R      *ask.ShiftAnswer
	More   bool
	Crews  []crewData
}

type crewData struct {
	Table   string // its name among the page's tables
	Verdict words.Sentences
}

func showFloor(c *call) error {
	q := c.URL.Query()
	kept, _, groups, err := c.shiftFile(c.PathValue("setup"), q)
	if err != nil {
		return err
	}
	more := q.Get("more") == "1"
	ctx, cancel := context.WithTimeout(c.Ctx, 25*time.Second)
	defer cancel()
	a, err := act.Answer(ctx, c.Shop, ask.Shift, ask.ShiftQuestion{Name: "the shift", TOML: []byte(kept.TOML), WhatIf: more})
	if err != nil {
		return err
	}
	w := c.writer()
	data := &floorData{Setup: kept, Groups: groups, Asked: q.Get("form") == "1", R: a, More: more}
	p := &page{Title: kept.Name, Nav: "floor", Data: data, Pics: map[string]pic{
		"machines":  {picture.ShiftMachines(a, w, 860), picture.ShiftMachines(a, w, 350)},
		"operators": {picture.ShiftOperators(a, w, 860), picture.ShiftOperators(a, w, 350)},
		"yield":     {picture.ShiftYields(a, w, 640, 260), picture.ShiftYields(a, w, 340, 260)},
	}}
	p.addTables(w, a.MachineTable(), a.StateTable(), a.OperatorTable(), a.JobTable(), a.WhatIfTable())
	for i := range a.Crews {
		crew := crewData{fmt.Sprintf("crew-%d", i+1), a.Crews[i].Verdict}
		p.Tables[crew.Table] = tableOf(a.Crews[i].Table(a.Currency), crew.Table, w)
		data.Crews = append(data.Crews, crew)
	}
	return c.show("floor.html", p)
}

// keepFloor keeps a shift with the form's changes.
func keepFloor(c *call) error {
	if err := c.ParseForm(); err != nil {
		return serve.BadRequest("the form cannot be read: %v", err)
	}
	id := c.PathValue("setup")
	kept, sf, _, err := c.shiftFile(id, c.PostForm)
	if err != nil {
		return err
	}
	name := c.PostForm.Get("name")
	if name == "" {
		name = sf.Name
	}
	if _, err := c.Shop.Setups.Save(c.Ctx, shop.Setup{ID: id, Kind: kept.Kind, Name: name, TOML: kept.TOML, Version: kept.Version}); err != nil {
		return err
	}
	return c.see("/floor/" + id)
}
