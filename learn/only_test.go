package learn

import (
	"bytes"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// severalRuns is a design of three colour blocks with trims and jumps within runs, whose
// stitches are of several lengths and ways.
func severalRuns() *stitch.Design {
	d := &stitch.Design{}
	for b := range 3 {
		if b > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
		for r := range 4 {
			for i := range 90 {
				length := int16(15 + 20*(r+b+i/45))
				rec := stitch.Record{DX: length - 2*length*int16(i%2)}
				if (r+b)%2 == 1 {
					rec = stitch.Record{DX: 3, DY: length - 2*length*int16(i%2)}
				}
				d.Records = append(d.Records, rec)
				if i == 30 {
					d.Records = append(d.Records, stitch.Record{DX: 10, Op: stitch.Jump})
				}
			}
			for range 5 {
				d.Records = append(d.Records, stitch.Record{DX: 40, DY: 10, Op: stitch.Jump})
			}
		}
	}
	return d
}

// asHeard are the parts of a run, each with its time: every run of stitches in three, and the
// rests by colour block.
func asHeard(s *machine.Sheet, d *stitch.Design, speed float64, sd float64, rng *rand.Rand) []Observation {
	var all []Observation
	add := func(block int, only Only) {
		o := Observation{Kind: BlockRun, Name: "piece.dst", Design: d, SetSpeed: speed, Block: block, Only: only, Error: sd}
		o.Seconds = Predict(s, []Observation{o})[0]
		all = append(all, o)
	}
	var after [3][]int
	n := 0
	for e := range d.Events(s.Reading.TrimAfterJumps) {
		if e.Kind != stitch.Run {
			continue
		}
		if n > 0 {
			k := (n - 1) / 360
			after[k] = append(after[k], n)
		}
		first := n + 1
		for _, r := range d.Records[e.From:e.To] {
			if r.Op == stitch.Sew {
				n++
			}
		}
		for _, p := range [][2]int{{first, first + 9}, {first + 10, n - 20}, {n - 19, n}} {
			add(e.Block+1, OnlyStitches(p[0], p[1]))
		}
	}
	for k, list := range after {
		add(k+1, OnlyAfter(list))
	}
	for i := range all {
		all[i].Seconds += sd * rng.NormFloat64()
	}
	return all
}

// The parts of a run add up to what lies between its start and its end.
func TestPartsAddUpToTheRun(t *testing.T) {
	s, _ := machine.Class("multi-6")
	d := severalRuns()
	rows := asHeard(s, d, 900, 0, rand.New(rand.NewPCG(1, 1)))
	sum := 0.0
	for _, r := range rows {
		if sum += r.Seconds; r.Seconds <= 0 {
			t.Errorf("%s takes %v s", r.What(), r.Seconds)
		}
	}
	run := clock.Run(d, s, clock.Job{Speed: 900})
	opening := 0.0 // and what comes after the last stitch
	c := clock.New(s, clock.Job{Speed: 900})
	for _, m := range c.Trace(d).Moments {
		if m.From > lastSewn(d) {
			opening += m.Seconds
		}
	}
	if want := run.Seconds - run.Parts.StartEnd - opening; math.Abs(sum-want) > 1e-6 {
		t.Errorf("the parts take %.6f s together, the run %.6f", sum, want)
	}
	// With its whole, what is left is the start and the end.
	whole := Observation{Kind: WholeRun, Name: "piece.dst", Design: d, SetSpeed: 900, Seconds: run.Seconds}
	m := newModel(s, nil, append(rows, whole))
	m.move(nil)
	m.pair(make([]bool, len(m.obs)))
	out := make([]float64, len(m.obs))
	m.predict(out)
	if left := out[len(rows)]; math.Abs(left-run.Parts.StartEnd-opening) > 1e-6 || math.Abs(m.value(len(rows))-left) > 1e-6 {
		t.Errorf("the whole run less its parts should take %.4f s, is %.4f; start and end take %.4f", left, m.value(len(rows)), run.Parts.StartEnd+opening)
	}
}

func lastSewn(d *stitch.Design) int {
	for i := len(d.Records) - 1; ; i-- {
		if d.Records[i].Op == stitch.Sew {
			return i
		}
	}
}

// One run in parts teaches the law: other designs sew as predicted to 0.15 %, and rests are learned.
func TestPartsTeachTheLaw(t *testing.T) {
	class, _ := machine.Class("multi-6")
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed, 14))
		truth := drawMachine(class, rng)
		rows := asHeard(truth, severalRuns(), 900, 0.003, rng)
		res, err := Fit(t.Context(), class, rows, Options{Draws: -1})
		if err != nil {
			t.Fatal(err)
		}
		other := &stitch.Design{}
		for i := range 600 {
			length := int16(20 + i/6)
			other.Records = append(other.Records, stitch.Record{DX: length - 2*length*int16(i%2), DY: length / 2})
		}
		for _, speed := range []float64{900, 600} {
			got, want := clock.Run(other, res.Sheet, clock.Job{Speed: speed}).Parts.Sewing(), clock.Run(other, truth, clock.Job{Speed: speed}).Parts.Sewing()
			if math.Abs(got/want-1) > 0.0015 {
				t.Errorf("machine %d at %v: another design sews in %.3f s, learned %.3f (%+.2f %%)", seed, speed, want, got, 100*(got/want-1))
			}
		}
		rests := rows[len(rows)-1:] // with the way that a trim is followed by
		if got, want := Predict(res.Sheet, rests)[0], Predict(truth, rests)[0]; math.Abs(got/want-1) > 0.01 {
			t.Errorf("machine %d rests for %.3f s, learned %.3f", seed, want, got)
		}
	}
}

