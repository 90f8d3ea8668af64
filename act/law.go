package act

import (
	"context"

	"needlepace/ask"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/shop"
)

// Laws gives a machine's (or class's) sheet, the one it was learned from, and
// what was read off its display.
func (s shelf) Laws(ctx context.Context, id string) (now, before *machine.Sheet, read []learn.Observation, err error) {
	if now, _, err = s.machineOf(ctx, id); err != nil {
		return nil, nil, nil, err
	}
	m, err := s.Machines.Get(ctx, id)
	if shop.CodeOf(err) == shop.NotFound {
		return now, nil, nil, nil // a class
	}
	if err != nil {
		return nil, nil, nil, err
	}
	if now = m.Sheet.Clone(); now.Fit != nil {
		if before, err = s.unlearned(ctx, m); err != nil {
			return nil, nil, nil, err
		}
		if before.Fit != nil {
			before = nil
		}
	}
	now.Name = m.Name
	runs, err := s.store.Runs(ctx, id)
	if err != nil {
		return nil, nil, nil, err
	}
	for _, r := range runs {
		if r.Shown > 0 {
			read = append(read, learn.Observation{Kind: learn.DisplayReading, Shown: r.Shown, LengthMM: r.LengthMM,
				Zigzag: r.Zigzag})
		}
	}
	return now, before, read, nil
}

// Memory keeps what was reckoned before.
func (s shelf) Memory() *ask.Memory { return &s.memory }

// Law asks how fast a machine of the shop, or a class, sews stitches of each
// length.
func (s *Shop) Law(ctx context.Context, q ask.LawQuestion) (*ask.LawAnswer, error) {
	return ask.Law(ctx, shelf{s}, q)
}
