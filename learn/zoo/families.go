package zoo

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"needlepace/machine"
)

// Kind says what a family is in the zoo for.
type Kind string

// The kinds of families.
const (
	Model  Kind = "model"   // obeys the model
	Likely Kind = "likely"  // what controllers are known to do; terms of the law are meant for these
	Other  Kind = "other"   // what they may do as well: kept to judge with, nothing may be tuned on these
	NoTerm Kind = "no term" // what no law of a stitch can say: to be recognised, not fitted
)

// Family is a way in which machines depart from the model.
type Family struct {
	Name string
	What string // for people
	Kind Kind
	// draw changes a machine that obeys the model.
	draw func(m *Machine, rng *rand.Rand)
}

// Draw is machine number k of a family: constants from the class's spreads,
// the same for all families, and departures drawn from the family's ranges.
// The same seed, family, class and number give the same machine.
func (f *Family) Draw(class *machine.Sheet, seed uint64, k int) *Machine {
	m := &Machine{Family: f.Name, Sheet: Sheet(class, rand.New(rand.NewPCG(seed, uint64(k))))}
	if f.draw != nil {
		f.draw(m, rand.New(rand.NewPCG(seed^f.number(), uint64(k))))
	}
	return m
}

// Sheet is a machine from a class's spreads (log-normal, independent).
func Sheet(class *machine.Sheet, rng *rand.Rand) *machine.Sheet {
	s := class.Clone()
	for _, c := range machine.Constants {
		if sd := class.SD[c.Path]; sd > 0 && c.Get(class) > 0 {
			v := c.Get(class) * math.Exp(math.Sqrt(math.Log1p(sd*sd))*rng.NormFloat64())
			c.Set(s, min(max(v, c.Min), c.Max))
		}
	}
	return s
}

func (f *Family) number() uint64 {
	h := fnv.New64a()
	h.Write([]byte(f.Name))
	return h.Sum64()
}

// Pick gives the families whose names are in a list with commas, in the
// order of Families; nil where one is not known. "likely" and the other kinds
// stand for their families.
func Pick(list string) []*Family {
	var out []*Family
	want := strings.Split(list, ",")
	for i := range Families {
		f := &Families[i]
		if slices.Contains(want, f.Name) || slices.Contains(want, string(f.Kind)) {
			out = append(out, f)
		}
	}
	for _, w := range want {
		if !slices.ContainsFunc(out, func(f *Family) bool { return f.Name == w || string(f.Kind) == w }) {
			return nil
		}
	}
	return out
}

// in draws evenly between two values.
func in(rng *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }

// whole draws a whole number of lo…hi.
func whole(rng *rand.Rand, lo, hi int) int { return lo + rng.IntN(hi-lo+1) }

// Families of the zoo. All ranges are assumed: nobody has published how real
// controllers lie in them.
var Families = slices.Concat([]Family{{"model", "as the clock has it", Model, nil}}, likely, others)

