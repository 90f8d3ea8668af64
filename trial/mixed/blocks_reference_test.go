package mixed

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// blocks are 8 rows of 3 columns with known effects of the rows, n values in each cell that differ by σ = 1 from one to
// the next, and what the analysis of variance says of them.
func blocks(n int, seed uint64) (d *Data, cells [8][3]float64, msRow, msCell, msError float64) {
	rng := rand.New(rand.NewPCG(seed, 3))
	d = &Data{Rows: 8, Cols: 3}
	var rows [8]float64
	var cols [3]float64
	grand := 0.0
	for r := range rows {
		for c := range cols {
			for range n {
				y := 100 + 5*float64(c) + 4*float64(r%4) + rng.NormFloat64()
				d.Values = append(d.Values, Value{r, c, y})
				cells[r][c] += y / float64(n)
			}
			rows[r] += cells[r][c] / 3
			cols[c] += cells[r][c] / 8
			grand += cells[r][c] / 24
		}
	}
	for r := range rows {
		msRow += float64(3*n) * (rows[r] - grand) * (rows[r] - grand) / 7
		for c := range cols {
			rest := cells[r][c] - rows[r] - cols[c] + grand
			msCell += float64(n) * rest * rest / 14
		}
	}
	for _, v := range d.Values {
		if n > 1 {
			msError += (v.Y - cells[v.Row][v.Col]) * (v.Y - cells[v.Row][v.Col]) / float64(24*(n-1))
		}
	}
	return d, cells, msRow, msCell, msError
}

// ninety is the middle of the middle 90 % of draws, and half its width.
func ninety(draws []Draw, of func(w *Draw) float64) (middle, half float64) {
	x := make([]float64, len(draws))
	for i := range draws {
		x[i] = of(&draws[i])
	}
	slices.Sort(x)
	n := float64(len(x))
	lo, hi := x[int(0.05*n)], x[int(0.95*n)]
	return (lo + hi) / 2, (hi - lo) / 2
}

// Where each cell has one value the intervals are those of randomised blocks (Box and Tiao, Bayesian Inference in
// Statistical Analysis, 1973, chapters 5 and 6; Student's t at 95 % with 14 and 7 degrees of freedom, a printed table,
// from memory: 1.761 and 1.895): two columns differ by their means ± 1.761 √(2 MS_error/8), and the mean of all is
// known to ± 1.895 √(MS_rows/24).
func TestIntervalsOfRandomisedBlocks(t *testing.T) {
	d, cells, msRow, msError, _ := blocks(1, 1)
	draws, err := Sample(d, Options{Draws: 20_000, Seed: 5})
	if err != nil {
		t.Fatal(err)
	}
	by, all := 0.0, 0.0
	for _, c := range cells {
		by += (c[1] - c[0]) / 8
		all += (c[0] + c[1] + c[2]) / 24
	}
	for what, v := range map[string]struct {
		of       func(w *Draw) float64
		is, half float64
	}{
		"two columns": {func(w *Draw) float64 { return w.Col[1] - w.Col[0] }, by, 1.761 * math.Sqrt(2*msError/8)},
		"all columns": {func(w *Draw) float64 { return (w.Col[0] + w.Col[1] + w.Col[2]) / 3 }, all, 1.895 * math.Sqrt(msRow/24)},
		// a further row's columns differ by what the rows' do, too: the residual stands for it
		"two columns on a further row": {func(w *Draw) float64 { return w.Next[1] - w.Next[0] }, by, 1.761 * math.Sqrt(2*msError*(1+1./8))},
	} {
		middle, half := ninety(draws, v.of)
		if math.Abs(middle-v.is) > 0.1*v.half || math.Abs(half/v.half-1) > 0.06 {
			t.Errorf("%s: %.3f ± %.3f, by the analysis of variance %.3f ± %.3f", what, middle, half, v.is, v.half)
		}
	}
}

// Of many values in a cell each is known to its mean; which draws come first says nothing; and a further row differs
// from those that are by what cells do and not by what rows do.
func TestDrawsOfWellKnownCells(t *testing.T) {
	d, cells, msRow, msCell, msError := blocks(12, 2)
	draws, err := Sample(d, Options{Draws: 6000, Seed: 6})
	if err != nil {
		t.Fatal(err)
	}
	for r := range cells {
		for c := range cells[r] {
			if middle, half := ninety(draws, func(w *Draw) float64 { return w.Cell[r][c] }); math.Abs(middle-cells[r][c]) > 0.4 || half > 0.7 {
				t.Errorf("cell %d, %d: %.2f ± %.2f, the mean of its values is %.2f", r, c, middle, half, cells[r][c])
			}
		}
	}
	rows := math.Sqrt((msRow - msCell) / 36) // what rows differ by, from the expected mean squares
	if _, half := ninety(draws, func(w *Draw) float64 { return w.Next[1] - w.Next[0] }); half > 1.7*rows*0.5 {
		t.Errorf("two columns on a further row ± %.2f, where rows differ by %.2f and cells by next to nothing (mean squares %.2f and %.2f)", half, rows, msCell, msError)
	}
	first, last := 0.0, 0.0
	for i := range draws {
		if i < len(draws)/2 {
			first += draws[i].TauRow / draws[i].SD
		} else {
			last += draws[i].TauRow / draws[i].SD
		}
	}
	if math.Abs(first/last-1) > 0.05 {
		t.Errorf("what rows differ by is %.3f of the second half's in the first half of the draws", first/last)
	}
}

func TestAsManyValuesAsColumnsAreTooFew(t *testing.T) {
	d := &Data{Rows: 1, Cols: 2, Values: []Value{{0, 0, 1}, {0, 1, 2}}}
	if _, err := Sample(d, Options{}); err != ErrFew {
		t.Errorf("Sample says %v", err)
	}
	if _, err := Estimate(d); err != ErrFew {
		t.Errorf("Estimate says %v", err)
	}
}
