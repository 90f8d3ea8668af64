package learn

import (
	"slices"

	"needlepace/machine"
)

// wholes are the constants of a term that are chosen among a few values.
var wholes = map[string][]string{
	"step":       {"shaft.speed_step"},
	"soft-start": {"shaft.soft_start_stitches"},
	"turns":      {"turns.angle", "turns.length"},
}

// chosen puts what most machines with the term have into its values.
func (p *pooling) chosen(t *machine.PooledTerm) {
	for _, path := range wholes[t.Term] {
		c, _ := machine.ConstantAt(path)
		count, top := map[float64]int{}, 0
		for _, m := range p.members {
			if !slices.Contains(m.Sheet.Fit.Terms, t.Term) {
				continue
			}
			v := c.Get(m.Sheet)
			if count[v]++; count[v] > top {
				top, t.Values[path] = count[v], v
			}
		}
	}
}

// adopt puts the terms that the class's next machine more likely has than not
// into its law, so that its other constants mean what they meant where they were
// learned. A ladder and a correction are each machine's own: the class has none.
func adopt(s *machine.Sheet, terms []machine.PooledTerm) {
	for i := range terms {
		t := &terms[i]
		if t.Odds <= 0 || len(t.Values) == 0 {
			continue
		}
		for path, v := range t.Values {
			c, _ := machine.ConstantAt(path)
			c.Set(s, v)
			s.BasisOf[path] = machine.Pooled
			if sd := t.SD[path]; sd > 0 {
				s.SD[path] = sd
			}
		}
	}
}

// lawTerms are the terms that a class of learned machines has in its law.
func lawTerms(s *machine.Sheet) (keys []string, odds float64) {
	if s.Pool == nil {
		return nil, 0
	}
	for i := range s.Pool.Terms {
		if t := &s.Pool.Terms[i]; t.Odds > 0 && len(t.Values) > 0 {
			keys, odds = append(keys, t.Term), odds+t.Odds
		}
	}
	return keys, odds
}

// without is the belief that the machine lacks a term that its class has.
func (b *belief) without(key string) (*belief, error) {
	t := b.sheet.Pool.Term(key)
	s := b.sheet.Clone()
	for path := range t.Values {
		c, _ := machine.ConstantAt(path)
		c.Set(s, plainValue(c))
		delete(s.SD, path)
	}
	n, err := believe(b.f.like(s), b.f)
	if err != nil {
		return nil, err
	}
	n.terms = slices.DeleteFunc(slices.Clone(b.terms), func(k string) bool { return k == key })
	n.odds = b.odds - t.Odds
	n.score += n.odds
	return n, nil
}

// plainValue is a constant's value where a machine does not have the term.
func plainValue(c machine.Constant) float64 {
	if c.Path == "shaft.soft_start_stitches" {
		return usualSoftStart
	}
	return c.Default
}

// usualSoftStart is how many slow stitches the built-in classes begin with.
const usualSoftStart = 3

// begin are the value and the spread that a term's constant is tried with: those
// of the class's machines where some had it, else the usual ones.
func begin(s *machine.Sheet, term, path string, value, sd float64) (float64, float64) {
	if t := s.Pool.Term(term); t != nil && t.SD[path] > 0 {
		return t.Values[path], t.SD[path]
	}
	return value, sd
}
