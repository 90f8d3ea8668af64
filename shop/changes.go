package shop

import "sync/atomic"

// Changes counts changes of orders, reports and the workshop, for those who
// keep what they computed from them. One process holds the shop, so all
// changes come through it.
type Changes struct{ n atomic.Int64 }

// Note notes that something was changed, or may have been.
func (c *Changes) Note() { c.n.Add(1) }

// Count is how many changes were noted.
func (c *Changes) Count() int64 { return c.n.Load() }
