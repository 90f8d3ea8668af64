package act

import (
	"context"

	"needlepace/money"
	"needlepace/shop"
)

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
		return shop.Errorf(shop.Invalid, "level is %v; it must lie between 0.5 and 0.999", a.Level)
	case !(a.Precision >= 0.0005 && a.Precision <= 0.2):
		return shop.Errorf(shop.Invalid, "precision is %v; it must lie between 0.0005 and 0.2", a.Precision)
	case a.Weeks < 20 || a.Weeks > 10_000:
		return shop.Errorf(shop.Invalid, "weeks is %d; it must lie between 20 and 10,000", a.Weeks)
	}
	return nil
}

func (s *Shop) resolveMix(ctx context.Context, toml string) (*money.Mix, error) {
	mf, f, err := money.ParseMix("the mix", []byte(toml))
	if err != nil {
		return nil, shop.Errorf(shop.Invalid, "%w", err)
	}
	mix, err := mf.Resolve(f, s.sources(ctx))
	if err != nil {
		return nil, shop.Errorf(shop.Invalid, "%w", err)
	}
	return mix, nil
}

func simError(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return shop.StoppedBy(ctx)
	}
	return shop.Errorf(shop.Invalid, "%w", err)
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
		return nil, shop.Errorf(shop.Invalid, "base is %q; the mix has no such machine", ask.Base)
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
