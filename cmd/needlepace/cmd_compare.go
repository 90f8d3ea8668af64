package main

import (
	"needlepace/money"
)

// CompareCmd compares machines on the shop's own mix of designs.
type CompareCmd struct {
	Mix string `arg:"" help:"The mix, MIX.toml: machines with prices, designs with weekly quantities (docs/comparing-machines.md)."`
	SimFlags
	Base    string `help:"The machine that the others are measured against. Default: the first existing one, else the first." placeholder:"NAME"`
	Weeks   int    `help:"Weeks to simulate on each machine." default:"300"`
	JSON    bool   `name:"json" help:"One JSON object."`
	CSV     bool   `name:"csv" help:"One CSV row for each design and machine."`
	Picture string `help:"Draw the comparison to an .svg or .png file." placeholder:"FILE"`
}

// Run makes the comparison.
func (a *CompareCmd) Run(c *Ctx) error {
	if a.JSON && a.CSV {
		return usagef("--json and --csv: choose one")
	}
	if a.Weeks < 20 || a.Weeks > 100_000 {
		return usagef("--weeks %d: give 20 to 100,000", a.Weeks)
	}
	b, err := readSettings(a.Mix)
	if err != nil {
		return err
	}
	mf, f, err := money.ParseMix(a.Mix, b)
	if err != nil {
		return usageError{err}
	}
	mix, err := mf.Resolve(f, sources(a.Mix))
	if err != nil {
		return usageError{err}
	}
	if a.Base != "" {
		known := false
		for _, o := range mix.Offers {
			known = known || o.Name == a.Base
		}
		if !known {
			return usagef("--base %q: the mix has no such machine", a.Base)
		}
	}
	bar := c.bar("comparing", 100)
	cmp, err := money.Compare(c.Context, mix, money.CompareOptions{Seed: a.Seed, Level: a.Level / 100, Weeks: a.Weeks, Base: a.Base,
		Progress: func(done, of int) { _ = bar.Set(100 * done / of) }})
	_ = bar.Finish()
	if err != nil {
		return err
	}
	if a.Picture != "" {
		if err := writePicture(a.Picture, comparePicture(cmp)); err != nil {
			return err
		}
	}
	switch {
	case a.JSON:
		return writeJSON(c.Out, compareRowOf(cmp, a.Mix, a.Seed))
	case a.CSV:
		return compareCSV(c.Out, cmp)
	}
	compareText(c, cmp)
	return nil
}
