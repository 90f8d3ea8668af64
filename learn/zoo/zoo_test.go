package zoo

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"needlepace/clock"
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
		"one-way": true, "goods": true, "trims": true, "people": true, "ramps": true, "two": true, "look-ahead": true, "off-set": true}
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
	stairs := func(n int, right, up float64) *stitch.Design { // mm, by turns where both are given
		d := &stitch.Design{}
		for k := range n {
			r := stitch.Record{DX: int16(10 * right), Op: stitch.Sew}
			if up > 0 && (k%2 == 1 || right == 0) {
				r = stitch.Record{DY: int16(10 * up), Op: stitch.Sew}
			}
			d.Records = append(d.Records, r)
		}
		return d
	}
	line := func(n int, mm float64) *stitch.Design { return stairs(n, mm, 0) }
	far := func(m *Machine, design func(n int) *stitch.Design, set float64) float64 { // stitches/min, far from both ends
		return 60 * 2000 / (m.Run(design(4000), set, nil, nil).Seconds - m.Run(design(2000), set, nil, nil).Seconds)
	}
	held := func(m *Machine, mm, set float64) float64 {
		return far(m, func(n int) *stitch.Design { return line(n, mm) }, set)
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
	diagonal := func(n int) *stitch.Design {
		d := line(n, 3)
		for k := range d.Records {
			d.Records[k].DY = 30
		}
		return d
	}
	m.Ladder = machine.Ladder{Length: []float64{3.5, 5}, Speed: []float64{900, 800}}
	near("3 and 3 mm are 4.2 mm", far(m, diagonal, 1200), 800)
	m.LadderByAxis = true
	near("by the longer axis 3 mm", far(m, diagonal, 1200), 900)
	m = fresh()
	right := func(n int) *stitch.Design { return stairs(n, 2, 2) }
	m.Turns = Turns{From: 80, To: 180, Length: 3, Share: 0.7}
	near("right angles within the turns", far(m, right, 1000), 700)
	m.Turns.To = 85
	near("beyond them", far(m, right, 1000), 1000)
	m.Turns = Turns{From: 80, To: 180, Length: 1.9, Share: 0.7}
	near("longer than they are meant for", far(m, right, 1000), 1000)
	m = fresh()
	m.JerkX, m.JerkY = 0.002, 0.004
	m.Sheet.Frame.AccelX, m.Sheet.Frame.AccelY = 14_000, 14_000
	// tj + sqrt(tj² + 4d/a) for 8 mm (d ≥ 2·a·tj²)
	move := func(tj float64) float64 { return tj + math.Sqrt(tj*tj+4*8/14_000.) }
	near("8 mm along x", held(m, 8, 1200), 60*m.Sheet.Frame.Window/move(0.002))
	near("8 mm along y", far(m, func(n int) *stitch.Design { return stairs(n, 0, 8) }, 1200),
		60*m.Sheet.Frame.Window/move(0.004))
	m = fresh()
	m.AvoidFrom, m.AvoidTo = 700.0/60, 800.0/60
	near("a speed that is avoided", held(m, 1, 760), 700)
	near("a speed beside it", held(m, 1, 810), 810)
	m = fresh()
	m.LagUp, m.LagDown = 0.3, 0.3
	near("a lag comes to its end", held(m, 1, 900), 900)
	// From half the speed a lag of τ loses τ/2 of a run's time on its way up, and as much on its way down.
	m.Sheet.Shaft.CreepSpeed, m.Sheet.Shaft.AccelUp, m.Sheet.Shaft.AccelDown = 450, 500, 500
	m.Sheet.Shaft.SoftStartStitches = 0
	both := m.Run(line(1000, 1), 900, nil, nil).Seconds
	m.LagDown = 0
	up := m.Run(line(1000, 1), 900, nil, nil).Seconds
	m.LagUp = 0
	quick := m.Run(line(1000, 1), 900, nil, nil).Seconds
	for _, lost := range []float64{both - up, up - quick} {
		if math.Abs(lost-0.15) > 0.01 {
			t.Errorf("a lag of 0.3 s from half the speed loses %v s", lost)
		}
	}
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

// What a person times: the colour stop and the way to the first stitch belong
// to no block, a trim and the way after it do.
func TestBlocksAndChanges(t *testing.T) {
	class, _ := machine.Class("single-15-1200")
	d := &stitch.Design{}
	put := func(n int, r stitch.Record) {
		for range n {
			d.Records = append(d.Records, r)
		}
	}
	sew, jump := stitch.Record{DX: 10, Op: stitch.Sew}, stitch.Record{DY: 100, Op: stitch.Jump}
	put(3, jump)
	put(50, sew)
	put(1, stitch.Record{Op: stitch.ColourStop})
	put(5, jump)
	put(50, sew)
	put(4, jump)
	put(50, sew)
	m := &Machine{Sheet: class}
	r := class.Rest
	way := func(mm float64) float64 { return trapezoid(mm, class.Travel.Accel, class.Travel.Speed) }
	m.JumpByJump = true
	if got, want := m.Run(d, 800, nil, nil).Changes[0], r.Start+3*way(10); math.Abs(got-want) > 1e-9 {
		t.Errorf("jump by jump: %v s, want %v s", got, want)
	}
	m.JumpByJump = false
	for _, c := range []struct {
		cam  bool
		root float64
	}{{false, 9}, {true, 3}} {
		m.Cam = c.cam
		got := m.Run(d, 800, []int{2, 11}, nil)
		for _, v := range []struct{ got, want float64 }{
			{got.Changes[0], r.Start + way(30)},
			{got.Changes[1], r.ColourStop + c.root*r.PerNeedle + way(50)},
			{got.Blocks[1] - 2*got.Blocks[0], r.Trim + way(40)},
			{got.Seconds, got.Changes[0] + got.Changes[1] + got.Blocks[0] + got.Blocks[1] + r.End},
		} {
			if math.Abs(v.got-v.want) > 1e-9 {
				t.Errorf("cam %v: %v s, want %v s", c.cam, v.got, v.want)
			}
		}
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
		if a.LagUp > 0 && a.LagUp == family(t, "lag").Draw(class, 7, 3).LagUp && f.Name != "lag" {
			t.Errorf("%s and lag draw alike", f.Name)
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
