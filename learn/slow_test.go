package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// short is a design of so many colours of unequal size, of 1.5 mm running stitch, where the set speed alone holds the shaft back, with some of 6 mm
// in each.
func short(colours, each int) *stitch.Design {
	s := &sewer{jumps: 3}
	for b := range colours {
		if b > 0 {
			s.colourStop()
		}
		for i := range each / (1 + b%3) {
			mm := 1.5
			if i%60 > 56 {
				mm = 6
			}
			s.sew(plus(s.at(), point{mm * float64(1-i/50%2*2), 0}))
		}
	}
	return &stitch.Design{Name: "SHORT", Records: s.rec}
}

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
		for k := range 3 {
			obs = append(obs, timed(truth, rng, short(4+k, 900), 900-180*float64(k), true)...)
		}
		obs = append(obs, timed(truth, rng, somewhat(3, 6, 1500), 800, true)...)
		res := fit(t, class, obs, noDraws)
		is := slices.ContainsFunc(res.Families[0].Terms, func(k string) bool { return k == "slow-start" || k == "slow-colour" })
		if is != (slow.Speed > 0) || is != (res.WarmUp > 2) {
			t.Errorf("%+v: believed %v, a run loses %.1f s", slow, res.Families[0].Terms, res.WarmUp)
		}
		got := res.Sheet.Slow
		lost := func(s machine.Slow) float64 { return float64(s.Stitches) * (1/max(s.Speed, 0.1) - 1) } // revolutions a colour
		if math.Abs(got.Seconds-slow.Seconds) > 25 || slow.Seconds > 0 && math.Abs(got.Speed-slow.Speed) > 0.06 ||
			math.Abs(lost(got)-lost(slow)) > 0.25*lost(slow) {
			t.Errorf("%+v: learned %+v", slow, got)
		}
		d, job := short(5, 1800), clock.Job{Speed: 700}
		if got, want := clock.Run(d, res.Sheet, job).Seconds, clock.Run(d, truth, job).Seconds; math.Abs(got/want-1) > 0.01 {
			t.Errorf("%+v: another design takes %.1f s, want %.1f", slow, got, want)
		}
	}
}

// A shaft that never passes a speed below what is set is believed by a sixth at least, and learned; it and one that turns
// three per cent slower than is set are predicted at other speeds, whether the rows tell them from other kinds of machine (a
// ladder whose rungs all are that speed) or not.
func TestAShaftThatMissesItsSettingIsLearned(t *testing.T) {
	class := mustClass(t, "single-15-light")
	for _, speed := range []machine.Speed{{True: 0.97}, {Top: 860}} {
		s := class.Clone()
		s.Speed = speed
		truth, _, obs := timedPiece(t, s, 8)
		rng := rand.New(rand.NewPCG(6, 4))
		for k := range 2 {
			obs = append(obs, timed(truth, rng, short(4+k, 900), 1000-250*float64(k), true)...)
		}
		res := fit(t, class, obs, noDraws)
		if speed.Top > 0 {
			top, off := 0.0, 0.0
			for _, b := range res.post.believed {
				if slices.Contains(b.terms, "top-speed") {
					top += b.weight
					off += b.weight * math.Abs(b.f.model.sheetAt(b.f.theta).Speed.Top-speed.Top)
				}
			}
			if top < 0.15 || off/top > 12 {
				t.Errorf("%+v: a top speed is believed by %.2f, off by %.0f in the mean; %v", speed, top, off/top, res.Families[:2])
			}
		}
		for _, v := range []float64{1000, 820} {
			d, job := short(5, 1800), clock.Job{Speed: v}
			if got, want := clock.Run(d, res.Sheet, job).Seconds, clock.Run(d, truth, job).Seconds; math.Abs(got/want-1) > 0.01 {
				t.Errorf("%+v: at %v another design takes %.1f s, want %.1f", speed, v, got, want)
			}
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
	held := 0.0 // how strongly it is believed that the set speed is held as it is set
	if res.Sheet.Shaft.StepFreeSet == 1 {
		held = res.Sheet.Fit.Weight
	}
	for _, a := range res.Sheet.Fit.Also {
		if v, ok := a.Values["shaft.step_free_set"]; ok && v == 1 || !ok && res.Sheet.Shaft.StepFreeSet == 1 {
			held += a.Weight
		}
	}
	if held < 0.25 || held > 0.75 {
		t.Errorf("that the set speed is held as it is set is believed by %.2f", held)
	}
	d, job := somewhat(77, 5, 800), clock.Job{Speed: 740}
	if _, u := clock.How(d, res.Sheet, job, clock.DefaultLevel); u.High/u.Low < 1.03 {
		t.Errorf("at 740 it takes %.0f to %.0f s", u.Low, u.High)
	}
}