var likely = []Family{
	{"ladder", "the length of a stitch picks one of 5 to 12 fixed speeds", Likely, ladder},
	{"ladder-axis", "the same, picked by the longer axis", Likely, func(m *Machine, rng *rand.Rand) {
		ladder(m, rng)
		m.LadderByAxis = true
	}},
	{"steps", "every speed is rounded down to a multiple of 50/min", Likely, func(m *Machine, rng *rand.Rand) {
		m.Step = 50
	}},
	{"steps-any", "the same with 10, 20, 25 or 100/min", Likely, func(m *Machine, rng *rand.Rand) {
		m.Step = []float64{10, 20, 25, 100}[rng.IntN(4)]
	}},
	{"steps-caps", "speeds below the set speed go in steps of 50 or 100/min, the set speed does not", Likely,
		func(m *Machine, rng *rand.Rand) {
			m.Step = []float64{50, 100}[rng.IntN(2)]
			m.FreeSet = true
		}},
	{"lag", "the shaft rises and falls with a lag of 0.1 to 0.3 s", Likely, func(m *Machine, rng *rand.Rand) {
		m.LagUp = in(rng, 0.1, 0.3)
		m.LagDown = m.LagUp
	}},
	{"lag-rise", "only its rise lags", Likely, func(m *Machine, rng *rand.Rand) {
		m.LagUp = in(rng, 0.1, 0.3)
	}},
	{"ramps", "it slows three times as hard as it rises", Likely, func(m *Machine, rng *rand.Rand) {
		m.Sheet.Shaft.AccelDown = 3 * m.Sheet.Shaft.AccelUp
	}},
	{"jerk", "the frame has its full acceleration after 2 to 12 ms", Likely, func(m *Machine, rng *rand.Rand) {
		m.JerkX = in(rng, 0.002, 0.012)
		m.JerkY = m.JerkX
	}},
	{"jerk-axes", "the same, x and y apart", Likely, func(m *Machine, rng *rand.Rand) {
		m.JerkX, m.JerkY = in(rng, 0.002, 0.012), in(rng, 0.002, 0.012)
	}},
	{"settle", "the frame stands still 1 to 5 ms after each move", Likely, func(m *Machine, rng *rand.Rand) {
		m.Sheet.Frame.Settle = in(rng, 0.001, 0.005)
	}},
	{"turn", "a turn makes the frame's move up to 10 to 50 % longer", Likely, func(m *Machine, rng *rand.Rand) {
		m.Sheet.Frame.Turn = in(rng, 0.1, 0.5)
	}},
	{"look-ahead", "it sees 3 to 6 stitches ahead and brakes as hard as it then must", Likely,
		func(m *Machine, rng *rand.Rand) { m.Sees = whole(rng, 3, 6) }},
	{"trims", "each trim differs by up to 30 %, colour changes by a cam", Likely, func(m *Machine, rng *rand.Rand) {
		m.TrimSpread, m.Cam = 0.3, true
	}},
	{"turns", "turns of more than 45 to 150° between stitches under 3 to 5 mm: 65 to 85 % of the set speed", Likely,
		func(m *Machine, rng *rand.Rand) {
			m.Turns = Turns{in(rng, 45, 150), 180, in(rng, 3, 5), in(rng, 0.65, 0.85)}
		}},
	{"turns-band", "the same in a band of angles 40 to 80° wide", Likely, func(m *Machine, rng *rand.Rand) {
		from := in(rng, 30, 100)
		m.Turns = Turns{from, from + in(rng, 40, 80), in(rng, 3, 5), in(rng, 0.65, 0.85)}
	}},
	{"soft-start", "6 to 13 slow stitches after each stop", Likely, func(m *Machine, rng *rand.Rand) {
		m.Sheet.Shaft.SoftStartStitches = whole(rng, 6, 13)
	}},
	{"soft-time", "0.8 to 2.5 s of slow stitches after each stop", Likely, func(m *Machine, rng *rand.Rand) {
		m.SoftSeconds = in(rng, 0.8, 2.5)
	}},
}

