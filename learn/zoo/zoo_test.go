package zoo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/stitch"
)

// sample has stitches of every length to 12 mm, turns, dense patches, trims,
// colour stops and stops.
func sample() *stitch.Design {
	rng := rand.New(rand.NewPCG(9, 9))
	d := &stitch.Design{Name: "sample"}
	put := func(op stitch.Op, dx, dy float64) {
		d.Records = append(d.Records, stitch.Record{DX: int16(math.Round(dx)), DY: int16(math.Round(dy)), Op: op})
	}
	for part := range 24 {
		switch part % 6 {
		case 2:
			put(stitch.ColourStop, 0, 0)
		case 5:
			put(stitch.Stop, 0, 0)
		}
		for range 4 {
			put(stitch.Jump, 60*rng.NormFloat64(), 60*rng.NormFloat64())
		}
		mm, angle, turn := 5*math.Exp(3.1*rng.Float64()), 2*math.Pi*rng.Float64(), math.Pi*rng.Float64()
		for k := range 400 {
			a := angle + turn*float64(k%2)
			if k >= 200 {
				a += math.Pi // and back
			}
			put(stitch.Sew, mm*math.Cos(a), mm*math.Sin(a))
		}
	}
	return d
}

func family(t *testing.T, name string) *Family {
	t.Helper()
	f := Pick(name)
	if len(f) != 1 {
		t.Fatalf("no family %q", name)
	}
	return f[0]
}

// The family that obeys the model is the clock's machine, whole and block by block.
func TestModelFamilyAgreesWithTheClock(t *testing.T) {
	d := sample()
	for k, class := range machine.Classes() {
		m := family(t, "model").Draw(class, 4, k)
		if k%2 == 1 { // what the classes leave out
			m.Sheet.Frame.Turn, m.Sheet.Frame.Settle = 0.3, 0.002
			m.Sheet.Travel.ReturnToStart = true
			m.Sheet.Ladder = machine.Ladder{Length: []float64{2, 5, 9}, Speed: []float64{900, 700, 500}}
		}
		if k%3 == 1 {
			m.Sheet.Travel.Mode = machine.ShaftTravel
		}
		needles := []int{3, 0, 5}
		for _, speed := range []float64{m.Sheet.MaxSpeed, 640} {
			got := m.Run(d, speed, needles, nil)
			r := clock.Run(d, m.Sheet, clock.Job{Speed: speed, Needles: needles})
			if math.Abs(got.Seconds/r.Seconds-1) > 1e-9 {
				t.Errorf("%s at %v: %v s, the clock %v s", class.Name, speed, got.Seconds, r.Seconds)
			}
			if len(got.Blocks) != len(r.Blocks) {
				t.Fatalf("%d blocks, the clock %d", len(got.Blocks), len(r.Blocks))
			}
			sum := m.Sheet.Rest.End
			for b := range got.Blocks {
				sum += got.Blocks[b] + got.Changes[b]
				// The clock's block has what stands before it and what ends the run.
				want := r.Blocks[b].Parts.Sum()
				if b < len(got.Blocks)-1 && math.Abs((got.Blocks[b]+got.Changes[b])/want-1) > 1e-9 {
					t.Errorf("%s: block %d takes %v s, by the clock %v s", class.Name, b, got.Blocks[b]+got.Changes[b], want)
				}
			}
			if !m.Sheet.Travel.ReturnToStart && math.Abs(sum-got.Seconds) > 1e-9*sum {
				t.Errorf("%s: blocks and changes add up to %v s of %v s", class.Name, sum, got.Seconds)
			}
		}
	}
}

// Every family departs from the machine with its own constants, in the
// direction it says, and never by more than half.
func TestFamiliesDepart(t *testing.T) {
	d := sample()
	class, _ := machine.Class("single-15-1200")
	either := map[string]bool{"ladder": true, "ladder-axis": true, "power": true, "coupled": true, "wander": true,
		"one-way": true, "goods": true, "trims": true, "people": true, "ramps": true, "two": true, "look-ahead": true}
	for i := range Families[1:] {
		f := &Families[1+i]
		same := 0
		for k := range 8 {
			base := Families[0].Draw(class, 4, k)
			base = &Machine{Sheet: base.Sheet}
			was := base.Run(d, base.Sheet.MaxSpeed, nil, nil).Seconds
			is := f.Draw(class, 4, k).Run(d, base.Sheet.MaxSpeed, nil, rand.New(rand.NewPCG(1, uint64(k)))).Seconds
			change := is/was - 1
			if math.Abs(change) < 1e-6 {
				same++ // a machine that is slow enough does not meet it
			}
			if !either[f.Name] && change < 0 || math.Abs(change) > 0.5 {
				t.Errorf("%s %d: %+.4f %% beside the model", f.Name, k, 100*change)
			}
		}
		if same > 5 {
			t.Errorf("%s: %d of 8 machines are as the model", f.Name, same)
		}
	}
}

