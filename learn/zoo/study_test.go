package zoo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/stitch"
)

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

// Errors are against the machine's own time; whether an interval holds, by a run that differs from it.
func TestIntervalsAreJudgedByRunsThatDiffer(t *testing.T) {
	s := study(t, 1)
	class := s.sheets[0]
	f := family(t, "model")
	judge := func(vary float64) (out []Prediction) {
		s.opt.VaryUnseen = vary
		for k := range 12 {
			m := f.Draw(class, 2, k)
			out = append(out, s.predict(m, f, k, class, m.Sheet)...)
		}
		return out
	}
	inside := [2]int{}
	own, runs := judge(0), judge(0.5)
	for i := range own {
		if own[i].Error != runs[i].Error || own[i].Half != runs[i].Half {
			t.Errorf("%+v and %+v", own[i], runs[i])
		}
		for k, p := range []Prediction{own[i], runs[i]} {
			if p.Inside {
				inside[k]++
			}
		}
	}
	if inside[0] != len(own) || inside[1] > len(own)/2 {
		t.Errorf("of %d predictions by the machine's own sheet %d hold its own time and %d a run that is 50 %% off", len(own), inside[0], inside[1])
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
				if change != 0 && slip.Name == "misread" && math.Abs(math.Abs(change)-40) > 1e-9 {
					t.Errorf("%s: row %d went from %v to %v s", slip.Name, k, right[k].Seconds, wrong[k].Seconds)
				}
				if o := &right[k]; change != 0 && slip.Name == "laps" {
					took := family(t, "model").Draw(class, 2, 0).Run(o.Design, o.SetSpeed, nil, nil)
					if want := took.Changes[o.Block]; math.Abs(change-want) > 0.1001 {
						t.Errorf("laps: block %d of %s has %v s more, its colour change takes %v s", o.Block, o.Name, change, want)
					}
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
