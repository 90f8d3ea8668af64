package pages

import (
	"context"
	"fmt"
	"time"

	"net/url"

	"github.com/pelletier/go-toml/v2"

	"needlepace/floor"
	"needlepace/money"
	"needlepace/picture"
	"needlepace/report"
	"needlepace/shop"
	"needlepace/web/answer"
	"needlepace/web/serve"
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
	machines, err := c.Shop.Machines(c.Ctx)
	if err != nil {
		return err
	}
	designs, _, err := c.Shop.Designs(c.Ctx, shop.DesignQuery{Limit: 4})
	if err != nil {
		return err
	}
	if len(machines) == 0 || len(designs) == 0 {
		return shop.Errorf(shop.Invalid, "a shift needs at least one machine and one design of yours: add them first")
	}
	sf := &floor.ShopFile{Name: "Our shift", Shift: floor.ShiftKeys{Hours: 8}, Operator: []floor.OperatorKeys{{Name: "operator 1"}}}
	for _, m := range machines {
		sf.Machine = append(sf.Machine, floor.MachineKeys{Name: m.Name, Sheet: m.ID})
	}
	for _, d := range designs {
		sf.Job = append(sf.Job, floor.JobKeys{Name: d.Name, Design: d.ID})
	}
	b, err := toml.Marshal(sf)
	if err != nil {
		return err
	}
	kept, err := c.Shop.SaveSetup(c.Ctx, shop.Setup{Kind: shop.FloorSetup, Name: sf.Name, TOML: string(b)})
	if err != nil {
		return err
	}
	return c.see("/floor/" + kept.ID)
}

// shiftFile reads a kept shift with the form's changes.
func (c *call) shiftFile(id string, q url.Values) (*shop.Setup, *money.ShopFile, []knobGroup, error) {
	kept, err := c.Shop.Setup(c.Ctx, id)
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
	R      *report.Shift
	More   bool
	Crews  []string
}

// uses are what a machine does, as the pictures of a shift name it.
var uses = [floor.NumStates]picture.Use{
	floor.Running: picture.UseRunning, floor.Waiting: picture.UseWaiting, floor.WaitHoop: picture.UseWaitHoop, floor.Repair: picture.UseBreaks, floor.Bobbins: picture.UseBobbins,
	floor.Attending: picture.UseStops, floor.Loading: picture.UseLoading, floor.Changeover: picture.UseChangeover, floor.Pausing: picture.UsePause, floor.NoWork: picture.UseNoWork,
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
	r, err := c.Shop.Floor(ctx, kept.TOML, shop.SimAsked{Precision: 0.01, WhatIf: more}, func(float64, string) {})
	if err != nil {
		return err
	}
	a := answer.ShiftOf(r)
	data := &floorData{Setup: kept, Groups: groups, Asked: q.Get("form") == "1", R: a, More: more}
	p := &page{Title: kept.Name, Nav: "floor", Data: data, Tables: map[string]*table{}, Pics: map[string]pic{}}
	shiftPictures(p, r)
	shiftTables(p, a)
	for i, crew := range a.Crews {
		id := fmt.Sprintf("crew-%d", i+1)
		t := &table{ID: id, Caption: "Machines like " + crew.Machine + " for one operator", Cols: []col{{Name: "Machines", CSV: "machines", Num: true}, {Name: "Pieces a shift", CSV: "pieces", Num: true}, {Name: "Operator busy", CSV: "operator_use", Num: true}, {Name: "Machines waiting", CSV: "machines_waiting", Num: true}, {Name: "Machine and labour a piece", CSV: "cost", Num: true}, {Name: "Best"}}}
		for _, by := range crew.By {
			best := ""
			if by.Machines == crew.Best {
				best = "best"
			}
			t.Rows = append(t.Rows, []cell{whole(by.Machines), figure(fixed(by.Pieces.Mean, 0), fixed(by.Pieces.Mean, 2)), figure(share(by.Use, 1), fixed(by.Use, 4)), figure(share(by.Waiting, 1), fixed(by.Waiting, 4)), text(by.Cost), text(best)})
		}
		p.Tables[id] = t
		data.Crews = append(data.Crews, id)
	}
	return c.show("floor.html", p)
}

