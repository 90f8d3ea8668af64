package learn

import (
	"fmt"
	"slices"
	"strings"

	"needlepace/machine"
)

// mostRounds is how often accepted slips are looked for anew: one may hide
// another.
const mostRounds = 8

// meant fits, finds slips, and fits anew with those that were accepted by
// their keys, until all are in. An accepted key that is no slip of the rows is
// an error.
func meant(obs []Observation, keys []string, fit func([]Observation) (*posterior, error)) (
	*posterior, []Slip, error,
) {
	left := slices.Clone(keys)
	var accepted []Slip
	for round := 0; ; round++ {
		post, err := fit(obs)
		if err != nil {
			return nil, nil, err
		}
		var taken []Slip
		for _, s := range post.found {
			if k := slices.Index(left, s.Key); k >= 0 {
				taken, left = append(taken, s), slices.Delete(left, k, k+1)
			}
		}
		if len(taken) == 0 || round == mostRounds {
			if len(left) > 0 {
				return nil, nil, notOffered(left, post.found)
			}
			return post, accepted, nil
		}
		obs = slices.Clone(obs)
		for _, s := range taken {
			for k, i := range s.Rows {
				obs[i] = s.Meant[k]
			}
		}
		accepted = append(accepted, taken...)
	}
}

func notOffered(keys []string, offered []Slip) error {
	var have []string
	for i := range offered {
		have = append(have, offered[i].Key)
	}
	what := "no slip is found in these rows"
	if len(have) > 0 {
		what = "what may be a slip here: " + strings.Join(have, ", ")
	}
	return &NotOffered{Keys: keys, text: fmt.Sprintf("%s is no slip of these rows; %s", strings.Join(keys, ", "), what)}
}

// NotOffered is the error of Fit where Options.Meant names what is no slip of
// the rows.
type NotOffered struct {
	Keys []string
	text string
}

// Error says which keys there are.
func (e *NotOffered) Error() string { return e.text }

// slipWarnings are the questions and sentences where nothing was left to learn
// from.
func (po *posterior) slipWarnings(sheet *machine.Sheet) []Problem {
	var out []Problem
	in := make([]bool, len(po.f.model.obs))
	for k := range po.found {
		s := &po.found[k]
		out = append(out, s.problem(po.f.model))
		for _, i := range s.Rows {
			in[i] = true
		}
	}
	for i, a := range po.f.aside {
		if o := &po.f.model.obs[i]; a && !in[i] && !o.Ignored && len(out) < mostAlike {
			out = append(out, Problem{o.Row, valueColumn(o), unlikely(sheet, po.f.model, i, po.f.model.prediction(i))})
		}
	}
	return out
}

// problem is a slip among the warnings: of one row it names the place.
func (s *Slip) problem(m *model) Problem {
	p := Problem{Text: s.Asks().Text(nil)}
	if !s.shared() || s.Kind == DesignSlip {
		o := &m.obs[s.Rows[0]]
		p.Row, p.Column = o.Row, valueColumn(o)
		if s.Kind == DesignSlip {
			p.Column = "design"
		}
	}
	return p
}
