package shop

import (
	"context"
	"errors"

	"needlepace/book"
	"needlepace/floor"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/stitch"
)

// sources is where a setup gets what it names: the shop's designs by ID, file
// or name, its machines by ID or name, and the built-in classes.
func (s *Shop) sources(ctx context.Context) floor.Sources {
	return floor.Sources{
		Design: func(name string) (*stitch.Design, error) {
			d, err := s.FindDesign(ctx, name)
			if err != nil {
				return nil, err
			}
			design, err := s.Stitches(ctx, d.ID)
			if err != nil {
				return nil, err
			}
			return book.WithThreads(design, d.Threads), nil
		},
		Sheet: func(name string) (*machine.Sheet, error) {
			if c, ok := machine.Class(name); ok {
				return c, nil
			}
			m, err := s.FindMachine(ctx, name)
			if err != nil {
				return nil, err
			}
			return m.Sheet, nil
		},
	}
}

type resolvedShop struct {
	file   *money.ShopFile
	priced bool
	*floor.Resolved
}

func (s *Shop) resolveShop(ctx context.Context, toml string) (*resolvedShop, error) {
	sf, f, err := money.ParseShop("the shift", []byte(toml))
	if err != nil {
		return nil, Errorf(Invalid, "%w", err)
	}
	r, err := sf.Resolve(f, s.sources(ctx))
	if err != nil {
		return nil, Errorf(Invalid, "%w", err)
	}
	priced := f.Has("money")
	if priced {
		if err := sf.CheckMoney(f); err != nil {
			return nil, Errorf(Invalid, "%w", err)
		}
	}
	return &resolvedShop{sf, priced, r}, nil
}

func (s *Shop) resolveMix(ctx context.Context, toml string) (*money.Mix, error) {
	mf, f, err := money.ParseMix("the mix", []byte(toml))
	if err != nil {
		return nil, Errorf(Invalid, "%w", err)
	}
	mix, err := mf.Resolve(f, s.sources(ctx))
	if err != nil {
		return nil, Errorf(Invalid, "%w", err)
	}
	return mix, nil
}

// CheckSetup says what is wrong with a shift's or mix's TOML.
func (s *Shop) CheckSetup(ctx context.Context, kind SetupKind, toml string) error {
	if len(toml) > tomlfile.MaxBytes {
		return Errorf(TooLarge, "the setup has %d bytes", len(toml))
	}
	var err error
	if kind == MixSetup {
		_, err = s.resolveMix(ctx, toml)
	} else {
		_, err = s.resolveShop(ctx, toml)
	}
	return err
}

// SimAsked is how a simulation is made.
type SimAsked struct {
	Seed      uint64  // 0 is 1
	Level     float64 // 0 is 0.90
	Precision float64 // floor: the mean yield is known to ± this share; 0 is 0.005
	WhatIf    bool    // floor: also one more head, operator, hoop set, and crews
	Weeks     int     // compare: 0 is 300
	Base      string  // compare: the machine measured against
}

func (a *SimAsked) check() error {
	if a.Seed == 0 {
		a.Seed = 1
	}
	if a.Level == 0 {
		a.Level = 0.90
	}
	if a.Precision == 0 {
		a.Precision = 0.005
	}
	if a.Weeks == 0 {
		a.Weeks = 300
	}
	switch {
	case !(a.Level >= 0.5 && a.Level <= 0.999):
		return Errorf(Invalid, "level is %v; it must lie between 0.5 and 0.999", a.Level)
	case !(a.Precision >= 0.0005 && a.Precision <= 0.2):
		return Errorf(Invalid, "precision is %v; it must lie between 0.0005 and 0.2", a.Precision)
	case a.Weeks < 20 || a.Weeks > 10_000:
		return Errorf(Invalid, "weeks is %d; it must lie between 20 and 10,000", a.Weeks)
	}
	return nil
}

// Shift is a simulated shift and what could be done about it.
type Shift struct {
	*floor.Result
	Seed    uint64
	Changes []floor.Change
	Crews   []ShiftCrew
}

