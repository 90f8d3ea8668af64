package trial

import (
	"fmt"
	"slices"
	"testing"
)

func TestTheOrderIsBalanced(t *testing.T) {
	designs, machines, people := []string{"a", "b", "c", "d"}, []string{"x", "y"}, []string{"Ann", "Bo"}
	for seed := range uint64(50) {
		turns := Order(seed, "quay", designs, machines, 3, people)
		if len(turns) != 24 || !slices.Equal(turns, Order(seed, "quay", designs, machines, 3, people)) {
			t.Fatalf("%d turns, or another order from the same seed", len(turns))
		}
		inBlock, third, by := map[string]int{}, map[string]int{}, map[string]int{}
		for i, turn := range turns {
			if turn.Number != i+1 || turn.Block != i/8+1 {
				t.Fatalf("turn %+v stands in place %d", turn, i+1)
			}
			run := turn.Design + turn.Machine
			inBlock[fmt.Sprint(run, turn.Block)]++
			third[fmt.Sprint(run, []int{0, 0, 1, 1, 1, 2, 2, 2}[i%8])]++
			by[turn.Machine+turn.Person]++
		}
		for k, n := range inBlock {
			if n != 1 {
				t.Fatalf("seed %d: %s is sewn %d times in a block", seed, k, n)
			}
		}
		for k, n := range third {
			if n > 2 {
				t.Fatalf("seed %d: %s stands %d times in the same third of a block", seed, k, n)
			}
		}
		for k, n := range by {
			if n < 4 || n > 8 {
				t.Fatalf("seed %d: %s sews %d of 12", seed, k, n)
			}
		}
	}
	if slices.Equal(Order(1, "quay", designs, machines, 3, nil), Order(2, "quay", designs, machines, 3, nil)) {
		t.Error("two seeds give one order")
	}
}
