package ask

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/trial"
	"needlepace/words"
)

func rankOf(a *TrialAnswer, name string) TrialRank {
	return a.Ranks[slices.IndexFunc(a.Ranks, func(r TrialRank) bool { return r.Machine == name })]
}

// On one more design a machine's time against another's lies about the geometric mean of what it was on those that were
// sewn, its heads with it; the other way round it is the inverse.
func TestOneMoreDesignIsLikeThoseThatWereSewn(t *testing.T) {
	a := handAnswer(t, handTrial, 1.02, nil)
	six, one := rankOf(a, "Six"), rankOf(a, "One")
	ratio := func(design string) float64 {
		return a.cellOf(design, "Six").Seconds / 6 / a.cellOf(design, "One").Seconds
	}
	want := math.Sqrt(ratio("bars") * ratio("long"))
	for want, pair := range map[float64][2]TrialRank{want: {six, one}, 1 / want: {one, six}} {
		if _, mid, _ := middle(a.ratios(a.next, pair[0], pair[1]), 0.9); math.Abs(mid/want-1) > 0.05 {
			t.Errorf("%s takes %.4f of %s, %.4f by hand", pair[0].Machine, mid, pair[1].Machine, want)
		}
	}
	if six.Further < 0.95 || one.Further < 0 || one.Further > 0.05 {
		t.Errorf("on one more design Six is first with %v, One with %v", six.Further, one.Further)
	}
}

// What differs from run to run and what a machine's lead differs from design to design are told apart: runs that scatter by a
// quarter per cent, whatever one design takes more than another; leads that differ by a tenth.
func TestRunsAndLeadsAreToldApart(t *testing.T) {
	shifted := func(of func(x trial.Turn) float64) *TrialAnswer {
		return handAnswer(t, handTrial, 1, func(cells []string, x trial.Turn) {
			s, _ := strconv.ParseFloat(cells[9], 64)
			cells[9] = strconv.FormatFloat(s*of(x), 'f', 4, 64)
		})
	}
	a := shifted(func(x trial.Turn) float64 { return map[string]float64{"bars": 1.25, "long": 1.05}[x.Design] })
	if a.Used != 18 || a.RunSD < 0.002 || a.RunSD > 0.004 || a.LeadSD > 0.02 {
		t.Errorf("%d runs scatter by %.4f, leads differ by %.4f: %+v", a.Used, a.RunSD, a.LeadSD, a.Apart)
	}
	if slices.Contains(keysOf(a.Caveats), "trial.scatter") {
		t.Error("runs that hardly scatter are told of")
	}
	a = shifted(func(x trial.Turn) float64 {
		return map[string]float64{"barsSix": 1.2, "longSix": 1, "barsOne": 1, "longOne": 1.2}[x.Design+x.Machine] + map[string]float64{"Single": 1.1}[x.Machine]
	})
	if a.RunSD > 0.004 || a.LeadSD < 0.07 || a.LeadSD > 0.4 {
		t.Errorf("runs scatter by %.4f, leads differ by %.4f", a.RunSD, a.LeadSD)
	}
	a = shifted(func(x trial.Turn) float64 { return 1 + 0.03*float64(x.Block-2) })
	if a.RunSD < 0.025 || !slices.Contains(keysOf(a.Caveats), "trial.scatter") {
		t.Errorf("runs scatter by %.4f: %v", a.RunSD, keysOf(a.Caveats))
	}
	if other := handAnswer(t, strings.Replace(handTrial, "repeats = 3", "repeats = 3\nseed = 7", 1), 1.02, nil); other.RunSD == handAnswer(t, handTrial, 1.02, nil).RunSD {
		t.Error("another seed draws the same")
	}
}

