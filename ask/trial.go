package ask

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"github.com/shopspring/decimal"

	"needlepace/audit"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/trial"
	"needlepace/trial/mixed"
	"needlepace/words"
)

// TrialQuestion asks what machines side by side say: what is to be sewn and, where
// something came back, who is first.
type TrialQuestion struct {
	Name     string        // of the trial's file, in errors
	TOML     []byte        // the file (docs/trials.md)
	Returned []trial.Given // what came back, unpacked; none: the plan alone
	Level    float64       // chance that an interval holds the truth; 0: DefaultLevel
	Heard    Hearing       // remembers recordings; nil: each is heard anew
	Last     words.Day     // the last day that it may be (trial.LastDay): later ones are asked about; zero: none is
}

// TrialAnswer is a trial. Its JSON is a written contract: later versions add keys and
// never change one.
type TrialAnswer struct {
	Trial     string           `json:"trial"`
	Invented  bool             `json:"invented" doc:"an example"`
	Seed      uint64           `json:"seed" doc:"of the order of the runs and of all draws"`
	Level     float64          `json:"level"`
	Digest    string           `json:"digest" doc:"first eight hex digits of the SHA-256 of the trial's file"`
	Designs   []TrialDesign    `json:"designs"`
	Places    []TrialPlace     `json:"places"`
	Planned   int              `json:"runs_planned"`
	Used      int              `json:"runs_used"`
	Apart     []TrialApart     `json:"runs_apart" doc:"came back and are not used, each with why"`
	Missing   []TrialApart     `json:"runs_missing"`
	Need      TrialNeed        `json:"need"`
	Cells     []TrialCell      `json:"cells" doc:"each design on each machine"`
	Ranks     []TrialRank      `json:"ranks" doc:"machines over the mix, the fastest first; empty: too little came back"`
	RunSD     float64          `json:"run_sd" doc:"how far runs of a design on a machine scatter, relative"`
	LeadSD    float64          `json:"lead_sd" doc:"how far a machine's lead differs from design to design beyond what was predicted, relative"`
	Agreement *trial.Agreement `json:"agreement,omitempty" doc:"of two graders"`
	Graded    []TrialGraded    `json:"grades"`
	Money     *TrialMoney      `json:"money,omitempty"`
	Said      []words.Plain    `json:"said" doc:"what was wrong with what came back"`
	Dangers   []words.Plain    `json:"dangers" doc:"what of a design may break a needle or strike: put right before anyone sews it"`
	Verdict   words.Sentences  `json:"verdict"`
	Caveats   words.Sentences  `json:"caveats"`

	File   *trial.File             `json:"-"`
	TOML   []byte                  `json:"-"` // the file as it was read
	Photos []trial.Photo           `json:"-"`
	Grades []trial.Grade           `json:"-"`
	Runs   []trial.Run             `json:"-"`
	Sheets []*machine.Sheet        `json:"-"` // of the machines, in their order
	priced []int                   // of those that are ranked, what has a price
	most   map[int]decimal.Decimal // of those that are ranked and have none, the price up to which each would be the cheapest
	middle [][]float64             // [design][machine], s a piece in the middle of what the runs say; +Inf as in draws
	ranked []int                   // machines that something came back of; the others are in no rank and no cost
	agreed [2]string               // the two whose Agreement it is
	draws  [][][]float64           // [draw][design][machine], s a piece; +Inf of a machine that is not ranked
	mix    [][]float64             // [draw][machine], +Inf as in draws: ln of s a piece over the mix
	next   [][]float64             // [draw][machine], +Inf as in draws: ln of s a piece on a design that nobody sewed, up to what all share
}

// TrialDesign is a design of a trial.
type TrialDesign struct {
	Name     string  `json:"design"`
	File     string  `json:"file"`
	Digest   string  `json:"digest" doc:"of what it sews, whatever the format"`
	Stitches int     `json:"stitches"`
	Year     float64 `json:"pieces_per_year"`

	Of *Design `json:"-"`
}

