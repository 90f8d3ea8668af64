package mixed

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// simulated is a trial of so many rows, columns and repeats, σ = 1, and its truth. lost
// values are left out at random.
func simulated(rng *rand.Rand, rows, cols, repeats, lost int, row, cell float64) (*Data, [][]float64, []float64) {
	d := &Data{Rows: rows, Cols: cols}
	truth, beta := make([][]float64, rows), make([]float64, cols)
	for c := range beta {
		beta[c] = 2 * rng.NormFloat64()
	}
	for r := range rows {
		u := row * rng.NormFloat64()
		for c := range cols {
			truth[r] = append(truth[r], beta[c]+u+cell*rng.NormFloat64())
			for range repeats {
				d.Values = append(d.Values, Value{r, c, truth[r][c] + rng.NormFloat64()})
			}
		}
	}
	for range lost {
		k := rng.IntN(len(d.Values))
		d.Values = slices.Delete(d.Values, k, k+1)
	}
	return d, truth, beta
}

// inside reports whether the middle 90 % of draws hold the truth.
func inside(x []float64, truth float64) bool {
	slices.Sort(x)
	n := float64(len(x))
	return x[int(0.05*n)] <= truth && truth <= x[int(0.95*n)]
}

// covered is how often intervals of 90 % held the difference of two columns, that of two
// cells of a row, and that of two columns on a further row; and how sure it was which
// column is least on a further row, and how often it was.
type covered struct{ columns, cells, further, sure, right float64 }

func coverage(t *testing.T, seed uint64, trials, draws, rows, lost int, cell float64) (c covered) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 1))
	add := func(to *float64, x []float64, truth float64) {
		if inside(x, truth) {
			*to += 0.5 / float64(trials)
		}
	}
	for range trials {
		d, truth, beta := simulated(rng, rows, 3, 3, lost, 5, cell)
		further := make([]float64, d.Cols)
		for k := range further {
			further[k] = beta[k] + cell*rng.NormFloat64()
		}
		all, err := Sample(d, Options{Draws: draws, Seed: rng.Uint64()})
		if err != nil {
			t.Fatal(err)
		}
		chance := make([]float64, d.Cols)
		for _, w := range all {
			chance[slices.Index(w.Next, slices.Min(w.Next))] += 1 / float64(len(all))
		}
		most := slices.Max(chance)
		c.sure += most / float64(trials)
		if further[slices.Index(chance, most)] == slices.Min(further) {
			c.right += 1 / float64(trials)
		}
		for _, pair := range [][2]int{{0, 1}, {1, 2}} {
			x, y, z := make([]float64, len(all)), make([]float64, len(all)), make([]float64, len(all))
			for i, w := range all {
				x[i] = w.Col[pair[0]] - w.Col[pair[1]]
				y[i] = w.Cell[0][pair[0]] - w.Cell[0][pair[1]]
				z[i] = w.Next[pair[0]] - w.Next[pair[1]]
			}
			add(&c.columns, x, beta[pair[0]]-beta[pair[1]])
			add(&c.cells, y, truth[0][pair[0]]-truth[0][pair[1]])
			add(&c.further, z, further[pair[0]]-further[pair[1]])
		}
	}
	return c
}

// Four designs on three machines, three times each, one run lost: the smallest trial
// that is worth the name. Of intervals of 90 %, 87 to 93 % must hold the truth; chance
// alone moves 600 of them by 1.2 points (one standard deviation) and more, as two of a trial
// are alike.
func TestNinetyPercentHoldTheTruth(t *testing.T) {
	trials, slack := 300, 0.0
	if testing.Short() {
		trials, slack = 20, 0.07
	}
	var mean covered
	spreads := []float64{0.25, 0.5, 1, 2, 8}
	for _, cell := range spreads {
		trials := trials
		if cell == 1 && !testing.Short() { // where the fewest hold
			trials = 900
		}
		c := coverage(t, 7, trials, 600, 4, 1, cell)
		t.Logf("cells %.2f σ: held %.3f of columns' differences, %.3f of cells', %.3f on a further row; the least on a further row is told with %.3f, and was so in %.3f",
			cell, c.columns, c.cells, c.further, c.sure, c.right)
		if !testing.Short() && (math.Abs(c.columns-0.9) > 0.05 || math.Abs(c.cells-0.9) > 0.05) {
			t.Errorf("cells %.2f σ: %+v", cell, c)
		}
		if cell == 1 && !testing.Short() && c.further < 0.87 { // 85 % did with the prior that suits columns
			t.Errorf("cells %.2f σ: %.3f of the intervals of 90 %% on a further row hold", cell, c.further)
		}
		n := float64(len(spreads))
		mean.columns += c.columns / n
		mean.cells += c.cells / n
		mean.further += c.further / n
		mean.sure += c.sure / n
		mean.right += c.right / n
		if !testing.Short() && c.sure-c.right > 0.12 { // 54 % said and 35 % true where columns were not taken as alike
			t.Errorf("cells %.2f σ: which column is least on a further row is told with %.3f, and was so in %.3f", cell, c.sure, c.right)
		}
	}
	for what, share := range map[string]float64{"columns": mean.columns, "cells": mean.cells, "columns on a further row": mean.further} {
		if math.Abs(share-0.9) > 0.03+slack {
			t.Errorf("%.3f of the intervals of 90 %% hold the difference of two %s", share, what)
		}
	}
	if math.Abs(mean.sure-mean.right) > 0.04+2*slack {
		t.Errorf("which column is least on a further row is told with %.3f, and was so in %.3f", mean.sure, mean.right)
	}
}
