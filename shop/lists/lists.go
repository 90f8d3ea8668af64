// Package lists keeps lists of designs and orders under names: what is searched in
// them, which state, in which order. Each account has its own; where nobody signs in
// they are the shop's.
package lists

import (
	"context"
	"net/url"
	"slices"
	"strings"

	"needlepace/shop"
)

// Most is how many lists an account keeps.
const Most = 100

// keys are what the query of a list may hold.
var keys = []string{"customer", "removed", "search", "sort", "state"}

// Lists keeps lists.
type Lists struct{ store shop.ListStore }

// New keeps them in a store.
func New(store shop.ListStore) *Lists { return &Lists{store} }

// All are an account's, by what they list and by name.
func (s *Lists) All(ctx context.Context, account string) ([]*shop.List, error) {
	return s.store.Lists(ctx, account)
}

// Query is the part of a query that a list keeps, in one order; what asks for nothing
// is left out.
func Query(q url.Values) string {
	out := url.Values{}
	for _, k := range keys {
		if v := q.Get(k); v != "" {
			out.Set(k, v)
		}
	}
	return out.Encode()
}

// Keep keeps a new list, for an account.
func (s *Lists) Keep(ctx context.Context, account string, l shop.List) (*shop.List, error) {
	q, err := url.ParseQuery(l.Query)
	if err != nil || len(l.Query) > 1000 {
		return nil, shop.At("query", shop.Invalidf("query is %q; it must be that of an address, at most 1,000 characters", l.Query))
	}
	for k := range q {
		if !slices.Contains(keys, k) {
			return nil, shop.At("query", shop.Invalidf("query asks for %q; a list keeps only %s", k, strings.Join(keys, ", ")))
		}
	}
	if l.Of != shop.ListOfDesigns && l.Of != shop.ListOfOrders {
		return nil, shop.At("of", shop.Invalidf("of is %q; it must be designs or orders", l.Of))
	}
	l.ID, l.Account, l.Query = shop.NewID(), account, Query(q)
	return s.save(ctx, &l, true)
}

// Rename gives an account's list another name.
func (s *Lists) Rename(ctx context.Context, account, id, name string) (*shop.List, error) {
	l, err := s.get(ctx, account, id)
	if err != nil {
		return nil, err
	}
	l.Name = name
	return s.save(ctx, l, false)
}

// Drop forgets an account's list, and gives it as it was.
func (s *Lists) Drop(ctx context.Context, account, id string) (*shop.List, error) {
	l, err := s.get(ctx, account, id)
	if err != nil {
		return nil, err
	}
	return l, s.store.DropList(ctx, id)
}

func (s *Lists) get(ctx context.Context, account, id string) (*shop.List, error) {
	all, err := s.store.Lists(ctx, account)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(all, func(l *shop.List) bool { return l.ID == id })
	if i < 0 {
		return nil, shop.Errorf(shop.NotFound, "there is no list %q", id)
	}
	return all[i], nil
}

func (s *Lists) save(ctx context.Context, l *shop.List, fresh bool) (*shop.List, error) {
	l.Name = strings.TrimSpace(l.Name)
	if err := shop.CheckText("name", l.Name, 60, true); err != nil {
		return nil, shop.At("name", err)
	}
	all, err := s.store.Lists(ctx, l.Account)
	if err != nil {
		return nil, err
	}
	for _, o := range all {
		if o.Of == l.Of && o.ID != l.ID && strings.EqualFold(o.Name, l.Name) {
			return nil, shop.At("name", shop.Invalidf("you keep a list of %s as %q already: give this one another name", l.Of, o.Name))
		}
	}
	if fresh && len(all) >= Most {
		return nil, shop.Invalidf("%d lists are kept, and that is all there may be: take one away first", len(all))
	}
	return l, s.store.SaveList(ctx, l)
}
