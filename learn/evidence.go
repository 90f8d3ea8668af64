package learn

import (
	"crypto/sha256"
	"encoding/hex"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
	"needlepace/stitch"
)

// leastTold is how much a direction must be known better than before, as a part
// of what was known before, to count as told.
const leastTold = 1e-3

// told is what the rows told by themselves: the curvature and the slope of
// their likelihood at the mode (the prior's own are left out), as independent
// readings of weighted sums of the constants' logarithms. Nodes of tables are
// integrated out with their prior, which belongs to the term and not to the class.
func (po *posterior) told() *machine.Evidence {
	f := po.f
	p := len(f.z)
	e := &machine.Evidence{Rows: rowDigests(f.model.obs, f.aside), Terms: po.termOdds()}
	own := 0 // constants come before nodes
	for own < p && !isNode(f.model.free[own].Path) {
		e.Constants = append(e.Constants, f.model.free[own].Path)
		own++
	}
	if own == 0 || f.used == 0 {
		return e
	}
	// In whitened z the likelihood's curvature is H, and its slope at the mode is z.
	h := mat.NewSymDense(p, nil)
	for i, c := range po.curve {
		if c > 0 {
			h.SymRankOne(h, c, mat.NewVecDense(p, slices.Clone(po.row(i))))
		}
	}
	eta := mat.NewVecDense(p, nil)
	eta.MulVec(h, mat.NewVecDense(p, slices.Clone(f.z)))
	for k, z := range f.z {
		eta.SetVec(k, eta.AtVec(k)+z)
	}
	h, eta = integrated(h, eta, own)
	var eig mat.EigenSym
	if !eig.Factorize(h, true) {
		return e
	}
	var u mat.Dense
	eig.VectorsTo(&u)
	for d := own - 1; d >= 0; d-- {
		v := eig.Values(nil)[d]
		if v < leastTold || len(e.Told) == f.used {
			break
		}
		// Row d in z: √v·u; reading: uᵀη/√v. θ = mean + L·z.
		row, read := make([]float64, own), 0.0
		for k := range own {
			row[k] = math.Sqrt(v) * u.At(k, d)
			read += u.At(k, d) * eta.AtVec(k) / math.Sqrt(v)
		}
		f.prior.unwhiten(row)
		size := 0.0
		for _, w := range row {
			size = max(size, math.Abs(w))
		}
		for k, w := range row {
			step := math.Pow(10, math.Floor(math.Log10(size))-5)
			row[k] = tidy(math.Round(w/step) * step)
			read += row[k] * f.prior.mean[k]
		}
		e.Told, e.Read = append(e.Told, row), append(e.Read, tidy(math.Round(read*1e4)/1e4))
	}
	return e
}

// tidy takes off the digits that rounding by a step leaves.
func tidy(v float64) float64 { return round(v, 12) }

// integrated leaves the first own numbers of a normal likelihood, the others
// integrated out with a prior of normal(0, 1).
func integrated(h *mat.SymDense, eta *mat.VecDense, own int) (*mat.SymDense, *mat.VecDense) {
	p := h.SymmetricDim()
	n := p - own
	outH, outEta := mat.NewSymDense(own, nil), mat.NewVecDense(own, nil)
	for i := range own {
		outEta.SetVec(i, eta.AtVec(i))
		for j := i; j < own; j++ {
			outH.SetSym(i, j, h.At(i, j))
		}
	}
	if n == 0 {
		return outH, outEta
	}
	b := mat.NewSymDense(n, nil)
	cross, etaB := mat.NewDense(n, own, nil), mat.NewVecDense(n, nil)
	for i := range n {
		etaB.SetVec(i, eta.AtVec(own+i))
		for j := range own {
			cross.Set(i, j, h.At(own+i, j))
		}
		for j := i; j < n; j++ {
			b.SetSym(i, j, h.At(own+i, own+j))
		}
		b.SetSym(i, i, b.At(i, i)+1)
	}
	var ch mat.Cholesky
	ch.Factorize(b) // I plus squares: always positive definite
	var solved, less mat.Dense
	var solvedEta, lessEta mat.VecDense
	if ch.SolveTo(&solved, cross) != nil || ch.SolveVecTo(&solvedEta, etaB) != nil {
		return mat.NewSymDense(own, nil), mat.NewVecDense(own, nil)
	}
	less.Mul(cross.T(), &solved)
	lessEta.MulVec(cross.T(), &solvedEta)
	for i := range own {
		outEta.SetVec(i, outEta.AtVec(i)-lessEta.AtVec(i))
		for j := i; j < own; j++ {
			outH.SetSym(i, j, outH.At(i, j)-(less.At(i, j)+less.At(j, i))/2)
		}
	}
	return outH, outEta
}

