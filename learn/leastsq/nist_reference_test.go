// NIST/ITL Statistical Reference Datasets, nonlinear regression (StRD), https://www.itl.nist.gov/div898/strd/nls/nls_main.shtml, public domain: certified parameters, standard deviations and residual sums of squares.

package leastsq

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

type nistSet struct {
	name       string
	start      [2][]float64
	value, sd  []float64
	rss        float64
	printedDoF int
	y          []float64
	x          [][]float64
}

func readNIST(path string) (*nistSet, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	s := &nistSet{name: strings.TrimSuffix(filepath.Base(path), ".dat")}
	from, to, line := 0, 0, 0
	sc := bufio.NewScanner(f)
	for sc.Scan() {
		line++
		t := sc.Text()
		w := strings.Fields(t)
		switch {
		case strings.Contains(t, "Data ") && strings.Contains(t, "(lines") && line < 10:
			if _, err := fmt.Sscanf(t[strings.Index(t, "(lines"):], "(lines %d to %d)", &from, &to); err != nil {
				return nil, err
			}
		case len(w) == 6 && strings.HasPrefix(w[0], "b") && w[1] == "=":
			var v [4]float64
			for i := range v {
				if v[i], err = strconv.ParseFloat(w[i+2], 64); err != nil {
					return nil, err
				}
			}
			s.start[0] = append(s.start[0], v[0])
			s.start[1] = append(s.start[1], v[1])
			s.value = append(s.value, v[2])
			s.sd = append(s.sd, v[3])
		case strings.HasPrefix(t, "Residual Sum of Squares:"):
			s.rss, err = strconv.ParseFloat(w[len(w)-1], 64)
		case strings.HasPrefix(t, "Degrees of Freedom:"):
			s.printedDoF, err = strconv.Atoi(w[len(w)-1])
		case line >= from && line <= to && from > 0 && len(w) > 1:
			var row []float64
			for _, c := range w {
				v, err := strconv.ParseFloat(c, 64)
				if err != nil {
					return nil, err
				}
				row = append(row, v)
			}
			s.y = append(s.y, row[0])
			s.x = append(s.x, row[1:])
		}
		if err != nil {
			return nil, fmt.Errorf("%s line %d: %w", path, line, err)
		}
	}
	if len(s.y) == 0 || len(s.value) == 0 {
		return nil, fmt.Errorf("%s: %d data rows, %d parameters", path, len(s.y), len(s.value))
	}
	return s, sc.Err()
}

func polynomial(b []float64, x float64) float64 {
	v := 0.0
	for i := len(b) - 1; i >= 0; i-- {
		v = v*x + b[i]
	}
	return v
}

func oneMinusExp(b, x []float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x[0])) }
func chwirut(b, x []float64) float64     { return math.Exp(-b[0]*x[0]) / (b[1] + b[2]*x[0]) }
func lanczos(b, x []float64) float64 {
	return b[0]*math.Exp(-b[1]*x[0]) + b[2]*math.Exp(-b[3]*x[0]) + b[4]*math.Exp(-b[5]*x[0])
}
func gauss(b, x []float64) float64 {
	return b[0]*math.Exp(-b[1]*x[0]) + b[2]*math.Exp(-sq(x[0]-b[3])/sq(b[4])) + b[5]*math.Exp(-sq(x[0]-b[6])/sq(b[7]))
}
func cubic(b, x []float64) float64 {
	return polynomial(b[:4], x[0]) / polynomial([]float64{1, b[4], b[5], b[6]}, x[0])
}

var nistModels = map[string]func(b, x []float64) float64{
	"Bennett5": func(b, x []float64) float64 { return b[0] * math.Pow(b[1]+x[0], -1/b[2]) },
	"BoxBOD":   oneMinusExp,
	"Chwirut1": chwirut,
	"Chwirut2": chwirut,
	"DanWood":  func(b, x []float64) float64 { return b[0] * math.Pow(x[0], b[1]) },
	"ENSO": func(b, x []float64) float64 {
		a := 2 * math.Pi * x[0]
		return b[0] + b[1]*math.Cos(a/12) + b[2]*math.Sin(a/12) + b[4]*math.Cos(a/b[3]) + b[5]*math.Sin(a/b[3]) +
			b[7]*math.Cos(a/b[6]) + b[8]*math.Sin(a/b[6])
	},
	"Eckerle4": func(b, x []float64) float64 { return b[0] / b[1] * math.Exp(-0.5*sq((x[0]-b[2])/b[1])) },
	"Gauss1":   gauss, "Gauss2": gauss, "Gauss3": gauss,
	"Hahn1": cubic,
	"Kirby2": func(b, x []float64) float64 {
		return polynomial(b[:3], x[0]) / polynomial([]float64{1, b[3], b[4]}, x[0])
	},
	"Lanczos1": lanczos, "Lanczos2": lanczos, "Lanczos3": lanczos,
	"MGH09":    func(b, x []float64) float64 { return b[0] * (sq(x[0]) + x[0]*b[1]) / (sq(x[0]) + x[0]*b[2] + b[3]) },
	"MGH10":    func(b, x []float64) float64 { return b[0] * math.Exp(b[1]/(x[0]+b[2])) },
	"MGH17":    func(b, x []float64) float64 { return b[0] + b[1]*math.Exp(-x[0]*b[3]) + b[2]*math.Exp(-x[0]*b[4]) },
	"Misra1a":  oneMinusExp,
	"Misra1b":  func(b, x []float64) float64 { return b[0] * (1 - math.Pow(1+b[1]*x[0]/2, -2)) },
	"Misra1c":  func(b, x []float64) float64 { return b[0] * (1 - math.Pow(1+2*b[1]*x[0], -0.5)) },
	"Misra1d":  func(b, x []float64) float64 { return b[0] * b[1] * x[0] / (1 + b[1]*x[0]) },
	"Nelson":   func(b, x []float64) float64 { return b[0] - b[1]*x[0]*math.Exp(-b[2]*x[1]) },
	"Rat42":    func(b, x []float64) float64 { return b[0] / (1 + math.Exp(b[1]-b[2]*x[0])) },
	"Rat43":    func(b, x []float64) float64 { return b[0] / math.Pow(1+math.Exp(b[1]-b[2]*x[0]), 1/b[3]) },
	"Roszman1": func(b, x []float64) float64 { return b[0] - b[1]*x[0] - math.Atan(b[2]/(x[0]-b[3]))/math.Pi },
	"Thurber":  cubic,
}

