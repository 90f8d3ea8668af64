package shop

import (
	"context"
	"fmt"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/thread"
)

// PlanSetup is the kind of the setup that says when and how the shop works:
// a Workshop. There is one, WorkshopID.
const (
	PlanSetup  SetupKind = "plan"
	WorkshopID string    = "workshop"
)

// station is a machine of the shop as the plan sees it.
type station struct {
	*Machine
	keys   WorkshopMachine
	work   floor.Work // complete
	floor  floor.Machine
	heads  int
	law    thread.Law
	rates  Rates  // what the floor's reports say of it
	digest string // of all that times a design on it: like machines share it
}

// stations are the shop's machines with what the workshop says of them.
func (s *Shop) stations(ctx context.Context, w *Workshop) ([]*station, error) {
	machines, err := s.Machines(ctx)
	if err != nil {
		return nil, err
	}
	rates, err := s.floorRates(ctx)
	if err != nil {
		return nil, err
	}
	var out []*station
	for _, m := range machines {
		st := &station{Machine: m, heads: m.Sheet.Heads, law: w.Thread.Law(), keys: WorkshopMachine{Name: m.Name}}
		for _, k := range w.Machine {
			if k.ID == m.ID {
				st.keys = k
			}
		}
		if st.keys.Heads != nil {
			if *st.keys.Heads > m.Sheet.Heads {
				return nil, Errorf(Invalid, "the workshop uses %d heads of %s, which has %d by its sheet", *st.keys.Heads, m.Name, m.Sheet.Heads)
			}
			st.heads = *st.keys.Heads
		}
		st.work = st.keys.Work.Over(w.Work).Over(floor.DefaultWork)
		st.rates = rates.Of(m.ID, *st.work.Breaks, m.Digest)
		breaks := st.rates.Breaks
		st.work.Breaks = &breaks
		st.floor = st.work.Machine(m.Name, st.heads)
		st.floor.Loaders = min(st.floor.Loaders, w.Together())
		st.digest = fmt.Sprint(physical(m.Sheet), st.keys.Speed, st.heads, st.law, *st.work.Stop, *st.work.Rethread)
		out = append(out, st)
	}
	return out, nil
}

// physical is the same for sheets that time designs alike.
func physical(s *machine.Sheet) string {
	c := *s
	c.Name, c.Class = "m", "m"
	return Digest(c.TOML())
}
