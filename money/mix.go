package money

import (
	"errors"
	"fmt"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/thread"
)

// MixFile is a MIX.toml: the designs a shop sews in a week and the machines
// to compare on them (docs/comparing-machines.md).
type MixFile struct {
	Name    string           `toml:"name"`
	Week    WeekKeys         `toml:"week"`
	Thread  floor.ThreadKeys `toml:"thread"`
	Work    floor.Work       `toml:"work"`
	Money   Rates            `toml:"money"`
	Machine []OfferKeys      `toml:"machine"`
	Design  []DesignKeys     `toml:"design"`
}

// WeekKeys is [week].
type WeekKeys struct {
	Shifts    int     `toml:"shifts"`         // a week
	Hours     float64 `toml:"hours" unit:"h"` // planned hours of a shift, pauses left out
	Machines  int     `toml:"machines"`       // machines in a crew, where the machine does not say; default 1
	Operators int     `toml:"operators"`      // operators in a crew, where the machine does not say; default 1
	Walk      float64 `toml:"walk_seconds" unit:"s"`
	Notice    float64 `toml:"notice_seconds" unit:"s"`
}

// OfferKeys is one [[machine]]: what a shop has or is offered. How it is
// staffed and what hooping, loading and all other work take may differ by
// machine; what it leaves out is [week]'s and [work]'s.
type OfferKeys struct {
	Name      string  `toml:"name"`
	Sheet     string  `toml:"sheet"`
	Heads     *int    `toml:"heads"`        // it has; default the sheet's, which are the most
	InUse     *int    `toml:"heads_in_use"` // of them, sewing; default all
	Speed     float64 `toml:"speed"`
	Existing  bool    `toml:"existing"`
	Machines  *int    `toml:"machines"`  // like it in a crew
	Operators *int    `toml:"operators"` // of such a crew
	Owned
	floor.Work
}

// DesignKeys is one [[design]].
type DesignKeys struct {
	Name   string   `toml:"name"`
	Design string   `toml:"design"`
	Weekly int      `toml:"weekly"` // pieces a week
	Order  int      `toml:"order"`  // pieces of one order; default: the week's
	Thread []string `toml:"threads"`
	floor.Goods
}

// Offer is a machine to compare, with its sheet.
type Offer struct {
	Name     string
	Existing bool
	Sheet    *machine.Sheet
	SheetID  string // machines of one sheet are drawn together
	Heads    int    // in use: the mix is sewn on these
	Fitted   int    // heads it has; 0: those in use
	Crew     Crew   // zero: the mix's
	Speed    float64
	Work     floor.Work
	Owned    Owned
}

// Crew is so many like machines under so many operators.
type Crew struct{ Machines, Operators int }

func (c Crew) check(key string) error {
	switch {
	case c.Machines < 1 || c.Machines > 40:
		return bad(key+".machines", "is %d; give 1 to 40 machines in a crew", c.Machines)
	case c.Operators < 1 || c.Operators > 40:
		return bad(key+".operators", "is %d; give 1 to 40 operators in a crew", c.Operators)
	}
	return nil
}

// labour is the operators that an hour of one of the machines pays for. Like
// machines at like work take equal minutes of their operators.
func (c Crew) labour() Dec { return Measured(float64(c.Operators) / float64(c.Machines)) }

// Wanted is a design of the mix.
type Wanted struct {
	Name    string
	Design  *stitch.Design
	Weekly  int
	Order   int
	Threads []string
	Goods   floor.Goods
	Use     thread.Use
	Counts  stitch.Counts
	Mean    float64 // mm, mean stitch length
}

// Mix is a MIX.toml with everything it names.
type Mix struct {
	Name    string
	Shifts  int     // a week
	Hours   float64 // of a shift
	Crew    Crew    // of machines that have none of their own
	Walk    float64
	Notice  float64
	Law     thread.Law
	Rates   Rates
	Offers  []Offer
	Designs []Wanted
}

