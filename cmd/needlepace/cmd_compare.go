package main

import (
	"needlepace/ask"
	"needlepace/picture"
)

// CompareCmd compares machines on the shop's own mix of designs.
type CompareCmd struct {
	Mix string `arg:"" help:"The mix, MIX.toml: machines with prices, designs with weekly quantities (docs/comparing-machines.md)."`
	SimFlags
	Base    string      `help:"The machine that the others are measured against. Default: the first existing one, else the first." placeholder:"NAME"`
	Weeks   int         `help:"Weeks to simulate on each machine." default:"${weeks}"`
	JSON    bool        `name:"json" help:"One JSON object."`
	CSV     bool        `name:"csv" help:"One CSV row for each design and machine."`
	Picture PictureFile `help:"Draw the comparison to an .svg or .png file." placeholder:"FILE"`
}

// Run asks which machine serves the mix best and lays the answer out.
func (a *CompareCmd) Run(c *Ctx) error {
	b, err := readSettings(a.Mix)
	if err != nil {
		return err
	}
	sim, end := a.simulation(c)
	ans, err := ask.Compare(c.Context, ask.CompareQuestion{Name: a.Mix, TOML: b, Simulation: sim, Weeks: a.Weeks,
		Base: a.Base},
		sources(a.Mix))
	end()
	if err != nil {
		return err
	}
	ans.File = a.Mix
	if a.Picture != "" {
		if err := writePicture(a.Picture, picture.Compared(ans, nil)); err != nil {
			return err
		}
	}
	switch {
	case a.JSON:
		return writeJSON(c.Out, ans)
	case a.CSV:
		return ans.DesignTable().WriteCSV(c.Out)
	}
	compareText(c, ans)
	return nil
}
