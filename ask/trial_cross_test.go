package ask

import (
	"context"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/stitch"
	"needlepace/trial"
)

// crossedTrial is handTrial with two designs of one stitch length each, of 4,000 stitches: 3.00 mm, 8 trims and 4 stops,
// and 4.2 mm, 18 and 9. The first is sewn four times as often, so that the mix has stitches of 3.24 mm (a step of the chart is at 3.25),
// 2.5 trims and 1.25 stops for each 1,000. Six sews 1.2 times what is predicted, One 0.9 times, Single as predicted.
func crossedTrial(t *testing.T) *TrialAnswer {
	t.Helper()
	from := floor.Sources{Design: func(ref string) (*stitch.Design, error) {
		if ref == "long.dst" {
			return money.TestDesign(money.Straight, 42, 4000, 18, 9), nil // 4.2: a record holds whole tenths
		}
		return money.TestDesign(money.Straight, 30, 4000, 8, 4), nil
	}, Sheet: func(name string) (*machine.Sheet, error) { s, _ := machine.Class(name); return s, nil }}
	q := TrialQuestion{Name: "T.toml", TOML: []byte(handTrial)}
	plan, err := Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	sheet := "place,turn,time\n"
	for _, x := range plan.Places[0].Turns {
		off := map[string]float64{"Six": 1.2, "One": 0.9, "Single": 1}[x.Machine]
		sheet += "here," + strconv.Itoa(x.Number) + "," + strconv.FormatFloat(plan.cellOf(x.Design, x.Machine).Predicted*off*(1+0.0025*float64(x.Block-2)), 'f', 4, 64) + "\n"
	}
	q.Returned = []trial.Given{{Name: "times.csv", Bytes: []byte(sheet)}}
	a, err := Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	if a.Used != 18 {
		t.Fatalf("%d used, %+v", a.Used, a.Apart)
	}
	return a
}

// The three charts show one and the same machine where each has what the mix has, and that is what the trial measured
// there, for 1,000 stitches of a piece; the band is that of measured over predicted.
func TestCrossingsMeetInTheMix(t *testing.T) {
	a := crossedTrial(t)
	all, err := a.Crossings(context.Background())
	if err != nil || len(all) != 3 {
		t.Fatalf("%d charts, %v", len(all), err)
	}
	for c, name := range []string{"Six", "One", "Single"} {
		rank := a.Ranks[slices.IndexFunc(a.Ranks, func(r TrialRank) bool { return r.Machine == name })]
		heads := map[string]float64{"Six": 6, "One": 1, "Single": 1}[name]
		measured := (0.8*a.cellOf("bars", name).Seconds + 0.2*a.cellOf("long", name).Seconds) / 4 / heads
		for i, at := range []float64{3.25, 2.5, 1.25} {
			k := &all[i].Curves[c]
			j := slices.Index(all[i].X, at)
			if j < 0 || k.Machine != name {
				t.Fatalf("%s: %s has no value at %v: %v", all[i].Input, k.Machine, at, all[i].X)
			}
			if math.Abs(k.Seconds[j]/measured-1) > 0.04 { // 3,000 stitches beside 4,000: what is once a run weighs more
				t.Errorf("%s, %s at %v: %.3f s, measured %.3f", name, all[i].Input, at, k.Seconds[j], measured)
			}
			if math.Abs(k.Low[j]/k.Seconds[j]-rank.OffLow/rank.Off) > 1e-9 || math.Abs(k.High[j]/k.Seconds[j]-rank.OffHigh/rank.Off) > 1e-9 || !(rank.OffLow < rank.Off && rank.Off < rank.OffHigh) {
				t.Errorf("%s, %s at %v: %.3f to %.3f s, by measured over predicted %.3f to %.3f of %.3f", name, all[i].Input, at, k.Low[j], k.High[j], rank.OffLow, rank.OffHigh, rank.Off)
			}
		}
	}
}

// toy is a chart of curves with bands of so much up and down.
func toy(band float64, curves ...[]float64) *TrialCrossing {
	k := &TrialCrossing{Input: "stitch_mm"}
	for j := range curves[0] {
		k.X = append(k.X, float64(j))
	}
	for m, y := range curves {
		c := TrialCurve{Machine: string(rune('A' + m)), Seconds: y}
		for _, v := range y {
			c.Low, c.High = append(c.Low, v-band), append(c.High, v+band)
		}
		k.Curves = append(k.Curves, c)
	}
	k.turn()
	return k
}

// Lines that cross, by hand: A stays at 10, B falls from 14.5 by 2 a step, so that they meet at 2.25; with 1.2 s up and down
// their ranges overlap where they lie within 2.4 s, from 1.05 to 3.45: on the grid from 1 to 4.
func TestWhereCurvesCrossByHand(t *testing.T) {
	flat, falling := []float64{10, 10, 10, 10, 10, 10}, []float64{14.5, 12.5, 10.5, 8.5, 6.5, 4.5}
	k := toy(1.2, flat, falling)
	want := TrialTurn{At: 2.25, Low: 1, High: 4, Below: "A", Above: "B"}
	if len(k.Turns) != 1 || math.Abs(k.Turns[0].At-2.25) > 1e-12 || k.Turns[0].Low != want.Low || k.Turns[0].High != want.High || k.Turns[0].Below != "A" || k.Turns[0].Above != "B" {
		t.Errorf("they cross at %+v, by hand %+v", k.Turns, want)
	}
	rising := []float64{5.5, 7.5, 9.5, 11.5, 13.5, 15.5} // meets A at 2.25 from below
	if k := toy(1.2, flat, rising); len(k.Turns) != 1 || math.Abs(k.Turns[0].At-2.25) > 1e-12 || k.Turns[0].Low != 1 || k.Turns[0].High != 4 || k.Turns[0].Below != "B" {
		t.Errorf("they cross at %+v", k.Turns)
	}
	for name, c := range map[string]struct {
		k    *TrialCrossing
		says []string
		key  string
	}{
		"one is before, one behind": {toy(1.2, flat, falling), []string{"A", "B", "2.3", "1.0", "4.0"}, "trial.cross-turn"},
		"all within all":            {toy(9, flat, falling), nil, "trial.cross-alike"},
		"one everywhere":            {toy(0.1, flat, []float64{12, 12, 12, 12, 12, 12}), []string{"A"}, "trial.cross-none"},
		"one behind, nobody before": {toy(1.2, []float64{11, 11, 11, 11, 11, 11}, []float64{11, 10, 8.5, 7, 6, 5}), []string{"B"}, "trial.cross-partly"},
		// C is the fastest between, and nowhere clearly: what is said is where B comes before.
		"a third between": {toy(0.6, []float64{4, 6, 8, 10, 12, 14}, []float64{14, 12, 10, 8, 6, 4}, []float64{8.9, 8.9, 7.9, 7.9, 8.9, 8.9}), []string{"A", "B"}, "trial.cross-turn"},
	} {
		m := c.k.Says()
		says := strings.ReplaceAll(m.Text(nil), "\u00a0", " ")
		if m.Key != c.key {
			t.Errorf("%s: it says %q (%s)", name, says, m.Key)
		}
		for _, want := range c.says {
			if !strings.Contains(says, want) {
				t.Errorf("%s: %q lacks %q", name, says, want)
			}
		}
		if name == "a third between" && strings.Contains(says, "C") {
			t.Errorf("%s: %q", name, says)
		}
	}
}
