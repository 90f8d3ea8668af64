// Package changes lists what was changed in the shop, and takes it back.
package changes

import (
	"context"

	"needlepace/shop"
)

// Changes is what was changed.
type Changes struct{ store shop.TrailStore }

// New lists what a store noted.
func New(store shop.TrailStore) *Changes { return &Changes{store} }

// List is a page of what was changed, newest first, of what a role may do, and
// how many there are in all.
func (s *Changes) List(ctx context.Context, role shop.Role, q shop.ChangeQuery) ([]*shop.Changed, int, error) {
	if q.Limit == 0 {
		q.Limit = 50
	}
	if q.Limit < 1 || q.Limit > 500 || q.Offset < 0 {
		return nil, 0, shop.Invalidf("limit must lie between 1 and 500, offset must not be negative")
	}
	q.Rights = nil
	for _, r := range shop.Rights {
		if role.Has(r.Right) {
			q.Rights = append(q.Rights, r.Right)
		}
	}
	if role.Has("") { // what a command changed
		q.Rights = append(q.Rights, "")
	}
	all, n, err := s.store.Changes(ctx, q)
	for _, c := range all {
		hide(c, role)
	}
	return all, n, err
}

// All is what List pages through, at most so many.
func (s *Changes) All(ctx context.Context, role shop.Role, q shop.ChangeQuery, most int) (all []*shop.Changed, err error) {
	for len(all) < most {
		q.Limit = min(500, most-len(all))
		page, _, err := s.List(ctx, role, q)
		if err != nil {
			return nil, err
		}
		if all = append(all, page...); len(page) < q.Limit {
			break
		}
		q.Before = page[len(page)-1].ID
	}
	return all, nil
}

// Get finds a change that a role may see.
func (s *Changes) Get(ctx context.Context, role shop.Role, id int64) (*shop.Changed, error) {
	c, err := s.store.Change(ctx, id)
	if err == nil && !role.Has(c.Right) {
		return nil, c.Right.Lacking()
	}
	if err == nil {
		hide(c, role)
	}
	return c, err
}

// hide leaves out where a change came from for who does not keep the accounts.
func hide(c *shop.Changed, role shop.Role) {
	if !role.Has(shop.KeepAccounts) {
		c.From = ""
	}
}

// Undo takes a change back; see shop.TrailStore. Whoever could do it may.
func (s *Changes) Undo(ctx context.Context, role shop.Role, id int64) (*shop.Changed, error) {
	c, err := s.Get(ctx, role, id)
	if err != nil {
		return nil, err
	}
	if c.Own() && c.By != shop.ActOf(ctx).By {
		return nil, shop.Errorf(shop.Forbidden, "this list is %s’s own, and only they take it back", c.By)
	}
	shop.ActOf(ctx).Right = c.Right
	return c, s.store.Undo(ctx, id)
}
