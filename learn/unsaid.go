package learn

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"needlepace/machine"
	"needlepace/words"
)

// unsaid is what the rows were if their colours were on other needles than 1, 2, 3 and so on, which they are taken
// to be on where nothing is written. A colour stop then takes less than it seems to.
type unsaid struct {
	written, meant *posterior // by the plain law
	chance         float64    // of it, 0…1
}

// From which natural logarithm of the odds other needles are asked about, against needles 1, 2, 3 with colour changes that differ
// as their prior lets them. Changes that differ look much the same in the rows, and only who timed them knows which it was: at
// this limit 12 of 32 machines on other needles were asked about, and 14 of 32 whose changes people have a hand in
// (docs/study-zoo.md).
const needlesOdds = -1.2

// doubt keeps the fit with needles that nobody knows, by its odds against the rows as written, and gives the odds of the
// question, on the scale of slipOdds.
func (s *slipSearch) doubt(meant *posterior, c *sharedSlip) float64 {
	odds := s.overChanges(*c) + math.Log(c.chance) - s.overChanges(sharedSlip{})
	s.po.unsaid = &unsaid{s.po, meant, 1 / (1 + math.Exp(-odds))}
	return odds + slipOdds - needlesOdds
}

// overChanges is the evidence of a shared slip under the error of the model that suits it best, in the mean over how much
// colour changes may differ: at its best size a scatter that was never meant to be likely explains most.
func (s *slipSearch) overChanges(c sharedSlip) float64 {
	f := s.po.f
	linear := s.linear(c)
	best := math.Inf(-1)
	for _, e := range s.errors() {
		var at []float64
		for _, size := range changeSizes {
			at = append(at, linear(e, size)-f.changesPrior(size)+f.changesChance(size))
		}
		best = max(best, floats.LogSumExp(at))
	}
	return best
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