// TrialPlace is a place with its turns in order.
type TrialPlace struct {
	Name   string       `json:"place"`
	Called string       `json:"called"`
	Turns  []trial.Turn `json:"-"`
}

// TrialApart is a run that is not used.
type TrialApart struct {
	Place   string      `json:"place"`
	Turn    int         `json:"turn"`
	Design  string      `json:"design"`
	Machine string      `json:"machine"`
	Seconds float64     `json:"seconds,omitempty"`
	Why     words.Plain `json:"why,omitzero"`
	Offer   float64     `json:"offer_seconds,omitempty" doc:"what it may have been meant as"`
	File    string      `json:"file,omitempty"`
}

// TrialNeed is what the trial can tell before anyone sews.
type TrialNeed struct {
	Difference float64 `json:"difference" doc:"to be told, relative"`
	Power      float64 `json:"power" doc:"chance with which it is"`
	Repeats    int     `json:"repeats" doc:"needed to tell it on these designs; 0: no number does"`
	Enough     bool    `json:"enough" doc:"no more than the trial has"`
	Least      float64 `json:"least" doc:"smallest difference that the trial tells on these designs"`
	Elsewhere  float64 `json:"least_elsewhere" doc:"the same over other designs like these; -1: none up to 100 %"`
}

// TrialCell is a design on a machine.
type TrialCell struct {
	Design        string    `json:"design"`
	Machine       string    `json:"machine"`
	Predicted     float64   `json:"predicted_seconds" doc:"a run, reckoned before anyone sewed"`
	PredictedLow  float64   `json:"predicted_low"`
	PredictedHigh float64   `json:"predicted_high"`
	Measured      []float64 `json:"measured_seconds" doc:"runs that are used"`
	Seconds       float64   `json:"seconds" doc:"a run, by all runs together; 0: nothing came back"`
	Low           float64   `json:"low"`
	High          float64   `json:"high"`
	First         float64   `json:"first" doc:"chance that the machine is first on the design, by seconds a piece"`

	Clock *ClockAnswer `json:"-"`
}

