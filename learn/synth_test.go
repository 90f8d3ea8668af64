package learn

import (
	"math"
	"math/rand/v2"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// drawMachine is a machine drawn from a sheet's priors.
func drawMachine(s *machine.Sheet, rng *rand.Rand) *machine.Sheet {
	m := s.Clone()
	for _, c := range freeConstants(s) {
		c.Set(m, min(max(c.Get(s)*math.Exp(logSD(s.SD[c.Path])*rng.NormFloat64()), c.Min), c.Max))
	}
	return m
}

// timed is what a person times on a machine: whole runs and all blocks.
func timed(truth *machine.Sheet, rng *rand.Rand, d *stitch.Design, speed float64, blocks bool) []Observation {
	noisy := func(t float64) float64 {
		return math.Round(10*(t*(1+RunToRun*rng.NormFloat64())+pressSD*rng.NormFloat64())) / 10
	}
	obs := []Observation{{Kind: WholeRun, Name: "design", Design: d, SetSpeed: speed, Step: 0.1, Seconds: noisy(clock.Run(d, truth, clock.Job{Speed: speed}).Seconds)}}
	if !blocks {
		return obs
	}
	n := d.Count().ColourStops + 1
	for b := 1; b <= n; b++ {
		o := Observation{Kind: BlockRun, Name: "design", Design: d, SetSpeed: speed, Block: b, Step: 0.1, Seconds: 1}
		m := newModel(truth, nil, []Observation{o})
		m.move(nil)
		o.Seconds = noisy(m.prediction(0))
		obs = append(obs, o)
	}
	return obs
}
