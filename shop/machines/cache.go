package machines

import (
	"sync"

	"needlepace/machine"
	"needlepace/shop"
)

// sheetCache keeps the sheets parsed last, by their digest.
type sheetCache struct {
	mu   sync.Mutex
	kept map[string]*machine.Sheet
}

const sheetsKept = 500

// parse gives a copy that the caller may change.
func (c *sheetCache) parse(name string, v shop.SheetVersion) (*machine.Sheet, error) {
	c.mu.Lock()
	s := c.kept[v.Digest]
	c.mu.Unlock()
	if s != nil {
		return s.Clone(), nil
	}
	s, err := machine.Parse(name, []byte(v.TOML))
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.kept) >= sheetsKept || c.kept == nil {
		c.kept = map[string]*machine.Sheet{}
	}
	c.kept[v.Digest] = s
	return s.Clone(), nil
}
