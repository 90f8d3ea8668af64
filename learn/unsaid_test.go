package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
)

// onNeedles is a timed piece and two designs of which nobody says the needles. lists gives the needles of each run.
func onNeedles(t *testing.T, s *machine.Sheet, seed uint64, lists func(rng *rand.Rand) []int) (truth *machine.Sheet, obs []Observation) {
	t.Helper()
	truth, p, obs := timedPiece(t, s, seed)
	rng := rand.New(rand.NewPCG(seed, 9))
	for k := range 2 {
		obs = append(obs, timed(truth, rng, somewhat(seed+uint64(k), 7, 1800), p.SetSpeed, true)...)
	}
	for i := range obs {
		if o := &obs[i]; o.Kind == WholeRun {
			job := clock.Job{Speed: o.SetSpeed}
			usual := clock.Run(o.Design, truth, job).Seconds
			job.Needles = lists(rng)
			o.Seconds += clock.Run(o.Design, truth, job).Seconds - usual
		}
	}
	return truth, obs
}

// Where nothing is said of needles, others than 1, 2, 3 stay possible: the interval of a design of many colours grows
// towards quicker colour stops and holds the truth, and the column is asked for; where they are written, none of that.
func TestNeedlesThatNobodySaysAreADoubt(t *testing.T) {
	s := mustClass(t, "single-15-1200")
	d := somewhat(77, 8, 1500)
	asked, held, doubted, wider := 0, 0, 0, 0
	const machines = 4
	for seed := range uint64(machines) {
		truth, obs := onNeedles(t, s, 40+seed, func(rng *rand.Rand) []int { return rng.Perm(s.Needles)[:8] })
		opt := noDraws
		opt.Plain = true
		res := fit(t, s, obs, opt)
		isAsked := slices.ContainsFunc(res.Slips, func(c Slip) bool { return c.Kind == NeedlesSlip })
		isNext := slices.ContainsFunc(res.Next, func(n Suggestion) bool { return strings.Contains(n.What, "column needles") })
		if isAsked && isNext {
			t.Errorf("machine %d: the needles are asked for twice", seed)
		}
		want := clock.Run(d, truth, clock.Job{}).Seconds
		_, u := clock.How(d, res.Sheet, clock.Job{}, clock.DefaultLevel)
		if want >= u.Low && want <= u.High {
			held++
		}
		without := res.Sheet.Clone()
		without.Fit.Also = nil
		if _, v := clock.How(d, without, clock.Job{}, clock.DefaultLevel); v.Low > u.Low+0.5 {
			wider++
		}
		if isAsked {
			asked++
		}
		if isAsked || isNext {
			doubted++
		}
		said := slices.Clone(obs)
		for i := range said {
			said[i].Needles = Needles{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14}[:said[i].Design.Count().ColourStops+1]
		}
		if res := fit(t, s, said, opt); len(res.Sheet.Fit.Also) > 0 || res.post.unsaid.believed() {
			t.Errorf("machine %d: needles that are written are doubted: %+v", seed, res.Sheet.Fit.Also)
		}
	}
	if asked < 2 || doubted < 4 || held < 3 || wider < 4 {
		t.Errorf("of %d machines the needles are asked about %d times and doubted %d times; %d intervals are wider by that, %d hold the truth",
			machines, asked, doubted, wider, held)
	}
}

// The parts of the doubt have the moments of what is known if other needles were used.
func TestTheDoubtHasItsMoments(t *testing.T) {
	s := mustClass(t, "single-15-1200")
	_, obs := onNeedles(t, s, 43, func(rng *rand.Rand) []int { return rng.Perm(s.Needles)[:8] })
	opt := noDraws
	opt.Plain = true
	res := fit(t, s, obs, opt)
	u := res.post.unsaid
	if !u.believed() {
		t.Fatalf("needles drawn by lot are not believed: %+v", u)
	}
	sum, mean, square := 0.0, 0.0, 0.0
	for _, a := range res.Sheet.Fit.Also {
		x := math.Log(a.Values["rest.colour_stop"] / res.Sheet.Rest.ColourStop)
		sum, mean, square = sum+a.Weight, mean+a.Weight*x, square+a.Weight*x*x
	}
	k := slices.IndexFunc(u.written.f.model.free, func(c machine.Constant) bool { return c.Path == "rest.colour_stop" })
	shift := u.meant.f.theta[k] - u.written.f.theta[k]
	more := u.meant.thetaCov().At(k, k) - u.written.thetaCov().At(k, k)
	mean /= sum
	if math.Abs(sum-u.chance) > 0.002 || math.Abs(mean-shift) > 0.001 || math.Abs(square/sum-mean*mean-more) > 0.001*math.Max(more, 1) {
		t.Errorf("chance %v (%v), shift %v (%v), variance %v (%v)", sum, u.chance, mean, shift, square/sum-mean*mean, more)
	}
	if shift >= 0 {
		t.Errorf("a colour stop takes longer if other needles were used: %v", shift)
	}
	if total := sum + res.Sheet.Fit.Weight; math.Abs(total-1) > 0.003 {
		t.Errorf("the chances add up to %v", total)
	}
}

// Colour changes that differ because people have a hand in them look much like other needles: at most half of such machines are
// asked about needles, and none whose changes are even.
func TestChangesByPeopleAreSeldomTakenForNeedles(t *testing.T) {
	s := mustClass(t, "single-15-1200")
	opt := noDraws
	opt.Plain = true
	if testing.Short() {
		t.Skip("seconds, for one threshold")
	}
	const machines = 6
	asked := func(spread float64) (n int) {
		for seed := range uint64(machines) {
			truth, obs := onNeedles(t, s, 60+seed, func(*rand.Rand) []int { return nil })
			rng := rand.New(rand.NewPCG(seed, 77))
			whole := 0
			for i, own := range Predict(truth, obs) {
				if o := &obs[i]; o.Kind != WholeRun { // what a block took longer its whole did too
					obs[whole].Seconds += o.Seconds - own
				} else {
					whole, o.Seconds = i, own+pressSD*rng.NormFloat64()
					for range o.Design.Count().ColourStops {
						o.Seconds += max(-1, spread*rng.NormFloat64()) * truth.Rest.ColourStop
					}
				}
			}
			if slices.ContainsFunc(fit(t, s, obs, opt).Slips, func(c Slip) bool { return c.Kind == NeedlesSlip }) {
				n++
			}
		}
		return n
	}
	if even, people := asked(0), asked(0.25); even > 0 || people > machines/2 {
		t.Errorf("of %d machines %d are asked about needles where changes are even and %d where people have a hand in them", machines, even, people)
	}
}
