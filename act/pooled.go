package act

import (
	"context"
	"fmt"
	"slices"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/shop/classes"
)

// Pooling is what Pool is asked.
type Pooling struct {
	Machines []string // IDs of the shop's machines
	Evidence []string // IDs of sheets of other shops (shop/classes)
}

// named are sheets by the names that sentences call them by.
type named map[string]*machine.Sheet

// Sheet finds one of them.
func (n named) Sheet(_ context.Context, name string) (*machine.Sheet, error) {
	if s, ok := n[name]; ok {
		return s, nil
	}
	return nil, ask.Missing("there is no sheet %s", name)
}

// add names a sheet; of several of one name each gets a number.
func (n named) add(name string, s *machine.Sheet) string {
	as := name
	for i := 2; n[as] != nil; i++ {
		as = fmt.Sprintf("%s (%d)", name, i)
	}
	n[as] = s
	return as
}

// Pool asks what learned machines say of their class.
func (s *Shop) Pool(ctx context.Context, in Pooling) (*ask.PoolAnswer, error) {
	sheets, q := named{}, ask.PoolQuestion{}
	for _, id := range in.Machines {
		m, err := s.Machines.Get(ctx, id)
		if err != nil {
			return nil, err
		}
		q.Sheets = append(q.Sheets, sheets.add(m.Name, m.Sheet))
	}
	for _, id := range in.Evidence {
		k, err := s.Classes.Get(ctx, id)
		if err != nil {
			return nil, err
		}
		q.Sheets = append(q.Sheets, sheets.add(k.Name, k.Sheet))
	}
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	a, err := ask.Pool(ctx, sheets, q)
	if err != nil && ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	return a, err
}

// KeepClass pools and keeps the class.
func (s *Shop) KeepClass(ctx context.Context, in Pooling) (*classes.Kept, *ask.PoolAnswer, error) {
	a, err := s.Pool(ctx, in)
	if err != nil {
		return nil, nil, err
	}
	k, err := s.Classes.Keep(ctx, a.Sheet)
	return k, a, err
}

// Exported is a machine's learned sheet for other shops, and a file name that
// says nothing of the shop.
func (s *Shop) Exported(ctx context.Context, machineID string) (sheet *machine.Sheet, file string, err error) {
	m, err := s.Machines.Get(ctx, machineID)
	if err != nil {
		return nil, "", err
	}
	number, err := s.Classes.Number(ctx)
	if err != nil {
		return nil, "", err
	}
	if sheet, err = ask.Share(m.Sheet, number, false); err != nil {
		return nil, "", err
	}
	return sheet, ask.SharedName(sheet), nil
}

// AddMachine keeps a new machine that starts from a built-in class, or from one
// that the shop made (its ID).
func (s *Shop) AddMachine(ctx context.Context, class, name, by string) (*shop.Machine, error) {
	// Of a name that is far too long a sheet would say so first, and in bytes.
	if err := shop.CheckText("machine's name", name, 100, false); err != nil {
		return nil, shop.At("name", err)
	}
	if _, ok := machine.Class(class); ok {
		return s.Machines.AddOfClass(ctx, class, name, by)
	}
	k, err := s.Classes.Get(ctx, class)
	if err != nil || k.Kind != shop.ClassSetup {
		return s.Machines.AddOfClass(ctx, class, name, by) // says that there is no such class
	}
	sheet := k.Sheet.Clone()
	if name != "" {
		sheet.Name = name
	}
	return s.Machines.Add(ctx, string(sheet.TOML()), "from class "+k.Name, by)
}

// whatItIs are the constants that say which machine of its class one is.
var whatItIs = []string{"heads", "needles", "max_speed", "reading.trim_after_jumps", "field.width", "field.height"}

// StartFrom gives a machine the sheet of a class that the shop made, as a new
// version: it is to be learned from there. What somebody measured on the machine
// or read off its plate stays, and so do its heads, needles and field.
func (s *Shop) StartFrom(ctx context.Context, classID, machineID, by string) (*shop.Machine, error) {
	k, err := s.Classes.Get(ctx, classID)
	if err != nil {
		return nil, err
	}
	m, err := s.Machines.Get(ctx, machineID)
	if err != nil {
		return nil, err
	}
	if k.Kind != shop.ClassSetup || k.Sheet.Class != m.Sheet.Class {
		return nil, shop.Invalidf("%s is %s, and the class %s is of %s: a machine starts from its own class", m.Name,
			m.Sheet.Class, k.Name, k.Sheet.Class)
	}
	was, err := s.unlearned(ctx, m)
	if err != nil {
		return nil, err
	}
	sheet := k.Sheet.Clone()
	sheet.Name = m.Name
	for c := range was.Constants() {
		b := was.BasisOf[c.Path]
		if b != machine.Measured && b != machine.Spec && !slices.Contains(whatItIs, c.Path) {
			continue
		}
		c.Set(sheet, c.Get(was))
		sheet.BasisOf[c.Path] = b
		if sd, ok := was.SD[c.Path]; ok {
			sheet.SD[c.Path] = sd
		} else {
			delete(sheet.SD, c.Path)
		}
	}
	return s.Machines.ChangeSheet(ctx, m.ID, m.Version, string(sheet.TOML()), "from class "+k.Name, by)
}
