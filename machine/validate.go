package machine

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"gonum.org/v1/gonum/mat"
)

// MaxSD is the largest relative standard deviation (log-normal) a sheet may
// give a constant: 2 is "somewhere within a factor of 27 up or down".
const MaxSD = 2

// Limits of what is not in Constants.
const (
	maxText      = 200  // bytes of a name or class
	maxRungs     = 200  // rungs of a ladder
	maxRungMM    = 1000 // mm, no stitch is longer
	minRungSpeed = 10   // stitches/min
	maxRungSpeed = 3000 // stitches/min
	maxRuns      = 1_000_000_000
)

// Validate checks a sheet: every constant in its range, the ladder ascending
// and of equal lengths, spreads and bases of constants that exist, and the
// record of a fit (correlations symmetric, positive semidefinite). It returns
// nil or a *SheetError with all that is wrong at once.
func Validate(s *Sheet) error {
	if s == nil {
		return &SheetError{Sheet: "(none)", Problems: []Problem{{Text: "there is no sheet: hand in one"}}}
	}
	if p := check(s); len(p) > 0 {
		return &SheetError{Sheet: s.Name, Problems: p}
	}
	return nil
}

// check gives the problems in the order of the file, without lines.
func check(s *Sheet) []Problem {
	var ps []Problem
	add := func(path, format string, args ...any) {
		ps = append(ps, Problem{Path: path, Text: fmt.Sprintf(format, args...)})
	}
	for _, t := range []struct{ path, text string }{{"name", s.Name}, {"class", s.Class}} {
		switch {
		case t.path == "name" && strings.TrimSpace(t.text) == "":
			add(t.path, "name is empty: give the machine the name the shop calls it by, e.g. name = \"Bay 2\"")
		case !utf8.ValidString(t.text):
			add(t.path, "%s is not valid UTF-8 text: save the sheet as UTF-8", t.path)
		case len(t.text) > maxText:
			add(t.path, "%s is %d bytes long: shorten it to at most %d", t.path, len(t.text), maxText)
		}
	}
	for _, c := range Constants {
		if v := c.Get(s); !(v >= c.Min && v <= c.Max) {
			add(c.Path, "%s", outOfRange(c, v))
		}
	}
	checkLadder(s.Ladder, add)
	if s.Turns.To < s.Turns.Angle {
		add("turns.to", "turns.to is %s°, below turns.angle, which is %s°: write the wider angle, or remove the line "+
			"(180 is back on itself)", number(s.Turns.To), number(s.Turns.Angle))
	}
	if (s.Field.Width > 0) != (s.Field.Height > 0) {
		add("field", "the field is %d mm wide and %d mm high: write field.width and field.height, or neither",
			s.Field.Width, s.Field.Height)
	}
	checkCorrection("length", "mm", maxRungMM, s.Correction.Length, "factor", s.Correction.Factor, add)
	checkCorrection("turn_angle", "degrees", 180, s.Correction.TurnAngle, "turn_factor", s.Correction.TurnFactor, add)
	if m := s.Travel.Mode; m != FrameTravel && m != ShaftTravel {
		add("travel.mode", "travel.mode is %q: write %q (the frame moves while the shaft stands) or %q (every jump "+
			"takes a revolution)", m, FrameTravel, ShaftTravel)
	}
	for _, path := range slices.Sorted(maps.Keys(s.SD)) {
		if !spreadable("sd", path, add) {
			continue
		}
		if c, _ := ConstantAt(path); c.node > 0 && c.Get(s) == 0 {
			add("sd."+path, "[sd] names %s, and [correction] does not have so many nodes: remove this line", path)
		}
		if v := s.SD[path]; !(v >= 0 && v <= MaxSD) {
			add("sd."+path, "the spread of %s is %s: write the relative standard deviation, 0 to %d (0.25 is about "+
				"25 %% either way)%s",
				path, number(v), MaxSD, percentHint(v))
		}
	}
	for _, path := range slices.Sorted(maps.Keys(s.BasisOf)) {
		if _, ok := ConstantAt(path); !ok {
			add("basis."+path, "[basis] names %s, which is no constant of a sheet%s", path, didYouMean("basis."+path))
			continue
		}
		switch s.BasisOf[path] {
		case Assumed, Pooled, Spec, Measured, Fitted:
		default:
			add("basis."+path, "the basis of %s is %q: write %q, %q, %q, %q or %q", path, s.BasisOf[path], Assumed,
				Pooled, Spec, Measured, Fitted)
		}
	}
	if s.Pool != nil {
		checkPool(s.Pool, add)
	}
	if s.Fit != nil {
		checkFit(s.Fit, add)
		if s.Fit.Evidence != nil {
			checkEvidence(s.Fit.Evidence, add)
		}
		for i := range s.Fit.Also {
			if wrong := check(s.As(&s.Fit.Also[i])); len(wrong) > 0 {
				add("fit.also", "fit.also, kind %d: %s; learn the sheet again from its timed runs, or remove the whole "+
					"[fit] table", i+1, wrong[0].Text)
				break
			}
		}
	}
	return ps
}

