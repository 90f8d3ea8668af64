package ask

import (
	"context"
	"math"
	"slices"

	"needlepace/clock"
	"needlepace/money"
	"needlepace/stitch"
	"needlepace/words"
)

// TrialCrossing is how long each machine takes for a piece as one thing of the work
// changes and the rest stays as the mix has it: test designs, reckoned with the sheets and
// corrected by what the trial measured on each machine.
type TrialCrossing struct {
	Input  string        `json:"input" doc:"stitch_mm, trims_per_1000 or stops_per_1000"`
	What   words.Message `json:"what"`
	X      []float64     `json:"x"`
	Curves []TrialCurve  `json:"curves"`
	Turns  []TrialTurn   `json:"turns" doc:"where another machine becomes the fastest"`
}

// TrialCurve is one machine's.
type TrialCurve struct {
	Machine string    `json:"machine"`
	Seconds []float64 `json:"seconds_per_1000" doc:"of 1,000 stitches a piece"`
	Low     []float64 `json:"low"`
	High    []float64 `json:"high"`
}

// TrialTurn is a value at which another machine becomes the fastest.
type TrialTurn struct {
	At    float64 `json:"at"`
	Low   float64 `json:"low" doc:"from where on the ranges of the two overlap"`
	High  float64 `json:"high"`
	Below string  `json:"below" doc:"the fastest below it"`
	Above string  `json:"above"`
}

const crossStitches = 3000 // of a test design: rates round less

// Crossings says which stitch lengths, trims and colours favour which machine; nothing
// before enough came back to rank them.
func (a *TrialAnswer) Crossings(ctx context.Context) ([]TrialCrossing, error) {
	if len(a.Ranks) == 0 {
		return nil, nil
	}
	var length, stitches, trims, stops, share float64
	for i, d := range a.Designs {
		w := d.Year
		if a.years() == 0 {
			w = 1
		}
		long, n := 0.0, 0.0
		for _, r := range d.Of.Design.Records {
			if r.Op == stitch.Sew {
				long += math.Hypot(float64(r.DX), float64(r.DY))
				n++
			}
		}
		c := a.cell(i, 0).Clock
		length += w * long / max(n, 1)
		stitches += w * float64(d.Stitches)
		trims += w * float64(c.Trims)
		stops += w * float64(c.ColourStops)
		share += w
	}
	base := [3]float64{length / share / stitch.UnitsPerMM, trims / stitches * 1000, stops / stitches * 1000}
	steps := func(from, to float64, n int) (x []float64) {
		for i := range n {
			x = append(x, from+(to-from)*float64(i)/float64(n-1))
		}
		return x
	}
	out := []TrialCrossing{
		{Input: "stitch_mm", What: words.Say("trial.cross-length"), X: steps(1, 7, 25)},
		{Input: "trims_per_1000", What: words.Say("trial.cross-trims"), X: steps(0, max(8, math.Ceil(2*base[1])), 17)},
		{Input: "stops_per_1000", What: words.Say("trial.cross-stops"), X: steps(0, max(4, math.Ceil(2*base[2])), 17)},
	}
	for i := range out {
		k := &out[i]
		for _, m := range a.ranked {
			file := a.File.Machines[m]
			r := a.Ranks[slices.IndexFunc(a.Ranks, func(r TrialRank) bool { return r.Machine == file.Name })]
			curve := TrialCurve{Machine: file.Name}
			for _, x := range k.X {
				if err := ctx.Err(); err != nil {
					return nil, err
				}
				at := base
				at[i] = x
				d := money.TestDesign(money.Straight, int(math.Round(at[0]*stitch.UnitsPerMM)), crossStitches,
					int(math.Round(at[1]*crossStitches/1000)), int(math.Round(at[2]*crossStitches/1000)))
				s := clock.Run(d, a.Sheets[m], clock.Job{Speed: file.Speed}).Seconds / crossStitches * 1000 / float64(r.Heads)
				curve.Seconds = append(curve.Seconds, s*r.Off)
				curve.Low, curve.High = append(curve.Low, s*r.OffLow), append(curve.High, s*r.OffHigh)
			}
			k.Curves = append(k.Curves, curve)
		}
		k.turn()
	}
	return out, nil
}

func (a *TrialAnswer) years() (sum float64) {
	for _, d := range a.Designs {
		sum += d.Year
	}
	return sum
}

// fastest is the curve that is the lowest at the i-th value.
func (k *TrialCrossing) fastest(i int) int {
	best := 0
	for m := range k.Curves {
		if k.Curves[m].Seconds[i] < k.Curves[best].Seconds[i] {
			best = m
		}
	}
	return best
}

// turn finds where another machine becomes the fastest.
func (k *TrialCrossing) turn() {
	k.Turns = []TrialTurn{}
	for i := 1; i < len(k.X); i++ {
		was, is := k.fastest(i-1), k.fastest(i)
		if was == is {
			continue
		}
		p, q := &k.Curves[was], &k.Curves[is]
		before, after := q.Seconds[i-1]-p.Seconds[i-1], q.Seconds[i]-p.Seconds[i]
		t := TrialTurn{At: k.X[i-1] + (k.X[i]-k.X[i-1])*before/(before-after), Below: p.Machine, Above: q.Machine}
		overlap := func(j int) bool { return p.Low[j] <= q.High[j] && q.Low[j] <= p.High[j] }
		lo, hi := i-1, i
		for lo > 0 && overlap(lo) {
			lo--
		}
		for hi < len(k.X)-1 && overlap(hi) {
			hi++
		}
		t.Low, t.High = min(k.X[lo], t.At), max(k.X[hi], t.At)
		k.Turns = append(k.Turns, t)
	}
}

// clear are the machines that are the fastest somewhere with the whole of their range, in
// the order in which they are so, and whether one is everywhere.
func (k *TrialCrossing) clear() (who []string, whole bool) {
	whole = true
	for j := range k.X {
		best := k.fastest(j)
		is := !slices.ContainsFunc(k.Curves, func(c TrialCurve) bool {
			return c.Machine != k.Curves[best].Machine && c.Low[j] <= k.Curves[best].High[j]
		})
		whole = whole && is
		if name := k.Curves[best].Machine; is && (len(who) == 0 || who[len(who)-1] != name) {
			who = append(who, name)
		}
	}
	return who, whole
}

// Says says who is the fastest where, as far as the ranges allow.
func (k *TrialCrossing) Says() words.Message {
	who, whole := k.clear()
	switch {
	case len(who) == 0:
		return words.Say("trial.cross-alike", words.Args{"what": k.What})
	case len(who) == 1 && whole:
		return words.Say("trial.cross-none", words.Args{"machine": words.Name(who[0]), "what": k.What})
	case len(who) == 1:
		return words.Say("trial.cross-partly", words.Args{"machine": words.Name(who[0]), "what": k.What})
	}
	t := k.Turns[slices.IndexFunc(k.Turns, func(t TrialTurn) bool { return t.Above == who[1] })]
	return words.Say("trial.cross-turn", words.Args{"below": words.Name(who[0]), "above": words.Name(t.Above), "what": k.What,
		"at": k.Value(t.At), "low": k.Value(t.Low), "high": k.Value(t.High)})
}

// Length reports whether what changes is a length, in mm.
func (k *TrialCrossing) Length() bool { return k.Input == "stitch_mm" }

// Value is a value of what changes, for people.
func (k *TrialCrossing) Value(x float64) words.Value {
	if k.Length() {
		return words.StitchMM(x)
	}
	return words.Fixed(x, 1)
}
