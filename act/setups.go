package act

import (
	"context"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/floor"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/stitch"
)

// sources is where a setup gets what it names: the shop's designs by ID, file
// or name, its machines by ID or name, and the built-in classes.
func (s *Shop) sources(ctx context.Context) floor.Sources {
	return floor.Sources{
		Design: func(name string) (*stitch.Design, error) {
			d, err := s.Designs.Find(ctx, name)
			if err != nil {
				return nil, err
			}
			design, err := s.Designs.Stitches(ctx, d.ID)
			if err != nil {
				return nil, err
			}
			return book.WithThreads(design, d.Threads), nil
		},
		Sheet: func(name string) (*machine.Sheet, error) {
			if c, ok := machine.Class(name); ok {
				return c, nil
			}
			m, err := s.Machines.Find(ctx, name)
			if err != nil {
				return nil, err
			}
			return m.Sheet, nil
		},
		Reported: func(_, sheet string, breaks float64) (floor.Reported, error) { return s.Reported(ctx, sheet, breaks) },
	}
}

// Reported is what the floor's reports make of a machine, by its ID or name, for a
// floor that expects so many thread breaks; a built-in class has none.
func (s *Shop) Reported(ctx context.Context, machineRef string, breaks float64) (floor.Reported, error) {
	if _, ok := machine.Class(machineRef); ok {
		return floor.Reported{Breaks: breaks, Pace: 1}, nil
	}
	m, err := s.Machines.Find(ctx, machineRef)
	if err != nil {
		return floor.Reported{}, err
	}
	return ask.FloorReported(ctx, s.Asked(), m.ID, breaks)
}

// ShiftBest is BestSpeed for a setup of the shop, whose sheets name its machines.
func (s *Shop) ShiftBest(ctx context.Context, _, sheet, design string, job clock.Job) (*ask.BestSpeed, error) {
	return s.BestSpeed(ctx, sheet, design, job)
}

// BestSpeed is the best set speed of a design on a machine, by their names or IDs; nil where
// the shop has not both.
func (s *Shop) BestSpeed(ctx context.Context, machineRef, designRef string, job clock.Job) (*ask.BestSpeed, error) {
	m, err := s.Machines.Find(ctx, machineRef)
	if err == nil {
		var d *shop.Design
		if d, err = s.Designs.Find(ctx, designRef); err == nil {
			return ask.BestSpeedOf(ctx, s.Asked(), d.ID, m.ID, job)
		}
	}
	if shop.CodeOf(err) == shop.NotFound {
		return nil, nil
	}
	return nil, err
}

// CheckSetup says what is wrong with a shift's or mix's TOML.
func (s *Shop) CheckSetup(ctx context.Context, kind shop.SetupKind, toml string) error {
	if len(toml) > tomlfile.MaxBytes {
		return shop.Errorf(shop.TooLarge, "the setup has %d bytes", len(toml))
	}
	if kind == shop.MixSetup {
		return s.Check(ctx, &ask.CompareQuestion{Name: "the mix", TOML: []byte(toml)})
	}
	return s.Check(ctx, &ask.ShiftQuestion{Name: "the shift", TOML: []byte(toml)})
}

// Check says what is wrong with a question, or with the setup that it is about.
func (s *Shop) Check(ctx context.Context, q interface{ Check(floor.Sources) error }) error {
	return q.Check(s.sources(ctx))
}

// Answer puts a question about a setup to the shop's own designs and machines,
// as one of the few heavy computations at a time.
func Answer[Q, A any](ctx context.Context, s *Shop, question func(context.Context, Q, floor.Sources) (A, error),
	q Q) (A, error) {
	ctx, leave, err := s.hold(ctx)
	if err != nil {
		var none A
		return none, err
	}
	defer leave()
	a, err := question(ctx, q, s.sources(ctx))
	if err != nil && ctx.Err() != nil {
		return a, shop.StoppedBy(ctx)
	}
	return a, err
}