// What a departure does, by hand.
func TestDeparturesByHand(t *testing.T) {
	class, _ := machine.Class("single-15-1200")
	line := func(n int, mm float64) *stitch.Design {
		d := &stitch.Design{}
		for range n {
			d.Records = append(d.Records, stitch.Record{DX: int16(10 * mm), Op: stitch.Sew})
		}
		return d
	}
	held := func(m *Machine, mm, set float64) float64 { // stitches/min, far from both ends
		return 60 * 2000 / (m.Run(line(4000, mm), set, nil, nil).Seconds - m.Run(line(2000, mm), set, nil, nil).Seconds)
	}
	fresh := func() *Machine { return &Machine{Sheet: class.Clone()} }
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got/want-1) > 1e-6 {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	m := fresh()
	m.Step = 50
	near("1 mm at 1180 in steps of 50", held(m, 1, 1180), 1150)
	near("1 mm at 1150 in steps of 50", held(m, 1, 1150), 1150)
	m.FreeSet = true
	near("the set speed is free", held(m, 1, 1180), 1180)
	m = fresh()
	m.Ladder = machine.Ladder{Length: []float64{2, 4}, Speed: []float64{1000, 800}}
	near("3 mm takes the rung of 4", held(m, 3, 1200), 800)
	near("5 mm takes the last rung", held(m, 5, 1200), 800)
	m = fresh()
	m.AvoidFrom, m.AvoidTo = 700.0/60, 800.0/60
	near("a speed that is avoided", held(m, 1, 760), 700)
	near("a speed beside it", held(m, 1, 810), 810)
	m = fresh()
	m.LagUp, m.LagDown = 0.3, 0.3
	near("a lag comes to its end", held(m, 1, 900), 900)
	m = fresh()
	m.WarmSeconds, m.WarmShare = 60, 0.5 // 2 s of them the start's own: 58 s at 300/min and not at 600
	more := func() float64 {
		d := line(4000, 1)
		return m.Run(d, 600, nil, nil).Seconds - fresh().Run(d, 600, nil, nil).Seconds
	}
	if s := more(); math.Abs(s-29) > 1 {
		t.Errorf("a minute at half speed costs %v s", s)
	}
	m = fresh()
	m.Brake, m.BrakeShare = 200, 0.5 // 200 stitches at 300/min and not at 600: 20 s
	if s := more(); math.Abs(s-20) > 1 {
		t.Errorf("200 stitches at half speed cost %v s", s)
	}
}

// A move of limited jerk against the closed forms of its seven segments
// (Biagiotti & Melchiorri, Trajectory Planning for Automatic Machines and
// Robots, 2008, section 3.4; from memory).
func TestJerkedMove(t *testing.T) {
	const a = 13800.0
	for _, v := range []float64{60, 400, 5000} {
		for _, tj := range []float64{0.002, 0.006, 0.012, 0.05} {
			j := a / tj
			for _, d := range []float64{0.1, 0.5, 1, 2, 4, 8, 12.1, 60} {
				var want float64
				switch {
				case v >= a*tj && d >= v*(v/a+tj):
					want = d/v + v/a + tj
				case v < a*tj && d >= 2*v*math.Sqrt(v/j):
					want = d/v + 2*math.Sqrt(v/j)
				case d < 2*a*tj*tj:
					want = 4 * math.Cbrt(d/(2*j))
				default:
					want = tj + math.Sqrt(tj*tj+4*d/a)
				}
				if got := jerked(d, a, v, j); math.Abs(got/want-1) > 1e-9 {
					t.Errorf("v %v, tj %v: %v mm in %v s, want %v s", v, tj, d, got, want)
				}
			}
		}
	}
}

func TestSameSeedSameMachine(t *testing.T) {
	class, _ := machine.Class("multi-6")
	d := sample()
	seen := map[float64]string{}
	for i := range Families {
		f := &Families[i]
		a, b := f.Draw(class, 7, 3), f.Draw(class, 7, 3)
		if !reflect.DeepEqual(a, b) {
			t.Errorf("%s: the same number gave two machines", f.Name)
		}
		if other := f.Draw(class, 7, 4); reflect.DeepEqual(a.Sheet, other.Sheet) {
			t.Errorf("%s: two numbers gave one machine", f.Name)
		}
		run := func() (sum float64) {
			for k := range 8 {
				sum += f.Draw(class, 7, k).Run(d, 940, nil, rand.New(rand.NewPCG(2, 2))).Seconds
			}
			return sum
		}
		sum := run()
		if run() != sum {
			t.Errorf("%s: the same runs took two times", f.Name)
		}
		if twin := seen[sum]; twin != "" {
			t.Errorf("%s and %s are one", f.Name, twin)
		}
		seen[sum] = f.Name
	}
}

