package learn

import (
	"math"
	"slices"
	"strings"

	"needlepace/machine"
	"needlepace/words"
)

// unsaid is what the rows were if their colours were on other needles than 1, 2, 3 and so on, which they are taken
// to be on where nothing is written. A colour stop then takes less than it seems to.
type unsaid struct {
	written, meant *posterior // by the plain law
	chance         float64    // of it, 0…1
}

// From which natural logarithm of the odds other needles are asked about: against colour changes that take the same each
// time, and against all that might explain the rows as well. Colour changes that differ look much the same in
// the rows, and who timed them knows which it was. Assumed; with every constant known as in a class, of three runs, rows
// of needles 1, 2, 3 exceed the first in 1 of 80 files and rows of needles drawn by lot in 1 of 2, whatever the method: the rest
// cannot be told (docs/study-zoo.md).
const (
	needlesOdds       = 0
	needlesOddsOfBest = -2.5
)

// doubt keeps the fit with needles that nobody knows, by its odds against the rows as written under the errors that suit
// them best, and gives the odds of the question, on the scale of slipOdds.
func (s *slipSearch) doubt(meant *posterior, odds float64, written weighed) float64 {
	s.po.unsaid = &unsaid{s.po, meant, 1 / (1 + math.Exp(-odds))}
	if odds < needlesOddsOfBest {
		return odds
	}
	return odds + max(written.evidence, s.other) - written.even + slipOdds - needlesOdds
}

// shift is where the rests lie if other needles were used: the difference of their logarithms, and how far a colour stop
// is less well known then, with what goes along.
func (u *unsaid) shift() (paths []string, by, along []float64) {
	free := u.written.f.model.free
	stop := slices.IndexFunc(free, func(c machine.Constant) bool { return c.Path == "rest.colour_stop" })
	if stop < 0 {
		return nil, nil, nil
	}
	was, now := u.written.thetaCov(), u.meant.thetaCov()
	more := math.Sqrt(max(now.At(stop, stop)-was.At(stop, stop), 0))
	for k, c := range free {
		if strings.HasPrefix(c.Path, "rest.") {
			paths = append(paths, c.Path)
			by = append(by, u.meant.f.theta[k]-u.written.f.theta[k])
			along = append(along, more*now.At(k, stop)/now.At(stop, stop))
		}
	}
	return paths, by, along
}

// believed reports whether other needles are likely enough to count.
func (u *unsaid) believed() bool { return u != nil && u.chance >= leastWeight }

// doubt puts the chance of other needles into a sheet: kinds of machine of quicker colour stops.
func (u *unsaid) doubt(s *machine.Sheet) {
	if !u.believed() {
		return
	}
	paths, by, along := u.shift()
	if len(paths) == 0 {
		return
	}
	if len(s.Fit.Also) == 0 {
		s.Fit.Weight = 1
	}
	s.Fit.Weight = round(s.Fit.Weight*(1-u.chance), 3)
	for i := range s.Fit.Also {
		s.Fit.Also[i].Weight = round(s.Fit.Also[i].Weight*(1-u.chance), 3)
	}
	// Three equal parts have the variance of a normal where the outer lie √1.5 deviations out.
	for _, z := range []float64{-math.Sqrt(1.5), 0, math.Sqrt(1.5)} {
		a := machine.Alternative{Weight: round(u.chance/3, 3), Terms: s.Fit.Terms, Values: map[string]float64{}}
		for k, path := range paths {
			c, _ := machine.ConstantAt(path)
			a.Values[path] = min(max(round(c.Get(s)*math.Exp(by[k]+z*along[k]), 5), c.Min), c.Max)
		}
		s.Fit.Also = append(s.Fit.Also, a)
	}
}

// ask asks for the needles where they matter and nothing else asks for them.
func (u *unsaid) ask(s *machine.Sheet) (out Suggestion, ok bool) {
	if !u.believed() {
		return out, false
	}
	paths, by, along := u.shift()
	k := slices.Index(paths, "rest.colour_stop")
	if k < 0 {
		return out, false
	}
	after := s.SD[paths[k]]
	v := sq(logSD(after)) + u.chance*(1-u.chance)*sq(by[k]) + u.chance*sq(along[k])
	return Suggestion{What: words.Say("learn.next-needles", words.Args{"stop": TimeOf(s.Rest.ColourStop),
		"other": TimeOf(s.Rest.ColourStop * math.Exp(by[k]))}).Raw(), Gain: math.Log(v/sq(logSD(after))) / 2,
		Sharpens: paths[k], Before: relSD(math.Sqrt(v)), After: after}, true
}