// The machine that is first on a design need not be the file's first: its chance, and the letter on the design, are its own.
func TestWhoIsFirstNeedNotStandFirst(t *testing.T) {
	a := handAnswer(t, strings.Replace(handTrial, "sheet = \"multi-6\"\nplace = \"here\"\nspeed = 850", "sheet = \"home-1\"\nplace = \"here\"\nspeed = 500", 1), 1.02, nil)
	letters, err := a.Letters(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for i, d := range []string{"bars", "long"} {
		if c := a.cellOf(d, "Single"); c.First < 0.95 || a.cellOf(d, "Six").First > 0.05 || letters[i].On.Name != "Single" {
			t.Errorf("%s: Single is first with %v, the letter is of %s", d, c.First, letters[i].On.Name)
		}
	}
}

// What a plan says: how long a place sews is the sum of what its runs are reckoned at, the pieces before them a third of that where
// each is sewn three times; what is known before anyone sews; that other designs are harder to tell.
func TestWhatAPlanSays(t *testing.T) {
	from := floor.Sources{Design: func(string) (*stitch.Design, error) { return bars([2]bool{true, true}, 0), nil },
		Sheet: func(name string) (*machine.Sheet, error) { s, _ := machine.Class(name); return s, nil }}
	text := strings.Replace(handTrial, "repeats = 3", "repeats = 3\nspread = { run_percent = 2, lead_percent = 5, setup_percent = 0.5 }", 1)
	a, err := Trial(context.Background(), TrialQuestion{TOML: []byte(text)}, from)
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, d := range []string{"bars", "long"} {
		for _, m := range []string{"Six", "One", "Single"} {
			sum += 3 * a.cellOf(d, m).Predicted
		}
	}
	says := a.Takes(&a.Places[0]).Text(nil)
	for _, want := range []string{words.Seconds(sum).Text(nil), words.Seconds(sum / 3).Text(nil)} {
		if !strings.Contains(says, want) {
			t.Errorf("%q does not say %q", says, want)
		}
	}
	known := ""
	for _, m := range a.Caveats {
		if m.Key == "trial.known" {
			known = strings.ReplaceAll(m.Text(nil), "\u00a0", " ")
		}
	}
	for _, want := range []string{"2.0 %", "5.0 %", "0.5 %"} {
		if !strings.Contains(known, want) {
			t.Errorf("%q does not say %s", known, want)
		}
	}
	if a.Need.Elsewhere >= 0 && a.Need.Elsewhere < 1.2*a.Need.Least {
		t.Errorf("on these designs it tells %v, on others %v", a.Need.Least, a.Need.Elsewhere)
	}
	narrow, err := Trial(context.Background(), TrialQuestion{TOML: []byte(text), Level: 0.5}, from)
	if err != nil {
		t.Fatal(err)
	}
	if wide, less := a.Cells[0], narrow.Cells[0]; !(wide.PredictedLow < less.PredictedLow && less.PredictedHigh < wide.PredictedHigh) {
		t.Errorf("9 in 10 lie from %v to %v, 5 in 10 from %v to %v", wide.PredictedLow, wide.PredictedHigh, less.PredictedLow, less.PredictedHigh)
	}
}

// What comes back to a trial is written as it came, what is kept apart too, and read again it says the same: a run faster than its
// stitches at the set speed, a turn that did not come, grades with gaps. No cell is a formula.
func TestWhatCameIsWrittenAsItCame(t *testing.T) {
	fast, gone := 0, 0
	var stitches float64
	a := handAnswer(t, handTrial, 1.02, func(cells []string, x trial.Turn) {
		switch {
		case x.Machine == "Six" && x.Design == "long" && x.Block == 2:
			fast = x.Number
			stitches = float64(len(bars([2]bool{true, true}, 0).Records) + 3000) // at the least
			cells[9], cells[12] = strconv.FormatFloat(stitches/870*60, 'f', 1, 64), "=1+1"
		case x.Machine == "One" && x.Block == 3 && x.Design == "bars":
			gone, cells[9] = x.Number, ""
		}
	})
	if len(a.Apart) != 1 || a.Apart[0].Turn != fast || a.Apart[0].Why.Key != "returns.too-fast" || len(a.Missing) != 1 || a.Missing[0].Turn != gone || a.Missing[0].Machine != "One" || a.Missing[0].Design != "bars" || a.Missing[0].Place != "here" {
		t.Fatalf("apart %+v (turn %d), missing %+v (turn %d)", a.Apart, fast, a.Missing, gone)
	}
	if !slices.Contains(keysOf(a.Caveats), "trial.missing") || !slices.Contains(keysOf(a.Caveats), "trial.apart") {
		t.Errorf("it says %v", keysOf(a.Caveats))
	}
	var times, grades bytes.Buffer
	if err := TrialTimes(&times, a); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(times.String(), ",=1") {
		t.Error("a formula is written")
	}
	a.Grades = []trial.Grade{{Design: "bars", Machine: "Six", Block: 2, Grader: "Ann", By: map[trial.Aspect]int{trial.Pull: 3}}}
	if err := TrialGrades(&grades, a); err != nil {
		t.Fatal(err)
	}
	from := floor.Sources{Design: func(ref string) (*stitch.Design, error) {
		return a.Designs[map[string]int{"bars.dst": 0, "long.dst": 1}[ref]].Of.Design, nil
	},
		Sheet: func(name string) (*machine.Sheet, error) { s, _ := machine.Class(name); return s, nil }}
	again, err := Trial(context.Background(), TrialQuestion{TOML: []byte(handTrial), Returned: []trial.Given{{Name: "times.csv", Bytes: times.Bytes()}, {Name: "grades.csv", Bytes: grades.Bytes()}}}, from)
	if err != nil {
		t.Fatal(err)
	}
	if again.Used != a.Used || len(again.Apart) != 1 || again.Apart[0].Turn != fast || again.Ranks[0].Piece != a.Ranks[0].Piece {
		t.Errorf("read again %d are used, %+v apart; a piece takes %v, was %v", again.Used, again.Apart, again.Ranks[0].Piece, a.Ranks[0].Piece)
	}
	if g := again.Grades; len(g) != 1 || g[0].Block != 2 || len(g[0].By) != 1 || g[0].By[trial.Pull] != 3 {
		t.Errorf("grades read again: %+v", g)
	}
	// What nobody knows is no 0 and no -1.
	for _, row := range a.CostTable().Rows {
		if c := row[9]; strings.HasPrefix(c.Raw(), "0") {
			t.Errorf("it pays back in %s years", c.Raw())
		}
	}
}

// Gains and losses in the order of their seconds, by the difference of the parts: one of six heads that takes fourteen times as
// long to start, and is the faster for all that, loses there.
func TestWhereAMachineGainsAndLoses(t *testing.T) {
	from := floor.Sources{Design: func(string) (*stitch.Design, error) { return bars([2]bool{true, true}, 0), nil },
		Sheet: func(name string) (*machine.Sheet, error) {
			s, _ := machine.Class(name)
			if s = s.Clone(); name == "multi-6" {
				s.Rest.Start *= 14
			}
			return s, nil
		}}
	q := TrialQuestion{TOML: []byte(handTrial)}
	plan, err := Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	sheet := "place,turn,time\n"
	for _, x := range plan.Places[0].Turns {
		sheet += "here," + strconv.Itoa(x.Number) + "," + strconv.FormatFloat(plan.cellOf(x.Design, x.Machine).Predicted*(1+0.0025*float64(x.Block-2)), 'f', 3, 64) + "\n"
	}
	q.Returned = []trial.Given{{Name: "t.csv", Bytes: []byte(sheet)}}
	a, err := Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	best, next, _, _ := a.First()
	all := map[string][]part{}
	for c, k := range a.ranked {
		all[a.File.Machines[k].Name] = a.parted()[c]
	}
	var gains, losses []part
	for n, p := range all[best.Machine] {
		by := all[next.Machine][n].seconds - p.seconds
		if by >= leastCost {
			gains = append(gains, part{p.key, p.name, by})
		} else if by <= -leastCost {
			losses = append(losses, part{p.key, p.name, -by})
		}
	}
	if best.Machine != "Six" || len(losses) == 0 || len(gains) < 2 {
		t.Fatalf("%s gains %d and loses %d", best.Machine, len(gains), len(losses))
	}
	slices.SortFunc(gains, func(x, y part) int { return int(math.Copysign(1, y.seconds-x.seconds)) })
	says, at := a.Gains().Text(nil), 0
	for _, p := range append(gains[:min(3, len(gains))], losses[0]) {
		want := words.Say("part.with-time", words.Args{"what": p.name, "time": words.Seconds(p.seconds)}).Text(nil)
		i := strings.Index(says[at:], want)
		if i < 0 {
			t.Fatalf("%q does not say %q in its order", says, want)
		}
		at += i + len(want)
	}
}

// What two machines differ by on one more design is, by the leads that were predicted, mean ± t·s·√(1 + 1/n) with n − 1 degrees of
// freedom: of 4 designs 5 in 100 lie beyond 2.353 on each side and 25 in 100 beyond 0.765 (a printed table of Student's t, from memory).
func TestAnotherDesignIsStudents(t *testing.T) {
	known := [][]float64{{5, 5.1}, {6, 6.3}, {4, 4.0}, {5.5, 5.7}} // differences 0.1, 0.3, 0, 0.2: mean 0.15, s 0.129099
	rng := rand.New(rand.NewPCG(4, 4))
	const n = 40_000
	beyond := map[float64]float64{}
	for range n {
		x := anotherDesign(rng, known)
		for _, q := range []float64{2.353, 0.765, -0.765, -2.353} {
			if z := (x[1] - x[0] - 0.15) / (0.129099 * math.Sqrt(1.25)); q > 0 && z > q || q < 0 && z < q {
				beyond[q] += 1. / n
			}
		}
	}
	for q, want := range map[float64]float64{2.353: 0.05, 0.765: 0.25, -0.765: 0.25, -2.353: 0.05} {
		if math.Abs(beyond[q]-want) > 0.01 { // chance alone: 0.0022 at the most
			t.Errorf("%.4f lie beyond %v, by the table %v", beyond[q], q, want)
		}
	}
}