type adder func(path, format string, args ...any)

// spreadable reports whether a constant may have a spread, and says why not.
func spreadable(table, path string, add adder) bool {
	c, ok := ConstantAt(path)
	switch {
	case !ok:
		add(table+"."+path, "[%s] names %s, which is no constant of a sheet%s", table, path, didYouMean(table+"."+path))
	case c.Whole:
		add(table+"."+path, "%s is a count or a step and has no spread: remove this line", path)
	default:
		return true
	}
	return false
}

func checkLadder(l Ladder, add adder) {
	if len(l.Length) != len(l.Speed) {
		add("ladder", "[ladder] has %d lengths and %d speeds: give one speed (stitches/min) for each length (mm)",
			len(l.Length), len(l.Speed))
	}
	if n := max(len(l.Length), len(l.Speed)); n > maxRungs {
		add("ladder", "[ladder] has %d rungs: write at most %d", n, maxRungs)
		return
	}
	for i, v := range l.Length {
		switch {
		case !(v > 0 && v <= maxRungMM):
			add("ladder.length", "ladder.length[%d] is %s: write a stitch length above 0 and up to %d mm", i, number(v),
				maxRungMM)
		case i > 0 && v <= l.Length[i-1]:
			add("ladder.length", "ladder.length[%d] is %s mm, not longer than the %s mm before it: write the "+
				"lengths in ascending order, each once", i, number(v), number(l.Length[i-1]))
		}
	}
	for i, v := range l.Speed {
		if !(v >= minRungSpeed && v <= maxRungSpeed) {
			add("ladder.speed", "ladder.speed[%d] is %s: write a speed from %d to %d stitches/min", i, number(v),
				minRungSpeed, maxRungSpeed)
		}
	}
}

// checkCorrection checks one correction table: nodes of 0 to most, ascending,
// and a factor for each.
func checkCorrection(at, unit string, most float64, nodes []float64, of string, factors []float64, add adder) {
	if len(nodes) != len(factors) {
		add("correction", "[correction] has %d in %s and %d in %s: give one factor for each %s", len(nodes), at,
			len(factors), of, at)
	}
	if n := max(len(nodes), len(factors)); n > MaxNodes {
		add("correction", "[correction] has %d in %s: write at most %d", n, at, MaxNodes)
		return
	}
	for i, v := range nodes {
		switch {
		case !(v >= 0 && v <= most):
			add("correction."+at, "correction.%s[%d] is %s: write 0 to %s %s", at, i, number(v), number(most), unit)
		case i > 0 && v <= nodes[i-1]:
			add("correction."+at, "correction.%s[%d] is %s %s, not above the %s before it: write them in ascending "+
				"order, each once", at, i, number(v), unit, number(nodes[i-1]))
		}
	}
	for i, v := range factors {
		if !(v >= minFactor && v <= maxFactor) {
			add("correction."+of, "correction.%s[%d] is %s: write a factor from %v to %v (1 is the law as it is)", of, i,
				number(v), minFactor, maxFactor)
		}
	}
}

func checkFit(f *Fit, add adder) {
	const again = "; learn the sheet again from its timed runs, or remove the whole [fit] table"
	if f.Runs < 0 || f.Runs > maxRuns {
		add("fit.runs", "fit.runs is %d: write the number of timed runs, 0 to %d", f.Runs, maxRuns)
	}
	if f.ModelVersion < 1 || f.ModelVersion > maxRuns {
		add("fit.model_version", "fit.model_version is %d: it counts from 1 (this program's is %d)"+again,
			f.ModelVersion, ModelVersion)
	}
	if !isDigest(f.Digest) {
		add("fit.digest", "fit.digest is %q: it is empty or 64 hexadecimal digits in lower case"+again, f.Digest)
	}
	if !(f.Residual >= 0 && f.Residual <= MaxSD) {
		add("fit.residual", "fit.residual is %s: write the relative standard deviation of a run's time, 0 to %d%s",
			number(f.Residual), MaxSD, percentHint(f.Residual))
	}
	if !(f.Changes >= 0 && f.Changes <= MaxSD) {
		add("fit.changes", "fit.changes is %s: write the relative standard deviation of one colour change, 0 to %d%s",
			number(f.Changes), MaxSD, percentHint(f.Changes))
	}
	sum := f.Weight
	for i := range f.Also {
		sum += f.Also[i].Weight
	}
	if !(f.Weight >= 0 && sum <= 1+weightTol) {
		add("fit.weight", "the chances of fit.weight and fit.also add up to %s: they are 1 at most"+again, number(sum))
	}
	for _, j := range f.Jobs {
		if _, err := parseRunsOfJob(j.String()); err != nil {
			add("fit.jobs", "fit.jobs %v", err)
		}
	}
	ok := true
	for i, path := range f.Constants {
		ok = spreadable("fit", path, func(_, format string, args ...any) { add("fit.constants", format, args...) }) &&
			ok
		if slices.Contains(f.Constants[:i], path) {
			add("fit.constants", "fit.constants names %s twice: name each constant once"+again, path)
			ok = false
		}
	}
	if len(f.Correlation) != len(f.Constants) {
		add("fit.correlation", "fit.correlation has %d rows for %d constants: it needs one row for each"+again,
			len(f.Correlation), len(f.Constants))
		return
	}
	if ok && checkCorrelation("fit.correlation", f.Correlation, add) && !semidefinite(f.Correlation) {
		add("fit.correlation", "fit.correlation is not positive semidefinite, so no set of constants can hang "+
			"together like that"+again)
	}
}

