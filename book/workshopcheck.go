package book

import (
	"fmt"
	"strings"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/internal/tomlfile"
)

// ParseWorkshop reads a WORKSHOP.toml; name is used in errors, which have the
// key, line and column.
func ParseWorkshop(name string, toml []byte) (*Workshop, error) {
	w := &Workshop{}
	f, err := tomlfile.Decode(name, toml, w)
	if err != nil {
		return nil, err
	}
	w.file = f
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

// Errorf is an error about a key of the file: "machine[2].name".
func (w *Workshop) Errorf(key, format string, a ...any) error {
	return w.file.Errorf(key, nil, format, a...)
}

func (w *Workshop) check() error {
	if _, ok := clockTime(w.ReadyBy); !ok {
		return w.Errorf("ready_by", "is %q; write a time of day as 17:00", w.ReadyBy)
	}
	for _, c := range []struct {
		key    string
		v      float64
		lo, hi float64
	}{
		{"days_to_hand_over", float64(w.HandOver), 0, 60}, {"promise_percent", w.Chance, 50, 99.5},
		{"quote_valid_days", float64(w.Valid), 1, 366},
		{"split_hours", w.Split, .1, 10000}, {"plan_days", float64(w.Horizon), 7, 730},
	} {
		if !(c.v >= c.lo && c.v <= c.hi) {
			return w.Errorf(c.key, "is %v; give %v to %v", c.v, c.lo, c.hi)
		}
	}
	if len(w.Shift) == 0 {
		return w.Errorf("shift", "is missing: say when the shop works, e.g. "+
			`[[shift]] days = ["mon"], from = "07:00", to = "15:30", operators = 2`)
	}
	for i, s := range w.Shift {
		key := fmt.Sprintf("shift[%d]", i+1)
		for _, d := range s.Days {
			if _, ok := weekdays[strings.ToLower(d)]; !ok {
				return w.Errorf(key+".days", "has %q; give mon, tue, wed, thu, fri, sat, sun", d)
			}
		}
		for _, t := range []struct{ key, v string }{{".from", s.From}, {".to", s.To}} {
			if _, ok := clockTime(t.v); !ok {
				return w.Errorf(key+t.key, "is %q; write a time of day as 07:00", t.v)
			}
		}
		if !(s.Operators > 0 && s.Operators <= floor.MaxOperators) {
			return w.Errorf(key+".operators", "is %v; give the operators on duty, above 0", s.Operators)
		}
	}
	for i, d := range w.Down {
		key := fmt.Sprintf("down[%d]", i+1)
		from, err1 := wallTime(d.From, w.Location())
		to, err2 := wallTime(d.To, w.Location())
		switch {
		case err1 != nil:
			return w.Errorf(key+".from", "is %q; write it as 2026-03-04 13:00", d.From)
		case err2 != nil:
			return w.Errorf(key+".to", "is %q; write it as 2026-03-04 15:30", d.To)
		case !to.After(from):
			return w.Errorf(key+".to", "is not after from")
		}
	}
	if err := w.checkGoal(); err != nil {
		return err
	}
	if err := w.checkMachines(); err != nil {
		return err
	}
	if err := floor.CheckLaw(w.Thread.Law()); err != nil {
		return floor.Locate(w.file, err)
	}
	if w.Priced() {
		if err := w.Money.Check(); err != nil {
			return floor.Locate(w.file, err)
		}
	}
	return nil
}

func (w *Workshop) checkMachines() error {
	seen, shares := map[string]bool{}, 0.0
	for i, m := range w.Machine {
		key := fmt.Sprintf("machine[%d]", i+1)
		switch {
		case strings.TrimSpace(m.Name) == "":
			return w.Errorf(key+".name", "is missing: give the machine's name")
		case seen[m.Name]:
			return w.Errorf(key+".name", "is %q, as another machine's", m.Name)
		case len(m.Field) != 0 && (len(m.Field) != 2 || !(m.Field[0] > 0) || !(m.Field[1] > 0)):
			return w.Errorf(key+".field", "must be width and height in mm, e.g. [360, 300]")
		case len(m.CapField) != 0 && (len(m.CapField) != 2 || !(m.CapField[0] > 0) || !(m.CapField[1] > 0)):
			return w.Errorf(key+".cap_field", "must be width and height in mm, e.g. [180, 70]")
		case m.Heads != nil && (*m.Heads < 1 || *m.Heads > floor.MaxHeads):
			return w.Errorf(key+".heads", "is %d; give 1 to %d", *m.Heads, floor.MaxHeads)
		case m.Hoop != nil && !(*m.Hoop >= 0 && *m.Hoop <= 36000):
			return w.Errorf(key+".hoop_change", "is %v s; give 0 to 36000", *m.Hoop)
		case m.Share != nil && !(*m.Share >= 0 && *m.Share <= 100):
			return w.Errorf(key+".usual_share_percent", "is %v; give 0 to 100", *m.Share)
		}
		if err := (clock.Job{Speed: m.Speed}).Validate(); err != nil {
			return w.Errorf(key+".speed", "is %g stitches/min; give 10 to 3000", m.Speed)
		}
		seen[m.Name] = true
		if m.Share == nil {
			continue
		}
		if shares += *m.Share; shares > 100+1e-9 {
			return w.Errorf(key+".usual_share_percent", "brings the shares of all machines to %v; give 100 together at the most",
				shares)
		}
	}
	return nil
}

// Priced reports whether the workshop has its [money].
func (w *Workshop) Priced() bool { return w.file.Has("money") }
