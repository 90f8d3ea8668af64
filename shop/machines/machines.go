package machines

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"needlepace/internal/memo"
	"needlepace/machine"
	"needlepace/shop"
)

// Machines keeps the shop's machines and the history of their sheets.
type Machines struct {
	store  shop.MachineStore
	now    func() time.Time
	sheets memo.Memo[string, *machine.Sheet] // by their digest
	list   shop.Kept[[]*shop.Machine]
}

// New keeps machines in a store.
func New(store shop.MachineStore, now func() time.Time) *Machines {
	return &Machines{store: store, now: now}
}

// List lists the shop's machines by name. They are shared: nobody may change them.
func (s *Machines) List(ctx context.Context) ([]*shop.Machine, error) {
	all, err := s.list.Get(ctx, s.store, func(ctx context.Context) ([]*shop.Machine, error) {
		all, versions, err := s.store.Machines(ctx)
		if err != nil {
			return nil, err
		}
		for i, m := range all {
			if err := s.withSheet(m, versions[i]); err != nil {
				return nil, err
			}
		}
		return all, nil
	})
	return slices.Clone(all), err
}

// Get finds a machine with its present sheet.
func (s *Machines) Get(ctx context.Context, id string) (*shop.Machine, error) {
	m, v, err := s.store.Machine(ctx, id)
	if err != nil {
		return nil, err
	}
	return m, s.withSheet(m, v)
}

// sheetsKept is how many parsed sheets are remembered.
const sheetsKept = 500

// withSheet gives a machine a sheet that the caller may change.
func (s *Machines) withSheet(m *shop.Machine, v shop.SheetVersion) error {
	sheet, err := s.sheets.Get(context.Background(), sheetsKept, v.Digest, func() (*machine.Sheet, error) {
		return machine.Parse(m.Name, []byte(v.TOML))
	})
	if err != nil {
		return shop.Errorf(shop.Storage, "the kept sheet of %s cannot be read any more: %w", m.Name, err)
	}
	m.Sheet, m.Version, m.Digest, m.Changed = sheet.Clone(), v.Version, v.Digest, v.Made
	return nil
}

// parseSheet reads a sheet that somebody sent.
func parseSheet(toml string) (*machine.Sheet, error) {
	if len(toml) > 1<<20 {
		return nil, shop.Errorf(shop.TooLarge, "the sheet has %d bytes; a sheet is a small TOML file", len(toml))
	}
	sheet, err := machine.Parse("the sheet", []byte(toml))
	if err != nil {
		return nil, shop.Invalidf("%w", err)
	}
	return sheet, shop.At("name", shop.CheckText("machine's name", sheet.Name, 100, true))
}

// Add keeps a new machine with a sheet (TOML). by is who did it.
func (s *Machines) Add(ctx context.Context, toml, note, by string) (*shop.Machine, error) {
	sheet, err := parseSheet(toml)
	if err != nil {
		return nil, err
	}
	now := s.now().UTC()
	m := &shop.Machine{ID: shop.NewID(), Name: sheet.Name, Added: now}
	v := version(m.ID, 1, 0, shop.Made, sheet, note, by)
	v.Made = now
	if err := s.store.AddMachine(ctx, m, v); err != nil {
		return nil, err
	}
	return s.Get(ctx, m.ID)
}

// AddOfClass keeps a new machine that starts from a built-in class.
func (s *Machines) AddOfClass(ctx context.Context, class, name, by string) (*shop.Machine, error) {
	sheet, ok := machine.Class(class)
	if !ok {
		return nil, shop.At("class", shop.Invalidf("there is no machine class %q", class))
	}
	if name = strings.TrimSpace(name); name != "" {
		sheet.Name = name
	}
	return s.Add(ctx, string(sheet.TOML()), "from class "+class, by)
}

func version(id string, n, parent int, o shop.Origin, sheet *machine.Sheet, note, by string) shop.SheetVersion {
	toml := sheet.TOML()
	return shop.SheetVersion{MachineID: id, Version: n, Parent: parent, Origin: o, Note: note, By: by,
		Digest: shop.Digest(toml), TOML: string(toml)}
}

