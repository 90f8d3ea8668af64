package learn

import (
	"slices"

	"needlepace/clock"
	"needlepace/machine"
)

// A machine may be let in gently: for the first minutes of a run, or the first stitches of a colour (machine.Slow).

// slowSeconds and slowStitches are how long that may last, as it is tried.
var (
	slowSeconds  = []float64{20, 30, 45, 60, 80, 100, 120, 150, 180, 240, 360}
	slowStitches = []float64{10, 15, 20, 30, 40, 55, 75, 100, 140}
)

// slowStarts are machines that are slow for so long after the start button, or for so many stitches of each colour (path), at
// a share of the set speed that is to be learned. None where parts of runs are timed, which do not say when they were, and none
// of hundreds of rows, for the time that it takes.
func slowStarts(b *belief, path string, lasts []float64, share, sd float64) (out []*machine.Sheet) {
	if b.sheet.Slow.Speed != 0 || len(b.f.model.obs) > manyRows || slices.ContainsFunc(b.f.model.obs, func(o Observation) bool { return o.Only != "" }) {
		return nil
	}
	for _, v := range lasts {
		out = append(out, with(b.sheet, path, v, 0.0, "slow.speed", share, sd))
	}
	return out
}

// slowNear are machines that are slow for longer or shorter, by so many seconds or half as many stitches.
func slowNear(s *machine.Sheet, by float64) (out []*machine.Sheet) {
	for _, by := range []float64{-by, by} {
		if v := s.Slow.Seconds + by; s.Slow.Seconds > 0 && v >= slowSeconds[0] {
			out = append(out, with(s, "slow.seconds", v, 0.0))
		}
		if v := s.Slow.Stitches + int(by/2); s.Slow.Stitches > 0 && float64(v) >= slowStitches[0] {
			out = append(out, with(s, "slow.stitches", float64(v), 0.0))
		}
	}
	return out
}

// looksSlow reports whether rows of long designs look like those of a machine that is slow for the first minutes of a run: a rough
// look by their blocks' times, where to try each length of that would take as long as all else.
func (f *fitter) looksSlow() (bool, error) {
	var shapes []func(from, to float64) float64
	for _, first := range []float64{45, 100, 220} {
		shapes = append(shapes, func(from, to float64) float64 { return max(min(to, first)-from, 0) })
	}
	_, gain, err := f.losing(shapes)
	return gain+rare > 0, err
}

// letIn is what a timed run loses, in the mean, because a machine is let in gently, s.
func (m *model) letIn(s *machine.Sheet) float64 {
	if s.Slow.Speed == 0 || len(m.groups) == 0 {
		return 0
	}
	at := shallow(s)
	at.Slow = machine.Slow{}
	lost := 0.0
	for _, g := range m.groups {
		lost += clock.Run(g.design, s, g.clockJob()).Seconds - clock.Run(g.design, at, g.clockJob()).Seconds
	}
	return lost / float64(len(m.groups))
}
