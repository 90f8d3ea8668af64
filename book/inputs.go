package book

import (
	"cmp"
	"encoding"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"

	"needlepace/words"
)

// InputKind is what kind of thing a plan is made from.
type InputKind string

// The kinds of inputs.
const (
	OrderInput   InputKind = "order"   // an order that is to be sewn
	DesignInput  InputKind = "design"  // a design of such an order
	MachineInput InputKind = "machine" // a machine's settings and hands, as the workshop says them
	SheetInput   InputKind = "sheet"   // a machine's sheet
	DownInput    InputKind = "down"    // a stretch in which a machine, or every machine, is not to be had
	HoursInput   InputKind = "hours"   // a day of the week
	DayOffInput  InputKind = "day_off" // a day without shifts
	PricesInput  InputKind = "prices"  // what things cost
	RulesInput   InputKind = "rules"   // the other keys of the workshop
	ReportsInput InputKind = "reports" // what the floor reported of a machine
)

// Input is one thing that a plan is made from, with what the plan knew of it.
// A fact that is zero is left out.
type Input struct {
	Kind  InputKind         `json:"kind"`
	ID    string            `json:"id"`
	Name  string            `json:"name"`            // what people call it
	Facts map[string]string `json:"facts,omitempty"` // by the key of the file or of JSON; "sheet": its digest
}

// InputChange is one fact that is another than when a plan was made.
type InputChange struct {
	Kind InputKind `json:"kind"`
	ID   string    `json:"id"`
	Name string    `json:"name"`
	How  string    `json:"how"` // added, removed, changed
	Key  string    `json:"key"` // of the fact; empty: the whole
	Was  string    `json:"was"`
	Is   string    `json:"is"`
	// Facts are those of what was added or removed.
	Facts map[string]string `json:"facts,omitempty"`
}

// The ways in which an input changes.
const (
	InputAdded   = "added"
	InputRemoved = "removed"
	InputChanged = "changed"
)

// ChangedInputs says what differs between the inputs of a plan and those of
// now: in the order of was, what is new last.
func ChangedInputs(was, is []Input) []InputChange {
	type key struct {
		kind InputKind
		id   string
	}
	now := map[key]*Input{}
	for i := range is {
		now[key{is[i].Kind, is[i].ID}] = &is[i]
	}
	out := []InputChange{}
	for i := range was {
		w := &was[i]
		k := key{w.Kind, w.ID}
		n := now[k]
		delete(now, k)
		if n == nil {
			out = append(out, InputChange{Kind: w.Kind, ID: w.ID, Name: w.Name, How: InputRemoved, Facts: w.Facts})
			continue
		}
		keys := map[string]bool{}
		for f := range w.Facts {
			keys[f] = true
		}
		for f := range n.Facts {
			keys[f] = true
		}
		var some []InputChange
		for f := range keys {
			if w.Facts[f] != n.Facts[f] {
				some = append(some, InputChange{Kind: n.Kind, ID: n.ID, Name: n.Name,
					How: InputChanged, Key: f, Was: w.Facts[f], Is: n.Facts[f]})
			}
		}
		slices.SortFunc(some, func(a, b InputChange) int { return cmp.Compare(a.Key, b.Key) })
		out = append(out, some...)
	}
	for i := range is {
		n := &is[i]
		if now[key{n.Kind, n.ID}] == n {
			out = append(out, InputChange{Kind: n.Kind, ID: n.ID, Name: n.Name, How: InputAdded, Facts: n.Facts})
		}
	}
	return out
}

// notOfPlan are the keys of an order and of a workshop that no plan is made
// from. A key that is not named here counts: what somebody adds is watched.
var notOfPlan = map[reflect.Type]string{
	reflect.TypeFor[Order](): "id number customer customer_address purchase_order note state made changed version " +
		"roughs",
	reflect.TypeFor[OrderLine](): "line placement garment digitize spoilt foretold delivered",
	reflect.TypeFor[Partner]():   "price",
	reflect.TypeFor[Workshop](): "name holidays quote_valid_days terms address page shift down machine money " +
		"set_up_as_fee quote_standard",
	reflect.TypeFor[WorkshopMachine](): "name sheet usual_share_percent",
}

// Input is the order as a plan's input.
func (o *Order) Input() Input {
	f := facts{out: map[string]string{}, tag: "json"}
	f.add("", reflect.ValueOf(*o))
	return Input{OrderInput, o.ID, fmt.Sprint(o.Number), f.out}
}

