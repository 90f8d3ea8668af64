package learn

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// Suggestion is an observation worth making next.
type Suggestion struct {
	What     string  `json:"what"`                         // for people
	Gain     float64 `json:"gain" doc:"information, nats"` // ½·ln(1 + variance of the prediction / variance of the reading)
	Sharpens string  `json:"sharpens"`                     // path of the constant it tells most about
	Before   float64 `json:"sd_before"`                    // that constant's relative spread now
	After    float64 `json:"sd_after"`

	// Row is the row to fill in, with the number that is expected; its Kind is meant only where Piece is false and it has a
	// Design or a length.
	Row Observation `json:"-"`
	// Piece: a test piece made for the new sheet is to be sewn and timed, Row is its most telling block alone.
	Piece bool `json:"-"`
}

// piece is 1 for a test piece.
func (s *Suggestion) piece() int {
	if s.Piece {
		return 1
	}
	return 0
}

// Least gain worth naming, and how many suggestions there are at most.
const (
	leastGain      = 0.08
	maxSuggestions = 4
	maxNextDesigns = 12 // designs whose runs are weighed
)

// advise weighs what could be observed next: the designs of the file at other
// speeds, their blocks, the display, and the blocks of a test piece.
func (po *posterior) advise(sheet *machine.Sheet) []Suggestion {
	f := po.f
	m := f.model
	type cand struct {
		Observation
		group string
		what  string
	}
	var cands []cand
	for _, mm := range []float64{3, 5, 7, 9} {
		for _, zig := range []bool{false, true} {
			way := "straight"
			if zig {
				way = "zigzag"
			}
			cands = append(cands, cand{Observation{Kind: DisplayReading, SetSpeed: sheet.MaxSpeed, LengthMM: mm,
				Zigzag: zig, Shown: 1}, "display",
				fmt.Sprintf("read the display at %s while it sews %s stitches of %.0f mm",
					perMinute(sheet.MaxSpeed), way, mm)})
		}
	}
	seen := map[*stitch.Design]bool{}
	stitches := 0
	for i := range m.obs {
		o := &m.obs[i]
		if o.Design == nil || seen[o.Design] || len(seen) >= maxNextDesigns || stitches > cheapStitches {
			continue
		}
		seen[o.Design] = true
		stitches += len(o.Design.Records)
		for _, speed := range slices.Compact([]float64{sheet.MaxSpeed, math.Round(0.06*sheet.MaxSpeed) * 10}) {
			cands = append(cands, cand{Observation{Kind: WholeRun, Design: o.Design, Name: o.Name, SetSpeed: speed,
				Seconds: 1, Step: 1}, "whole",
				fmt.Sprintf("time the whole of %s at %s", o.Name, perMinute(speed))})
			for b := range min(m.of[i].size(), 12) {
				cands = append(cands, cand{Observation{Kind: BlockRun, Design: o.Design, Name: o.Name, SetSpeed: speed,
					Block: b + 1, Seconds: 1, Step: 0.1}, "block",
					fmt.Sprintf("time block %d of %s at %s", b+1, o.Name, perMinute(speed))})
			}
		}
	}
	for _, p := range patches(90, 90) {
		d := build(sheet, []patch{p}, []point{{0, 0}})
		cands = append(cands, cand{Observation{Kind: BlockRun, Design: d, SetSpeed: sheet.MaxSpeed, Block: 1,
			Seconds: 1, Step: 0.1}, "piece",
			words.Say("learn.next-piece", words.Args{"block": p.what}).Raw()})
	}
	obs := make([]Observation, len(cands))
	for i := range cands {
		obs[i] = cands[i].Observation
	}
	p := len(po.z)
	theta := make([]float64, p)
	f.prior.theta(po.z, theta)
	probe := newModel(m.base, m.free, obs)
	probe.move(theta)
	jac := make([]float64, len(obs)*p)
	probe.jacobian(jac)
	apart := po.apart(obs)
	now := po.thetaCov()
	best := map[string]Suggestion{}
	for i, c := range cands {
		pred := probe.prediction(i)
		if c.Kind == DisplayReading {
			c.Shown = pred
		} else {
			c.Seconds = pred
		}
		g := make([]float64, p)
		f.prior.whiten(jac[i*p:(i+1)*p], g)
		v := c.StandardError()
		q := quad(g, po.cov)
		gain := 0.5 * math.Log1p((q+apart[i])/(v*v))
		if gain < leastGain || gain <= best[c.group].Gain {
			continue
		}
		// The posterior after it: cov − cov·g·gᵀ·cov/(σ² + gᵀ·cov·g).
		var cg mat.VecDense
		cg.MulVec(po.cov, mat.NewVecDense(p, g))
		after := &posterior{f: f, z: po.z, cov: mat.NewSymDense(p, nil)}
		after.cov.SymRankOne(po.cov, -1/(v*v+q), &cg)
		then := after.thetaCov()
		s := Suggestion{What: c.what, Gain: gain, Row: c.Observation, Piece: c.group == "piece"}
		most := 0.0
		for k := range p {
			a, b := now.At(k, k), max(then.At(k, k), 0)
			if less := math.Log((a + 1e-9) / (b + 1e-9)); less > most {
				most = less
				s.Sharpens, s.Before, s.After = m.free[k].Path, relSD(math.Sqrt(a)), relSD(math.Sqrt(b))
			}
		}
		best[c.group] = s
	}
	var out []Suggestion
	for _, group := range []string{"piece", "block", "whole", "display"} {
		if s, ok := best[group]; ok {
			out = append(out, s)
		}
	}
	slices.SortStableFunc(out, func(a, b Suggestion) int { return cmp.Compare(b.Gain, a.Gain) })
	return out[:min(len(out), maxSuggestions)]
}

// apart is the variance of each observation among the kinds of machine that are believed: what they do not agree on is what most
// needs timing.
func (po *posterior) apart(obs []Observation) []float64 {
	mean, square := make([]float64, len(obs)), make([]float64, len(obs))
	of := 0.0
	for i, b := range po.believed {
		if i > 0 && b.weight < leastWeight || len(po.believed) < 2 {
			continue
		}
		m := newModel(b.f.model.base, b.f.model.free, obs)
		m.move(b.f.theta)
		of += b.weight
		for i := range obs {
			p := m.prediction(i)
			mean[i] += b.weight * p
			square[i] += b.weight * p * p
		}
	}
	for i := range obs {
		square[i] = max(square[i]/max(of, nothing)-sq(mean[i]/max(of, nothing)), 0)
	}
	return square
}

func (g *group) size() int {
	if g == nil {
		return 0
	}
	return g.colours
}
