package ask

import (
	"cmp"
	"slices"

	"needlepace/clock"
	"needlepace/money"
	"needlepace/words"
)

// ComparedKind is what one kind of stitches, or one part in which nothing is
// sewn, takes on each machine of a comparison.
type ComparedKind struct {
	Kind    string    `json:"kind" doc:"a kind of stitches, e.g. satin, or a part of the run in which nothing is sewn, e.g. trims"`
	Seconds []float64 `json:"seconds" doc:"on each machine, in the order of on"`
	Favours string    `json:"favours" doc:"the machine on which it takes least, by the sheets as they are"`

	name        words.Message
	best, worst int // of on
}

// lead is how much less it takes on the machine it favours than on the slowest.
func (k *ComparedKind) lead() float64 { return k.Seconds[k.worst] - k.Seconds[k.best] }

// kinds are what each kind takes on each machine, those that differ most first.
func (d *ComparedDesign) kinds(k *money.Comparison, r *money.DesignResult) {
	d.Kinds = []ComparedKind{}
	add := func(machine int, key string, name words.Message, seconds float64) {
		at := slices.IndexFunc(d.Kinds, func(c ComparedKind) bool { return c.Kind == key })
		if at < 0 {
			at = len(d.Kinds)
			d.Kinds = append(d.Kinds, ComparedKind{Kind: key, Seconds: make([]float64, len(d.On)), name: name})
		}
		d.Kinds[at].Seconds[machine] = seconds
	}
	var found Kinds
	for i := range d.On {
		o := &k.Machines[i].Offer
		c := clock.New(o.Sheet, r.Goods.Clock(o.Speed))
		for _, b := range c.ByKind(r.Design, found.of(r.Design, o.Sheet.Reading.TrimAfterJumps), c.Trace(r.Design)) {
			add(i, b.Kind.String(), b.Kind.Name(), b.Seconds())
		}
		for _, p := range standingOnly(&d.On[i].Parts) {
			if p.seconds > 0 {
				add(i, p.key, p.name, p.seconds)
			}
		}
	}
	for n := range d.Kinds {
		c := &d.Kinds[n]
		for i, s := range c.Seconds {
			if s < c.Seconds[c.best] {
				c.best = i
			}
			if s > c.Seconds[c.worst] {
				c.worst = i
			}
		}
		c.Favours = d.On[c.best].Machine
	}
	slices.SortStableFunc(d.Kinds, func(a, b ComparedKind) int { return cmp.Compare(b.lead(), a.lead()) })
	for n := range d.Kinds[:min(len(d.Kinds), mostLosses)] {
		c := &d.Kinds[n]
		if c.lead() > worthSaying {
			d.Verdict.Say("compare.kind-favours", words.Args{"kind": c.name, "machine": words.Name(c.Favours),
				"time": words.Seconds(c.Seconds[c.best]), "slowest": words.Seconds(c.Seconds[c.worst]),
				"other": words.Name(d.On[c.worst].Machine)})
		}
	}
}
