package book

import (
	"fmt"
	"maps"
	"slices"

	"needlepace/money"
)

// Identify gives the machines that the workshop names their IDs and present
// names; those that have an ID already are left. What machines cost stands by
// their IDs then. find knows a machine by its
// name or ID; what is wrong with a name is an error about its key.
func (w *Workshop) Identify(find func(ref string) (id, name string, err error)) error {
	seen := map[string]bool{}
	for i := range w.Machine {
		m, key := &w.Machine[i], fmt.Sprintf("machine[%d].name", i+1)
		if m.ID == "" {
			id, name, err := find(m.Name)
			if err != nil {
				return w.Errorf(key, "is wrong: %v", err)
			}
			m.ID, m.Name = id, name
		}
		if seen[m.ID] {
			return w.Errorf(key, "is %q, as another machine's", m.Name)
		}
		seen[m.ID] = true
	}
	for i := range w.Down {
		d := &w.Down[i]
		if d.Machine == "" || d.ID != "" {
			continue
		}
		id, name, err := find(d.Machine)
		if err != nil {
			return w.Errorf(fmt.Sprintf("down[%d].machine", i+1), "is wrong: %v", err)
		}
		d.ID, d.Machine = id, name
	}
	if w.Standard != "" && w.StandardID == "" {
		id, name, err := find(w.Standard)
		if err != nil {
			return w.Errorf("quote_standard", "is wrong: %v", err)
		}
		w.StandardID, w.Standard = id, name
	}
	priced := map[string]money.Owned{}
	for _, ref := range slices.Sorted(maps.Keys(w.Money.Machines)) {
		key := "money.machines." + ref
		id, name, err := find(ref)
		if err != nil {
			return w.Errorf(key, "is wrong: %v", err)
		}
		if _, twice := priced[id]; twice {
			return w.Errorf(key, "is %s, which has its prices already", name)
		}
		priced[id] = w.Money.Machines[ref]
	}
	w.Money.Machines = priced
	return nil
}
