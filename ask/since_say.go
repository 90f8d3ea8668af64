package ask

import (
	"cmp"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/words"
)

// asOurs is the error of a question, if it is one.
func asOurs(err error) (*Error, bool) {
	var e *Error
	ok := errors.As(err, &e)
	return e, ok
}

func newSaying(kept *book.Plan, now []book.Input, today words.Day) *saying {
	s := &saying{kept.Zone, today, map[string]bool{}, map[string]bool{}, map[string]string{}}
	for _, all := range [][]book.Input{kept.Inputs, now} {
		for i := range all {
			switch in := &all[i]; in.Kind {
			case book.SheetInput, book.DesignInput:
				s.names[in.ID] = in.Name
			case book.OrderInput:
				for key := range in.Facts {
					if n, _, ok := lineOf(key); ok && n != 1 {
						s.several[in.ID] = true
					}
				}
			}
		}
	}
	return s
}

// WorkshopChanges says in words what a workshop has otherwise than another:
// hours, days off, down times, machines' settings, prices, rules.
func WorkshopChanges(was, is *book.Workshop, now time.Time) words.Sentences {
	names := &book.Plan{Zone: was.Zone}
	for _, w := range []*book.Workshop{was, is} {
		for i := range w.Machine { // prices name machines by their IDs
			m := &w.Machine[i]
			names.Inputs = append(names.Inputs, book.Input{Kind: book.SheetInput, ID: m.ID, Name: m.Name})
		}
	}
	said, out := newSaying(names, nil, was.Zone.Day(now)), words.Sentences{}
	for _, c := range book.ChangedInputs(was.Inputs(), is.Inputs()) {
		if m := said.change(&c); !m.IsZero() {
			out = append(out, m)
		}
	}
	return out
}

var lineKey = regexp.MustCompile(`^lines\[(\d+)\]\.(.+)$`)

// lineOf takes a line's key apart.
func lineOf(key string) (n int, rest string, ok bool) {
	m := lineKey.FindStringSubmatch(key)
	if m == nil {
		return 0, key, false
	}
	n, err := strconv.Atoi(m[1])
	return n, m[2], err == nil
}

// saying puts changes into words.
type saying struct {
	zone    words.Zone
	today   words.Day
	several map[string]bool   // orders of several lines
	bare    map[string]bool   // what is said already: lines that are new or gone, reports
	names   map[string]string // of machines and designs, by their IDs
}

// change is a change in words; nothing where another says it.
func (s *saying) change(c *book.InputChange) words.Message {
	name, was, is := words.Value(words.Name(c.Name)), s.value(c.Was), s.value(c.Is)
	switch c.Kind {
	case book.DesignInput:
		switch {
		case c.How != book.InputChanged:
			return words.Message{} // with its order
		case c.Key != "removed":
			return words.Say("since.design-threads", words.Args{"name": name})
		case c.Is == "":
			return words.Say("since.design-back", words.Args{"name": name})
		}
		return words.Say("since.design-off", words.Args{"name": name})
	case book.DownInput:
		from, to := s.value(c.Facts["from"]), s.value(c.Facts["to"])
		if c.Name == "" {
			name = words.Say("since.all-machines")
		}
		if c.How == book.InputAdded {
			return words.Say("since.down", words.Args{"name": name, "from": from, "to": to})
		}
		return words.Say("since.up", words.Args{"name": name, "from": from, "to": to})
	case book.DayOffInput:
		if day, err := words.ParseDay(c.ID); err == nil {
			name = words.NearDay{Day: day, Today: s.today}
		}
	case book.ReportsInput:
		counted := "reports of " + c.ID
		switch {
		case c.How == book.InputAdded:
			return words.Say("since-changed."+string(c.Kind),
				words.Args{"name": name, "was": words.Whole(0), "is": words.Name(c.Facts["reports"])})
		case c.Key == "sum" && s.bare[counted]:
			return words.Message{}
		case c.Key == "sum":
			return words.Say("since.reports-corrected", words.Args{"name": name})
		}
		s.bare[counted] = true
	case book.HoursInput:
		if c.Key == "operators" {
			return words.Say("since.operators", words.Args{"name": name, "was": was, "is": is})
		}
	case book.SheetInput:
		if c.How == book.InputChanged {
			return words.Say("since.sheet", words.Args{"name": name})
		}
	case book.PricesInput:
		if c.Key == "sum" || c.How != book.InputChanged {
			return words.Say("since.all-prices")
		}
		return s.fact(c)
	case book.OrderInput, book.MachineInput, book.RulesInput:
		if c.How == book.InputChanged {
			return s.fact(c)
		}
	}
	switch c.How {
	case book.InputAdded:
		return words.Say("since-added."+string(c.Kind), words.Args{"name": name})
	case book.InputRemoved:
		return words.Say("since-removed."+string(c.Kind), words.Args{"name": name})
	}
	return words.Say("since-changed."+string(c.Kind), words.Args{"name": name, "was": was, "is": is})
}