func shiftPictures(p *page, r *shop.Shift) {
	machines := func(w float64) picture.Picture {
		s := &picture.Shift{Name: "Where each machine’s shift goes", Width: w}
		for i := range r.Machines {
			m := &r.Machines[i]
			row := picture.ShiftRow{Label: m.Name, Note: answer.Count(r.Shop.Machines[i].Heads, "head", "heads"), After: fmt.Sprintf("%.0f pieces", m.Pieces.Mean)}
			for st, v := range m.Seconds {
				row.Spans = append(row.Spans, picture.Span{Use: uses[st], Seconds: v})
			}
			s.Rows = append(s.Rows, row)
		}
		return s
	}
	people := func(w float64) picture.Picture {
		s := &picture.Shift{Name: "Where the operators’ time goes", Width: w}
		for o, h := range r.Hands {
			s.Rows = append(s.Rows, picture.ShiftRow{Label: r.Shop.Operators[o].Name, After: share(r.HandUse(o), 1) + " busy", Spans: []picture.Span{
				{Use: picture.UseMachines, Seconds: h.Machines}, {Use: picture.UseHooping, Seconds: h.Hooping}, {Use: picture.UseWalking, Seconds: h.Walking},
				{Use: picture.UseIdle, Seconds: r.Length - h.Away - h.Machines - h.Hooping - h.Walking}, {Use: picture.UsePause, Seconds: h.Away}}})
		}
		return s
	}
	yield := func(w float64) picture.Picture {
		return &picture.Histogram{Name: "Pieces a shift", Text: answer.Count(r.Replications, "simulated shift", "simulated shifts"), Axis: picture.Axis{Label: "pieces"}, Values: r.ByShift, Low: r.Pieces.From, High: r.Pieces.To, Between: fmt.Sprintf("%.0f %% of shifts", r.Level*100), Width: w, Height: 260}
	}
	p.Pics["machines"] = pic{machines(860), machines(350)}
	p.Pics["operators"] = pic{people(860), people(350)}
	p.Pics["yield"] = pic{yield(640), yield(340)}
}

func shiftTables(p *page, a *report.Shift) {
	t := &table{ID: "machines", Caption: "The machines’ shift, minutes", Full: true, Cols: []col{{Name: "Machine", CSV: "machine"}, {Name: "Heads", CSV: "heads", Num: true}, {Name: "Pieces", CSV: "pieces", Num: true}, {Name: "between", CSV: "pieces_between", Num: true}}}
	var states []string
	for st := range int(floor.NumStates) {
		name := floor.State(st).String()
		sum := 0.0
		for _, m := range a.Machines {
			sum += m.Seconds[fileKey(name)]
		}
		if sum > 0 {
			states = append(states, fileKey(name))
			t.Cols = append(t.Cols, col{Name: name, CSV: fileKey(name) + "_minutes", Num: true})
		}
	}
	t.Cols = append(t.Cols, col{Name: "OEE", CSV: "oee", Num: true})
	for _, m := range a.Machines {
		row := []cell{text(m.Machine), whole(m.Heads), figure(fixed(m.Pieces.Mean, 0), fixed(m.Pieces.Mean, 2)), text(fmt.Sprintf("%.0f and %.0f", m.Pieces.SingleLow, m.Pieces.SingleHigh))}
		for _, st := range states {
			row = append(row, figure(fixed(m.Seconds[st]/60, 0), fixed(m.Seconds[st]/60, 2)))
		}
		t.Rows = append(t.Rows, append(row, figure(share(m.OEE.OEE, 1), fixed(m.OEE.OEE, 4))))
	}
	p.Tables["machines"] = t
	j := &table{ID: "jobs", Caption: "The jobs", Cols: []col{{Name: "Job", CSV: "job"}, {Name: "Pieces", CSV: "pieces", Num: true}, {Name: "Ordered", CSV: "quantity", Num: true}}}
	for _, x := range a.Jobs {
		ordered := "all it yields"
		if x.Quantity > 0 {
			ordered = thousands(x.Quantity)
		}
		j.Rows = append(j.Rows, []cell{text(x.Job), figure(fixed(x.Pieces, 0), fixed(x.Pieces, 2)), text(ordered)})
	}
	p.Tables["jobs"] = j
	w := &table{ID: "whatif", Caption: "What one more would give", Cols: []col{{Name: "Change", CSV: "change"}, {Name: "More pieces a shift", CSV: "more_pieces", Num: true}, {Name: "between", CSV: "between", Num: true}}}
	for _, x := range a.WhatIf {
		w.Rows = append(w.Rows, []cell{text(x.Change), figure(fmt.Sprintf("%+.1f", x.Pieces.Mean), fixed(x.Pieces.Mean, 3)), text(fmt.Sprintf("%+.1f and %+.1f", x.Pieces.MeanLow, x.Pieces.MeanHigh))})
	}
	p.Tables["whatif"] = w
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
	if _, err := c.Shop.SaveSetup(c.Ctx, shop.Setup{ID: id, Kind: kept.Kind, Name: name, TOML: kept.TOML, Version: kept.Version}); err != nil {
		return err
	}
	return c.see("/floor/" + id)
}
