package trial

import (
	"cmp"
	"errors"
	"maps"
	"math"
	"slices"
)

// Aspect is one thing that a sew-out is graded by.
type Aspect string

// The aspects of a sew-out.
const (
	Registration Aspect = "registration" // colours meet where they should
	Pull         Aspect = "pull"         // shapes keep their form
	Loops        Aspect = "loops"        // thread lies flat, above and below
	Breaks       Aspect = "breaks"       // thread breaks and what they left
	CutEnds      Aspect = "cut-ends"     // ends are short and held
	Coverage     Aspect = "coverage"     // no cloth shows through
	Puckering    Aspect = "puckering"    // the cloth lies flat
)

// Aspects are all of them, in the order of the sheet.
var Aspects = []Aspect{Registration, Pull, Loops, Breaks, CutEnds, Coverage, Puckering}

// The grades: 1 cannot be sold, 2 poor, 3 may be sold, 4 good, 5 nothing to see.
const (
	WorstGrade = 1
	BestGrade  = 5
)

// Agreement is how far two graders agree beyond chance: 1 wholly, 0 as chance would.
type Agreement struct {
	Kappa    float64 `json:"kappa" doc:"weighted"`
	SE       float64 `json:"se" doc:"standard error, of a large sample"`
	Plain    float64 `json:"same" doc:"share of pairs with the same grade"`
	Pairs    int     `json:"pairs"`
	Expected float64 `json:"expected" doc:"weighted agreement by chance"`
}

// Errors of Agree.
var (
	ErrNoPairs  = errors.New("nobody graded the same sew-out twice")
	ErrOneGrade = errors.New("all grades are the same: how far two graders agree cannot be told")
)

// Agree is the weighted kappa of two graders; pairs[i] are their grades of the same
// thing. weight is how far two grades agree, 1 for the same: nil is the quadratic
// 1 − ((a − b)/(BestGrade − WorstGrade))², which makes kappa an intraclass correlation
// (Fleiss and Cohen, Educ. Psychol. Meas. 33 (1973) 613–619).
//
// Cohen, Psychol. Bull. 70 (1968) 213–220; standard error: Fleiss, Cohen and Everitt,
// Psychol. Bull. 72 (1969) 323–327.
func Agree(pairs [][2]int, weight func(a, b int) float64) (Agreement, error) {
	out := Agreement{Pairs: len(pairs)}
	if len(pairs) == 0 {
		return out, ErrNoPairs
	}
	if weight == nil {
		weight = func(a, b int) float64 {
			d := float64(a-b) / (BestGrade - WorstGrade)
			return 1 - d*d
		}
	}
	n := float64(len(pairs))
	p, rows, cols := map[[2]int]float64{}, map[int]float64{}, map[int]float64{}
	for _, q := range pairs {
		p[q] += 1 / n
		rows[q[0]] += 1 / n
		cols[q[1]] += 1 / n
		if q[0] == q[1] {
			out.Plain += 1 / n
		}
	}
	// Sums go by rising grades: in the order of a map they would differ in the last
	// digits from one time to the next.
	var observed float64
	given := slices.SortedFunc(maps.Keys(p), func(a, b [2]int) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	for _, q := range given {
		observed += weight(q[0], q[1]) * p[q]
	}
	// Mean weights of a grade of one grader against the other's.
	rowMean, colMean := map[int]float64{}, map[int]float64{}
	for _, a := range slices.Sorted(maps.Keys(rows)) {
		for _, b := range slices.Sorted(maps.Keys(cols)) {
			w := weight(a, b)
			out.Expected += w * rows[a] * cols[b]
			rowMean[a] += w * cols[b]
			colMean[b] += w * rows[a]
		}
	}
	if 1-out.Expected < 1e-12 {
		return out, ErrOneGrade
	}
	out.Kappa = (observed - out.Expected) / (1 - out.Expected)
	sum := 0.0
	for _, q := range given {
		x := weight(q[0], q[1]) - (rowMean[q[0]]+colMean[q[1]])*(1-out.Kappa)
		sum += p[q] * x * x
	}
	back := out.Kappa - out.Expected*(1-out.Kappa)
	out.SE = math.Sqrt(max(0, sum-back*back)/n) / (1 - out.Expected)
	return out, nil
}