// ParseMix reads a MIX.toml.
func ParseMix(name string, b []byte) (*MixFile, *tomlfile.File, error) {
	var m MixFile
	f, err := tomlfile.Decode(name, b, &m)
	if err != nil {
		return nil, nil, err
	}
	m.Work.Settle(floor.DefaultWork)
	for i := range m.Machine {
		m.Machine[i].Work.Settle(m.Work.Over(floor.DefaultWork))
	}
	return &m, f, nil
}

// Resolve reads what the file names and checks all of it. Errors name key and line.
func (mf *MixFile) Resolve(f *tomlfile.File, src floor.Sources) (*Mix, error) {
	m, err := mf.resolve(f, src)
	if err != nil {
		return nil, floor.Locate(f, err)
	}
	return m, nil
}

func (mf *MixFile) resolve(f *tomlfile.File, src floor.Sources) (*Mix, error) {
	m := &Mix{Name: mf.Name, Shifts: mf.Week.Shifts, Hours: mf.Week.Hours,
		Crew: Crew{mf.Week.Machines, mf.Week.Operators},
		Walk: mf.Week.Walk, Notice: mf.Week.Notice, Law: mf.Thread.Law(), Rates: mf.Money}
	if m.Crew.Machines == 0 && !f.Has("week.machines") {
		m.Crew.Machines = 1
	}
	if m.Crew.Operators == 0 && !f.Has("week.operators") {
		m.Crew.Operators = 1
	}
	switch {
	case m.Shifts < 1 || m.Shifts > 21:
		return nil, bad("week.shifts", "is %d; give 1 to 21 shifts a week", m.Shifts)
	case !(m.Hours > 0 && m.Hours <= 24):
		return nil, bad("week.hours", "is %g; give the planned hours of a shift, up to 24", m.Hours)
	case !(m.Walk >= 0 && m.Walk <= 3600):
		return nil, bad("week.walk_seconds", "is %g; give 0 to 3600", m.Walk)
	case !(m.Notice >= 0 && m.Notice <= 3600):
		return nil, bad("week.notice_seconds", "is %g; give 0 to 3600", m.Notice)
	case len(mf.Machine) == 0:
		return nil, bad("machine", "is missing: a comparison needs [[machine]] tables")
	case len(mf.Machine) > 40:
		return nil, bad("machine", "is given %d times; at most 40", len(mf.Machine))
	case len(mf.Design) == 0:
		return nil, bad("design", "is missing: a mix needs at least one [[design]]")
	case len(mf.Design) > 500:
		return nil, bad("design", "is given %d times; at most 500", len(mf.Design))
	}
	if !f.Has("money") {
		return nil, bad("money", "is missing: a comparison needs the shop's rates")
	}
	if err := m.Crew.check("week"); err != nil {
		return nil, err
	}
	if err := floor.CheckLaw(m.Law); err != nil {
		return nil, err
	}
	if err := m.Rates.Check(); err != nil {
		return nil, err
	}
	if len(m.Rates.Machines) > 0 {
		return nil, bad("money.machines", "belongs to a shop's file: in a mix each [[machine]] gives its own price")
	}
	names := map[string]bool{}
	for i, o := range mf.Machine {
		offer, err := mf.offer(fmt.Sprintf("machine[%d]", i+1), o, m.Crew, src, names)
		if err != nil {
			return nil, err
		}
		m.Offers = append(m.Offers, offer)
	}
	total := 0
	for i, d := range mf.Design {
		w, err := m.wanted(fmt.Sprintf("design[%d]", i+1), d, src)
		if err != nil {
			return nil, err
		}
		total += w.Weekly
		m.Designs = append(m.Designs, w)
	}
	// A mix that would take a machine years cannot be meant as a week's.
	if total > 200_000 {
		return nil, bad("design", "tables ask for %d pieces a week; at most 200,000", total)
	}
	return m, nil
}

func given(v *int, from *int) {
	if from != nil {
		*v = *from
	}
}