// The slopes that a fit goes by are those of the times.
func TestSlopesOfParts(t *testing.T) {
	s, _ := machine.Class("multi-6")
	free := freeConstants(s)
	rows := asHeard(s, severalRuns(), 900, 0, rand.New(rand.NewPCG(1, 1)))
	m := newModel(s, free, rows)
	theta := make([]float64, len(free))
	for k, c := range free {
		theta[k] = math.Log(c.Get(s)) + 0.02*float64(k%3)
	}
	m.move(theta)
	jac := make([]float64, len(rows)*len(free))
	m.jacobian(jac)
	up, down := make([]float64, len(rows)), make([]float64, len(rows))
	const step = 1e-4
	for k := range free {
		was := theta[k]
		theta[k] = was + step
		m.move(theta)
		m.predict(up)
		theta[k] = was - step
		m.move(theta)
		m.predict(down)
		theta[k] = was
		for i := range rows {
			if want, got := (up[i]-down[i])/(2*step), jac[i*len(free)+k]; math.Abs(got-want) > 0.002*math.Abs(want)+0.002 {
				t.Errorf("%s by %s: %.5f, want %.5f", rows[i].What(), free[k].Path, got, want)
			}
		}
	}
}

func TestPartsInTheFileOfRuns(t *testing.T) {
	d := twoBlocks()
	rows := []Observation{
		{Kind: BlockRun, Name: "rose.dst", Design: d, SetSpeed: 800, Block: 1, Only: OnlyStitches(3, 40), Seconds: 3.217, Error: 0.002},
		{Kind: BlockRun, Name: "rose.dst", Design: d, SetSpeed: 800, Block: 1, Only: OnlyAfter([]int{40, 100}), Seconds: 12.5, Error: 0.03},
	}
	var b bytes.Buffer
	if err := WriteRuns(&b, rows, false); err != nil {
		t.Fatal(err)
	}
	file := b.String()
	back, warnings, err := ReadRuns(&b, "runs.csv", func(string) (*stitch.Design, error) { return d, nil })
	if err != nil || len(warnings) > 0 || len(back) != 2 {
		t.Fatal(back, warnings, err)
	}
	for i, r := range back {
		if o := rows[i]; r.Only != o.Only || r.Seconds != o.Seconds || r.Error != o.Error || r.Block != o.Block {
			t.Errorf("written %+v, read %+v", o, r)
		}
	}
	for _, c := range []struct{ with, says string }{
		{"only 40-3", "write only"}, {"only", "before"}, {"only after", "write only"}, {"only after 40 40", "write only"}, {"only 3-x", "write only"},
		{"only 3-201", "200 stitches"}, {"only after 300", "200 stitches"},
	} {
		_, _, err := ReadRuns(strings.NewReader(strings.Replace(file, "only 3-40", c.with, 1)), "runs.csv", func(string) (*stitch.Design, error) { return d, nil })
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: %v", c.with, err)
		}
	}
	if err := CheckBeside("only 3-40", 0, 2, 200); err == nil {
		t.Error("a part of a whole run is taken")
	}
	if b, only, err := ParseWith("before after"); err != nil || only != "" || !reflect.DeepEqual(b, StopBefore|StopAfter) {
		t.Error(b, only, err)
	}
}

// What a part is stands beside its row, where its own words would be too long.
func TestAPartSaysWhatItIs(t *testing.T) {
	for only, want := range map[Only]string{
		"": "", "120-340": "stitches 120 to 340", "after 340": "rest after stitch 340", "after 5 340 520": "3 rests after stitches 5 to 520",
	} {
		if got := only.What(); got != want {
			t.Errorf("%q is %q, want %q", only, got, want)
		}
	}
}

// A frame that is half as fast within a stitch as its class, which one block of the piece and its whole show, is found by a watch.
func TestATopSpeedThatOneBlockShowsIsFound(t *testing.T) {
	class := mustClass(t, "multi-6")
	s := class.Clone()
	s.Frame.SpeedX, s.Frame.AccelX = 242, 29_840
	p := piece(t, class, usual)
	obs := timed(s, rand.New(rand.NewPCG(6, 4)), p.Design, p.SetSpeed, true)
	for k := range 2 {
		obs = append(obs, timed(s, rand.New(rand.NewPCG(uint64(k), 4)), somewhat(uint64(k), 6, 1500), 1000-250*float64(k), true)...)
	}
	opt := noDraws
	opt.Plain = true
	if got := fit(t, class, obs, opt).Sheet.Frame.SpeedX; math.Abs(got-242) > 30 {
		t.Errorf("242 mm/s: learned %.0f", got)
	}
}
