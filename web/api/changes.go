package api

import "needlepace/shop"

type changePage struct {
	Changes []*shop.Changed `json:"changes"`
	Total   int             `json:"total"`
}

func listChanges(c *call) (*changePage, error) {
	q := c.Query()
	in := shop.ChangeQuery{Thing: q.Get("thing"), Ref: q.Get("ref"), Offset: q.Integer("offset", 0), Limit: q.Integer("limit", 0)}
	if q.Err != nil {
		return nil, q.Err
	}
	all, total, err := c.Shop.Changes.List(c.Ctx, c.Account().Role, in)
	return &changePage{orEmpty(all), total}, err
}

func undoChange(c *call) (*shop.Changed, error) {
	if _, err := c.Undo(); err != nil {
		return nil, err
	}
	return c.Shop.Changes.Get(c.Ctx, c.Account().Role, c.Act.Change.Load())
}
