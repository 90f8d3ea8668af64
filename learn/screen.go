package learn

import (
	"fmt"

	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// screen finds the rows that cannot be times of what they say, with the model at
// the prior's mean: a time shorter than the stitches at the set speed without a single
// stop, or eight times away from what any such machine takes. true: set aside.
func (m *model) screen() []bool {
	aside := make([]bool, len(m.obs))
	for i := range m.obs {
		o := &m.obs[i]
		p := m.prediction(i)
		if o.Ignored {
			aside[i] = true
			continue
		}
		if o.Kind == DisplayReading {
			aside[i] = o.Shown > o.SetSpeed+4*o.StandardError() || o.Shown < p/4
			continue
		}
		least := leastSeconds(m.base, m.of[i], o)
		aside[i] = o.Seconds < least-4*o.StandardError()-0.02*least || o.Seconds > 8*p+300
	}
	return aside
}

// leastSeconds is the revolutions at the set speed, no stop, no long stitch.
func leastSeconds(sheet *machine.Sheet, g *group, o *Observation) float64 {
	n := 0
	for b, c := range g.blocks {
		if g.sewn(o, b) {
			n += c.stitches
		}
	}
	return float64(n) * 60 / min(o.SetSpeed, sheet.MaxSpeed)
}

// unlikely says what is wrong with a row that was set aside, or that the fit
// takes for a number from nowhere, and that no slip explains. predicted is by
// the best sheet there is.
func unlikely(sheet *machine.Sheet, m *model, i int, predicted float64) string {
	o := &m.obs[i]
	if o.Kind == DisplayReading {
		if o.Shown > o.SetSpeed {
			return fmt.Sprintf("%.0f/min is above the set speed of %.0f/min: a slip? It was set aside", o.Shown,
				o.SetSpeed)
		}
		return fmt.Sprintf("%.0f/min where this machine should hold about %.0f/min: a slip? It was set aside", o.Shown,
			predicted)
	}
	if least := leastSeconds(sheet, m.of[i], o); o.Seconds < least {
		return fmt.Sprintf("%s is less than the stitches of %s take without a single stop (%s): a slip, or another "+
			"design? It was set aside", words.Seconds(o.Seconds).Text(nil), o.What(), words.Seconds(least).Text(nil))
	}
	return fmt.Sprintf("%s is no likely time for %s, which should take about %s: a slip, or another design? It was "+
		"set aside", words.Seconds(o.Seconds).Text(nil), o.What(), words.Seconds(predicted).Text(nil))
}

// timing is what a time was of.
type timing struct {
	kind   Kind
	design *stitch.Design
	block  int
	speed  float64 // set, stitches/min
	job    machine.Jobs
}

// timed is each design and block that some row times, once.
func (m *model) timed() []Observation {
	if m.things == nil {
		seen := map[timing]bool{}
		for i := range m.obs {
			o := &m.obs[i]
			k := timing{kind: o.Kind, design: o.Design, block: o.Block}
			if o.Design != nil && !seen[k] {
				seen[k] = true
				m.things = append(m.things, Observation{Kind: o.Kind, Name: o.Name, Design: o.Design, Block: o.Block})
			}
		}
	}
	return m.things
}

// probe predicts a time that no row need have. Files of thousands of slips ask
// for the same few again and again: each is clocked once.
func (m *model) probe(o *Observation) float64 {
	k := timing{o.Kind, o.Design, o.Block, o.SetSpeed, o.Job}
	v, ok := m.probes[k]
	if !ok {
		one := m.like(m.base, m.free, []Observation{*o})
		one.move(m.at)
		v = one.prediction(0)
		if m.probes == nil {
			m.probes = map[timing]float64{}
		}
		m.probes[k] = v
	}
	return v
}

func valueColumn(o *Observation) string {
	if o.Kind == DisplayReading {
		return "shown_speed"
	}
	return "seconds"
}