// weightTol is what rounding may add to chances that add up to 1.
const weightTol = 0.01

// Tolerances for a matrix that was rounded when written.
const (
	symmetryTol = 1e-9
	psdTol      = 1e-8 // of the smallest eigenvalue, times the size
)

func checkCorrelation(path string, m [][]float64, add adder) bool {
	ok := true
	for i, row := range m {
		if len(row) != len(m) {
			add(path, "%s, row %d has %d numbers: it needs %d, one for each constant", path, i+1,
				len(row), len(m))
			return false
		}
		for j, v := range row {
			switch {
			case !(v >= -1 && v <= 1):
				add(path, "%s, row %d, number %d is %s: a correlation is from -1 to 1", path, i+1, j+1, number(v))
				ok = false
			case i == j && math.Abs(v-1) > symmetryTol:
				add(path, "%s, row %d, number %d is %s: the diagonal is 1, since a "+
					"constant hangs wholly together with itself", path, i+1, j+1, number(v))
				ok = false
			case j < i && math.Abs(v-m[j][i]) > symmetryTol:
				add(path, "%s is not symmetric: row %d, number %d is %s and row %d, "+
					"number %d is %s; write the same number in both places", path, i+1, j+1, number(v), j+1, i+1,
					number(m[j][i]))
				ok = false
			}
		}
	}
	return ok
}

// semidefinite wants a square, finite, symmetric matrix.
func semidefinite(m [][]float64) bool {
	n := len(m)
	if n == 0 {
		return true
	}
	sym := mat.NewSymDense(n, nil)
	for i := range m {
		for j := i; j < n; j++ {
			sym.SetSym(i, j, (m[i][j]+m[j][i])/2)
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(sym, false) {
		return false
	}
	return slices.Min(eig.Values(nil)) >= -psdTol*float64(n)
}

func isDigest(s string) bool {
	if s == "" {
		return true
	}
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return len(s) == 64
}

// Range is the range a sheet may give, with the unit: "100 to 500000 mm/s²".
func (c Constant) Range() string {
	r := number(c.Min) + " to " + number(c.Max)
	if c.Unit != "" {
		r += " " + c.Unit
	}
	return r
}

// outOfRange says what the range is, and what slip the number looks like.
func outOfRange(c Constant, v float64) string {
	s := fmt.Sprintf("%s is %s: write a number from %s", c.Path, number(v), c.Range())
	if c.Whole {
		s = fmt.Sprintf("%s is %s: write a whole number from %s", c.Path, number(v), c.Range())
	}
	for _, slip := range slips[c.Unit] {
		if w := v * slip.factor; w >= c.Min && w <= c.Max {
			return s + fmt.Sprintf(" (if %s is in %s, write %s)", number(v), slip.unit, number(w))
		}
	}
	if c.Path == "frame.window" {
		if w := v / 360; w >= c.Min && w <= c.Max {
			return s + fmt.Sprintf(" (if %s is an angle in degrees, write %s, which is that angle / 360)", number(v),
				strconv.FormatFloat(w, 'g', 4, 64))
		}
	}
	return s
}

// slips are the wrong units that happen, tried in order.
var slips = map[string][]struct {
	unit   string
	factor float64
}{
	"mm/s²":        {{"m/s²", 1000}},
	"mm/s":         {{"m/s", 1000}},
	"stitches/min": {{"stitches/s", 60}, {"stitches/h", 1. / 60}},
	"s":            {{"milliseconds", 1. / 1000}},
	"rev/s²":       {{"rev/min per second", 1. / 60}},
}

func percentHint(v float64) string {
	if v > MaxSD && v <= 100*MaxSD {
		return fmt.Sprintf("; if %s is in per cent, write %s", number(v), number(v/100))
	}
	return ""
}

// number writes a number plainly, without an exponent where one can read it.
func number(v float64) string {
	if v == 0 {
		return "0" // a negative zero too
	}
	if a := math.Abs(v); a != 0 && (a < 1e-6 || a >= 1e15) {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
