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

// coverage is how often intervals of 90 % held the difference of two columns, and that
// of two cells of a row.
func coverage(t *testing.T, seed uint64, trials, draws, rows, lost int, cell float64) (columns, cells float64) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 1))
	n := 0.0
	for range trials {
		d, truth, beta := simulated(rng, rows, 3, 3, lost, 5, cell)
		all, err := Sample(d, Options{Draws: draws, Seed: rng.Uint64()})
		if err != nil {
			t.Fatal(err)
		}
		for _, pair := range [][2]int{{0, 1}, {1, 2}} {
			x, y := make([]float64, len(all)), make([]float64, len(all))
			for i, w := range all {
				x[i] = w.Col[pair[0]] - w.Col[pair[1]]
				y[i] = w.Cell[0][pair[0]] - w.Cell[0][pair[1]]
			}
			n++
			if inside(x, beta[pair[0]]-beta[pair[1]]) {
				columns++
			}
			if inside(y, truth[0][pair[0]]-truth[0][pair[1]]) {
				cells++
			}
		}
	}
	return columns / n, cells / n
}

// Four designs on three machines, three times each, one run lost: the smallest trial
// that is worth the name. Of intervals of 90 %, 87 to 93 % must hold the truth; chance
// alone moves 600 of them by 1.2 points (one standard deviation).
func TestNinetyPercentHoldTheTruth(t *testing.T) {
	trials, slack := 300, 0.0
	if testing.Short() {
		trials, slack = 25, 0.07
	}
	var sumColumns, sumCells float64
	spreads := []float64{0.5, 2, 8}
	for _, cell := range spreads {
		columns, cells := coverage(t, 7, trials, 600, 4, 1, cell)
		t.Logf("cells %.1f σ: %.3f of columns' differences, %.3f of cells' differences", cell, columns, cells)
		sumColumns += columns / float64(len(spreads))
		sumCells += cells / float64(len(spreads))
	}
	for what, share := range map[string]float64{"columns": sumColumns, "cells": sumCells} {
		if math.Abs(share-0.9) > 0.03+slack {
			t.Errorf("%.3f of the intervals of 90 %% hold the difference of two %s", share, what)
		}
	}
}
