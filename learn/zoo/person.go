package zoo

import (
	"math"
	"math/rand/v2"

	"needlepace/learn"
)

// watchSD is the error of a time taken with a watch, both presses together (s).
const watchSD = 0.3

// timed is one design on the machine with a watch beside it.
type timed struct {
	Named
	speed  float64 // stitches/min
	took   Timing
	whole  int // its row; those of its blocks follow
	blocks int
}

// Slip is a mistake of the person who times. The zero value of a part means
// that the slip is not of that kind.
type Slip struct {
	Name string
	What string
	// needles: the machine has its colours on other needles than 1, 2, 3…
	needles bool
	// other: the second design timed is not the one that is written down.
	other bool
	// spoil changes rows (s, not yet rounded) and gives those that it changed.
	spoil func(rows []learn.Observation, runs []timed, rng *rand.Rand) []int
}

// Slips of the study.
var Slips = []Slip{
	{Name: "laps", What: "each block's time has the colour change after it", spoil: laps},
	{Name: "misread", What: "one block of the test piece is 40 s off, the whole is right", spoil: misread},
	{Name: "digits", What: "two digits of one time of the test piece are transposed", spoil: digits},
	{Name: "minutes", What: "one whole run is written in minutes", spoil: minutes},
	{Name: "other-design", What: "one of the designs is not the one that was sewn", other: true},
	{Name: "needles", What: "the colours are on other needles than 1, 2, 3…", needles: true},
}

func laps(rows []learn.Observation, runs []timed, _ *rand.Rand) (spoilt []int) {
	for _, t := range runs {
		for b := range t.blocks - 1 {
			rows[t.whole+1+b].Seconds += t.took.Changes[b+1]
			spoilt = append(spoilt, t.whole+1+b)
		}
	}
	return spoilt
}

func misread(rows []learn.Observation, runs []timed, rng *rand.Rand) []int {
	i := drawn(rows[:1+runs[0].blocks], rng, func(o *learn.Observation) bool { return o.Kind == learn.BlockRun })
	if rows[i].Seconds > 60 && rng.IntN(2) == 0 {
		rows[i].Seconds -= 40
	} else {
		rows[i].Seconds += 40
	}
	return []int{i}
}

func digits(rows []learn.Observation, runs []timed, rng *rand.Rand) []int {
	at := rng.IntN(2)
	i := drawn(rows[:1+runs[0].blocks], rng, func(o *learn.Observation) bool {
		return swapped(o.Seconds, at) != math.Round(o.Seconds)
	})
	rows[i].Seconds = swapped(rows[i].Seconds, at)
	return []int{i}
}

func minutes(rows []learn.Observation, _ []timed, rng *rand.Rand) []int {
	i := drawn(rows, rng, func(o *learn.Observation) bool { return o.Kind == learn.WholeRun })
	rows[i].Seconds /= 60
	return []int{i}
}

// drawn is a row among those that are asked for; the first where there is none.
func drawn(rows []learn.Observation, rng *rand.Rand, is func(*learn.Observation) bool) int {
	for _, i := range rng.Perm(len(rows)) {
		if is(&rows[i]) {
			return i
		}
	}
	return 0
}

// swapped is whole seconds with two neighbouring digits swapped, at = 0 for the last two.
func swapped(seconds float64, at int) float64 {
	v, p := int(math.Round(seconds)), 1
	for range at {
		p *= 10
	}
	if v < 10*p {
		return float64(v)
	}
	low, high := v/p%10, v/p/10%10
	return float64(v + (high-low)*p + (low-high)*10*p)
}

// times sews the test piece at its speed and the two designs at the top and
// at three quarters, and gives the rows that a person writes of them and which
// of these a slip spoilt: the whole runs in seconds, blocks in tenths.
func (s *Study) times(m *Machine, piece *learn.Piece, slip *Slip, rng *rand.Rand) (
	rows []learn.Observation, spoilt []int,
) {
	if slip == nil {
		slip = &Slip{}
	}
	runs := []timed{{Named: Named{"test piece", piece.Design}, speed: piece.SetSpeed}}
	for i, d := range s.opt.Timed {
		runs = append(runs, timed{Named: d, speed: tens(m.Sheet.MaxSpeed * []float64{1, 0.75}[i%2])})
	}
	for i := range runs {
		t := &runs[i]
		sewn := t.Design
		if slip.other && i == len(runs)-1 {
			sewn = s.opt.Unseen[rng.IntN(len(s.opt.Unseen))].Design
		}
		var needles []int
		if slip.needles {
			needles = rng.Perm(max(m.Sheet.Needles, 1))
		}
		t.took = vary(m.Run(sewn, t.speed, needles, rng), s.opt.Vary, rng)
		t.whole, t.blocks = len(rows), len(t.took.Blocks)
		if b := len(m.Run(t.Design, t.speed, nil, nil).Blocks); b < t.blocks {
			t.blocks = b // no row for a block that the design does not have
		}
		rows = append(rows, learn.Observation{Kind: learn.WholeRun, Seconds: t.took.Seconds, Step: 1})
		for b := range t.blocks {
			rows = append(rows, learn.Observation{Kind: learn.BlockRun, Block: b + 1, Seconds: t.took.Blocks[b], Step: 0.1})
		}
		for k := t.whole; k < len(rows); k++ {
			o := &rows[k]
			o.Row, o.Name, o.Design, o.SetSpeed = k+2, t.Name, t.Design, t.speed
			if slip.other && i == len(runs)-1 || slip.needles && t.blocks > 1 && o.Kind == learn.WholeRun {
				spoilt = append(spoilt, k)
			}
		}
	}
	for k := range rows {
		rows[k].Seconds = max(rows[k].Seconds+watchSD*rng.NormFloat64(), 0.1)
	}
	if slip.spoil != nil {
		spoilt = slip.spoil(rows, runs, rng)
	}
	for k := range rows {
		written(&rows[k])
	}
	return rows, spoilt
}

// written rounds a time as a person writes it.
func written(o *learn.Observation) {
	if o.Seconds > 10*o.Step {
		o.Seconds = o.Step * math.Round(o.Seconds/o.Step)
	}
}

// vary is what a machine does differently each time, block by block.
func vary(t Timing, sd float64, rng *rand.Rand) Timing {
	out := Timing{Blocks: make([]float64, len(t.Blocks)), Changes: make([]float64, len(t.Changes))}
	end := t.Seconds
	for b := range t.Blocks {
		end -= t.Blocks[b] + t.Changes[b]
		out.Blocks[b] = t.Blocks[b] * (1 + sd*rng.NormFloat64())
		out.Changes[b] = t.Changes[b] * (1 + sd*rng.NormFloat64())
		out.Seconds += out.Blocks[b] + out.Changes[b]
	}
	out.Seconds += end
	return out
}
