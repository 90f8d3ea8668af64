package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
)

// A machine that is let in gently, for the first minute and a half of each run or the first stitches of each colour: how
// long and how slowly is learned from a test piece and two designs, and the sheet predicts others; of one that is not
// nothing of the kind is believed.
func TestAMachineThatIsLetInGentlyIsLearned(t *testing.T) {
	class := mustClass(t, "single-15-light")
	for _, slow := range []machine.Slow{{Seconds: 90, Speed: 0.85}, {Stitches: 45, Speed: 0.6}, {}} {
		s := class.Clone()
		s.Slow = slow
		truth, _, obs := timedPiece(t, s, 8)
		rng := rand.New(rand.NewPCG(6, 4))
		for k := range 2 {
			obs = append(obs, timed(truth, rng, somewhat(uint64(k), 6, 1500), 900-180*float64(k), true)...)
		}
		res := fit(t, class, obs, noDraws)
		is := slices.ContainsFunc(res.Families[0].Terms, func(k string) bool { return k == "slow-start" || k == "slow-colour" })
		if is != (slow.Speed > 0) || is != (res.WarmUp > 2) {
			t.Errorf("%+v: believed %v, a run loses %.1f s", slow, res.Families[0].Terms, res.WarmUp)
		}
		got := res.Sheet.Slow
		if math.Abs(got.Seconds-slow.Seconds) > 25 || math.Abs(float64(got.Stitches-slow.Stitches)) > 15 ||
			math.Abs(got.Speed-slow.Speed) > 0.06 {
			t.Errorf("%+v: learned %+v", slow, got)
		}
		d, job := somewhat(77, 5, 800), clock.Job{Speed: 700}
		if got, want := clock.Run(d, res.Sheet, job).Seconds, clock.Run(d, truth, job).Seconds; math.Abs(got/want-1) > 0.008 {
			t.Errorf("%+v: another design takes %.1f s, want %.1f", slow, got, want)
		}
	}
}

// A shaft that turns three per cent slower than is set, and one that never passes a speed below what is set, are learned.
func TestAShaftThatMissesItsSettingIsLearned(t *testing.T) {
	class := mustClass(t, "single-15-light")
	for _, speed := range []machine.Speed{{True: 0.97}, {Top: 860}} {
		s := class.Clone()
		s.Speed = speed
		truth, _, obs := timedPiece(t, s, 8)
		rng := rand.New(rand.NewPCG(6, 4))
		for k := range 2 {
			obs = append(obs, timed(truth, rng, somewhat(uint64(k), 6, 1500), 1000-250*float64(k), true)...)
		}
		res := fit(t, class, obs, noDraws)
		got := res.Sheet.Speed
		if math.Abs(got.True-speed.True) > 0.008 || math.Abs(got.Top-speed.Top) > 12 {
			t.Errorf("%+v: learned %+v, believed %v", speed, got, res.Families[:2])
		}
	}
}

// Steps of speed that leave the set speed as it is look like those that do not, where every timed speed is a multiple: both are
// believed, and so the interval at another speed holds both.
func TestStepsThatMayLeaveTheSetSpeedAreBoth(t *testing.T) {
	class := mustClass(t, "compact-10-light")
	s := class.Clone()
	s.Shaft.SpeedStep, s.Shaft.StepFreeSet = 50, 1
	truth, _, obs := timedPiece(t, s, 5)
	rng := rand.New(rand.NewPCG(6, 4))
	for k := range 2 {
		obs = append(obs, timed(truth, rng, somewhat(uint64(k), 6, 2000), 1000-250*float64(k), true)...)
	}
	res := fit(t, class, obs, noDraws)
	if got := res.Sheet.Shaft.SpeedStep; got != 50 {
		t.Fatalf("steps of 50: learned %v", got)
	}
	d, job := somewhat(77, 5, 800), clock.Job{Speed: 740}
	want := clock.Run(d, truth, job).Seconds
	if _, u := clock.How(d, res.Sheet, job, clock.DefaultLevel); want < u.Low || want > u.High || u.High/u.Low < 1.03 {
		t.Errorf("at 740 it takes %.0f s, predicted %.0f to %.0f", want, u.Low, u.High)
	}
}