// fact is one changed fact of a thing in words.
func (s *saying) fact(c *book.InputChange) words.Message {
	n, rest, isLine := lineOf(c.Key)
	what, was, is := s.keyName(rest), s.value(c.Was), s.value(c.Is)
	if c.Kind != book.OrderInput { // of a setting that nobody gave, what then counts
		none := words.Say("since.not-given")
		if rest == "heads" {
			none = words.Say("since.all-heads")
		}
		if c.Was == "" {
			was = none
		}
		if c.Is == "" {
			is = none
		}
	}
	switch c.Kind {
	case book.PricesInput:
		return words.Say("since.prices", words.Args{"what": what, "was": was, "is": is})
	case book.RulesInput:
		return words.Say("since.rules", words.Args{"what": what, "was": was, "is": is})
	}
	if isLine {
		line, name := fmt.Sprintf("%s/%d", c.ID, n), words.Name(c.Name)
		switch {
		case s.bare[line]:
			return words.Message{}
		case rest == "design" && c.Was == "":
			s.bare[line] = true
			return words.Say("since.line-added", words.Args{"name": name, "line": words.Whole(n)})
		case rest == "design" && c.Is == "":
			s.bare[line] = true
			return words.Say("since.line-removed", words.Args{"name": name, "line": words.Whole(n)})
		}
		if strings.HasPrefix(rest, "holds[") { // one sentence, whatever of it changed
			if s.bare[line+" holds"] {
				return words.Message{}
			}
			s.bare[line+" holds"] = true
			return words.Say("since.holds", words.Args{"name": words.Name(book.LineNamed(c.Name, n, s.several[c.ID]))})
		}
		if rest == "good" || rest == "spoilt" || rest == "again" { // none of them is no fact
			if c.Was == "" {
				was = words.Whole(0)
			}
			if c.Is == "" {
				is = words.Whole(0)
			}
		}
		if s.several[c.ID] {
			what = words.Say("since.of-line", words.Args{"line": words.Whole(n), "what": what})
		}
	}
	return words.Say("since-fact."+string(c.Kind), words.Args{"name": words.Name(c.Name), "what": what, "was": was,
		"is": is})
}

// sinceKeys are the keys that have a name of their own in the catalogue.
var sinceKeys = []string{"due", "latest", "goods", "promised", "weight", "quantity", "speed", "good", "spoilt", "again", "setup",
	"promise_percent", "split_hours", "labour_per_hour", "heads"}

// keyName is a key of a file in words.
func (s *saying) keyName(key string) words.Value {
	if slices.Contains(sinceKeys, key) {
		return words.Say("since-key." + key)
	}
	var name words.Value
	for p := range strings.SplitSeq(key, ".") {
		part := s.partName(p)
		if name == nil {
			name = part
		} else {
			name = words.Say("since.of-part", words.Args{"of": name, "part": part})
		}
	}
	return name
}

// sinceParts are the parts of keys that have a name in the catalogue.
var sinceParts = []string{"partner", "name", "days", "price", "sent", "back", "approval", "due", "given", "deliveries", "day", "pieces", "came",
	"placement", "garment", "threads", "together", "design"}

// partName is a part of a key in words, with the place in its list.
func (s *saying) partName(p string) words.Value {
	p, at, listed := strings.Cut(p, "[")
	name := words.Value(words.Name(cmp.Or(s.names[p], strings.ReplaceAll(p, "_", " "))))
	if slices.Contains(sinceParts, p) {
		name = words.Say("since-part." + p)
	}
	if listed {
		return words.Say("since.nth", words.Args{"of": name, "n": words.Name(strings.TrimSuffix(at, "]"))})
	}
	return name
}

