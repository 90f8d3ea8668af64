package learn

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Foretold is a whole run that was timed, and what was predicted before it.
type Foretold struct {
	Observation
	Design string // equal for runs of one design

	Predicted, Low, High float64 // s
	Level                float64 // chance that Low to High is made to hold
}

// off is ln(read ÷ predicted).
func (f *Foretold) off() float64 { return math.Log(f.Seconds / f.Predicted) }

// Inside reports whether the machine's own time may lie in the predicted range:
// the range is widened by the error of the reading (the law of propagation of
// uncertainty, JCGM 100, 5.1.2).
func (f *Foretold) Inside() bool {
	half := f.Predicted - f.Low
	if f.Seconds > f.Predicted {
		half = f.High - f.Predicted
	}
	read := f.reading() * distuv.UnitNormal.Quantile((1+f.Level)/2)
	return math.Abs(f.Seconds-f.Predicted) <= math.Hypot(half, read)
}

// Score is how good the predictions of runs were that were timed later.
type Score struct {
	Runs    int // that count
	Designs int // different ones among them
	Apart   int // runs that stand apart from the others (an interruption, a slip of the pen) and do not count

	// Bias is how much longer the runs took than predicted, relative (the mean of
	// the logarithms); below 0 shorter. Low to High holds it with a chance of 90 %,
	// BiasChance is that of a bias as large by chance alone: Student's t,
	// Biometrika 6 (1908) 1–25. One run has no range and a BiasChance of 1.
	Bias, Low, High, BiasChance float64

	// Inside is how many runs lie in their range, of Expected. InsideLow to
	// InsideHigh holds the share with a chance of 90 % (Clopper and Pearson,
	// Biometrika 26 (1934) 404–413), TooFew and TooMany are the chances of as few
	// and as many if each run lay inside with the chance that it should (binomial).
	// The runs share what the sheet has wrong, so they fall together more often
	// than that: a chance of 1 % is one for the runs, not for the sheet.
	Inside                int
	Expected              float64
	InsideLow, InsideHigh float64 // shares
	TooFew, TooMany       float64
}

// When a score is worth a sentence.
const (
	ScoreFew   = 5     // fewer runs are not judged
	ScoreSure  = 0.01  // chance below which a score is no chance
	scoreMinor = 0.005 // a smaller bias changes nobody's day
	apartFrom  = 5.0   // robust deviations from the median
)

// Few reports that there are too few runs to judge by.
func (s *Score) Few() bool { return s.Runs < ScoreFew }

// Biased reports that the runs took longer or shorter than predicted, beyond
// chance and by enough to matter.
func (s *Score) Biased() bool {
	return !s.Few() && s.BiasChance < ScoreSure && math.Abs(s.Bias) >= scoreMinor
}

// Narrow reports that fewer runs than chance allows lie in their range.
func (s *Score) Narrow() bool { return !s.Few() && s.TooFew < ScoreSure }

// Wide reports that more runs than chance allows lie in their range.
func (s *Score) Wide() bool { return !s.Few() && s.TooMany < ScoreSure }

// ScoreOf scores predictions; counted[i] tells whether run i counts. Runs that
// stand apart from the others do not: more than five robust deviations from the
// median (Davies and Gather, J. Amer. Statist. Assoc. 88 (1993) 782–792). Where
// more than one run in four does, it is the machine, and all count.
func ScoreOf(runs []Foretold) (s Score, counted []bool) {
	off := make([]float64, len(runs))
	for i := range runs {
		off[i] = runs[i].off()
	}
	counted = alike(runs, off)
	var kept []float64
	designs := map[string]bool{}
	for i := range runs {
		if !counted[i] {
			s.Apart++
			continue
		}
		s.Runs++
		kept = append(kept, off[i])
		designs[runs[i].Design] = true
		s.Expected += runs[i].Level
		if runs[i].Inside() {
			s.Inside++
		}
	}
	s.Designs = len(designs)
	if s.Runs == 0 {
		return s, counted
	}
	n, k := float64(s.Runs), float64(s.Inside)
	mean, sd := stat.MeanStdDev(kept, nil)
	s.Bias, s.Low, s.High, s.BiasChance = math.Expm1(mean), math.Expm1(mean), math.Expm1(mean), 1
	if s.Runs > 1 {
		t := distuv.StudentsT{Sigma: 1, Nu: n - 1}
		se := max(sd, 1e-9) / math.Sqrt(n)
		half := t.Quantile(0.95) * se
		s.Low, s.High, s.BiasChance = math.Expm1(mean-half), math.Expm1(mean+half), 2*t.CDF(-math.Abs(mean)/se)
	}
	share := distuv.Binomial{N: n, P: s.Expected / n}
	s.TooFew, s.TooMany = share.CDF(k), 1-share.CDF(k-1)
	s.InsideHigh = 1
	if k > 0 {
		s.InsideLow = distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile(0.05)
	}
	if k < n {
		s.InsideHigh = distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile(0.95)
	}
	return s, counted
}

// alike tells which runs do not stand apart from the others.
func alike(runs []Foretold, off []float64) []bool {
	in := make([]bool, len(runs))
	for i := range in {
		in[i] = true
	}
	if len(runs) == 0 {
		return in
	}
	mid := middle(off)
	away := make([]float64, len(off))
	for i, v := range off {
		away[i] = math.Abs(v - mid)
	}
	mad := 1.4826 * middle(away)
	apart := 0
	for i := range runs {
		own := math.Hypot(runs[i].reading()/runs[i].Predicted, RunToRun)
		if away[i] > apartFrom*max(mad, own) {
			in[i] = false
			apart++
		}
	}
	if 4*apart > len(runs) {
		for i := range in {
			in[i] = true
		}
	}
	return in
}

func middle(v []float64) float64 {
	s := slices.Sorted(slices.Values(v))
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}