func (s *nistSet) problem() Problem {
	model := nistModels[s.name]
	return Problem{M: len(s.y), N: len(s.value), Residual: func(b, r []float64) {
		for i, y := range s.y {
			if s.name == "Nelson" { // this set is certified for log y
				y = math.Log(y)
			}
			r[i] = y - model(b, s.x[i])
		}
	}}
}

// digits is the log relative error: how many leading digits agree, at most 11
// since the certified values have 11.
func digits(got, want float64) float64 {
	if got == want {
		return 11
	}
	return min(11, -math.Log10(math.Abs(got-want)/math.Abs(want)))
}

func worst(got, want []float64) float64 {
	d := 11.0
	for i := range want {
		d = min(d, digits(got[i], want[i]))
	}
	return d
}

// need is the digits asked of the parameters from each start and of the
// standard deviations. Lanczos1's residuals are data rounding (RSS 1.4e-25,
// below what double precision differences resolve): its sum of squares and
// hence its spreads cannot have more than a few digits in any double code.
func need(name string) (start1, start2, sd float64) {
	if name == "Lanczos1" {
		return 6, 6, 1
	}
	return 6, 6, 6
}

func checkNIST(t *testing.T, path string) {
	s, err := readNIST(path)
	if err != nil {
		t.Fatal(err)
	}
	if nistModels[s.name] == nil {
		t.Fatalf("no model for %s", s.name)
	}
	n1, n2, nsd := need(s.name)
	for k, want := range []float64{n1, n2} {
		res, err := Solve(s.problem(), s.start[k], Options{})
		if err != nil {
			t.Errorf("%s start %d: %v", s.name, k+1, err)
			continue
		}
		p := worst(res.X, s.value)
		cov, err := res.covariance()
		if err != nil {
			t.Errorf("%s start %d: %v", s.name, k+1, err)
			continue
		}
		n := len(s.value)
		got := make([]float64, n)
		for i := range got {
			got[i] = math.Sqrt(cov[i*n+i])
		}
		d := worst(got, s.sd)
		t.Logf("%-9s start %d: %4.1f digits, deviations %4.1f, RSS %4.1f, %4d iterations, %5d evaluations, converged %v",
			s.name, k+1, p, d, digits(res.RSS, s.rss), res.Iterations, res.Evals, res.Converged)
		if p < want || d < nsd || !res.Converged {
			t.Errorf("%s start %d: %.1f digits in the parameters (need %g), %.1f in their deviations (need %g), converged %v\n got %v\nwant %v",
				s.name, k+1, p, want, d, nsd, res.Converged, res.X, s.value)
		}
	}
}

func TestNISTKeptSets(t *testing.T) {
	for _, name := range []string{"Misra1a", "DanWood", "BoxBOD", "MGH09", "MGH10", "Thurber", "Bennett5", "Rat43"} {
		checkNIST(t, filepath.Join("testdata", name+".dat"))
	}
}

func TestNISTAllSets(t *testing.T) {
	files, _ := filepath.Glob("../../../shared/data/nist/*.dat")
	if len(files) == 0 {
		t.Skip("the folder of NIST sets is not here; the sets in testdata are always checked")
	}
	if len(files) != len(nistModels) {
		t.Errorf("%d files, %d models", len(files), len(nistModels))
	}
	for _, f := range files {
		checkNIST(t, f)
	}
}

// Rat43's file prints 9 degrees of freedom; 15 observations and 4 parameters
// leave 11, and only 11 gives its certified standard deviations.
func TestRat43HasElevenDegreesOfFreedom(t *testing.T) {
	s, err := readNIST(filepath.Join("testdata", "Rat43.dat"))
	if err != nil {
		t.Fatal(err)
	}
	if s.printedDoF != 9 || len(s.y)-len(s.value) != 11 {
		t.Fatalf("printed %d, counted %d", s.printedDoF, len(s.y)-len(s.value))
	}
}
