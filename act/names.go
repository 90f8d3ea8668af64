package act

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"needlepace/book"
	"needlepace/shop"
)

// NameFinder finds the stitch files of names by what a list calls them: first among
// those that the line has already, then among the shop's designs. Each is looked up once.
func (s *Shop) NameFinder(ctx context.Context, has []book.NameRow) func(name string) (id string, err error) {
	type found struct {
		id  string
		err error
	}
	known := map[string]found{}
	for _, n := range has {
		if d, err := s.store.Design(ctx, n.DesignID); err == nil {
			known[strings.ToLower(d.File)] = found{id: d.ID}
		}
	}
	return func(name string) (string, error) {
		key := strings.ToLower(name)
		f, is := known[key]
		if !is {
			d, err := s.Designs.Find(ctx, name)
			if err == nil {
				f.id = d.ID
			}
			f.err = err
			known[key] = f
		}
		return f.id, f.err
	}
}

// NameFiles are names with the IDs of their stitch files, which may be said by name or
// file; left out it is the design that is called as the name. Those that there are none
// of are one error, by their number.
func (s *Shop) NameFiles(ctx context.Context, all []book.NameRow) ([]book.NameRow, error) {
	all = slices.Clone(all)
	find := s.NameFinder(ctx, nil)
	var bad []book.BadCell
	for i := range all {
		n := &all[i]
		called := cmp.Or(n.DesignID, n.Name)
		id, err := find(called)
		if code := shop.CodeOf(err); err != nil && code != shop.NotFound && code != shop.Invalid {
			return nil, err
		}
		if err != nil {
			bad = append(bad, book.BadCell{Row: i + 1, Value: called, Why: err.Error()})
		}
		n.DesignID = id
	}
	if err := book.BadNames(bad); err != nil {
		return nil, shop.At("names", shop.Invalidf("%w", err))
	}
	return all, nil
}

// NamesText are a line's names as a list that can be read again (book.ParseNames).
func (s *Shop) NamesText(ctx context.Context, l *book.OrderLine) string {
	return book.NamesText(l.Names, func(id string) string {
		d, err := s.store.Design(ctx, id)
		if err != nil {
			return id
		}
		return d.File
	})
}
