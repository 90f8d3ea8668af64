package shop

import (
	"strings"
	"testing"

	"needlepace/machine"
)

func TestMachinesOfOneNameAreToldApartWhereOneIsChosen(t *testing.T) {
	one, _ := machine.Class("compact-8")
	six, _ := machine.Class("multi-6")
	names := MachineNames([]*Machine{{ID: "a1", Name: "Whelk", Sheet: one}, {ID: "b2", Name: "whelk", Sheet: six},
		{ID: "c3", Name: "Limpet", Sheet: one}})
	if got := strings.Join(names, ", "); got != "Whelk (1 head, ID a1), whelk (6 heads, ID b2), Limpet" {
		t.Error(got)
	}
}