// Inputs are the workshop as a plan's inputs: every day of the week, days off,
// down times, machines' settings, prices and rules, each for itself.
func (w *Workshop) Inputs() []Input {
	var out []Input
	of := func(kind InputKind, id, called string, v any) {
		f := facts{out: map[string]string{}, tag: "toml"}
		f.add("", reflect.ValueOf(v))
		out = append(out, Input{kind, id, called, f.out})
	}
	for _, day := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		var hours, hands []string
		for _, s := range w.Shift {
			is := func(d string) bool { return weekdays[strings.ToLower(d)] == weekdays[day] }
			if len(s.Days) == 0 || slices.ContainsFunc(s.Days, is) {
				hours = append(hours, s.From+" to "+s.To)
				hands = append(hands, fmt.Sprint(s.Operators))
			}
		}
		in := Input{HoursInput, day, weekdays[day].String(), map[string]string{}}
		if len(hours) > 0 {
			in.Facts["hours"], in.Facts["operators"] = strings.Join(hours, ", "), strings.Join(hands, ", ")
		}
		out = append(out, in)
	}
	for _, d := range w.Holidays {
		out = append(out, Input{Kind: DayOffInput, ID: d.String(), Name: d.String()})
	}
	for _, d := range w.Down {
		out = append(out, Input{DownInput, cmp.Or(d.ID, d.Machine) + " " + d.From + " " + d.To, d.Machine,
			map[string]string{"from": d.From, "to": d.To}})
	}
	for i := range w.Machine {
		m := &w.Machine[i]
		of(MachineInput, cmp.Or(m.ID, m.Name), m.Name, *m)
	}
	of(PricesInput, "", "", w.Money)
	of(RulesInput, "", "", *w)
	return out
}

// facts flattens a value into texts by the paths of their keys.
type facts struct {
	out map[string]string
	tag string // of the keys
}

func (f *facts) add(path string, v reflect.Value) {
	for v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return
		}
		// A zero that somebody wrote is not the same as nothing.
		if v = v.Elem(); v.IsZero() && v.Kind() != reflect.Struct {
			f.out[path] = fmt.Sprint(v.Interface())
			return
		}
	}
	if v.IsZero() {
		return
	}
	switch x := v.Interface().(type) {
	case time.Time:
		f.out[path] = x.UTC().Format(time.RFC3339)
		return
	case encoding.TextMarshaler:
		if b, err := x.MarshalText(); err == nil {
			f.out[path] = string(b)
			return
		}
	case fmt.Stringer:
		f.out[path] = x.String()
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		t := v.Type()
		skip := strings.Fields(notOfPlan[t])
		for i := range t.NumField() {
			field := t.Field(i)
			key, _, _ := strings.Cut(field.Tag.Get(f.tag), ",")
			switch {
			case !field.IsExported() || key == "-" || slices.Contains(skip, key):
			case key == "" && field.Anonymous:
				f.add(path, v.Field(i))
			default:
				f.add(under(path, cmp.Or(key, strings.ToLower(field.Name))), v.Field(i))
			}
		}
	case reflect.Slice, reflect.Array:
		f.list(path, v)
	case reflect.Map:
		for _, k := range v.MapKeys() {
			f.add(under(path, fmt.Sprint(k.Interface())), v.MapIndex(k))
		}
	default:
		f.out[path] = fmt.Sprint(v.Interface())
	}
}

// list is a list of plain values as one fact, of others as one fact each; an
// order's line by its own number.
func (f *facts) list(path string, v reflect.Value) {
	var plain []string
	for i := range v.Len() {
		e := reflect.Indirect(v.Index(i))
		_, text := e.Interface().(encoding.TextMarshaler)
		if e.Kind() != reflect.Struct || text {
			plain = append(plain, fmt.Sprint(e.Interface()))
			continue
		}
		n := i + 1
		if own := e.FieldByName("Line"); own.IsValid() && own.CanInt() {
			n = int(own.Int())
		}
		f.add(fmt.Sprintf("%s[%d]", path, n), e)
	}
	if plain != nil {
		f.out[path] = strings.Join(plain, ", ")
	}
}

func under(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// Past reports whether a change is of a day or a down time that is over: it
// changes nothing any more.
func (c *InputChange) Past(w *Workshop, now time.Time) bool {
	switch c.Kind {
	case DayOffInput:
		day, err := words.ParseDay(c.ID)
		return err == nil && day.Before(w.Zone.Day(now))
	case DownInput:
		end, err := w.WallTime(c.Facts["to"])
		return err == nil && end.Before(now)
	}
	return false
}