// ShiftCrew is how many machines like one of the shift's an operator keeps.
type ShiftCrew struct {
	Machine string
	Crews   []floor.Crew
	Best    int         // index into Crews
	Cost    []money.Dec // of machine and labour a piece; nil without money
}

const (
	mostShifts = 20_000 // simulated, however wide the interval
	mostCrew   = 12     // machines under one operator
)

// Floor simulates a shift (SHOP.toml).
func (s *Shop) Floor(ctx context.Context, toml string, ask SimAsked, progress func(fraction float64, what string)) (*Shift, error) {
	if err := ask.check(); err != nil {
		return nil, err
	}
	r, err := s.resolveShop(ctx, toml)
	if err != nil {
		return nil, err
	}
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	opt := floor.Options{Seed: ask.Seed, Precision: ask.Precision, Level: ask.Level, Min: 256, Max: mostShifts}
	out := &Shift{Seed: ask.Seed}
	part := 1.0
	if ask.WhatIf {
		part = 0.4
	}
	out.Result, err = floor.Simulate(ctx, r.Shop, opt, func(made int, half float64) {
		f := 0.0
		if half > 0 { // the half-width falls as one over the root of the shifts
			f = min(1, (ask.Precision/half)*(ask.Precision/half))
		}
		progress(part*f, "simulating shifts")
	})
	if err != nil {
		return nil, simError(ctx, err)
	}
	if !ask.WhatIf {
		return out, nil
	}
	if out.Changes, err = floor.OneMore(ctx, out.Result, opt, func(done, of int) {
		progress(0.4+0.3*float64(done)/float64(max(of, 1)), "one more of each")
	}); err != nil {
		return nil, simError(ctx, err)
	}
	opt.Precision = max(opt.Precision, .01) // enough to tell numbers of machines apart
	seen := map[[3]any]bool{}
	for m, keys := range r.file.Machine {
		id := [3]any{keys.Sheet, keys.Speed, r.Shop.Machines[m].Heads}
		if seen[id] {
			continue
		}
		seen[id] = true
		at := 0.7 + 0.3*float64(m)/float64(len(r.file.Machine))
		crews, err := floor.CrewOf(ctx, r.Shop, m, mostCrew, opt, func(int, int) { progress(at, "machines for one operator") })
		var none *floor.KeyError
		if errors.As(err, &none) {
			continue // a machine without work
		}
		if err != nil {
			return nil, simError(ctx, err)
		}
		c := ShiftCrew{Machine: r.Shop.Machines[m].Name, Crews: crews, Best: floor.Keeps(crews, .9)}
		if o, ok := r.file.Money.Machines[c.Machine]; ok && r.priced {
			planned := (out.Length - out.Machines[m].Seconds[floor.Pausing]) / 3600
			if c.Best, c.Cost, err = r.file.Money.BestCrew(crews, o, planned); err != nil {
				return nil, Errorf(Invalid, "%w", err)
			}
		}
		out.Crews = append(out.Crews, c)
	}
	return out, nil
}

func simError(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return StoppedBy(ctx)
	}
	return Errorf(Invalid, "%w", err)
}

// Compare compares machines on a mix (MIX.toml).
func (s *Shop) Compare(ctx context.Context, toml string, ask SimAsked, progress func(fraction float64, what string)) (*money.Comparison, error) {
	if err := ask.check(); err != nil {
		return nil, err
	}
	mix, err := s.resolveMix(ctx, toml)
	if err != nil {
		return nil, err
	}
	known := ask.Base == ""
	for _, o := range mix.Offers {
		known = known || o.Name == ask.Base
	}
	if !known {
		return nil, Errorf(Invalid, "base is %q; the mix has no such machine", ask.Base)
	}
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	cmp, err := money.Compare(ctx, mix, money.CompareOptions{Seed: ask.Seed, Level: ask.Level, Weeks: ask.Weeks, Base: ask.Base,
		Progress: func(done, of int) { progress(float64(done)/float64(max(of, 1)), "comparing") }})
	if err != nil {
		return nil, simError(ctx, err)
	}
	return cmp, nil
}