func (mf *MixFile) offer(key string, o OfferKeys, crew Crew, src floor.Sources, names map[string]bool) (Offer, error) {
	if o.Sheet == "" {
		return Offer{}, bad(key+".sheet", "is missing: give a sheet file or a built-in class")
	}
	sheet, err := src.Sheet(o.Sheet)
	if err != nil {
		return Offer{}, bad(key+".sheet", "%q: %v", o.Sheet, err)
	}
	if o.Name == "" {
		o.Name = sheet.Name
	}
	if names[o.Name] {
		return Offer{}, bad(key+".name", "is %q, as another machine's", o.Name)
	}
	names[o.Name] = true
	if err := (clock.Job{Speed: o.Speed}).Validate(); err != nil {
		return Offer{}, bad(key+".speed", "is %g stitches/min; give 10 to 3000", o.Speed)
	}
	if err := o.Owned.check(key); err != nil {
		return Offer{}, err
	}
	x := Offer{Name: o.Name, Existing: o.Existing, Sheet: sheet, SheetID: o.Sheet, Fitted: sheet.Heads, Crew: crew,
		Speed: o.Speed,
		Work:  o.Work.Over(mf.Work).Over(floor.DefaultWork), Owned: o.Owned}
	given(&x.Fitted, o.Heads)
	x.Heads = x.Fitted
	given(&x.Heads, o.InUse)
	given(&x.Crew.Machines, o.Machines)
	given(&x.Crew.Operators, o.Operators)
	if err := x.Crew.check(key); err != nil {
		return Offer{}, err
	}
	switch {
	case x.Fitted > sheet.Heads:
		return Offer{}, bad(key+".heads", "is %d; the sheet of %s has %d: give those it has, or another sheet",
			x.Fitted, o.Name, sheet.Heads)
	case x.Heads > x.Fitted:
		return Offer{}, bad(key+".heads_in_use", "is %d; %s has %d: give those in use, or another sheet",
			x.Heads, o.Name, x.Fitted)
	}
	// The floor checks what it is given; its machine is this one, numbered 1.
	probe := floor.Shop{Seconds: 3600, Machines: []floor.Machine{x.Work.Machine(x.Name, x.Heads)},
		Operators: []floor.Operator{{}},
		Jobs:      []floor.Job{{Runs: make([]floor.Run, 1), Machines: []int{}}}}
	if err := probe.Validate(); err != nil {
		var k *floor.KeyError
		if errors.As(err, &k) && len(k.Key) > len("machine[1]") {
			return Offer{}, bad(key+k.Key[len("machine[1]"):], "%s", k.Text)
		}
		return Offer{}, err
	}
	return x, nil
}

func (m *Mix) wanted(key string, d DesignKeys, src floor.Sources) (Wanted, error) {
	if d.Design == "" {
		return Wanted{}, bad(key+".design", "is missing: give a stitch file")
	}
	if d.Weekly < 1 || d.Weekly > 200_000 {
		return Wanted{}, bad(key+".weekly", "is %d; give 1 to 200000 pieces a week", d.Weekly)
	}
	if d.Order == 0 {
		d.Order = d.Weekly
	}
	if d.Order < 1 || d.Order > d.Weekly {
		return Wanted{}, bad(key+".order", "is %d; give 1 to the week's %d", d.Order, d.Weekly)
	}
	design, err := src.Design(d.Design)
	if err != nil {
		return Wanted{}, bad(key+".design", "%q: %v", d.Design, err)
	}
	if err := d.Goods.Clock(0).Validate(); err != nil {
		return Wanted{}, bad(key, "cannot be clocked: %v", err)
	}
	w := Wanted{Name: d.Name, Design: design, Weekly: d.Weekly, Order: d.Order,
		Threads: floor.Threads(design, d.Design, d.Thread), Goods: d.Goods, Counts: design.Count()}
	if w.Name == "" {
		w.Name = design.Name
	}
	if w.Name == "" {
		w.Name = d.Design
	}
	if w.Counts.Stitches == 0 {
		return Wanted{}, bad(key+".design", "%q sews no stitch", d.Design)
	}
	if w.Use, err = thread.Of(design, m.Law, 3); err != nil {
		return Wanted{}, bad("thread", "%v", err)
	}
	sum := 0.0
	for _, r := range design.Records {
		if r.Op.Penetrates() {
			sum += stitch.LengthMM(int(r.DX), int(r.DY))
		}
	}
	w.Mean = sum / float64(w.Counts.Stitches)
	return w, nil
}
