package learn

import (
	"math"
	"slices"

	"needlepace/machine"
)

// term is a way in which controllers depart from the plain law (docs/model.md,
// terms of the law).
type term struct {
	key  string // in words/en.toml after "term."
	odds float64
	// variants are sheets with the term, its constants free to learn; several
	// where it has whole numbers or thresholds, none where the sheet has the term.
	variants func(b *belief) []*machine.Sheet
	// starts: its variants are beginnings of one search, not kinds of machine to choose among.
	starts bool
	// frame: it is of the frame's own law, and nothing where a ladder stands in its place.
	frame bool
	// jumps: times go in steps with it, so that the lines of another fit tell nothing of a variant; each is fitted.
	jumps bool
	// early: what it does hangs on when in a run a stitch is sewn, so that no share of a design can stand for it.
	early bool
	// moot reports whether the rows left it without effect: it then is the law without it.
	moot func(b *belief) bool
	// near are variants beside one that was picked, moved by so much (degrees): the search goes on with them; nil: none.
	near func(s *machine.Sheet, by float64) []*machine.Sheet
	// rarer is by how much less likely, natural logarithm, each of near is thought before any timing.
	rarer float64
}

// with is a copy of a sheet with constants set and free: path, value and
// relative spread by turns.
func with(s *machine.Sheet, set ...any) *machine.Sheet {
	c := s.Clone()
	if c.SD == nil {
		c.SD = map[string]float64{}
	}
	for i := 0; i+2 < len(set); i += 3 {
		path := set[i].(string)
		k, _ := machine.ConstantAt(path)
		k.Set(c, set[i+1].(float64))
		if sd := set[i+2].(float64); sd > 0 {
			c.SD[path] = sd
		}
	}
	return c
}

// lone is a term with one constant that starts somewhere.
func lone(term, path string, value, sd float64) func(*belief) []*machine.Sheet {
	c, _ := machine.ConstantAt(path)
	return func(b *belief) []*machine.Sheet {
		s := b.sheet
		if c.Get(s) != c.Default {
			return nil
		}
		v, spread := begin(s, term, path, value, sd)
		return []*machine.Sheet{with(s, path, v, spread)}
	}
}

// rare is the natural logarithm of how likely a term is thought before any
// timing, against none (assumed): where rows tell little, the plain law stands.
const rare = -2

