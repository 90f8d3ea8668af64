package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/machine"
	"needlepace/stitch"
)

// waves is blocks of running stitch of 2.5 mm, each with turns of another angle,
// left and right by turns: 30, 45, … 165 degrees.
func waves() *stitch.Design {
	s := &sewer{jumps: 3}
	for angle := 30.0; angle <= 165; angle += 15 {
		if angle > 30 {
			s.colourStop()
		}
		half := angle / 2 * math.Pi / 180
		for i := range 200 {
			s.sew(plus(s.at(), point{2.5 * math.Cos(half), 2.5 * math.Sin(half) * float64(1-i%2*2)}))
		}
	}
	return &stitch.Design{Name: "WAVES", Records: s.rec}
}

// A cap at turns in a band of angles is found where blocks turn by many angles:
// both ends, how long stitches it is for, and how slow. Where few rows turn, several
// bands are believed side by side.
func TestABandOfTurnsIsFound(t *testing.T) {
	s := mustClass(t, "multi-12")
	rng := rand.New(rand.NewPCG(3, 5))
	truth := with(s, "turns.speed", 0.7, 0.0, "turns.angle", 68.0, 0.0, "turns.to", 124.0, 0.0, "turns.length", 4.0, 0.0)
	few := timed(truth, rng, piece(t, s, usual).Design, s.MaxSpeed, true)
	for k := range 2 {
		few = append(few, timed(truth, rng, somewhat(uint64(k), 4, 1500), s.MaxSpeed-200*float64(k), true)...)
	}
	many := append(slices.Clone(few), timed(truth, rng, waves(), s.MaxSpeed, true)...)
	res := fit(t, s, many, noDraws)
	if got := res.Sheet.Turns; !slices.Contains(res.Families[0].Terms, "turns") || math.Abs(got.Speed-0.7) > 0.03 ||
		math.Abs(got.Angle-68) > 8 || math.Abs(got.To-124) > 8 || math.Abs(got.Length-4) > 1 {
		t.Errorf("believed %v, turns %+v", res.Families[0].Terms, got)
	}
	sheet := fit(t, s, few, noDraws).Sheet
	bands := 0
	for _, a := range sheet.Fit.Also {
		if v := a.Values; v["turns.angle"]+v["turns.to"]+v["turns.length"] > 0 {
			bands++
		}
	}
	if bands < 2 {
		t.Errorf("%d other bands are believed beside %+v", bands, sheet.Turns)
	}
}

// Speeds that go in steps are learned from a test piece and two designs, at whichever the rows show: the times jump where a
// stitch's speed comes to the next step, so that no law nearby tells of them, and leaving a row out there is done on the lines.
func TestStepsOfSpeedAreLearned(t *testing.T) {
	s := mustClass(t, "compact-10-light")
	const step = 50
	truth, _, obs := timedPiece(t, with(s, "shaft.speed_step", float64(step), 0.0), 5)
	rng := rand.New(rand.NewPCG(6, 4))
	for k := range 2 {
		obs = append(obs, timed(truth, rng, somewhat(uint64(k), 6, 2000), 1000-250*float64(k), true)...)
	}
	res := fit(t, s, obs, noDraws)
	if got := res.Sheet.Shaft.SpeedStep; got != step {
		t.Errorf("steps of %v: learned %v, %v", step, got, res.Families[:3])
	}
	if l := res.LeaveOut; l.RMS > 0.1 {
		t.Errorf("rows left out are %.0f %% off", 100*l.RMS)
	}
}

// Whether the stitch's length picks the rung of a ladder or the longer of its axes' moves, a test piece and two designs tell.
func TestALadderByTheLongerAxisIsLearned(t *testing.T) {
	s := mustClass(t, "single-15-light")
	for byAxis := range 2 {
		if byAxis == 0 && testing.Short() {
			continue
		}
		truth := s.Clone()
		for _, path := range []string{"frame.accel_x", "frame.accel_y", "frame.speed_x", "frame.speed_y"} {
			c, _ := machine.ConstantAt(path)
			c.Set(truth, c.Max)
			truth.SD[path] = 0
		}
		truth.Ladder = machine.Ladder{Length: []float64{2, 3, 4, 5, 6.5, 8, 12.7}, Speed: []float64{1000, 900, 780, 680, 600, 520, 430}, ByAxis: byAxis}
		truth, _, obs := timedPiece(t, truth, 4)
		rng := rand.New(rand.NewPCG(6, 4))
		for k := range 2 {
			obs = append(obs, timed(truth, rng, somewhat(uint64(k), 6, 2000), 1000-250*float64(k), true)...)
		}
		ladders, long := 0.0, 0.0
		for _, b := range fit(t, s, obs, noDraws).post.believed {
			if slices.Contains(b.terms, "ladder") {
				ladders += b.weight
				long += b.weight * float64(b.sheet.Ladder.ByAxis)
			}
		}
		if share := long / ladders; ladders < 0.4 || math.Abs(share-float64(byAxis)) > 0.2 {
			t.Errorf("by axis %d: a ladder is believed by %.2f, and of that by the longer axis by %.2f", byAxis, ladders, share)
		}
	}
}
