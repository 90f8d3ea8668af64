package study

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"needlepace/clock"
	"needlepace/learn"
	"needlepace/machine"
)

// The study's machines, told to behave, agree with the clock.
func TestPlainFormAgreesWithTheClock(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for _, s := range machine.Classes() {
		m := drawn(s, rng)
		m.Frame.Turn, m.Frame.Settle = 0.3, 0.002
		d := design(rng)
		got, blocks := (&Controller{}).run(m, d, 900)
		r := clock.Run(d, m, clock.Job{Speed: 900})
		if math.Abs(got/r.Seconds-1) > 1e-9 {
			t.Errorf("%s: %v s, clock %v s", s.Name, got, r.Seconds)
		}
		if len(blocks) != len(r.Blocks) {
			t.Errorf("%s: %d blocks, clock %d", s.Name, len(blocks), len(r.Blocks))
		}
	}
}

func TestQuick(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("N"))
	if n == 0 {
		t.Skip()
	}
	for _, draws := range []int{1000} {
		o, err := Run(t.Context(), Options{Machines: n, Designs: 10, Seed: 8, Fit: learn.Options{Draws: draws, Budget: 1e9}})
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		var outs []*Outcome
		for k, v := range o.ByClass {
			names = append(names, k)
			outs = append(outs, v)
		}
		Table(os.Stdout, "class", append(names, "all"), append(outs, o))
		t.Logf("interrupted %d, pauses %d, named %d, false %d, replaced %d, misfits %d", o.Interrupted, o.Pauses, o.Named, o.False, o.Replaced, o.Misfits)
	}
}
