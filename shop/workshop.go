package shop

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/plan"
	"needlepace/thread"
)

// PlanSetup is the kind of the setup that says when and how the shop works:
// a Workshop. There is one, WorkshopID.
const (
	PlanSetup  SetupKind = "plan"
	WorkshopID string    = "workshop"
)

// Workshop is when and how the shop works, for plans and quotes: hours,
// holidays, machines' fields, times of hands, money. It is a WORKSHOP.toml
// (docs/orders-and-plan.md).
type Workshop struct {
	Name       string            `toml:"name"`
	Zone       string            `toml:"time_zone"`         // IANA name; default UTC
	Holidays   []string          `toml:"holidays"`          // days on which no shift begins
	ReadyBy    string            `toml:"ready_by"`          // time of the due day by which pieces must be sewn; default 17:00
	HandOver   int               `toml:"days_to_hand_over"` // days from sewn to the customer's door: packing, carriage; default 0
	Chance     float64           `toml:"promise_percent"`   // chance with which promised days are to be met; default 90
	Valid      int               `toml:"quote_valid_days"`  // default 30
	Split      float64           `toml:"split_hours"`       // a line that takes longer may be split over machines; default 8
	Horizon    int               `toml:"plan_days"`         // days the calendar is laid out for; default 120
	Terms      []string          `toml:"terms"`             // lines under a quote
	Address    []string          `toml:"address"`           // lines under the shop's name on papers
	PageURL    string            `toml:"page"`              // the page's address, for the code on a run sheet
	Shift      []ShiftHours      `toml:"shift"`             //
	Down       []DownTime        `toml:"down"`              //
	Thread     floor.ThreadKeys  `toml:"thread"`            //
	Work       floor.Work        `toml:"work"`              //
	Machine    []WorkshopMachine `toml:"machine"`           //
	Money      money.Rates       `toml:"money"`             //
	SetupApart bool              `toml:"set_up_as_fee"`     // a quote asks for set-up apart, not within the piece price
	file       *tomlfile.File
}

// ShiftHours is one [[shift]]: hours on some days of the week.
type ShiftHours struct {
	Days      []string `toml:"days"` // mon … sun; none: every day
	From      string   `toml:"from"` // 07:00
	To        string   `toml:"to"`   // at or before from: on the next day
	Operators float64  `toml:"operators"`
}

// DownTime is one [[down]]: a machine that is not to be had.
type DownTime struct {
	Machine string `toml:"machine"` // its name; empty: all machines
	From    string `toml:"from"`    // 2026-03-04 13:00
	To      string `toml:"to"`
	Why     string `toml:"why"`
}

// WorkshopMachine is one [[machine]]: what its sheet does not say.
type WorkshopMachine struct {
	Name     string    `toml:"name"`        // the machine's name in the shop
	Sheet    string    `toml:"sheet"`       // where it is not in the shop yet: a sheet file or a built-in class (command line)
	Heads    *int      `toml:"heads"`       // heads used; default all
	Speed    float64   `toml:"speed"`       // the operator's setting, stitches/min
	Field    []float64 `toml:"field"`       // largest width and height it can sew, mm; none: not checked
	CapFrame bool      `toml:"cap_frame"`   // it has one
	CapField []float64 `toml:"cap_field"`   // the same as field, on the cap frame
	Hoop     *float64  `toml:"hoop_change"` // s to change between hoops and the cap frame, all heads; default 45 s a head (assumed)
	floor.Work
}

// hoopChange is the time to change one head's frame, in s. Assumed.
const hoopChange = 45.0

var weekdays = map[string]time.Weekday{
	"mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday, "thu": time.Thursday,
	"fri": time.Friday, "sat": time.Saturday, "sun": time.Sunday,
}

// assumedHours is what a shop that has not said when it works is planned with.
const assumedHours = `
[[shift]]
days = ["mon", "tue", "wed", "thu", "fri"]
from = "08:00"
to = "16:00"
operators = 2
`

// ParseWorkshop reads a WORKSHOP.toml; name is used in errors, which have the
// key, line and column.
func ParseWorkshop(name string, toml []byte) (*Workshop, error) {
	w := &Workshop{}
	f, err := tomlfile.Decode(name, toml, w)
	if err != nil {
		return nil, Errorf(Invalid, "%w", err)
	}
	w.file = f
	if w.Zone == "" {
		w.Zone = "UTC"
	}
	if w.ReadyBy == "" {
		w.ReadyBy = "17:00"
	}
	if w.Chance == 0 {
		w.Chance = 90
	}
	if w.Valid == 0 {
		w.Valid = 30
	}
	if w.Split == 0 {
		w.Split = 8
	}
	if w.Horizon == 0 {
		w.Horizon = 120
	}
	return w, w.check()
}

