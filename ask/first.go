package ask

import (
	"needlepace/floor"
	"needlepace/money"
)

// Named is a thing of the shop as a setup names it.
type Named struct{ ID, Name string }

// FirstShift is a shift to begin with: eight hours, one operator, every machine,
// and the designs one after the other.
func FirstShift(machines, designs []Named) *floor.ShopFile {
	sf := &floor.ShopFile{Name: "Our shift", Shift: floor.ShiftKeys{Hours: 8},
		Operator: []floor.OperatorKeys{{Name: "operator 1"}}}
	for _, m := range machines {
		sf.Machine = append(sf.Machine, floor.MachineKeys{Name: m.Name, Sheet: m.ID})
	}
	for _, d := range designs {
		sf.Job = append(sf.Job, floor.JobKeys{Name: d.Name, Design: d.ID})
	}
	return sf
}

// What a mix begins with, to be changed by whoever compares: five shifts a week
// of seven and a half planned hours, twenty pieces of each design.
const (
	firstShifts = 5
	firstHours  = 7.5
	firstWeekly = 20
)

// FirstMix is a mix to begin with. What money it needs is the asker's: prices
// are asked for and never invented.
func FirstMix(currency string, labour money.Amount, shifts int, machines []money.OfferKeys,
	designs []Named) *money.MixFile {
	mf := &money.MixFile{Name: "Our mix",
		Week:  money.WeekKeys{Shifts: firstShifts, Hours: firstHours, Machines: 1, Operators: 1},
		Money: money.Rates{Currency: currency, Labour: labour, Shifts: shifts}, Machine: machines}
	for _, d := range designs {
		mf.Design = append(mf.Design, WantedOf(d))
	}
	return mf
}

// WantedOf is a design that is added to a mix.
func WantedOf(d Named) money.DesignKeys {
	return money.DesignKeys{Name: d.Name, Design: d.ID, Weekly: firstWeekly}
}
