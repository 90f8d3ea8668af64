package plan

import (
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"
)

// A half of the machines is searched by itself: no lot leaves it, and the other half's queues stand.
func TestAHalfOfTheMachinesIsSearchedByItself(t *testing.T) {
	p := weighed(shop(rand.New(rand.NewPCG(51, 1)), 200, 8, 1))
	md := compile(p, split(p, defaultLotSeconds))
	s := newState(md)
	constructBest(md, s)
	x := newSearch(md, s, newRand(1))
	part := x.halve()
	for half := range 2 {
		if n := len(slices.DeleteFunc(slices.Clone(part), func(h int) bool { return h != half })); n != 4 {
			t.Fatalf("%d machines of 8 are in half %d", n, half)
		}
		y := &search{md: md, cur: newState(md), best: newState(md), eager: true}
		y.take(x, part, half)
		sc := y.scale(200)
		y.anneal(ctx, 20_000, sc*hot, sc*cold)
		if y.best.value() >= s.value() {
			t.Errorf("half %d is no better", half)
		}
		for m := range part {
			if part[m] != half && !slices.Equal(y.cur.rows[m].seq, s.rows[m].seq) {
				t.Errorf("half %d changed machine %d of the other", half, m)
			}
		}
		for lot := range md.job {
			if part[y.cur.mach[lot]] != part[s.mach[lot]] {
				t.Errorf("lot %d left its half", lot)
			}
		}
	}
}

// What halves find is priced as a whole plan is, jobs with lots in both and the make-span too, and a plan hangs on
// neither the number of cores nor their pace.
func TestTwoCoresFindWhatOneDoes(t *testing.T) {
	for seed := range uint64(2) {
		p := weighed(shop(rand.New(rand.NewPCG(52, seed)), 180, 6, 1))
		p.LotSeconds = 4 * 3600
		o := Options{Moves: 60_000, NoBound: true}
		a := must(t, p, o)
		before := runtime.GOMAXPROCS(1)
		b := must(t, p, o)
		runtime.GOMAXPROCS(before)
		if !reflect.DeepEqual(a, b) {
			t.Errorf("seed %d: %v on all cores, %v on one", seed, a.Cost, b.Cost)
		}
		md := compile(p, split(p, p.LotSeconds))
		s := newState(md)
		constructBest(md, s)
		x := newSearch(md, s, newRand(seed))
		x.cool(ctx, 40_000, x.scale(300)*hot, 1)
		got := x.best.value()
		x.best.reprice()
		if d := got - x.best.value(); d > 1e-9*got || d < -1e-9*got || len(md.orders) == 0 {
			t.Errorf("seed %d: %v kept, priced anew %v; %d jobs of several lots", seed, got, x.best.value(), len(md.orders))
		}
	}
}
