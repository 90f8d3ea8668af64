package act

import (
	"context"

	"needlepace/machine"
	"needlepace/shop"
	"needlepace/words"
)

// Beginning is what a new shop is asked first.
type Beginning struct {
	Class    string // of its first machine: a built-in class
	Currency string // ISO 4217
	TimeZone string // IANA name
}

// Begin keeps what a new shop was asked first, and gives its machine. A shop that
// has designs or machines has begun: Conflict.
func (s *Shop) Begin(ctx context.Context, b Beginning, by string) (*shop.Machine, error) {
	empty, err := s.Empty(ctx)
	if err != nil {
		return nil, err
	}
	if !empty {
		return nil, shop.Errorf(shop.Conflict, "this shop has begun already: add machines under Machines, and say hours and "+
			"prices under Plan")
	}
	return s.begin(ctx, b, by)
}

// BeginWithSample puts the invented sample shop into an empty one beside what was
// asked first.
func (s *Shop) BeginWithSample(ctx context.Context, b Beginning, by string, progress func(float64, string)) (
	*shop.Machine, error,
) {
	if err := s.MayBegin(ctx, b); err != nil {
		return nil, err
	}
	if err := s.LoadDemo(ctx, progress); err != nil {
		return nil, err
	}
	return s.begin(ctx, b, by)
}

func (s *Shop) begin(ctx context.Context, b Beginning, by string) (*shop.Machine, error) {
	if err := s.MayBegin(ctx, b); err != nil {
		return nil, err
	}
	set, err := s.Settings.Get(ctx)
	if err != nil {
		return nil, err
	}
	set.Currency, set.TimeZone = b.Currency, b.TimeZone
	if err := s.Settings.Save(ctx, set); err != nil {
		return nil, err
	}
	return s.Machines.AddOfClass(ctx, b.Class, "", by)
}

// MayBegin says what is wrong with what was asked first.
func (s *Shop) MayBegin(ctx context.Context, b Beginning) error {
	if _, ok := machine.Class(b.Class); !ok {
		return shop.At("class", shop.Invalidf("say which kind of machine it is"))
	}
	if _, err := words.LoadZone(b.TimeZone); err != nil {
		return shop.At("time_zone", shop.AsInvalid(err))
	}
	set, err := s.Settings.Get(ctx)
	if err != nil {
		return err
	}
	set.Currency = b.Currency
	return s.Settings.Check(&set)
}
