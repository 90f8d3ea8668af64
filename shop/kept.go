package shop

import (
	"context"
	"time"

	"needlepace/book"
)

// Names finds what a setup names, by ID or by name. A name that nothing has is
// NotFound, one that several have Invalid, with all of them named.
type Names interface {
	Machines(ctx context.Context) ([]*Machine, error)
	Machine(ctx context.Context, id string) (*Machine, error) // also one taken off the list
	FindMachine(ctx context.Context, ref string) (*Machine, error)
	FindDesign(ctx context.Context, ref string) (*Design, error)
}

// setupThings keeps shifts, mixes and the workshop.
type setupThings struct {
	store SetupStore
	now   func() time.Time
	names Names
	// check says what is wrong with a shift or mix.
	check func(ctx context.Context, kind SetupKind, toml string) error
}

func newSetupThings(store SetupStore, now func() time.Time, names Names,
	check func(ctx context.Context, kind SetupKind, toml string) error) *setupThings {
	return &setupThings{store: store, now: now, names: names, check: check}
}

// Setups lists the shop's shifts or mixes.
func (s *setupThings) Setups(ctx context.Context, kind SetupKind) ([]*Setup, error) {
	if kind != FloorSetup && kind != MixSetup {
		return nil, Errorf(Invalid, "kind is %q; it must be floor or mix", kind)
	}
	return s.store.Setups(ctx, kind)
}

// Setup finds a setup. The workshop's TOML calls machines by their names,
// where a name is one machine's alone.
func (s *setupThings) Setup(ctx context.Context, id string) (*Setup, error) {
	kept, err := s.store.Setup(ctx, id)
	if err == nil && kept.Kind == PlanSetup {
		kept.TOML, err = s.byName(ctx, kept.TOML)
	}
	return kept, err
}

// SaveSetup keeps a shift or mix under a name. An empty ID makes a new one;
// else Version is the one it was made from. What is wrong in the TOML is told
// and nothing kept.
func (s *setupThings) SaveSetup(ctx context.Context, in Setup) (*Setup, error) {
	if err := CheckText("name", in.Name, 200, true); err != nil {
		return nil, err
	}
	if in.Kind != FloorSetup && in.Kind != MixSetup {
		return nil, Errorf(Invalid, "kind is %q; it must be floor or mix", in.Kind)
	}
	if err := s.check(ctx, in.Kind, in.TOML); err != nil {
		return nil, err
	}
	if in.ID == "" {
		in.ID, in.Version = NewID(), 0
	} else if old, err := s.store.Setup(ctx, in.ID); err != nil {
		return nil, err
	} else if old.Kind != in.Kind {
		return nil, Errorf(Invalid, "the kind of a setup cannot be changed")
	}
	var err error
	if in.TOML, err = s.byID(ctx, in.Kind, in.TOML); err != nil {
		return nil, err
	}
	in.Version++
	in.Changed = s.now().UTC()
	if err := s.store.SaveSetup(ctx, &in); err != nil {
		return nil, err
	}
	return s.store.Setup(ctx, in.ID)
}

// DeleteSetup forgets a setup.
func (s *setupThings) DeleteSetup(ctx context.Context, id string) error {
	return s.store.DeleteSetup(ctx, id)
}

// Workshop is the kept one. A shop that has none yet is planned with assumed
// hours; given is then false.
func (s *setupThings) Workshop(ctx context.Context) (w *Workshop, given bool, err error) {
	toml, name := book.AssumedHours, "the assumed hours"
	kept, err := s.store.Setup(ctx, WorkshopID)
	switch {
	case CodeOf(err) == NotFound:
	case err != nil:
		return nil, false, err
	default:
		toml, name, given = kept.TOML, kept.Name, true
	}
	w, err = ParseWorkshop(name, []byte(toml))
	if err != nil {
		return nil, given, Errorf(Storage, "the kept workshop cannot be read any more: %w", err)
	}
	return w, given, s.identify(ctx, w)
}

// SaveWorkshop checks and keeps a WORKSHOP.toml. Every machine it names must
// be in the shop.
func (s *setupThings) SaveWorkshop(ctx context.Context, name, toml string) (*Workshop, error) {
	w, err := ParseWorkshop(name, []byte(toml))
	if err != nil {
		return nil, err
	}
	if err := w.Identify(func(ref string) (string, string, error) {
		m, err := s.names.FindMachine(ctx, ref)
		if err != nil {
			return "", "", err
		}
		return m.ID, m.Name, nil
	}); err != nil {
		return nil, AsInvalid(err)
	}
	if toml, err = s.byID(ctx, PlanSetup, toml); err != nil {
		return nil, err
	}
	version := 1
	if old, err := s.store.Setup(ctx, WorkshopID); err == nil {
		version = old.Version + 1
	} else if CodeOf(err) != NotFound {
		return nil, err
	}
	return w, s.store.SaveSetup(ctx, &Setup{ID: WorkshopID, Kind: PlanSetup, Name: name, TOML: toml, Version: version, Changed: s.now().UTC()})
}

// Zone is the shop's time zone.
func (s *setupThings) Zone(ctx context.Context) (*time.Location, error) {
	w, _, err := s.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	return w.Location(), nil
}
