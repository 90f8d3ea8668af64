package main

import (
	"context"
	"path/filepath"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/floor"
	"needlepace/picture"
	"needlepace/words"
)

// SimFlags are how a simulation is made; floor, cost and compare share them.
type SimFlags struct {
	Seed   uint64  `help:"Seed of the simulation: the same seed gives the same numbers." default:"${seed}"`
	Chance float64 `help:"Chance that the interval holds, in percent." default:"${level}"`
}

// simulation is the flags as a question has them, with a progress bar.
func (f SimFlags) simulation(c *Ctx) (sim ask.Simulation, end func()) {
	bar := c.bar("", 100)
	return ask.Simulation{Seed: f.Seed, Level: f.Chance / 100, Progress: func(fraction float64, doing words.Message) {
		bar.Describe(doing.Text(nil))
		bar.Set(int(100 * fraction))
	}}, bar.Finish
}

// ShiftFlags say how well a shift is to be known; floor and work share them.
type ShiftFlags struct {
	SimFlags
	Precision float64 `help:"Simulate until the mean yield is known to ± this many percent." default:"${precision}"`
	Shifts    int     `help:"The most shifts to simulate, however wide the interval." default:"${shifts}"`
}

// FloorCmd simulates a shift.
type FloorCmd struct {
	Shop string `arg:"" help:"The shop's file, SHOP.toml (docs/what-a-shift-yields.md)."`
	ShiftFlags
	DataFlag
	WhatIf  bool        `help:"Also say what one more head, operator or hoop set gives, and how many machines one operator can keep." default:"true" negatable:""`
	JSON    bool        `name:"json" help:"One JSON object."`
	CSV     bool        `name:"csv" help:"One CSV row for each machine."`
	Picture PictureFile `help:"Draw where each machine's shift goes, and how yields are spread, to an .svg or .png file." placeholder:"FILE"`
}

// Run asks what the shift yields and lays the answer out.
func (a *FloorCmd) Run(c *Ctx) error {
	b, err := readSettings(a.Shop)
	if err != nil {
		return err
	}
	from := sources(a.Shop)
	from.Reported = func(name, _ string, breaks float64) (r floor.Reported, err error) {
		err = ShopFlags{DataFlag: a.DataFlag}.use(c, func(d *desk) error {
			r, err = d.Reported(c.Context, name, breaks)
			return err
		})
		return r, err
	}
	best := func(ctx context.Context, name, _, design string, job clock.Job) (b *ask.BestSpeed, err error) {
		err = ShopFlags{DataFlag: a.DataFlag}.use(c, func(d *desk) error {
			b, err = d.BestSpeed(ctx, name, filepath.Base(design), job)
			return err
		})
		return b, err
	}
	sim, end := a.simulation(c)
	ans, err := ask.Shift(c.Context, ask.ShiftQuestion{Best: best, Name: a.Shop, TOML: b, Simulation: sim,
		Precision: a.Precision / 100,
		Shifts:    a.Shifts, WhatIf: a.WhatIf}, from)
	end()
	if err != nil {
		return err
	}
	ans.File = a.Shop
	if a.Picture != "" {
		if err := writePicture(a.Picture, &picture.Stack{Name: ans.Title().Text(nil), Pictures: []picture.Picture{
			picture.ShiftMachines(ans, nil, 800), picture.ShiftOperators(ans, nil, 800),
			picture.ShiftYields(ans, nil, 800, 0)}}); err != nil {
			return err
		}
	}
	switch {
	case a.JSON:
		return writeJSON(c.Out, ans)
	case a.CSV:
		return ans.MachineTable().WriteCSV(c.Out)
	}
	floorText(c, ans)
	return nil
}
