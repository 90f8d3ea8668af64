package plan

import (
	"math/rand/v2"
	"testing"
)

// A leap over draws leads where drawing them does (the generator of Go's math/rand/v2).
func TestALeapLeadsWhereDrawingDoes(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3, 7, 64, 1000, 4097} {
		drawn, leapt := rand.NewPCG(7, 0x70726f6d), rand.NewPCG(7, 0x70726f6d)
		for range 3 {
			r := rand.New(drawn)
			for range n {
				r.Float64()
			}
			l := leapOf(n)
			l.leap(leapt)
			if a, b := drawn.Uint64(), leapt.Uint64(); a != b {
				t.Fatalf("after %d draws %x comes, after the leap %x", n, a, b)
			}
		}
	}
}