// TrialRank is a machine over the mix.
type TrialRank struct {
	Machine string  `json:"machine"`
	Heads   int     `json:"heads"`
	First   float64 `json:"first" doc:"chance that it is first"`
	Further float64 `json:"first_elsewhere" doc:"chance that it is first on one more design like these that nobody sewed; -1: one design tells nothing of others"`
	Piece   float64 `json:"seconds_per_piece" doc:"mean over the mix"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
	Shift   float64 `json:"pieces_in_8_hours" doc:"of the mix on one machine, with the handling between two runs where the money says it"`
	Off     float64 `json:"measured_over_predicted" doc:"mean over the designs"`
	OffLow  float64 `json:"off_low"`
	OffHigh float64 `json:"off_high"`
	Inside  int     `json:"inside" doc:"designs whose measured time lies in the predicted interval"`
}

// TrialGraded is what the sew-outs of a design on a machine were graded.
type TrialGraded struct {
	Design  string             `json:"design"`
	Machine string             `json:"machine"`
	Mean    map[string]float64 `json:"mean" doc:"by aspect"`
	Grades  int                `json:"grades"`
}

// Power is the chance with which a trial is to tell the difference it is for, and Alpha
// how often it may tell one that is none. Common practice.
const (
	trialPower = 0.8
	trialAlpha = 0.1
)

// shiftOfTrial is a shift that machines are told apart by, s: what a shop's own yields hangs on its people
// (ask.Shift).
const shiftOfTrial = 8 * 3600

// trialDraws is how many draws the chances are counted from.
const trialDraws = 4000

// Trial answers what machines side by side say. An *Error says what is wrong with the
// question.
func Trial(ctx context.Context, q TrialQuestion, from floor.Sources) (*TrialAnswer, error) {
	if q.Level == 0 {
		q.Level = DefaultLevel
	}
	if !(q.Level >= 0.5 && q.Level <= 0.999) {
		return nil, Errorf("an interval of %v; give 0.5 to 0.999", q.Level)
	}
	f, err := trial.Parse(q.Name, q.TOML)
	if err != nil {
		return nil, wrong(err)
	}
	sum := sha256.Sum256(q.TOML)
	a := &TrialAnswer{Trial: f.Name, Invented: f.Invented, Seed: f.Seed, Level: q.Level, Digest: hex.EncodeToString(sum[:])[:8],
		Apart: []TrialApart{}, Missing: []TrialApart{}, Cells: []TrialCell{}, Ranks: []TrialRank{}, Graded: []TrialGraded{},
		Said: []words.Plain{}, Dangers: []words.Plain{}, File: f, TOML: q.TOML}
	expected, err := a.expect(ctx, from)
	if err != nil {
		return nil, err
	}
	for _, p := range f.Places {
		turns := f.Turns(p.Name)
		a.Places = append(a.Places, TrialPlace{p.Name, p.Called, turns})
		a.Planned += len(turns)
	}
	a.need()
	if len(q.Returned) > 0 {
		r := trial.Read(f, expected, func(g trial.Given, t trial.Turn) (float64, error) { return a.hear(ctx, q.Heard, g, t) }, q.Returned)
		if ctx.Err() != nil {
			return nil, stopped(ctx)
		}
		r.ToCome(q.Last)
		a.read(r)
		if err := a.rank(ctx); err != nil {
			return nil, err
		}
		a.grade()
		if err := a.money(); err != nil {
			return nil, err
		}
	}
	a.say(len(q.Returned) > 0)
	return a, nil
}

// expect reckons each design on each machine.
func (a *TrialAnswer) expect(ctx context.Context, from floor.Sources) (map[string]trial.Expected, error) {
	for i, m := range a.File.Machines {
		s, err := from.Sheet(m.Sheet)
		if err != nil {
			return nil, Errorf("machine %d of the trial, %s: %w", i+1, m.Name, err)
		}
		if m.Speed > s.MaxSpeed {
			return nil, Errorf("machine %d of the trial, %s, is to be set to %g/min, and its sheet says that it goes up to %g/min: give a speed that it goes, or put the sheet right",
				i+1, m.Name, m.Speed, s.MaxSpeed)
		}
		named := *s
		named.Name = m.Name
		a.Sheets = append(a.Sheets, &named)
	}
	out := map[string]trial.Expected{}
	for _, d := range a.File.Designs {
		of, err := from.Design(d.File)
		if err != nil {
			return nil, Errorf("design %s of the trial: %w", d.Name, err)
		}
		design := NewDesign(of, d.File, d.Name)
		x := TrialDesign{Name: d.Name, File: d.File, Digest: trial.Digest(of), Stitches: design.Counts.Stitches, Year: d.Year, Of: design}
		if x.Stitches == 0 {
			return nil, Errorf("design %s of the trial sews no stitch", d.Name)
		}
		a.Designs = append(a.Designs, x)
		dangers, err := dangersOf(ctx, design, a.Sheets, func(k int) float64 { return a.File.Machines[k].Speed })
		if err != nil {
			return nil, Errorf("design %s of the trial: %w", d.Name, err)
		}
		a.Dangers = append(a.Dangers, dangers...)
		for i, m := range a.File.Machines {
			job := Job{Speed: m.Speed}
			c, err := Clock(ctx, Given{Stitches: design, On: a.Sheets[i]}, ClockQuestion{Job: job, Level: a.Level})
			if err != nil {
				return nil, Errorf("%s on %s: %w", d.Name, m.Name, err)
			}
			a.Cells = append(a.Cells, TrialCell{Design: d.Name, Machine: m.Name, Predicted: c.Seconds, PredictedLow: c.Interval.Low,
				PredictedHigh: c.Interval.High, Measured: []float64{}, Clock: c})
			out[trial.Key(d.Name, m.Name)] = trial.Expected{Seconds: c.Seconds, Stitches: x.Stitches, Digest: x.Digest,
				Least: float64(x.Stitches) / c.SetSpeed * 60}
		}
	}
	return out, nil
}

// hear finds the time of a turn in a recording of it.
func (a *TrialAnswer) hear(ctx context.Context, keep Hearing, g trial.Given, t trial.Turn) (float64, error) {
	d := slices.IndexFunc(a.Designs, func(x TrialDesign) bool { return x.Name == t.Design })
	k := slices.IndexFunc(a.File.Machines, func(m trial.MachineKeys) bool { return m.Name == t.Machine })
	on := fmt.Sprintf("%s %x %v", a.Designs[d].Digest, sha256.Sum256(a.Sheets[k].TOML()), a.File.Machines[k].Speed)
	return keep.of(g.Bytes, on, func() (float64, error) {
		return heardRun(ctx, g.Bytes, a.Designs[d].Of, a.Sheets[k], Job{Speed: a.File.Machines[k].Speed})
	})
}

func (a *TrialAnswer) cell(design, machine int) *TrialCell {
	return &a.Cells[design*len(a.File.Machines)+machine]
}

// need is what the trial can tell.
func (a *TrialAnswer) need() {
	f := a.File
	m, d := len(f.Machines), len(f.Designs)
	n := &a.Need
	n.Difference, n.Power = f.Difference/100, trialPower
	n.Repeats, n.Enough = trial.Needed(trialPower, n.Difference, trialAlpha, f.Known(), m, d, false)
	if !n.Enough {
		n.Repeats = 0
	}
	n.Enough = n.Enough && n.Repeats <= f.Repeats
	n.Least = trial.Least(trialPower, trialAlpha, f.Known(), m, d, f.Repeats, false)
	if n.Elsewhere = trial.Least(trialPower, trialAlpha, f.Known(), m, d, f.Repeats, true); math.IsInf(n.Elsewhere, 1) {
		n.Elsewhere = -1
	}
}

func (a *TrialAnswer) read(r *trial.Returns) {
	a.Said, a.Photos, a.Runs, a.Grades = plainly(r.Said), r.Photos, r.Runs, r.Grades
	for _, x := range r.Runs {
		if !x.Apart.IsZero() {
			a.Apart = append(a.Apart, TrialApart{x.Place, x.Number, x.Design, x.Machine, x.Seconds, words.Plain(x.Apart), x.Offer, x.File.Raw()})
			continue
		}
		a.Used++
		for i := range a.Cells {
			if c := &a.Cells[i]; c.Design == x.Design && c.Machine == x.Machine {
				c.Measured = append(c.Measured, x.Seconds)
			}
		}
	}
	for _, x := range r.Missing {
		a.Missing = append(a.Missing, TrialApart{Place: x.Place, Turn: x.Number, Design: x.Design, Machine: x.Machine})
	}
	byDesign := map[string]*TrialGraded{}
	counted := map[string]map[string]float64{} // by sew-out and aspect: how many grades are in Mean
	type graded struct {
		design, machine string
		block           int
		aspect          trial.Aspect
	}
	given := map[string]map[graded]int{} // by grader: what was given first
	graders := []string{}
	for _, g := range r.Grades {
		if g.Apart {
			continue
		}
		if given[g.Grader] == nil {
			given[g.Grader] = map[graded]int{}
			graders = append(graders, g.Grader)
		}
		key := trial.Key(g.Design, g.Machine)
		t := byDesign[key]
		if t == nil {
			t = &TrialGraded{Design: g.Design, Machine: g.Machine, Mean: map[string]float64{}}
			byDesign[key], counted[key] = t, map[string]float64{}
		}
		t.Grades++
		for aspect, n := range g.By {
			t.Mean[string(aspect)] += float64(n)
			counted[key][string(aspect)]++
			k := graded{g.Design, g.Machine, g.Block, aspect}
			if _, twice := given[g.Grader][k]; !twice {
				given[g.Grader][k] = n
			}
		}
	}
	var pairs [][2]int // of the two who graded most of the same things
	for i, one := range graders {
		for _, other := range graders[i+1:] {
			var both [][2]int
			for k, n := range given[one] {
				if m, ok := given[other][k]; ok {
					both = append(both, [2]int{n, m})
				}
			}
			if len(both) > len(pairs) {
				pairs, a.agreed = both, [2]string{one, other}
			}
		}
	}
	for i := range a.Cells {
		key := trial.Key(a.Cells[i].Design, a.Cells[i].Machine)
		if t := byDesign[key]; t != nil {
			for aspect, n := range counted[key] {
				t.Mean[aspect] /= n
			}
			a.Graded = append(a.Graded, *t)
		}
	}
	if k, err := trial.Agree(pairs, nil); err == nil {
		a.Agreement = &k
	} else if errors.Is(err, trial.ErrOneGrade) {
		a.Agreement = &trial.Agreement{Kappa: math.NaN(), Plain: 1, Pairs: len(pairs)}
	}
}

func (a *TrialAnswer) grade() {
	if a.Agreement != nil && math.IsNaN(a.Agreement.Kappa) {
		a.Agreement.Kappa = 1 // all the same: chance cannot be told from it; said in the caveats
		a.Caveats.Say("trial.one-grade")
	}
}

// rank fits the mixed model to the logarithms of measured over predicted times and counts
// who is first. Two things that no run of the trial shows are in the draws: how a machine, set
// up and timed once, would lie at another time (trial.SpreadKeys.Setup), and what another
// design is like (anotherDesign).
func (a *TrialAnswer) rank(ctx context.Context) error {
	nd, nm := len(a.Designs), len(a.File.Machines)
	for k := range nm {
		for i := range nd {
			if len(a.cell(i, k).Measured) > 0 {
				a.ranked = append(a.ranked, k)
				break
			}
		}
	}
	if len(a.ranked) < 2 {
		return nil // said
	}
	d := &mixed.Data{Rows: nd, Cols: len(a.ranked)}
	known := make([][]float64, nd) // ln of the predicted time: what the sheets say of a design is no spread
	for i := range nd {
		for c, k := range a.ranked {
			known[i] = append(known[i], math.Log(a.cell(i, k).Predicted))
			for _, s := range a.cell(i, k).Measured {
				d.Values = append(d.Values, mixed.Value{Row: i, Col: c, Y: math.Log(s) - known[i][c]})
			}
		}
	}
	draws, err := sample(ctx, d, mixed.Options{Seed: a.Seed, Draws: trialDraws})
	if errors.Is(err, mixed.ErrColumn) || errors.Is(err, mixed.ErrFew) {
		return nil // said
	}
	if err != nil {
		return Errorf("the times cannot be weighed: %w", err)
	}
	var share, total float64
	weight := make([]float64, nd)
	for i := range nd {
		total += a.Designs[i].Year
	}
	for i := range nd {
		weight[i] = a.Designs[i].Year
		if total == 0 {
			weight[i] = 1
		}
		share += weight[i]
	}
	ranks := make([]TrialRank, nm)
	pieces := make([][]float64, nm) // [machine][draw]: s a piece over the mix
	offs := make([][]float64, nm)
	runs := make([][]float64, nd*nm)
	sewn := 0
	for i := range nd {
		if slices.ContainsFunc(d.Values, func(v mixed.Value) bool { return v.Row == i }) {
			sewn++
		}
	}
	rng := rand.New(rand.NewPCG(a.Seed, 0x7365747570)) // for what no run of the trial shows
	for _, w := range draws {
		setup := make([]float64, len(a.ranked))
		for c := range setup {
			setup[c] = a.File.Known().Setup * rng.NormFloat64()
		}
		another := anotherDesign(rng, known)
		a.RunSD += w.SD / float64(len(draws))
		a.LeadSD += w.TauCell / float64(len(draws))
		one := make([][]float64, nd)
		mix, next := untimed(nm), untimed(nm)
		for _, k := range a.ranked {
			mix[k] = 0
		}
		for i := range nd {
			one[i] = untimed(nm)
			for c, k := range a.ranked {
				s := math.Exp(known[i][c] + w.Cell[i][c])
				runs[i*nm+k] = append(runs[i*nm+k], s)
				one[i][k] = s * math.Exp(setup[c]) / float64(max(a.Sheets[k].Heads, 1))
				mix[k] += weight[i] / share * one[i][k]
			}
			a.cell(i, least(one[i])).First++
		}
		ranks[least(mix)].First++
		logs := make([]float64, nm)
		for k := range mix {
			logs[k] = math.Log(mix[k])
		}
		a.mix = append(a.mix, logs)
		for c, k := range a.ranked {
			next[k] = another[c] + w.Next[c] + setup[c] - math.Log(float64(max(a.Sheets[k].Heads, 1)))
		}
		ranks[least(next)].Further++
		a.next = append(a.next, next)
		for c, k := range a.ranked {
			pieces[k] = append(pieces[k], mix[k])
			off := setup[c]
			for i := range nd {
				off += w.Cell[i][c] / float64(nd)
			}
			offs[k] = append(offs[k], math.Exp(off))
		}
		a.draws = append(a.draws, one)
	}
	n := float64(len(draws))
	for i := range nd {
		a.middle = append(a.middle, untimed(nm))
		for _, k := range a.ranked {
			low, mid, high := middle(runs[i*nm+k], a.Level)
			a.middle[i][k] = mid / float64(max(a.Sheets[k].Heads, 1))
			if c := a.cell(i, k); len(c.Measured) > 0 {
				c.Low, c.Seconds, c.High = low, mid, high
			}
			a.cell(i, k).First /= n
		}
	}
	for _, k := range a.ranked {
		r := &ranks[k]
		r.First, r.Further = r.First/n, r.Further/n
		r.Machine, r.Heads = a.File.Machines[k].Name, max(a.Sheets[k].Heads, 1)
		r.Low, r.Piece, r.High = middle(pieces[k], a.Level)
		each := r.Piece
		if m := a.File.Money; m != nil {
			each += m.Handling / float64(r.Heads)
		}
		r.Shift = shiftOfTrial / each
		r.OffLow, r.Off, r.OffHigh = middle(offs[k], a.Level)
		if sewn < 2 {
			r.Further = -1
		}
		for i := range nd {
			if c := a.cell(i, k); c.Seconds >= c.PredictedLow && c.Seconds <= c.PredictedHigh {
				r.Inside++
			}
		}
	}
	ranks = slices.DeleteFunc(ranks, func(r TrialRank) bool { return r.Machine == "" })
	slices.SortStableFunc(ranks, func(x, y TrialRank) int {
		return cmp.Compare(x.Piece, y.Piece)
	})
	a.Ranks = ranks
	return nil
}

// anotherDesign draws what the columns of known, each less what all of them share, are in a
// further row of the same kind. The difference of any two is theirs in n rows,
// mean + s·√(1 + 1/n)·t with n − 1 degrees of freedom: the prediction of one more value of a
// normal sample (Hahn and Meeker, Statistical Intervals, 1991, section 4.7; from memory). One row
// is given back.
func anotherDesign(rng *rand.Rand, known [][]float64) []float64 {
	n := float64(len(known))
	mean := make([]float64, len(known[0]))
	for _, row := range known {
		for c, x := range row {
			mean[c] += x / n
		}
	}
	out := slices.Clone(mean)
	if n < 2 {
		return out
	}
	chi := 0.0
	for range len(known) - 1 {
		g := rng.NormFloat64()
		chi += g * g
	}
	wide := math.Sqrt((1 + 1/n) / max(chi, 1e-12))
	for _, row := range known {
		g := wide * rng.NormFloat64()
		for c, x := range row {
			out[c] += g * (x - mean[c])
		}
	}
	return out
}

// untimed is a time of each of n machines, none of which is known.
func untimed(n int) []float64 { return slices.Repeat([]float64{math.Inf(1)}, n) }

func least(x []float64) int {
	best := 0
	for i := range x {
		if x[i] < x[best] {
			best = i
		}
	}
	return best
}

// middle is the median of draws and the interval that holds so large a share of them.
func middle(draws []float64, level float64) (low, mid, high float64) {
	x := slices.Sorted(slices.Values(draws))
	at := func(p float64) float64 { return x[min(len(x)-1, int(p*float64(len(x))))] }
	return at((1 - level) / 2), at(0.5), at(1 - (1-level)/2)
}

// Letters are the letters to those who digitized the designs of a trial, each on the
// machine that is first on it: what the paper's audit shows.
func (a *TrialAnswer) Letters(ctx context.Context) ([]*Letter, error) {
	var out []*Letter
	for i, d := range a.Designs {
		on := 0
		for k := range a.File.Machines {
			if a.cell(i, k).First > a.cell(i, on).First {
				on = k
			}
		}
		terms, pieces := LetterTerms{From: a.File.Adviser, Year: d.Year >= 1}, int(min(d.Year, mostPieces))
		if m := a.File.Money; m != nil && pieces > 0 { // as the client's year is reckoned: an hour of a machine is labour
			terms.Hour, terms.Currency = m.Labour.DivRound(money.Measured(m.Tends), 9), m.Currency
		}
		x, err := Audit(ctx, Given{Stitches: d.Of, On: a.Sheets[on]}, AuditQuestion{Job: Job{Speed: a.File.Machines[on].Speed},
			Pieces: pieces, Limits: ptr(audit.DefaultLimits())})
		if err != nil {
			return nil, err
		}
		l, err := LetterOf(x, terms)
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	return out, nil
}

// plainly is sentences as files have them.
func plainly(all words.Sentences) []words.Plain {
	out := make([]words.Plain, len(all))
	for i, m := range all {
		out[i] = words.Plain(m)
	}
	return out
}

// TrialTimes writes the runs that came back as they came, those kept apart too, as the
// sheet of a pack: read again they say the same.
func TrialTimes(w io.Writer, a *TrialAnswer) error {
	rows := [][]string{trial.SheetColumns}
	for _, x := range a.Runs {
		rows = append(rows, quotable(x.Cells))
	}
	return csv.NewWriter(w).WriteAll(rows)
}

// TrialGrades writes the grades that came back, as the sheet of a pack.
func TrialGrades(w io.Writer, a *TrialAnswer) error {
	rows := [][]string{slices.Clone(trial.GradeColumns)}
	for _, x := range trial.Aspects {
		rows[0] = append(rows[0], string(x))
	}
	for _, g := range a.Grades {
		row := []string{a.Trial, g.Design, g.Machine, strconv.Itoa(g.Block), g.Grader}
		for _, x := range trial.Aspects {
			cell := ""
			if n, ok := g.By[x]; ok {
				cell = strconv.Itoa(n)
			}
			row = append(row, cell)
		}
		rows = append(rows, quotable(row))
	}
	return csv.NewWriter(w).WriteAll(rows)
}

// quotable is cells that no spreadsheet takes for formulas.
func quotable(row []string) []string {
	out := make([]string, len(row))
	for i, s := range row {
		out[i] = defused(s)
	}
	return out
}

func ptr[T any](v T) *T { return &v }
