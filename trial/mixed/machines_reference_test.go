// Machines: 6 workers × 3 machines × 3 repeats, Pinheiro and Bates, Mixed-Effects Models
// in S and S-PLUS, Springer 2000, appendix A.14 and section 1.3 (from Milliken and
// Johnson 1992, p. 285). Expected values: R 4 with nlme 3.1-162, lme(score ~ Machine,
// random = ~ 1 | Worker/Machine), REML, computed elsewhere and handed down with the data.
package mixed

import (
	"encoding/csv"
	"errors"
	"io/fs"
	"math"
	"os"
	"strconv"
	"testing"
)

func machinesData(t *testing.T) *Data {
	t.Helper()
	f, err := os.Open("../../../shared/data/trial/machines.csv")
	if errors.Is(err, fs.ErrNotExist) {
		if f, err = os.Open("../../../../shared/data/trial/machines.csv"); err != nil {
			t.Skip("the Machines data are not here (../shared/data/trial/machines.csv)")
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	d := &Data{Rows: 6, Cols: 3}
	for _, r := range rows[1:] {
		worker, err1 := strconv.Atoi(r[0])
		score, err2 := strconv.ParseFloat(r[2], 64)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		d.Values = append(d.Values, Value{worker - 1, int(r[1][0] - 'A'), score})
	}
	if len(d.Values) != 54 {
		t.Fatalf("%d values, 54 are right", len(d.Values))
	}
	return d
}

func TestMachinesOfPinheiroAndBates(t *testing.T) {
	f, err := Estimate(machinesData(t))
	if err != nil {
		t.Fatal(err)
	}
	ba, seBA := f.Difference(1, 0)
	ca, seCA := f.Difference(2, 0)
	for _, c := range []struct {
		what      string
		got, want float64
		within    float64
	}{
		{"A", f.Col[0], 52.355556, 1e-5}, {"s.e. of A", math.Sqrt(f.Cov.At(0, 0)), 2.4858284, 1e-4},
		{"B − A", ba, 7.966667, 1e-5}, {"C − A", ca, 13.916667, 1e-5},
		{"s.e. of B − A", seBA, 2.1769718, 1e-4}, {"s.e. of C − A", seCA, 2.1769718, 1e-4},
		{"worker", f.Row, 4.7810499, 1e-3}, {"worker × machine", f.Cell, 3.7295320, 1e-3},
		{"residual", f.Residual, 0.9615771, 1e-5}, {"log-likelihood", f.LogLikelihood, -107.8438, 1e-4},
	} {
		if math.Abs(c.got-c.want) > c.within {
			t.Errorf("%s is %.7f, published %.7f", c.what, c.got, c.want)
		}
	}
}

// The posterior's middle is where restricted maximum likelihood is, and its spread is
// wider: it also holds what is not known of the spreads.
func TestThePosteriorOfMachines(t *testing.T) {
	d := machinesData(t)
	f, err := Estimate(d)
	if err != nil {
		t.Fatal(err)
	}
	draws, err := Sample(d, Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	var mean, square, first float64
	for _, w := range draws {
		x := w.Col[1] - w.Col[0]
		mean += x / float64(len(draws))
		square += x * x / float64(len(draws))
		if w.Col[2] > w.Col[1] && w.Col[2] > w.Col[0] {
			first += 1 / float64(len(draws))
		}
	}
	want, se := f.Difference(1, 0)
	sd := math.Sqrt(square - mean*mean)
	if math.Abs(mean-want) > 0.2 || sd < se || sd > 1.6*se {
		t.Errorf("B − A is %.2f ± %.2f by draws, %.2f ± %.2f by likelihood", mean, sd, want, se)
	}
	// By the t test with 10 degrees of freedom C − B = 5.95 ± 2.18 has a one-sided 0.010.
	if first < 0.97 || first > 0.997 {
		t.Errorf("C is first with %.3f", first)
	}
}
