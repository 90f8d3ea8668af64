package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/schollz/progressbar/v3"

	"needlepace/floor"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// SimFlags are how a simulation is made; floor, cost and compare share them.
type SimFlags struct {
	Seed  uint64  `help:"Seed of the simulation: the same seed gives the same numbers." default:"1"`
	Level float64 `help:"Chance that the intervals hold, in percent." default:"90"`
}

func (f SimFlags) check() error {
	if !(f.Level > 0 && f.Level < 100) {
		return usagef("--level %v: the chance must lie between 0 and 100 percent", f.Level)
	}
	return nil
}

// FloorCmd simulates a shift.
type FloorCmd struct {
	Shop string `arg:"" help:"The shop's file, SHOP.toml (docs/what-a-shift-yields.md)."`
	SimFlags
	Precision float64 `help:"Simulate until the mean yield is known to ± this many percent." default:"0.5"`
	Most      int     `help:"The most shifts to simulate, however wide the interval." default:"20000"`
	WhatIf    bool    `help:"Also say what one more head, operator or hoop set gives, and how many machines one operator can keep." default:"true" negatable:""`
	JSON      bool    `name:"json" help:"One JSON object."`
	CSV       bool    `name:"csv" help:"One CSV row for each machine."`
	Picture   string  `help:"Draw where each machine's shift goes, and how yields are spread, to an .svg or .png file." placeholder:"FILE"`
}

// floorAnswer is everything the command tells.
type floorAnswer struct {
	file   string
	shop   *money.ShopFile
	seed   uint64
	priced bool // has the file [money]?
	*floor.Result
	changes []floor.Change
	crews   []crewAnswer
}

// crewAnswer is how many machines like one of the shop's an operator keeps.
type crewAnswer struct {
	machine string
	crews   []floor.Crew
	best    int
	cost    []money.Dec // of machine and labour a piece; nil without [money]
}

// Run simulates the shift and what could be done about it.
func (a *FloorCmd) Run(c *Ctx) error {
	if err := a.check(); err != nil {
		return err
	}
	if a.JSON && a.CSV {
		return usagef("--json and --csv: choose one")
	}
	if !(a.Precision > 0 && a.Precision < 50) {
		return usagef("--precision %v: give percent, 0.01 to 50", a.Precision)
	}
	if a.Most < 2 || a.Most > 10_000_000 {
		return usagef("--most %d: give 2 to 10,000,000 shifts", a.Most)
	}
	sf, f, err := readShop(a.Shop)
	if err != nil {
		return err
	}
	r, err := sf.Resolve(f, sources(a.Shop))
	if err != nil {
		return usageError{err}
	}
	opt := floor.Options{Seed: a.Seed, Precision: a.Precision / 100, Level: a.Level / 100, Min: min(256, a.Most), Max: a.Most}
	ans := &floorAnswer{file: a.Shop, shop: sf, seed: a.Seed, priced: f.Has("money")}
	bar := c.bar("shifts", -1)
	ans.Result, err = floor.Simulate(c.Context, r.Shop, opt, func(made int, half float64) {
		bar.Describe(fmt.Sprintf("simulating shifts, yield known to ± %.2f %%", 100*half))
		_ = bar.Set(made)
	})
	_ = bar.Finish()
	if err != nil {
		return err
	}
	if a.WhatIf {
		if err := ans.whatIf(c, r, opt); err != nil {
			return err
		}
	}
	if a.Picture != "" {
		if err := writePicture(a.Picture, ans.picture()); err != nil {
			return err
		}
	}
	switch {
	case a.JSON:
		return ans.json(c.Out)
	case a.CSV:
		return ans.csv(c.Out)
	}
	return ans.text(c)
}

// crewMost is the most machines under one operator that are tried.
const crewMost = 12

func (ans *floorAnswer) whatIf(c *Ctx, r *floor.Resolved, opt floor.Options) error {
	bar := c.bar("one more", 100)
	var err error
	ans.changes, err = floor.OneMore(c.Context, ans.Result, opt, func(done, of int) { _ = bar.Set(100 * done / of) })
	_ = bar.Finish()
	if err != nil {
		return err
	}
	// The numbers of machines need no better interval than a percent to be told apart.
	opt.Precision = max(opt.Precision, .01)
	seen := map[string]bool{}
	for m, keys := range ans.shop.Machine {
		id := fmt.Sprint(keys.Sheet, keys.Speed, r.Shop.Machines[m].Heads)
		if seen[id] {
			continue
		}
		seen[id] = true
		bar := c.bar("machines for one operator", crewMost)
		crews, err := floor.CrewOf(c.Context, r.Shop, m, crewMost, opt, func(done, _ int) { _ = bar.Set(done) })
		_ = bar.Finish()
		var none *floor.KeyError
		if errors.As(err, &none) {
			continue // a machine without work
		}
		if err != nil {
			return err
		}
		x := crewAnswer{machine: r.Shop.Machines[m].Name, crews: crews, best: floor.Keeps(crews, .9)}
		if o, ok := ans.shop.Money.Machines[x.machine]; ok && ans.priced {
			planned := (ans.Length - ans.Machines[m].Seconds[floor.Pausing]) / 3600
			if x.best, x.cost, err = ans.shop.Money.BestCrew(crews, o, planned); err != nil {
				return err
			}
		}
		ans.crews = append(ans.crews, x)
	}
	return nil
}

// bar is a progress bar on stderr, silent where that is no terminal.
func (c *Ctx) bar(what string, of int) *progressbar.ProgressBar {
	if !c.ErrTerminal() {
		return progressbar.DefaultSilent(int64(of))
	}
	return progressbar.NewOptions(of, progressbar.OptionSetWriter(c.Err), progressbar.OptionSetDescription(what),
		progressbar.OptionShowCount(), progressbar.OptionClearOnFinish())
}

// readSettings reads a settings file, with the mistakes one makes.
func readSettings(path string) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, usageError{err}
	case info.IsDir():
		return nil, usagef("%s is a folder; name the .toml file in it", path)
	case info.Size() > tomlfile.MaxBytes:
		return nil, usagef("%s has %d bytes; a settings file has at most %d", path, info.Size(), tomlfile.MaxBytes)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, usageError{err}
	}
	return b, nil
}

func readShop(path string) (*money.ShopFile, *tomlfile.File, error) {
	b, err := readSettings(path)
	if err != nil {
		return nil, nil, err
	}
	sf, f, err := money.ParseShop(path, b)
	if err != nil {
		return nil, nil, usageError{err}
	}
	return sf, f, nil
}

// sources reads what a settings file names, by paths from that file's folder.
// A design named twice is read once.
func sources(file string) floor.Sources {
	dir := filepath.Dir(file)
	at := func(path string) string {
		if filepath.IsAbs(path) {
			return path
		}
		return filepath.Join(dir, filepath.FromSlash(path))
	}
	designs := map[string]*stitch.Design{}
	return floor.Sources{
		Design: func(path string) (*stitch.Design, error) {
			if d, ok := designs[path]; ok {
				return d, nil
			}
			files, err := stitchfile.ReadFile(at(path))
			if err != nil {
				return nil, err
			}
			if len(files) != 1 {
				return nil, fmt.Errorf("holds %d designs; name a file with one", len(files))
			}
			if files[0].Err != nil {
				return nil, files[0].Err
			}
			designs[path] = files[0].Design
			return files[0].Design, nil
		},
		Sheet: func(name string) (*machine.Sheet, error) {
			if _, ok := machine.Class(name); ok {
				return loadSheet(name)
			}
			return loadSheet(at(name))
		},
	}
}
