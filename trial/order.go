package trial

import (
	"hash/fnv"
	"math/rand/v2"
	"slices"
)

// Turn is one run in the order in which a place sews: in block b (from 1) the place's
// turn n (from 1) is design on machine, by a person where there are several.
type Turn struct {
	Number  int
	Block   int
	Design  string
	Machine string
	Person  string
}

// Order is the turns of a place: in each block every design is sewn once on every
// machine of the place, so that what drifts from block to block (the room, the needle,
// who has learned the design) falls on all alike. Inside a block the order is drawn at
// random; over the blocks a run moves through the early, middle and late places, so that
// drift inside a block evens out too. In a block one person sews a design on all machines, and
// another in the next: what lies between machines is between runs of one person, and each sews every
// machine as often. The same seed gives the same order.
//
// Randomised complete blocks: Fisher, The Design of Experiments, 1935, chapter IV.
func Order(seed uint64, place string, designs, machines []string, blocks int, people []string) []Turn {
	h := fnv.New64a()
	h.Write([]byte(place)) // never fails
	rng := rand.New(rand.NewPCG(seed, h.Sum64()))
	type run struct{ design, machine string }
	var all []run
	for _, d := range designs {
		for _, m := range machines {
			all = append(all, run{d, m})
		}
	}
	rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	var out []Turn
	first := 0 // of people, who begins
	for b := range blocks {
		// The block begins at another third of the drawn order each time, and is then
		// shuffled within thirds: a run is early, middle and late once each in three blocks.
		n := len(all)
		order := slices.Concat(all[b%3*n/3:], all[:b%3*n/3])
		for third := range 3 {
			part := order[third*n/3 : (third+1)*n/3]
			rng.Shuffle(len(part), func(i, j int) { part[i], part[j] = part[j], part[i] })
		}
		if len(people) > 0 {
			if drawn := rng.IntN(len(people)); b == 0 {
				first = drawn
			}
		}
		for _, r := range order {
			t := Turn{Number: len(out) + 1, Block: b + 1, Design: r.design, Machine: r.machine}
			if len(people) > 0 {
				t.Person = people[(first+b+slices.Index(designs, r.design))%len(people)]
			}
			out = append(out, t)
		}
	}
	return out
}