// value is a fact in words: days by the weekday, times by the shop's clocks.
func (s *saying) value(text string) words.Value {
	if text == "" {
		return words.Say("since.none")
	}
	if day, err := words.ParseDay(text); err == nil {
		return words.NearDay{Day: day, Today: s.today}
	}
	for _, form := range []string{"2006-01-02 15:04", "2006-01-02T15:04"} {
		if t, err := time.ParseInLocation(form, text, s.zone.Location()); err == nil {
			return s.zone.Near(t, s.zone.At(s.today, 0))
		}
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return s.zone.Near(t, s.zone.At(s.today, 0))
	}
	return words.Name(cmp.Or(s.names[text], text))
}

// say puts the answer into sentences.
func (a *SinceAnswer) say() {
	if len(a.Changes) == 0 {
		if len(a.Caveats) == 0 {
			a.Verdict.Say("since.nothing")
		}
		return
	}
	a.Verdict.Say("since.changed", words.Args{"n": words.Whole(len(a.Changes))})
	if !a.reckoned {
		return
	}
	later, sooner, out := 0, 0, 0
	for i := range a.Lines {
		switch l := &a.Lines[i]; {
		case l.Is.IsZero():
			out++
		case l.Was.IsZero():
		case l.Is.After(l.Was):
			later++
		default:
			sooner++
		}
	}
	late := words.Say("since.still-late", words.Args{"n": words.Whole(a.LateIs)})
	switch {
	case a.LateIs == a.LateWas && a.LateIs == 0:
		late = words.Say("since.still-none")
	case a.LateIs != a.LateWas:
		late = words.Say("since.late", words.Args{"is": words.Whole(a.LateIs), "was": words.Whole(a.LateWas)})
	}
	a.Verdict = append(a.Verdict, late)
	if later+sooner == 0 {
		a.Verdict.Say("since.same-ends")
	} else {
		a.Verdict.Say("since.ends", words.Args{"later": words.Count(later, "line"), "sooner": words.Count(sooner, "line")})
	}
	if a.unplanned > 0 {
		a.Verdict.Say("since.unplanned", words.Args{"lines": words.Whole(a.unplanned)})
	}
	if out > 0 {
		a.Verdict.Say("since.out", words.Args{"lines": words.Whole(out)})
	}
}

// Stale reports whether the plan is not of what is known now.
func (a *SinceAnswer) Stale() bool { return a != nil && len(a.Changes)+len(a.Caveats) > 0 }

// Line is what is said of a plan that is not of what is known now, in one line; nothing where it is.
func (a *SinceAnswer) Line() words.Message {
	if !a.Stale() {
		return words.Message{}
	}
	return append(slices.Clone(a.Verdict), a.Caveats...)[0]
}

// Orders are the numbers of the orders that changed.
func (a *SinceAnswer) Orders() []string {
	out := []string{}
	if a == nil {
		return out
	}
	for i := range a.Changes {
		if c := &a.Changes[i]; c.Kind == book.OrderInput && !slices.Contains(out, c.Name) {
			out = append(out, c.Name)
		}
	}
	slices.Sort(out)
	return out
}

// ChangeTable is what changed, a row a change.
func (a *SinceAnswer) ChangeTable() *Table {
	t := table("changes", words.Say("since.changes"), column("what", "column.what"))
	for i := range a.Changes {
		t.add(a.Changes[i].Say)
	}
	return t
}

// LineTable is when lines end by the plan and with what is known now.
func (a *SinceAnswer) LineTable() *Table {
	t := table("since", words.Say("since.lines"),
		column("order", "column.order"),
		column("customer", "column.customer"),
		column("due", "column.due"),
		column("was", "column.sewn-by-plan"),
		column("is", "column.as-things-are"),
	)
	at := func(x time.Time, late float64, none words.Message) words.Value {
		if x.IsZero() {
			return none
		}
		return sewn(nil, a.zone.Near(x, a.zone.At(a.today, 0)), late)
	}
	for i := range a.Lines {
		l := &a.Lines[i]
		t.add(figured{words.Whole(l.Order), words.Name(l.Name)}, words.Name(l.Customer),
			words.NearDay{Day: l.Due, Today: a.today}, at(l.Was, l.LateWas, words.Say("since.in-no-plan")),
			at(l.Is, l.LateIs, words.Say("since.cannot")))
	}
	return t
}
