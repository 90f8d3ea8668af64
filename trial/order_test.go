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
	// Whatever the numbers, what lies between two machines lies between runs of the same people.
	for seed := range uint64(20) {
		for _, blocks := range []int{2, 3, 4} {
			for _, n := range []int{1, 2, 3} {
				by, sewn := map[string]string{}, map[string]map[string]bool{}
				for _, turn := range Order(seed, "quay", designs, machines, blocks, []string{"Ann", "Bo", "Cleo"}[:n]) {
					key := fmt.Sprint(turn.Design, turn.Block)
					if was, ok := by[key]; ok && was != turn.Person {
						t.Fatalf("%s in block %d is sewn by %s and by %s", turn.Design, turn.Block, was, turn.Person)
					}
					if by[key] = turn.Person; sewn[turn.Design] == nil {
						sewn[turn.Design] = map[string]bool{}
					}
					sewn[turn.Design][turn.Person] = true
				}
				for d, who := range sewn {
					if len(who) != min(n, blocks) {
						t.Fatalf("of %d people %d sew %s in %d blocks", n, len(who), d, blocks)
					}
				}
			}
		}
	}
	if slices.Equal(Order(1, "quay", designs, machines, 3, nil), Order(2, "quay", designs, machines, 3, nil)) {
		t.Error("two seeds give one order")
	}
}