// unwhiten turns a row of weights of the first z into one of their theta:
// row·lower⁻¹.
func (p *prior) unwhiten(row []float64) {
	for j := len(row) - 1; j >= 0; j-- {
		for i := j + 1; i < len(row); i++ {
			row[j] -= row[i] * p.lower.At(i, j)
		}
		row[j] /= p.lower.At(j, j)
	}
}

func isNode(path string) bool {
	return strings.HasPrefix(path, "correction.") || strings.HasPrefix(path, "ladder.")
}

// mostOdds is where the odds of a term end: further than e¹⁰ no weighing is to
// be trusted.
const mostOdds = 10

// termOdds are the odds of each term that was tried by the rows alone: how
// strongly the kinds of machines with it are believed against the same kinds
// without it, the prior's part taken out.
func (po *posterior) termOdds() map[string]float64 {
	var out map[string]float64
	for i := range terms {
		t := &terms[i]
		with, without := 0.0, 0.0
		for _, b := range po.believed {
			k := slices.Index(b.terms, t.key)
			if k < 0 {
				continue
			}
			less := slices.Delete(slices.Clone(b.terms), k, k+1)
			for _, o := range po.believed {
				if sameTerms(o.terms, less) {
					with, without = with+b.weight, without+o.weight
				}
			}
		}
		if with+without == 0 {
			continue
		}
		if out == nil {
			out = map[string]float64{}
		}
		odds := math.Log(max(with, 1e-12)/max(without, 1e-12)) - t.oddsOn(po.f.model.base)
		out[t.key] = math.Round(100*max(min(odds, mostOdds), -mostOdds)) / 100
	}
	return out
}

func sameTerms(a, b []string) bool {
	return len(a) == len(b) && !slices.ContainsFunc(a, func(t string) bool { return !slices.Contains(b, t) })
}

// rowDigests are digests of the rows that were used, so that two sheets show the
// rows that they share.
func rowDigests(obs []Observation, aside []bool) (out []string) {
	designs := map[*stitch.Design]string{}
	for i := range obs {
		if aside[i] {
			continue
		}
		h := sha256.New()
		digestRow(h, &obs[i], designs)
		out = append(out, hex.EncodeToString(h.Sum(nil))[:16])
	}
	return out
}

// addEvidence is the evidence of a sheet that was learned before and then from other
// rows: that of both.
func addEvidence(before, now *machine.Evidence) *machine.Evidence {
	if before == nil || len(before.Told) == 0 {
		return now
	}
	sum := &machine.Evidence{Rows: slices.Concat(before.Rows, now.Rows), Terms: now.Terms,
		Constants: slices.Clone(now.Constants)}
	for _, path := range before.Constants {
		if !slices.Contains(sum.Constants, path) {
			sum.Constants = append(sum.Constants, path)
		}
	}
	p := len(sum.Constants)
	m := len(before.Told) + len(now.Told)
	stacked := mat.NewDense(m, p+1, nil)
	at := 0
	for _, e := range []*machine.Evidence{before, now} {
		for j, row := range e.Told {
			for k, w := range row {
				stacked.Set(at, slices.Index(sum.Constants, e.Constants[k]), w)
			}
			stacked.Set(at, p, e.Read[j])
			at++
		}
	}
	if m > p { // as many readings as there are constants tell the same: R of QR, weights and reading side by side
		var qr mat.QR
		qr.Factorize(stacked)
		var r mat.Dense
		qr.RTo(&r)
		stacked.Copy(&r)
		m = p
	}
	for j := range m {
		row := make([]float64, p)
		for k := range row {
			row[k] = round(stacked.At(j, k), 8)
		}
		sum.Told, sum.Read = append(sum.Told, row), append(sum.Read, round(stacked.At(j, p), 12))
	}
	return sum
}

// seal puts the evidence of a fit into its sheet.
func (po *posterior) seal(before, s *machine.Sheet) {
	e := po.told()
	if before.Fit != nil {
		e = addEvidence(before.Fit.Evidence, e)
	}
	if len(e.Rows) > machine.MaxEvidenceRows {
		return // more than a sheet may hold
	}
	s.Fit.Evidence = e
	e.Seal = s.SealNow()
}

// oddsOn is the natural logarithm of the chance, before any timing, that a
// machine of the sheet's class has the term.
func (t *term) oddsOn(s *machine.Sheet) float64 {
	if p := s.Pool.Term(t.key); p != nil {
		return p.Odds
	}
	return t.odds
}
