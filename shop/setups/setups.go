package setups

import (
	"context"
	"time"

	"needlepace/book"
	"needlepace/internal/memo"
	"needlepace/shop"
	"needlepace/words"
)

// Machines finds the machines that a setup names.
type Machines interface {
	List(ctx context.Context) ([]*shop.Machine, error)
	// Get finds a machine by its ID, also one taken off the list.
	Get(ctx context.Context, id string) (*shop.Machine, error)
	// Find finds one by ID or name. A name that nothing has is NotFound, one that
	// several have Invalid, with all of them named.
	Find(ctx context.Context, ref string) (*shop.Machine, error)
}

// Designs finds the designs that a setup names, as Machines does.
type Designs interface {
	Find(ctx context.Context, ref string) (*shop.Design, error)
}

// Setups keeps shifts, mixes and the workshop.
type Setups struct {
	store    shop.SetupStore
	now      func() time.Time
	machines Machines
	designs  Designs
	zone     func(context.Context) (words.Zone, error)
	parsed   memo.Memo[[2]string, *book.Workshop] // by name and text
	workshop shop.Kept[workshop]
	// check says what is wrong with a shift or mix.
	check func(ctx context.Context, kind shop.SetupKind, toml string) error
}

// New keeps set-ups in a store. machines and designs find what they name, zone is the shop's
// until it says when it works (nil: UTC), check says what is wrong with a shift or mix.
func New(store shop.SetupStore, now func() time.Time, machines Machines, designs Designs,
	zone func(context.Context) (words.Zone, error), check func(ctx context.Context, kind shop.SetupKind, toml string) error) *Setups {
	return &Setups{store: store, now: now, machines: machines, designs: designs, zone: zone, check: check}
}

// List lists the shop's shifts or mixes.
func (s *Setups) List(ctx context.Context, kind shop.SetupKind) ([]*shop.Setup, error) {
	if kind != shop.FloorSetup && kind != shop.MixSetup {
		return nil, shop.Invalidf("kind is %q; it must be floor or mix", kind)
	}
	return s.store.Setups(ctx, kind)
}

// Get finds a setup. The workshop's TOML calls machines by their names,
// where a name is one machine's alone.
func (s *Setups) Get(ctx context.Context, id string) (*shop.Setup, error) {
	kept, err := s.store.Setup(ctx, id)
	if err == nil && kept.Kind == shop.PlanSetup {
		kept.TOML, err = s.byName(ctx, kept.TOML)
	}
	return kept, err
}

