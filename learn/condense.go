package learn

import (
	"math"
	"slices"

	"needlepace/machine"
)

// modelFloor is the relative error of the model that no number of repeats
// takes away (assumed).
const modelFloor = 0.001

// condensed is the same posterior with the rows that observe the same thing
// (one design or block at one speed, one display setting) drawn together into
// their weighted mean: what thousands of rows say is said by a few. Who was
// interrupted is settled by then, so what is left is normal.
func (po *posterior) condensed() *posterior {
	f := po.f
	type key struct {
		g          *group
		kind       Kind
		block      int
		speed, len float64 // of a display reading
		zigzag     bool
		with       Beside
		only       Only
		job        machine.Jobs
	}
	index := map[key]int{}
	var obs []Observation
	var parts [][]int
	var values, weights []float64
	for i := range f.model.obs {
		w := po.curve[i]
		if w <= 0 {
			continue
		}
		o := &f.model.obs[i]
		if len(f.model.partsOf(i)) > 0 {
			// A whole less its blocks stands for itself, with its own rows.
			first := len(obs)
			var own []int
			for n, b := range f.model.partsOf(i) {
				obs = append(obs, f.model.obs[b])
				parts, values, weights = append(parts, nil), append(values, 0), append(weights, 0)
				own = append(own, first+n)
			}
			obs, parts = append(obs, *o), append(parts, own)
			values, weights = append(values, w*f.model.value(i)), append(weights, w)
			continue
		}
		k := key{g: f.model.of[i], kind: o.Kind, block: o.Block, with: o.With, only: o.Only, job: o.Job}
		if o.Kind == DisplayReading {
			k.speed, k.len, k.zigzag = o.SetSpeed, o.LengthMM, o.Zigzag
		}
		at, ok := index[k]
		if !ok {
			at = len(obs)
			index[k] = at
			obs, parts = append(obs, *o), append(parts, nil)
			values, weights = append(values, 0), append(weights, 0)
		}
		values[at] += w * f.model.value(i)
		weights[at] += w
	}
	g := &fitter{ctx: f.ctx, prior: f.prior, model: f.model.like(f.model.base, f.model.free, obs),
		aside: make([]bool, len(obs))}
	g.model.parts = parts
	n, p := len(obs), len(f.z)
	g.z, g.theta, g.anchor = slices.Clone(f.z), make([]float64, p), make([]float64, p)
	g.pred, g.jac, g.values = make([]float64, n), make([]float64, n*p), make([]float64, n)
	g.noises, g.centres, g.least = make([]noise, n), make([]float64, n), make([]float64, n)
	for i := range obs {
		if weights[i] == 0 {
			g.aside[i] = true // only there to be taken off a whole
			g.noises[i] = noise{sd: 1, wide: 1}
			continue
		}
		g.used++
		g.values[i] = values[i] / weights[i]
		g.noises[i] = noise{sd: math.Hypot(1/math.Sqrt(weights[i]), modelFloor*g.values[i]), wide: 1}
		g.centres[i], g.least[i] = g.noises[i].centre()
	}
	g.loss = g.evaluate(g.z, g.pred)
	return g.posterior()
}