// The terms that are tried. The values to begin with and the spreads are
// assumed: what such controllers plausibly do. odds is the natural logarithm
// of the chance, before any timing, that a machine has the term.
var terms = []term{
	{key: "settle", odds: rare, frame: true, variants: lone("settle", "frame.settle", 0.002, 1)},
	{key: "jerk", odds: rare, frame: true, variants: lone("jerk", "frame.jerk_time", 0.005, 0.7)},
	{key: "turn", odds: rare, frame: true, variants: lone("turn", "frame.turn", 0.2, 1)},
	{key: "lag", odds: rare, variants: lone("lag", "shaft.lag", 0.15, 0.7)},
	{key: "step", odds: rare - 1, jumps: true, variants: func(b *belief) (out []*machine.Sheet) {
		s := b.sheet
		if s.Shaft.SpeedStep != 0 {
			return nil
		}
		for _, step := range []float64{50, 100, 25, 20, 10} {
			out = append(out, with(s, "shaft.speed_step", step, 0.0))
			if !b.f.model.onSteps(step) {
				out = append(out, with(s, "shaft.speed_step", step, 0.0, "shaft.step_free_set", 1.0, 0.0))
			}
		}
		return out
	}},
	{key: "true-speed", odds: rare, variants: lone("true-speed", "speed.true", 1, 0.04)},
	{key: "top-speed", odds: rare, starts: true, near: topNear, rarer: math.Ln2, variants: func(b *belief) (out []*machine.Sheet) {
		if b.sheet.Speed.Top != 0 {
			return nil
		}
		for _, share := range topBegins {
			out = append(out, with(b.sheet, "speed.top", share*b.f.topSetting(), topSD))
		}
		return out
	}, moot: func(b *belief) bool {
		return b.f.model.sheetAt(b.f.theta).Speed.Top > topMoot*b.f.topSetting()
	}},
	{key: "slow-start", odds: rare, early: true, near: slowNear, variants: func(b *belief) []*machine.Sheet {
		return slowStarts(b, "slow.seconds", slowSeconds, 0.88, 0.1)
	}},
	{key: "slow-colour", odds: rare, early: true, near: slowNear, variants: func(b *belief) []*machine.Sheet {
		return slowStarts(b, "slow.stitches", slowStitches, 0.6, 0.3)
	}},
	{key: "soft-start", odds: rare, variants: func(b *belief) (out []*machine.Sheet) {
		s := b.sheet
		for _, n := range []int{0, 1, 2, 3, 4, 5, 6, 8, 10, 12, 14} {
			if n != s.Shaft.SoftStartStitches {
				c := with(s)
				c.Shaft.SoftStartStitches = n
				out = append(out, c)
			}
		}
		return out
	}},
	{key: "turns", odds: rare, near: turnsNear, variants: func(b *belief) (out []*machine.Sheet) {
		s := b.sheet
		if s.Turns.Speed != 0 {
			return nil
		}
		share, sd := begin(s, "turns", "turns.speed", 0.75, 0.15)
		for _, mm := range []float64{3, 3.6, 4.3, 5} {
			for from := 30.0; from <= 150; from += 15 {
				for _, to := range []float64{from + 40, from + 70, 180} {
					if mm == 3.6 && to < 180 || mm == 4.3 && to < 180 || to > 180 || to == 180 && from < 45 {
						continue // looked at beside the others
					}
					out = append(out, with(s, "turns.speed", share, sd, "turns.angle", from, 0.0, "turns.length", mm, 0.0,
						"turns.to", to, 0.0))
				}
			}
		}
		return out
	}},
	{key: "correction", odds: rare, frame: true, variants: func(b *belief) []*machine.Sheet {
		s := b.sheet
		if len(s.Correction.Length) > 0 {
			return nil
		}
		c := with(s)
		for k, mm := range []float64{0.6, 1, 1.6, 2.4, 3.4, 4.6, 6, 8, 10.5} {
			c.Correction.Length = append(c.Correction.Length, mm)
			c.Correction.Factor = append(c.Correction.Factor, 1)
			c.SD[machine.NodePath("correction.length", k)] = correctionSD
		}
		return []*machine.Sheet{c}
	}},
	{key: "ladder", odds: rare, near: ladderNear, variants: func(b *belief) []*machine.Sheet {
		if len(b.sheet.Ladder.Length) > 0 {
			return nil
		}
		return []*machine.Sheet{withLadder(b.sheet, b.f.model.sheetAt(b.f.theta))}
	}},
}

// onSteps reports whether all settings of the rows are multiples of a step: whether a set speed is held as it is set they then
// do not tell.
func (m *model) onSteps(step float64) bool {
	return !slices.ContainsFunc(m.obs, func(o Observation) bool { return math.Mod(min(o.SetSpeed, m.base.MaxSpeed), step) != 0 })
}

// twin is a belief in steps of speed with the set speed held as it is set, or not, as it was believed not, or to be; both are
// as likely then. nil: the rows tell, or there are no steps.
func (b *belief) twin() *belief {
	step := b.sheet.Shaft.SpeedStep
	if step == 0 || !slices.Contains(b.terms, "step") || !b.f.model.onSteps(float64(step)) {
		return nil
	}
	b.odds -= math.Ln2
	b.score -= math.Ln2
	t, f, m := *b, *b.f, *b.f.model
	t.sheet = with(b.sheet, "shaft.step_free_set", float64(1-b.sheet.Shaft.StepFreeSet), 0.0)
	m.base, f.model, t.f = t.sheet, &m, &f
	return &t
}

// topBegins are shares of the highest setting at which a top speed of the shaft is tried: from above it none is found, and it
// binds some rows more the lower it is.
var topBegins = []float64{0.95, 0.88, 0.8, 0.7}

// topSD is its spread (assumed), and topMoot the share of the setting above which it comes to nothing.
const (
	topSD   = 0.1
	topMoot = 0.995
)