func (w *Workshop) err(key, format string, a ...any) error {
	return Errorf(Invalid, "%w", w.file.Errorf(key, nil, format, a...))
}

func (w *Workshop) check() error {
	loc, err := time.LoadLocation(w.Zone)
	if err != nil {
		return w.err("time_zone", "is %q, which is no time zone known here; write it as Europe/Lisbon, or UTC", w.Zone)
	}
	for _, d := range w.Holidays {
		if _, err := DayTime(d, loc); err != nil {
			return w.err("holidays", "has %q; write days as 2026-03-20", d)
		}
	}
	if _, ok := clockTime(w.ReadyBy); !ok {
		return w.err("ready_by", "is %q; write a time of day as 17:00", w.ReadyBy)
	}
	for _, c := range []struct {
		key    string
		v      float64
		lo, hi float64
	}{
		{"days_to_hand_over", float64(w.HandOver), 0, 60}, {"promise_percent", w.Chance, 50, 99.5}, {"quote_valid_days", float64(w.Valid), 1, 366},
		{"split_hours", w.Split, .1, 10000}, {"plan_days", float64(w.Horizon), 7, 730},
	} {
		if !(c.v >= c.lo && c.v <= c.hi) {
			return w.err(c.key, "is %v; give %v to %v", c.v, c.lo, c.hi)
		}
	}
	if len(w.Shift) == 0 {
		return w.err("shift", "is missing: say when the shop works, e.g. [[shift]] days = [\"mon\"], from = \"07:00\", to = \"15:30\", operators = 2")
	}
	for i, s := range w.Shift {
		key := fmt.Sprintf("shift[%d]", i+1)
		for _, d := range s.Days {
			if _, ok := weekdays[strings.ToLower(d)]; !ok {
				return w.err(key+".days", "has %q; give mon, tue, wed, thu, fri, sat, sun", d)
			}
		}
		for _, t := range []struct{ key, v string }{{".from", s.From}, {".to", s.To}} {
			if _, ok := clockTime(t.v); !ok {
				return w.err(key+t.key, "is %q; write a time of day as 07:00", t.v)
			}
		}
		if !(s.Operators > 0 && s.Operators <= floor.MaxOperators) {
			return w.err(key+".operators", "is %v; give the operators on duty, above 0", s.Operators)
		}
	}
	for i, d := range w.Down {
		key := fmt.Sprintf("down[%d]", i+1)
		from, err1 := wallTime(d.From, loc)
		to, err2 := wallTime(d.To, loc)
		switch {
		case err1 != nil:
			return w.err(key+".from", "is %q; write it as 2026-03-04 13:00", d.From)
		case err2 != nil:
			return w.err(key+".to", "is %q; write it as 2026-03-04 15:30", d.To)
		case !to.After(from):
			return w.err(key+".to", "is not after from")
		}
	}
	seen := map[string]bool{}
	for i, m := range w.Machine {
		key := fmt.Sprintf("machine[%d]", i+1)
		switch {
		case strings.TrimSpace(m.Name) == "":
			return w.err(key+".name", "is missing: give the machine's name")
		case seen[m.Name]:
			return w.err(key+".name", "is %q, as another machine's", m.Name)
		case len(m.Field) != 0 && (len(m.Field) != 2 || !(m.Field[0] > 0) || !(m.Field[1] > 0)):
			return w.err(key+".field", "must be width and height in mm, e.g. [360, 300]")
		case len(m.CapField) != 0 && (len(m.CapField) != 2 || !(m.CapField[0] > 0) || !(m.CapField[1] > 0)):
			return w.err(key+".cap_field", "must be width and height in mm, e.g. [180, 70]")
		case m.Heads != nil && (*m.Heads < 1 || *m.Heads > floor.MaxHeads):
			return w.err(key+".heads", "is %d; give 1 to %d", *m.Heads, floor.MaxHeads)
		case m.Hoop != nil && !(*m.Hoop >= 0 && *m.Hoop <= 36000):
			return w.err(key+".hoop_change", "is %v s; give 0 to 36000", *m.Hoop)
		}
		if err := (clock.Job{Speed: m.Speed}).Validate(); err != nil {
			return w.err(key+".speed", "is %g stitches/min; give 10 to 3000", m.Speed)
		}
		seen[m.Name] = true
	}
	if err := floor.CheckLaw(w.Thread.Law()); err != nil {
		return Errorf(Invalid, "%w", floor.Locate(w.file, err))
	}
	if w.Priced() {
		if err := w.Money.Check(); err != nil {
			return Errorf(Invalid, "%w", floor.Locate(w.file, err))
		}
	}
	return nil
}

// Priced reports whether the workshop has its [money].
func (w *Workshop) Priced() bool { return w.file.Has("money") }

// Location is the shop's time zone.
func (w *Workshop) Location() *time.Location {
	loc, err := time.LoadLocation(w.Zone)
	if err != nil { // checked
		return time.UTC
	}
	return loc
}

