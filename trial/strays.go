package trial

import (
	"math"
	"slices"
	"strings"

	"needlepace/words"
)

// farByRun is from how many times what runs scatter on two runs that should be alike are
// far from each other, and swappedByRun from when on it is asked whether two figures of a time
// stand the wrong way round, where that would bring it back among the others.
const (
	farByRun     = 5
	swappedByRun = 3
)

// strays keeps apart what is far from the other repeats of its design on its machine.
func (r *Returns) strays(f *File) {
	of := map[string][]int{}
	for i, x := range r.Runs {
		if x.Apart.IsZero() {
			of[Key(x.Design, x.Machine)] = append(of[Key(x.Design, x.Machine)], i)
		}
	}
	run := f.Known().Run
	far := max(farFromOthers, farByRun*run)
	for _, all := range of {
		if len(all) < 3 {
			continue
		}
		mid := r.middle(all)
		for _, i := range all {
			x := &r.Runs[i]
			time, design, machine := words.Seconds(x.Seconds), words.Name(x.Design), words.Name(x.Machine)
			offer := x.swapped(mid, 1.5*run)
			switch {
			case offer > 0 && math.Abs(x.Seconds/mid-1) > swappedByRun*run:
				x.Offer, x.Apart = offer, words.Say("returns.swapped", words.Args{"time": time, "design": design, "machine": machine,
					"mid": words.Seconds(mid), "offer": words.Seconds(offer)})
			case math.Abs(x.Seconds/mid-1) > far:
				x.Apart = words.Say("returns.stray", words.Args{"time": time, "design": design, "machine": machine, "mid": words.Seconds(mid)})
			}
		}
	}
	r.pairs(of, far)
}

// pairs keeps both apart, where a design was sewn twice on a machine and the two are far
// from each other: nothing says which is right.
func (r *Returns) pairs(of map[string][]int, far float64) {
	for _, all := range of {
		if len(all) != 2 {
			continue
		}
		a, b := &r.Runs[all[0]], &r.Runs[all[1]]
		if math.Abs(a.Seconds/b.Seconds-1) <= far {
			continue
		}
		why := words.Say("returns.pair", words.Args{"one": words.Seconds(a.Seconds), "other": words.Seconds(b.Seconds), "design": words.Name(a.Design),
			"machine": words.Name(a.Machine)})
		for _, x := range []*Run{a, b} {
			other := a
			if x == a {
				other = b
			}
			x.Apart, x.Offer = why, x.swapped(other.Seconds, far/2)
		}
	}
}

// middle is the median of runs: one that is far off does not move it.
func (r *Returns) middle(all []int) float64 {
	var s []float64
	for _, i := range all {
		s = append(s, r.Runs[i].Seconds)
	}
	slices.Sort(s)
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// swapped is the run's time with two neighbouring figures the other way round, where that is
// within a share of what it should be; 0: none is.
func (x *Run) swapped(should, within float64) float64 {
	text := []rune(x.Cells[slices.Index(SheetColumns, "time")])
	last := -1 // the figure before, whatever stands between
	for i, c := range text {
		if !strings.ContainsRune("0123456789", c) {
			continue
		}
		if last >= 0 && text[last] != c {
			other := slices.Clone(text)
			other[last], other[i] = c, text[last]
			if v, _, err := words.ParseSeconds(string(other)); err == nil && math.Abs((v-x.Stood)/should-1) <= within {
				return v - x.Stood
			}
		}
		last = i
	}
	return 0
}