// topNear is a top speed that holds for stitches of more than some length alone: controllers that give each move a least time have
// it, and rows whose stitches are all longer do not tell it from one that holds for all. The search itself (firstStep) has none.
func topNear(s *machine.Sheet, by float64) []*machine.Sheet {
	mm, ok := topFrom[by]
	if !ok || s.Speed.Top == 0 || len(s.Ladder.Length) > 0 {
		return nil
	}
	c := with(s, "speed.top", 0.0, 0.0)
	delete(c.SD, "speed.top")
	c.Ladder = machine.Ladder{Length: []float64{mm, rungLengths[len(rungLengths)-1]}, Speed: []float64{c.MaxSpeed, s.Speed.Top}}
	c.SD[machine.NodePath("ladder.speed", 1)] = topSD
	return []*machine.Sheet{c}
}

// topFrom is from what length of stitch on, mm, a top speed is tried to hold, by step of the looking around (assumed).
var topFrom = map[float64]float64{4: 1.5, 5: 0.5, 10: 1, 20: 1.5}

// topSetting is the highest speed that a row was set to, stitches/min.
func (f *fitter) topSetting() (top float64) {
	for i := range f.model.obs {
		if !f.aside[i] {
			top = max(top, min(f.model.obs[i].SetSpeed, f.model.base.MaxSpeed))
		}
	}
	return top
}

// withLadder is a sheet with a ladder in place of the frame, each rung unknown
// and about where the frame of another would be.
func withLadder(s, at *machine.Sheet) *machine.Sheet {
	c := with(s)
	a := math.Sqrt(at.Frame.AccelX * at.Frame.AccelY)
	for k, mm := range rungLengths {
		v := min(60*at.Frame.Window/(2*math.Sqrt(mm/a)+at.Frame.Settle), at.MaxSpeed)
		c.Ladder.Length = append(c.Ladder.Length, mm)
		c.Ladder.Speed = append(c.Ladder.Speed, v)
		c.SD[machine.NodePath("ladder.speed", k)] = ladderSD
	}
	// The frame is never the limit.
	for _, path := range []string{"frame.accel_x", "frame.accel_y", "frame.speed_x", "frame.speed_y"} {
		delete(c.SD, path)
		k, _ := machine.ConstantAt(path)
		k.Set(c, k.Max)
	}
	return c
}

// ladderNear is a ladder whose rungs are picked by the longer axis' move, or by the stitch's length again: tried once, whatever
// the step.
func ladderNear(s *machine.Sheet, by float64) []*machine.Sheet {
	if by != firstStep {
		return nil
	}
	return []*machine.Sheet{with(s, "ladder.by_axis", float64(1-s.Ladder.ByAxis), 0.0)}
}

// turnsNear are caps at turns with one end of the band of angles moved by so many
// degrees, or the length by a twentieth of that in mm.
func turnsNear(s *machine.Sheet, by float64) (out []*machine.Sheet) {
	for _, by := range []float64{-by, by} {
		if v := s.Turns.Angle + by; v >= 20 && v < s.Turns.To-10 {
			out = append(out, with(s, "turns.angle", v, 0.0))
		}
		if v := s.Turns.To + by; v <= 180 && v > s.Turns.Angle+10 {
			out = append(out, with(s, "turns.to", v, 0.0))
		}
		if v := s.Turns.Length + by/20; v >= 2 && v <= 6 {
			out = append(out, with(s, "turns.length", v, 0.0))
		}
	}
	return out
}

// rungLengths are the lengths, in mm, between which a learned ladder may have its rungs.
var rungLengths = []float64{1.25, 1.5, 1.75, 2, 2.25, 2.5, 2.75, 3, 3.25, 3.5, 3.75, 4, 4.25, 4.5, 4.75, 5, 5.5, 6, 6.5,
	7, 7.5, 8, 8.5, 9, 10, 12.7}

// ladderSD is the spread of a rung's speed about the frame's own law, before
// any timing (assumed).
const ladderSD = 0.25

// correctionSD is how far a machine's frame times lie from the law at one
// length, relative, before any timing (assumed).
const correctionSD = 0.05
