package shop

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"needlepace/book"
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

// Workshop is the kept one. A shop that has none yet is planned with assumed
// hours; given is then false.
func (s *Shop) Workshop(ctx context.Context) (w *Workshop, given bool, err error) {
	toml, name := book.AssumedHours, "the assumed hours"
	kept, err := s.store.Setup(ctx, WorkshopID)
	switch {
	case CodeOf(err) == NotFound:
	case err != nil:
		return nil, false, err
	default:
		toml, name, given = kept.TOML, kept.Name, true
	}
	w, err = ParseWorkshop(name, []byte(toml))
	if err != nil {
		return nil, given, Errorf(Storage, "the kept workshop cannot be read any more: %w", err)
	}
	return w, given, nil
}

// SaveWorkshop checks and keeps a WORKSHOP.toml. Every machine it names must
// be in the shop.
func (s *Shop) SaveWorkshop(ctx context.Context, name, toml string) (*Workshop, error) {
	w, err := ParseWorkshop(name, []byte(toml))
	if err != nil {
		return nil, err
	}
	machines, err := s.Machines(ctx)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, m := range machines {
		names = append(names, m.Name)
	}
	known := func(n string) bool { return slices.Contains(names, n) }
	for i, m := range w.Machine {
		if !known(m.Name) {
			return nil, inWorkshop(w, fmt.Sprintf("machine[%d].name", i+1), "is %q, which is no machine of the shop; it has %s", m.Name, listOr(names, "none yet"))
		}
	}
	for i, d := range w.Down {
		if d.Machine != "" && !known(d.Machine) {
			return nil, inWorkshop(w, fmt.Sprintf("down[%d].machine", i+1), "is %q, which is no machine of the shop; it has %s", d.Machine, listOr(names, "none yet"))
		}
	}
	version := 1
	if old, err := s.store.Setup(ctx, WorkshopID); err == nil {
		version = old.Version + 1
	} else if CodeOf(err) != NotFound {
		return nil, err
	}
	defer s.hand.changes.Add(1)
	return w, s.store.SaveSetup(ctx, &Setup{ID: WorkshopID, Kind: PlanSetup, Name: name, TOML: toml, Version: version, Changed: s.now().UTC()})
}

// inWorkshop is an error about a key of a workshop.
func inWorkshop(w *Workshop, key, format string, a ...any) error {
	return invalid(w.Errorf(key, format, a...))
}

func listOr(names []string, none string) string {
	if len(names) == 0 {
		return none
	}
	return strings.Join(names, ", ")
}

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
			if k.Name == m.Name {
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
		st.digest = fmt.Sprint(physical(m.Sheet), st.keys.Speed, st.heads, st.law, *st.work.Stop, *st.work.Rethread)
		out = append(out, st)
	}
	return out, nil
}

// physical is the same for sheets that time designs alike.
func physical(s *machine.Sheet) string {
	c := *s
	c.Name, c.Class = "m", "m"
	return digestOf(c.TOML())
}