// ChangeSheet puts a new sheet in a machine's history. base is the version it
// was made from: where the machine has another by now it is a Conflict.
func (s *Machines) ChangeSheet(ctx context.Context, id string, base int, toml, note, by string) (*shop.Machine, error) {
	sheet, err := parseSheet(toml)
	if err != nil {
		return nil, err
	}
	return s.addVersion(ctx, id, base, base, shop.Edited, sheet, note, by)
}

// KeepLearned makes a sheet that was learned from timed runs the machine's new
// version; m is the machine that it was learned for.
func (s *Machines) KeepLearned(ctx context.Context, m *shop.Machine, sheet *machine.Sheet, note,
	by string) (*shop.Machine, error) {
	return s.addVersion(ctx, m.ID, m.Version, m.Version, shop.Learned, sheet, note, by)
}

func (s *Machines) addVersion(ctx context.Context, id string, base, parent int, o shop.Origin, sheet *machine.Sheet,
	note, by string) (*shop.Machine, error) {
	if err := shop.At("note", shop.CheckText("note", note, 1000, false)); err != nil {
		return nil, err
	}
	m, _, err := s.store.Machine(ctx, id)
	if err != nil {
		return nil, err
	}
	if m.Version != base {
		return nil, shop.Errorf(shop.Conflict, "the sheet of %s was changed meanwhile: it is at version %d, not %d; "+
			"look at it and do it again", m.Name, m.Version, base)
	}
	v := version(id, base+1, parent, o, sheet, note, by)
	v.Made = s.now().UTC()
	if err := s.store.AddVersion(ctx, v, sheet.Name); err != nil {
		return nil, err
	}
	return s.Get(ctx, id)
}

// History is a machine's sheets, newest first.
func (s *Machines) History(ctx context.Context, id string) ([]shop.SheetVersion, error) {
	return s.store.Versions(ctx, id)
}

// Undo takes a machine back to an earlier version of its sheet: the one the
// present version was made from, or the given one (to > 0), which also undoes
// an undo. Nothing is taken out of the history.
func (s *Machines) Undo(ctx context.Context, id string, base, to int, by string) (*shop.Machine, error) {
	all, err := s.store.Versions(ctx, id)
	if err != nil {
		return nil, err
	}
	byNumber := map[int]shop.SheetVersion{}
	for _, v := range all {
		byNumber[v.Version] = v
	}
	if to == 0 {
		to = byNumber[base].Parent
		if to == 0 {
			return nil, shop.Invalidf("this is the machine's first sheet: there is nothing to undo")
		}
	}
	old, ok := byNumber[to]
	if !ok {
		return nil, shop.Errorf(shop.NotFound, "the machine has no sheet version %d", to)
	}
	sheet, err := machine.Parse("the sheet", []byte(old.TOML))
	if err != nil {
		return nil, shop.Errorf(shop.Storage, "the kept sheet cannot be read any more: %w", err)
	}
	// The parent of an undo is where the old version came from: a second undo
	// goes one further back, as people expect.
	return s.addVersion(ctx, id, base, old.Parent, shop.Undone, sheet, fmt.Sprintf("back to version %d", to), by)
}

// Remove takes a machine off the list; its history and runs stay.
func (s *Machines) Remove(ctx context.Context, id string) error {
	return s.store.RemoveMachine(ctx, id, true)
}

// Restore puts a machine back on the list.
func (s *Machines) Restore(ctx context.Context, id string) error {
	return s.store.RemoveMachine(ctx, id, false)
}

// Find finds a machine of the shop by its ID or name (MachineNamed).
func (s *Machines) Find(ctx context.Context, ref string) (*shop.Machine, error) {
	all, err := s.List(ctx)
	if err != nil {
		return nil, err
	}
	m, err := shop.MachineNamed(all, ref)
	if shop.CodeOf(err) == shop.NotFound {
		if gone, _, found := s.store.Machine(ctx, ref); found == nil {
			return nil, shop.Errorf(shop.NotFound,
				"the machine %s was taken off the list; put it back, or name another", gone.Name)
		}
	}
	return m, err
}
