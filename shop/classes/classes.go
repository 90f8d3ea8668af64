package classes

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"time"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/shop"
)

// Classes keeps made classes and the evidence of other shops.
type Classes struct {
	store shop.SetupStore
	now   func() time.Time
}

// New keeps them in a store.
func New(store shop.SetupStore, now func() time.Time) *Classes { return &Classes{store, now} }

// Kept is a class or a sheet that is kept.
type Kept struct {
	ID    string
	Kind  shop.SetupKind // shop.ClassSetup or shop.EvidenceSetup
	Name  string
	Sheet *machine.Sheet
	Added time.Time
}

// mostKept is how many classes, and how many sheets of others, a shop keeps.
const mostKept = 500

// list lists what is kept of a kind, by name.
func (c *Classes) list(ctx context.Context, kind shop.SetupKind) ([]Kept, error) {
	all, err := c.store.Setups(ctx, kind)
	if err != nil {
		return nil, err
	}
	out := make([]Kept, len(all))
	for i, s := range all {
		if out[i], err = kept(s); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func kept(s *shop.Setup) (Kept, error) {
	sheet, err := machine.Parse(s.Name, []byte(s.TOML))
	if err != nil {
		return Kept{}, shop.Errorf(shop.Storage, "the kept sheet %s cannot be read any more: %w", s.Name, err)
	}
	return Kept{s.ID, s.Kind, s.Name, sheet, s.Changed}, nil
}

// Made lists the classes that the shop made, by name.
func (c *Classes) Made(ctx context.Context) ([]Kept, error) { return c.list(ctx, shop.ClassSetup) }

// Evidence lists the sheets of other shops, by name.
func (c *Classes) Evidence(ctx context.Context) ([]Kept, error) {
	return c.list(ctx, shop.EvidenceSetup)
}

// Get finds a class or a sheet by its ID.
func (c *Classes) Get(ctx context.Context, id string) (*Kept, error) {
	s, err := c.store.Setup(ctx, id)
	if shop.CodeOf(err) == shop.NotFound || err == nil && s.Kind != shop.ClassSetup && s.Kind != shop.EvidenceSetup {
		return nil, shop.Errorf(shop.NotFound, "there is no such class or sheet any more: look at the list again")
	}
	if err != nil {
		return nil, err
	}
	k, err := kept(s)
	return &k, err
}

// Remove forgets a class or a sheet. Machines that began with it stay as they are.
func (c *Classes) Remove(ctx context.Context, id string) error {
	if _, err := c.Get(ctx, id); err != nil {
		return err
	}
	return c.store.DeleteSetup(ctx, id)
}

// AddEvidence keeps a learned sheet (TOML) that another shop exported; name is its
// file's and is used in errors only. Evidence that cannot be pooled, that is here
// already, or that is no export is refused with why.
func (c *Classes) AddEvidence(ctx context.Context, name, toml string) (*Kept, error) {
	s, err := machine.Parse(name, []byte(toml))
	if err != nil {
		return nil, shop.Invalidf("%w", err)
	}
	if why := learn.CheckEvidence(s); why != "" {
		return nil, shop.Invalidf("%s: %s", name, why)
	}
	own, err := c.Number(ctx)
	if err != nil {
		return nil, err
	}
	switch s.Fit.Evidence.Shop {
	case "":
		return nil, shop.Invalidf("%s is a shop's own sheet and has no shop's number: ask for the sheet that the other shop "+
			"exports for other shops", name)
	case own:
		return nil, shop.Invalidf("%s is a sheet that your own shop exported: its machine counts here already", name)
	}
	all, err := c.Evidence(ctx)
	if err != nil {
		return nil, err
	}
	for _, k := range all {
		if k.Sheet.Fit.Digest == s.Fit.Digest {
			return nil, shop.Invalidf("%s holds the same evidence as %s, which is here already", name, k.Name)
		}
	}
	if len(all) >= mostKept {
		return nil, shop.Invalidf("%d sheets of other shops are here already: remove some first", len(all))
	}
	return c.save(ctx, shop.EvidenceSetup, s.Name, s)
}

// Keep keeps a class sheet.
func (c *Classes) Keep(ctx context.Context, class *machine.Sheet) (*Kept, error) {
	all, err := c.Made(ctx)
	if err != nil {
		return nil, err
	}
	if len(all) >= mostKept {
		return nil, shop.Invalidf("%d classes are here already: remove some first", len(all))
	}
	return c.save(ctx, shop.ClassSetup, fmt.Sprintf("%s, %s", class.Name, class.Pool.Words().Raw()), class)
}

func (c *Classes) save(ctx context.Context, kind shop.SetupKind, name string, s *machine.Sheet) (*Kept, error) {
	in := &shop.Setup{ID: shop.NewID(), Kind: kind, Name: name, TOML: string(s.TOML()), Version: 1, Changed: c.now().UTC()}
	if err := c.store.SaveSetup(ctx, in); err != nil {
		return nil, err
	}
	return &Kept{in.ID, kind, name, s, in.Changed}, nil
}

// Number is the random number that the shop counts by in other shops' classes:
// 32 hexadecimal digits, made when it is first asked for.
func (c *Classes) Number(ctx context.Context) (string, error) {
	b, err := c.store.Setting(ctx, "shop-number")
	if err != nil || len(b) > 0 {
		return string(b), err
	}
	number := make([]byte, 16)
	_, _ = rand.Read(number) // never fails
	text := hex.EncodeToString(number)
	return text, c.store.SetSetting(ctx, "shop-number", []byte(text))
}
