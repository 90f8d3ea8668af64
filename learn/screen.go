package learn

import (
	"fmt"
	"math"

	"needlepace/machine"
)

// screen finds the rows that cannot be times of what they say, before the
// fit: a time shorter than the stitches at the set speed without a single
// stop, or eight times away from what any such machine takes. true: set aside.
func screen(sheet *machine.Sheet, free []machine.Constant, obs []Observation, pr *prior) []bool {
	m := newModel(sheet, free, obs)
	m.move(pr.mean)
	aside := make([]bool, len(obs))
	for i := range obs {
		o := &obs[i]
		p := m.prediction(i)
		if o.Kind == DisplayReading {
			aside[i] = o.Shown > o.SetSpeed+4*o.StandardError() || o.Shown < p/4
			continue
		}
		least := leastSeconds(sheet, m.of[i], o)
		aside[i] = o.Seconds < least-4*o.StandardError()-0.02*least || o.Seconds > 8*p+300
	}
	return aside
}

// leastSeconds is the revolutions at the set speed, no stop, no long stitch.
func leastSeconds(sheet *machine.Sheet, g *group, o *Observation) float64 {
	n := 0
	for b, c := range g.blocks {
		if o.Kind == WholeRun || b == o.Block-1 {
			n += c.stitches
		}
	}
	return float64(n) * 60 / min(o.SetSpeed, sheet.MaxSpeed)
}

// slipSentences says what each row set aside, or found to be a slip by the
// fit, may have been meant to be. predicted is by the best sheet there is.
func slipSentence(sheet *machine.Sheet, m *model, i int, predicted float64) string {
	o := &m.obs[i]
	if o.Kind == DisplayReading {
		if o.Shown > o.SetSpeed {
			return fmt.Sprintf("%.0f/min is above the set speed of %.0f/min: a slip? It was set aside", o.Shown, o.SetSpeed)
		}
		return fmt.Sprintf("%.0f/min where this machine should hold about %.0f/min: a slip? It was set aside", o.Shown, predicted)
	}
	s := fmt.Sprintf("%s is no likely time for %s, which should take about %s", mmss(o.Seconds), o.What(), mmss(predicted))
	if least := leastSeconds(sheet, m.of[i], o); o.Seconds < least {
		s = fmt.Sprintf("%s is less than the stitches of %s take without a single stop (%s)", mmss(o.Seconds), o.What(), mmss(least))
	}
	near := func(a, b float64) bool { return math.Abs(math.Log(a/b)) < 0.15 }
	switch {
	case near(o.Seconds*60, predicted):
		return s + fmt.Sprintf(": were %g minutes written as seconds? It was set aside", o.Seconds)
	case near(o.Seconds/60, predicted):
		return s + fmt.Sprintf(": were %g seconds written as minutes? It was set aside", o.Seconds/60)
	}
	for j := range m.obs {
		q := &m.obs[j]
		if q.Kind == o.Kind && q.Design != nil && (q.Design != o.Design || q.Block != o.Block) {
			probe := newModel(m.base, m.free, []Observation{{Kind: o.Kind, Design: q.Design, Block: q.Block, SetSpeed: o.SetSpeed, Seconds: o.Seconds}})
			probe.move(m.at)
			if p := probe.prediction(0); math.Abs(p/o.Seconds-1) < 0.03 {
				return s + fmt.Sprintf(": it would fit %s, was that meant? It was set aside", q.What())
			}
		}
	}
	if o.Kind == BlockRun {
		whole := newModel(m.base, m.free, []Observation{{Kind: WholeRun, Design: o.Design, SetSpeed: o.SetSpeed, Seconds: o.Seconds}})
		whole.move(m.at)
		if near(o.Seconds, whole.prediction(0)) {
			return s + ": it would fit the whole run, should the block be empty? It was set aside"
		}
	}
	return s + ": a slip, or another design? It was set aside"
}

// slipWarnings are the sentences where nothing but slips was left.
func slipWarnings(sheet *machine.Sheet, free []machine.Constant, obs []Observation, pr *prior, aside []bool) []Problem {
	m := newModel(sheet, free, obs)
	m.move(pr.mean)
	var out []Problem
	for i, a := range aside {
		if a {
			out = append(out, Problem{obs[i].Row, valueColumn(&obs[i]), slipSentence(sheet, m, i, m.prediction(i))})
		}
	}
	return out
}

func valueColumn(o *Observation) string {
	if o.Kind == DisplayReading {
		return "shown_speed"
	}
	return "seconds"
}

// mmss is a time for a sentence: 27 min 22 s, 48.5 s, 1 h 02 min 05 s.
func mmss(s float64) string {
	if s < 100 {
		return fmt.Sprintf("%.1f s", s)
	}
	n := int(math.Round(s))
	if n < 3600 {
		return fmt.Sprintf("%d min %02d s", n/60, n%60)
	}
	return fmt.Sprintf("%d h %02d min %02d s", n/3600, n/60%60, n%60)
}