var others = []Family{
	{"two", "two of the likely ones at once", Other, func(m *Machine, rng *rand.Rand) {
		for _, k := range rng.Perm(len(likely))[:2] {
			likely[k].draw(m, rng)
		}
	}},
	{"power", "a move takes time by the 0.38th to 0.62nd power of its length", Other, func(m *Machine, rng *rand.Rand) {
		m.Power = in(rng, 0.38, 0.62)
	}},
	{"coupled", "the frame moves by length, both axes together", Other, func(m *Machine, rng *rand.Rand) {
		m.Euclid = true
	}},
	{"torque", "the shaft rises less hard the faster it is: 40 to 85 % is lost at the top", Other,
		func(m *Machine, rng *rand.Rand) { m.Torque = in(rng, 0.4, 0.85) }},
	{"avoids", "a band of speeds, 5 to 12 % wide at 55 to 85 % of the top, is not held", Other,
		func(m *Machine, rng *rand.Rand) {
			m.AvoidFrom = in(rng, 0.55, 0.85) * m.Sheet.MaxSpeed / 60
			m.AvoidTo = m.AvoidFrom * in(rng, 1.05, 1.12)
		}},
	{"brakes-early", "the last 4 to 12 stitches before each stop at 50 to 75 % of the set speed", Other,
		func(m *Machine, rng *rand.Rand) { m.Brake, m.BrakeShare = whole(rng, 4, 12), in(rng, 0.5, 0.75) }},
	{"after-colour", "the first 20 to 80 stitches of a colour at 50 to 75 % of the set speed", Other,
		func(m *Machine, rng *rand.Rand) { m.Recover, m.RecoverShare = whole(rng, 20, 80), in(rng, 0.5, 0.75) }},
	{"careful", "it sees 5 to 8 stitches ahead and is never too fast to stop within them", Other,
		func(m *Machine, rng *rand.Rand) { m.Sees, m.Careful = whole(rng, 5, 8), true }},
	{"warm-up", "its first one to three minutes at 80 to 92 % of the set speed", Other,
		func(m *Machine, rng *rand.Rand) { m.WarmSeconds, m.WarmShare = in(rng, 60, 180), in(rng, 0.80, 0.92) }},
	{"people", "colour stops differ by 25 % each time: people have a hand in them", Other,
		func(m *Machine, rng *rand.Rand) { m.ChangeSpread = 0.25 }},
	{"off-set", "the shaft turns 2 to 6 % slower than is set, or up to 2 % faster", Other, func(m *Machine, rng *rand.Rand) {
		m.TrueShare = 1 + []float64{-in(rng, 0.02, 0.06), in(rng, 0.005, 0.02)}[rng.IntN(2)]
	}},
	{"governed", "it never passes 72 to 95 % of its top speed, whatever is set", Other, func(m *Machine, rng *rand.Rand) {
		m.TopShare = in(rng, 0.72, 0.95)
	}},
	{"jumps", "each jump of a travel comes to rest", Other, func(m *Machine, rng *rand.Rand) {
		m.JumpByJump = true
	}},
	{"mean-length", "the mean length of the next 3 to 8 stitches limits the shaft too", Other, func(m *Machine, rng *rand.Rand) {
		m.Mean = whole(rng, 3, 8)
	}},
	{"holds-back", "it rises again only after 3 to 12 stitches that may go faster", Other, func(m *Machine, rng *rand.Rand) {
		m.Holds = whole(rng, 3, 12)
	}},
	{"stairs", "it rises by stairs of 60 to 200/min, 2 to 5 stitches on each", Other, func(m *Machine, rng *rand.Rand) {
		m.Stairs, m.Stair = whole(rng, 2, 5), in(rng, 60, 200)
	}},
	{"two-rates", "moves of more than 3 to 6 mm have 60 to 85 % of the acceleration", Other, func(m *Machine, rng *rand.Rand) {
		m.LongFrom, m.LongShare = in(rng, 3, 6), in(rng, 0.60, 0.85)
	}},
	{"least-move", "no move of more than 0.6 to 2 mm is shorter than suits 70 to 92 % of the top speed", Other,
		func(m *Machine, rng *rand.Rand) {
			m.LeastMM = in(rng, 0.6, 2)
			m.LeastMove = m.Sheet.Frame.Window / (in(rng, 0.70, 0.92) * m.Sheet.MaxSpeed / 60)
		}},
	{"window", "the part of a turn in which the frame may move shrinks by the square of the speed, 10 to 35 % at the top", Other,
		func(m *Machine, rng *rand.Rand) { m.WindowLoss = in(rng, 0.10, 0.35) }},
	{"backlash", "an axis that turns round takes 1 to 4 ms longer", Other, func(m *Machine, rng *rand.Rand) {
		m.Backlash = in(rng, 0.001, 0.004)
	}},
	{"thread", "thread is fed at 45 to 90 mm/s at most", Other, func(m *Machine, rng *rand.Rand) {
		m.Thread = in(rng, 45, 90)
	}},
	{"dense", "stitches under 0.6 to 1.2 mm at 60 to 85 % of the set speed", Other, func(m *Machine, rng *rand.Rand) {
		m.DenseMM, m.DenseShare = in(rng, 0.6, 1.2), in(rng, 0.60, 0.85)
	}},
	{"axis-change", "where the other axis gets the longer move: 65 to 85 % of the set speed", Other, func(m *Machine, rng *rand.Rand) {
		m.AxisShare = in(rng, 0.65, 0.85)
	}},
	{"after-trim", "the first 6 to 25 stitches after each trim at 50 to 75 % of the set speed", Other,
		func(m *Machine, rng *rand.Rand) { m.AfterTrim, m.TrimShare = whole(rng, 6, 25), in(rng, 0.50, 0.75) }},
	{"builds-up", "a rise has its full acceleration after 0.2 to 0.6 s", Other, func(m *Machine, rng *rand.Rand) {
		m.Build = in(rng, 0.2, 0.6)
	}},
	{"oils", "it pauses for 3 to 8 s every 2,000 to 6,000 stitches", Other, func(m *Machine, rng *rand.Rand) {
		m.OilEvery, m.OilFor = whole(rng, 2000, 6000), in(rng, 3, 8)
	}},
	{"parks", "at each colour stop the frame goes to a place 60 to 160 mm off, and back", Other, func(m *Machine, rng *rand.Rand) {
		m.Parks, m.ParkX, m.ParkY = true, in(rng, -60, 60), -in(rng, 60, 150)
	}},

	{"wander", "its speed wanders by 5 % over minutes", NoTerm, func(m *Machine, rng *rand.Rand) {
		m.Wander, m.WanderEvery = 0.05, in(rng, 60, 240)
	}},
	{"tires", "it loses 8 to 20 % of its speed within 2,000 to 8,000 stitches", NoTerm, func(m *Machine, rng *rand.Rand) {
		m.Tire, m.TireStitches = in(rng, 0.08, 0.20), in(rng, 2000, 8000)
	}},
	{"one-way", "the frame is 8 to 20 % faster one way than back", NoTerm, func(m *Machine, rng *rand.Rand) {
		m.Uneven, m.Towards = in(rng, 0.08, 0.20), in(rng, 0, 2*math.Pi)
	}},
	{"stumbles", "patches of dense short stitches go at half speed, one in two of them", NoTerm,
		func(m *Machine, rng *rand.Rand) { m.Stumble = in(rng, 0.3, 0.6) }},
	{"goods", "the goods of the day change the frame's acceleration by 20 %", NoTerm, func(m *Machine, rng *rand.Rand) {
		m.Goods = 0.2
	}},
	{"far", "the frame is 15 to 35 % slower at 100 mm from the start", NoTerm, func(m *Machine, rng *rand.Rand) {
		m.FarSlow = in(rng, 0.15, 0.35)
	}},
	{"needle", "one of the first six needles sews at 70 to 85 % of the top speed at most", NoTerm, func(m *Machine, rng *rand.Rand) {
		m.Needle, m.NeedleShare = rng.IntN(min(max(m.Sheet.Needles, 1), 6)), in(rng, 0.70, 0.85)
	}},
	{"wide", "designs wider or higher than 60 to 110 mm at 70 to 85 % of the top speed at most", NoTerm,
		func(m *Machine, rng *rand.Rand) { m.WideMM, m.WideShare = in(rng, 60, 110), in(rng, 0.70, 0.85) }},
}

// ladder gives a machine a table of speeds instead of the frame's own law: at each
// rung about what its frame could do there.
func ladder(m *Machine, rng *rand.Rand) {
	f := &m.Sheet.Frame
	n := whole(rng, 5, 12)
	const first, last = 1.5, 12.1 // mm; between them about evenly
	var lengths []float64
	for k := range n {
		at := float64(k) + in(rng, -0.35, 0.35)
		if k == n-1 {
			at = float64(k)
		}
		lengths = append(lengths, math.Round(10*(first+(last-first)*max(at, 0)/float64(n-1)))/10)
	}
	a, most := math.Sqrt(f.AccelX*f.AccelY), m.Sheet.MaxSpeed
	for _, mm := range lengths {
		v := 60 * f.Window / (2 * math.Sqrt(mm/a)) * math.Exp(0.05*rng.NormFloat64())
		most = max(min(most, 10*math.Round(v/10)), 100)
		m.Ladder.Speed = append(m.Ladder.Speed, most)
	}
	m.Ladder.Length = lengths
	f.AccelX, f.AccelY = 100*f.AccelX, 100*f.AccelY // never the limit
	f.SpeedX, f.SpeedY = 100*f.SpeedX, 100*f.SpeedY
}
