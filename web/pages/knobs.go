package pages

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"needlepace/money"
	"needlepace/shop"
)

// knob is one number or choice of a setup that a form can turn.
type knob struct {
	Name, Label string
	Kind        string // "number", "text", "tick", "choice"
	Value       string
	On          bool
	Options     []option
	Step        string
	set         func(string) error
}

type option struct{ Value, Label string }

// knobs gathers a form's knobs and puts a query's values into them.
type knobs struct {
	q     url.Values
	asked bool // the query is a form of this page, not empty
	err   error
}

func newKnobs(q url.Values) *knobs { return &knobs{q: q, asked: q.Get("form") == "1"} }

func (k *knobs) turn(n knob) knob {
	if k.asked {
		v, given := k.q.Get(n.Name), k.q.Has(n.Name)
		if n.Kind == "tick" {
			v, given = "false", true
			if k.q.Get(n.Name) == "1" {
				v = "true"
			}
		}
		if given {
			if err := n.set(strings.TrimSpace(v)); err != nil && k.err == nil {
				k.err = shop.Errorf(shop.Invalid, "%s is %q: %v", n.Label, v, err)
			}
		}
	}
	return n
}

// amount is a knob on a float64; empty means 0 where zero is allowed to be left out.
func (k *knobs) amount(name, label string, at *float64) knob {
	n := k.turn(knob{Name: name, Label: label, Kind: "number", Step: "any", set: func(s string) error {
		if s == "" {
			*at = 0
			return nil
		}
		v, err := strconv.ParseFloat(strings.ReplaceAll(s, ",", "."), 64)
		if err == nil {
			*at = v
		}
		return plain(err)
	}})
	if *at != 0 {
		n.Value = raw(*at)
	}
	return n
}

// optional is a knob on a number that may be left out.
func (k *knobs) optional(name, label string, at **float64) knob {
	n := k.turn(knob{Name: name, Label: label, Kind: "number", Step: "any", set: func(s string) error {
		if s == "" {
			*at = nil
			return nil
		}
		v, err := strconv.ParseFloat(strings.ReplaceAll(s, ",", "."), 64)
		if err == nil {
			*at = &v
		}
		return plain(err)
	}})
	if *at != nil {
		n.Value = raw(**at)
	}
	return n
}

func (k *knobs) whole(name, label string, at *int) knob {
	n := k.turn(knob{Name: name, Label: label, Kind: "number", Step: "1", set: func(s string) error {
		if s == "" {
			*at = 0
			return nil
		}
		v, err := strconv.Atoi(s)
		if err == nil {
			*at = v
		}
		return plain(err)
	}})
	if *at != 0 {
		n.Value = strconv.Itoa(*at)
	}
	return n
}

func (k *knobs) wholeOptional(name, label string, at **int) knob {
	n := k.turn(knob{Name: name, Label: label, Kind: "number", Step: "1", set: func(s string) error {
		if s == "" {
			*at = nil
			return nil
		}
		v, err := strconv.Atoi(s)
		if err == nil {
			*at = &v
		}
		return plain(err)
	}})
	if *at != nil {
		n.Value = strconv.Itoa(**at)
	}
	return n
}

func (k *knobs) money(name, label string, at *money.Amount) knob {
	n := k.turn(knob{Name: name, Label: label, Kind: "number", Step: "any", set: func(s string) error {
		if s == "" { // not given; what costs nothing is written as 0
			*at = money.Amount{}
			return nil
		}
		var v money.Amount
		if err := v.UnmarshalText([]byte(s)); err != nil {
			return err
		}
		*at = v
		return nil
	}})
	if at.Given() {
		n.Value = at.String()
	}
	return n
}

func (k *knobs) text(name, label string, at *string) knob {
	n := k.turn(knob{Name: name, Label: label, Kind: "text", set: func(s string) error { *at = s; return nil }})
	n.Value = *at
	return n
}

func (k *knobs) tick(name, label string, at *bool) knob {
	n := k.turn(knob{Name: name, Label: label, Kind: "tick", set: func(s string) error { *at = s == "true"; return nil }})
	n.On = *at
	return n
}

func (k *knobs) choice(name, label string, at *string, options []option) knob {
	if !slices.ContainsFunc(options, func(o option) bool { return o.Value == *at }) { // named otherwise, e.g. by its name
		options = append([]option{{*at, *at}}, options...)
	}
	n := k.turn(knob{Name: name, Label: label, Kind: "choice", Options: options, set: func(s string) error { *at = s; return nil }})
	n.Value = *at
	return n
}

// dropped reports whether the form takes an entry away.
func (k *knobs) dropped(name string) bool { return k.asked && k.q.Get(name+".drop") == "1" }

// added is what the form adds: "" for nothing.
func (k *knobs) added(name string) string {
	if !k.asked {
		return ""
	}
	return k.q.Get(name)
}

func plain(err error) error {
	if err != nil {
		return fmt.Errorf("it must be a number")
	}
	return nil
}

// knobRow is one machine, design, job … with its knobs.
type knobRow struct {
	Name  string // shown in front
	Says  string // read out where no name is shown
	Drop  string // name of the box that takes it away
	Knobs []knob
}

// knobGroup is a part of the form.
type knobGroup struct {
	Title string
	Rows  []knobRow
	Add   *knob  // something more
	With  []knob // what is asked of it
}