func TestPick(t *testing.T) {
	if got := Pick("lag,turns"); len(got) != 2 || got[0].Name != "lag" || got[1].Name != "turns" {
		t.Errorf("%v", got)
	}
	if got := Pick("no term"); len(got) < 5 {
		t.Errorf("%d families of no term", len(got))
	}
	if Pick("lag,nothing") != nil {
		t.Error("an unknown name was passed over")
	}
}

// study is a small one of the test's own designs.
func study(t *testing.T, workers int) *Study {
	t.Helper()
	a, b := sample(), sample()
	b.Records = b.Records[:len(b.Records)/2]
	s, err := NewStudy(t.Context(), Options{Machines: 3, Classes: []string{"single-15-1200"},
		Timed: []Named{{"a", a}, {"b", b}}, Unseen: []Named{{"c", &stitch.Design{Records: a.Records[:3000]}}},
		Seed: 2, Workers: workers, Fit: learn.Options{Draws: -1}})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestStudyIsTheSameWithAnyNumberOfWorkers(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds")
	}
	var outs [][]Learned
	for _, workers := range []int{1, 2} {
		l, err := study(t, workers).Run(t.Context(), family(t, "steps"), nil)
		if err != nil {
			t.Fatal(err)
		}
		for i := range l {
			l[i].Fit = 0
		}
		outs = append(outs, l)
	}
	if !reflect.DeepEqual(outs[0], outs[1]) {
		t.Errorf("%+v\n%+v", outs[0], outs[1])
	}
	if s := Sum(outs[0]); s.Machines != 3 || s.Median <= 0 || s.Median > 0.05 || s.Half <= 0 || s.Worst < s.P90 {
		t.Errorf("%+v", s)
	}
}

// Each slip spoils the rows it says and no others.
func TestSlipsSpoilTheirRows(t *testing.T) {
	s := study(t, 1)
	class, _ := machine.Class("single-15-1200")
	rows := func(slip *Slip, n uint64) ([]learn.Observation, []int) {
		return s.times(family(t, "model").Draw(class, 2, 0), s.pieces[0], slip, rand.New(rand.NewPCG(5, n)))
	}
	for i := range Slips {
		slip := &Slips[i]
		for n := range uint64(20) {
			right, none := rows(nil, n)
			wrong, spoilt := rows(slip, n)
			if len(none) != 0 || len(right) != len(wrong) && !slip.other {
				t.Fatalf("%s: %d rows and %d", slip.Name, len(right), len(wrong))
			}
			if slip.needles || slip.other {
				continue
			}
			if len(spoilt) == 0 {
				t.Errorf("%s spoilt nothing", slip.Name)
				continue
			}
			for k := range right {
				change := wrong[k].Seconds - right[k].Seconds
				if (change != 0) != slices.Contains(spoilt, k) {
					t.Errorf("%s: row %d went from %v to %v s, spoilt %v", slip.Name, k, right[k].Seconds, wrong[k].Seconds, spoilt)
				}
				if change != 0 && slip.Name == "misread" && math.Abs(math.Abs(change)-40) > 1e-9 ||
					change != 0 && slip.Name == "laps" && (change < 1 || change > 60) {
					t.Errorf("%s: row %d went from %v to %v s", slip.Name, k, right[k].Seconds, wrong[k].Seconds)
				}
			}
		}
	}
}

func TestSwapped(t *testing.T) {
	for _, c := range []struct {
		in   float64
		at   int
		want float64
	}{{1234, 0, 1243}, {1234, 1, 1324}, {1234, 2, 2134}, {1234, 3, 1234}, {7, 0, 7}, {81.6, 0, 28}} {
		if got := swapped(c.in, c.at); got != c.want {
			t.Errorf("%v at %d: %v, want %v", c.in, c.at, got, c.want)
		}
	}
}

func TestChoose(t *testing.T) {
	var all []Named
	for n := 500; n < 20_000; n += 500 {
		all = append(all, Named{fmt.Sprint(n), &stitch.Design{Records: make([]stitch.Record, n)}})
	}
	all = append(all, Named{"again", all[7].Design}, Named{"colours", &stitch.Design{}})
	for range 4000 {
		d := all[len(all)-1].Design
		d.Records = append(d.Records, stitch.Record{}, stitch.Record{Op: stitch.ColourStop})
	}
	timed, unseen, ok := Choose(all)
	if !ok || len(timed) != 2 || len(unseen) != 14 || unseen[0].Name != "1500" || unseen[13].Name != "15000" {
		t.Fatalf("%v: %d and %d", ok, len(timed), len(unseen))
	}
	seen := map[string]bool{"again": true, "colours": true}
	for _, d := range slices.Concat(timed, unseen) {
		if seen[d.Name] {
			t.Errorf("%s was chosen twice, or at all", d.Name)
		}
		seen[d.Name] = true
	}
	if _, _, ok := Choose(all[:10]); ok {
		t.Error("ten designs were enough")
	}
}
