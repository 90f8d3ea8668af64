package shop

import (
	"fmt"
	"strings"

	"needlepace/words"
)

// MachineNamed is the machine of a list that has an ID or name, whatever its
// case. A name that none has is NotFound; one that several have is Invalid,
// with all of them named.
func MachineNamed(all []*Machine, ref string) (*Machine, error) {
	ref = strings.TrimSpace(ref)
	var names, same []string
	var found *Machine
	for _, m := range all {
		if m.ID == ref {
			return m, nil
		}
		if strings.EqualFold(m.Name, ref) {
			found = m
			same = append(same, m.apart())
		}
		names = append(names, m.Name)
	}
	switch len(same) {
	case 0:
		return nil, Errorf(NotFound, "the shop has no machine %q; it has %s", ref, ListOr(names, "none yet"))
	case 1:
		return found, nil
	}
	return nil, Invalidf("%d machines are called %q: %s; name it by its ID, or give them names of their own",
		len(same), ref, strings.Join(same, "; "))
}

// apart is a machine's name with what tells it from another of that name.
func (m *Machine) apart() string {
	return fmt.Sprintf("%s (%s, ID %s)", m.Name, words.Count(m.Sheet.Heads, "head").Text(nil), m.ID)
}

// MachineNames are the names of a list of machines to choose by: where several
// have one name, with what tells them apart.
func MachineNames(all []*Machine) []string {
	many := map[string]int{}
	for _, m := range all {
		many[strings.ToLower(m.Name)]++
	}
	names := make([]string, len(all))
	for i, m := range all {
		if names[i] = m.Name; many[strings.ToLower(m.Name)] > 1 {
			names[i] = m.apart()
		}
	}
	return names
}

// ListOr is names with commas between, or none.
func ListOr(names []string, none string) string {
	if len(names) == 0 {
		return none
	}
	return strings.Join(names, ", ")
}