// Save keeps a shift or mix under a name. An empty ID makes a new one;
// else Version is the one it was made from. What is wrong in the TOML is told
// and nothing kept.
func (s *Setups) Save(ctx context.Context, in shop.Setup) (*shop.Setup, error) {
	if err := shop.CheckText("name", in.Name, 200, true); err != nil {
		return nil, err
	}
	if in.Kind != shop.FloorSetup && in.Kind != shop.MixSetup {
		return nil, shop.Invalidf("kind is %q; it must be floor or mix", in.Kind)
	}
	if err := s.check(ctx, in.Kind, in.TOML); err != nil {
		return nil, err
	}
	if in.ID == "" {
		in.ID, in.Version = shop.NewID(), 0
	} else if old, err := s.store.Setup(ctx, in.ID); err != nil {
		return nil, err
	} else if old.Kind != in.Kind {
		return nil, shop.Invalidf("the kind of a setup cannot be changed")
	} else if old.Version != in.Version {
		return nil, changedMeanwhile("these numbers", old.Version, in.Version)
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

// Delete forgets a setup.
func (s *Setups) Delete(ctx context.Context, id string) error {
	return s.store.DeleteSetup(ctx, id)
}

// Workshop is the kept one. A shop that has none yet is planned with assumed
// hours; given is then false.
func (s *Setups) Workshop(ctx context.Context) (w *book.Workshop, given bool, err error) {
	if !shop.OnlyReads(ctx) {
		return s.readWorkshop(ctx)
	}
	is, err := s.workshop.Get(ctx, s.store, func(ctx context.Context) (is workshop, err error) {
		is.Workshop, is.given, err = s.readWorkshop(ctx)
		return is, err
	})
	if err != nil {
		return nil, is.given, err
	}
	return is.Clone(), is.given, nil
}

// workshop is one as it was read.
type workshop struct {
	*book.Workshop
	given bool
}

func (s *Setups) readWorkshop(ctx context.Context) (w *book.Workshop, given bool, err error) {
	toml, name := book.AssumedHours, "the assumed hours"
	kept, err := s.store.Setup(ctx, shop.WorkshopID)
	switch {
	case shop.CodeOf(err) == shop.NotFound:
	case err != nil:
		return nil, false, err
	default:
		toml, name, given = kept.TOML, kept.Name, true
	}
	w, err = s.parsed.Get(ctx, mostParsed, [2]string{name, toml}, func() (*book.Workshop, error) {
		return book.ParseWorkshop(name, []byte(toml))
	})
	if err != nil && ctx.Err() != nil {
		return nil, given, shop.StoppedBy(ctx)
	}
	if err != nil {
		return nil, given, shop.Errorf(shop.Storage, "the kept workshop cannot be read any more: %w", err)
	}
	w = w.Clone()
	if !given && s.zone != nil {
		if w.Zone, err = s.zone(ctx); err != nil {
			return nil, given, err
		}
	}
	return w, given, s.identify(ctx, w)
}

// mostParsed is how many workshops are remembered: the one that is kept, and those of a moment ago.
const mostParsed = 4

// OnPage is the name that a workshop has which was changed on the page or by
// the API, and not from a file.
const OnPage = "the page"

// AnyVersion is the base of a workshop that takes the place of whatever is kept.
const AnyVersion = -1

// SaveWorkshop checks and keeps a WORKSHOP.toml. Every machine it names must
// be in the shop. base is the version that it was made from, 0 where none was
// kept: where another is kept by now it is a Conflict.
func (s *Setups) SaveWorkshop(ctx context.Context, name, toml string, base int) (*book.Workshop, error) {
	called := name
	if name == OnPage {
		called = "WORKSHOP.toml"
	}
	w, err := book.ParseWorkshop(called, []byte(toml))
	if err != nil {
		return nil, shop.AsInvalid(err)
	}
	if err := w.Identify(func(ref string) (string, string, error) {
		m, err := s.machines.Find(ctx, ref)
		if err != nil {
			return "", "", err
		}
		return m.ID, m.Name, nil
	}); err != nil {
		return nil, shop.AsInvalid(err)
	}
	if toml, err = s.byID(ctx, shop.PlanSetup, toml); err != nil {
		return nil, err
	}
	kept := 0
	switch was, err := s.store.Setup(ctx, shop.WorkshopID); {
	case shop.CodeOf(err) == shop.NotFound:
	case err != nil:
		return nil, err
	case was.TOML == toml: // pressed twice, or nothing said otherwise: it stands so
		return w, nil
	default:
		kept = was.Version
	}
	if base != AnyVersion && base != kept {
		return nil, changedMeanwhile("the hours and prices", kept, base)
	}
	return w, s.store.SaveSetup(ctx, &shop.Setup{ID: shop.WorkshopID, Kind: shop.PlanSetup, Name: name, TOML: toml,
		Version: kept + 1, Changed: s.now().UTC()})
}

// WorkshopVersion is the version of the kept workshop, 0 where none is kept,
// and the name it was kept under.
func (s *Setups) WorkshopVersion(ctx context.Context) (version int, name string, err error) {
	kept, err := s.store.Setup(ctx, shop.WorkshopID)
	switch {
	case shop.CodeOf(err) == shop.NotFound:
		return 0, "", nil
	case err != nil:
		return 0, "", err
	}
	return kept.Version, kept.Name, nil
}

// changedMeanwhile is the Conflict of what was made from another version than
// the one that is kept.
func changedMeanwhile(what string, kept, base int) error {
	if base == 0 {
		return shop.Errorf(shop.Conflict, "%s are kept already, at version %d, and yours do not say which version they "+
			"were made from: look at what is kept and do it again", what, kept)
	}
	return shop.Errorf(shop.Conflict, "somebody else changed %s meanwhile: they are at version %d, yours were made "+
		"from version %d; look at what is kept and do it again", what, kept, base)
}

// Zone is the shop's time zone.
func (s *Setups) Zone(ctx context.Context) (words.Zone, error) {
	w, _, err := s.Workshop(ctx)
	if err != nil {
		return words.Zone{}, err
	}
	return w.Zone, nil
}
