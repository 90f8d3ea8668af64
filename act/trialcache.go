package act

import (
	"sync"

	"needlepace/ask"
)

// trialCache keeps what trials said last.
type trialCache struct {
	mu  sync.Mutex
	all map[string]keptTrial
}

type keptTrial struct {
	from   string // digest of what it was made from
	answer *ask.TrialAnswer
}

// mostTrials is how many answers stay; each holds some MB of draws.
const mostTrials = 8

// get is the kept answer made from the same, or what make gives. Whoever gets it changes
// nothing in it.
func (c *trialCache) get(key, from string, make func() (*ask.TrialAnswer, error)) (*ask.TrialAnswer, error) {
	c.mu.Lock()
	k, ok := c.all[key]
	c.mu.Unlock()
	if ok && k.from == from {
		return k.answer, nil
	}
	a, err := make()
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.all == nil || len(c.all) >= mostTrials {
		c.all = map[string]keptTrial{}
	}
	c.all[key] = keptTrial{from, a}
	return a, nil
}