// clockTime reads 07:00 as time since midnight; 24:00 is the day's end.
func clockTime(s string) (time.Duration, bool) {
	if s == "24:00" {
		return 24 * time.Hour, true
	}
	t, err := time.Parse("15:04", s)
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, err == nil
}

func wallTime(s string, loc *time.Location) (time.Time, error) {
	t, err := time.ParseInLocation("2006-01-02 15:04", strings.Replace(s, "T", " ", 1), loc)
	if err != nil {
		t, err = time.ParseInLocation(time.DateOnly, s, loc)
	}
	return t, err
}

// WallTime reads 2026-03-04 13:00, or a day alone, in the shop's time zone.
func (w *Workshop) WallTime(s string) (time.Time, error) {
	t, err := wallTime(s, w.Location())
	if err != nil {
		return t, Errorf(Invalid, "%q is no time; write it as 2026-03-04 13:00", s)
	}
	return t, nil
}

// calendar is when a machine works: the shifts without its down times.
func (w *Workshop) calendar(name string) *plan.Calendar {
	loc := w.Location()
	c := &plan.Calendar{Location: loc}
	for _, s := range w.Shift {
		from, _ := clockTime(s.From)
		to, _ := clockTime(s.To)
		sh := plan.Shift{From: from, To: to, Operators: s.Operators}
		for _, d := range s.Days {
			sh.Days = append(sh.Days, weekdays[strings.ToLower(d)])
		}
		c.Shifts = append(c.Shifts, sh)
	}
	for _, d := range w.Holidays {
		if t, err := DayTime(d, loc); err == nil {
			c.Holidays = append(c.Holidays, plan.DateOf(t))
		}
	}
	for _, d := range w.Down {
		if d.Machine != "" && d.Machine != name {
			continue
		}
		from, _ := wallTime(d.From, loc)
		to, _ := wallTime(d.To, loc)
		c.Closed = append(c.Closed, plan.TimeSpan{From: from, To: to})
	}
	return c
}

// dueTime is the moment by which a line due on a day must be sewn.
func (w *Workshop) dueTime(day string) (time.Time, error) {
	t, err := DayTime(day, w.Location())
	if err != nil {
		return t, err
	}
	by, _ := clockTime(w.ReadyBy)
	y, m, d := t.Date()
	return time.Date(y, m, d-w.HandOver, int(by/time.Hour), int(by%time.Hour/time.Minute), 0, 0, w.Location()), nil
}

// dayFor is the day that may be promised for pieces sewn at t.
func (w *Workshop) dayFor(t time.Time) string {
	loc := w.Location()
	t = t.In(loc)
	by, _ := clockTime(w.ReadyBy)
	y, m, d := t.Date()
	// Sewn after the hour is out on the next working day.
	if t.After(time.Date(y, m, d, int(by/time.Hour), int(by%time.Hour/time.Minute), 0, 0, loc)) {
		d++
	}
	day := time.Date(y, m, d+w.HandOver, 0, 0, 0, 0, loc)
	for range 60 {
		if w.works(day) {
			break
		}
		day = day.AddDate(0, 0, 1)
	}
	return Day(day)
}

// works reports whether some shift begins on a day.
func (w *Workshop) works(day time.Time) bool {
	if slices.Contains(w.Holidays, Day(day)) {
		return false
	}
	for _, s := range w.Shift {
		if len(s.Days) == 0 || slices.ContainsFunc(s.Days, func(d string) bool { return weekdays[strings.ToLower(d)] == day.Weekday() }) {
			return true
		}
	}
	return false
}

// supply is what thread comes on.
func (w *Workshop) supply(work floor.Work) thread.Supply {
	s := thread.DefaultSupply
	if w.Thread.Cone != nil && *w.Thread.Cone > 0 {
		s.Cone = *w.Thread.Cone
	}
	if work.BobbinMetres != nil && *work.BobbinMetres > 0 {
		s.Bobbin = *work.BobbinMetres
	}
	return s
}

// Workshop is the kept one. A shop that has none yet is planned with assumed
// hours; given is then false.
func (s *Shop) Workshop(ctx context.Context) (w *Workshop, given bool, err error) {
	toml, name := assumedHours, "the assumed hours"
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
			return nil, w.err(fmt.Sprintf("machine[%d].name", i+1), "is %q, which is no machine of the shop; it has %s", m.Name, listOr(names, "none yet"))
		}
	}
	for i, d := range w.Down {
		if d.Machine != "" && !known(d.Machine) {
			return nil, w.err(fmt.Sprintf("down[%d].machine", i+1), "is %q, which is no machine of the shop; it has %s", d.Machine, listOr(names, "none yet"))
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
		st.rates = rates.of(m.ID, *st.work.Breaks, m.Digest)
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
