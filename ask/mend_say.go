package ask

import (
	"cmp"
	"math"
	"slices"

	"needlepace/audit"
	"needlepace/stitch"
	"needlepace/words"
)

// leastTold is the least that more may be and still be told in tenths of a second, s.
const leastTold = 0.05

// say puts the answer into sentences.
func (a *MendAnswer) say() {
	machine := words.Name(a.Machine)
	if a.Changed {
		a.Verdict = words.Sentences{words.Say("mend.saved", words.Args{"after": words.Seconds(a.After.Seconds),
			"before": words.Seconds(a.Before.Seconds), "saved": words.Seconds(a.Saved),
			"share": words.Share(a.Saved / a.Before.Seconds), "machine": machine})}
	} else {
		a.Verdict = words.Sentences{words.Say("mend.nothing",
			words.Args{"time": words.Seconds(a.Before.Seconds), "machine": machine})}
	}
	switch n := words.Count(a.Search.Objects, "object"); {
	case a.Search.Objects < 2:
	case a.Search.Optimal:
		a.Verdict.Say("mend.proven", words.Args{"objects": n})
	case a.Search.OptimalSo:
		a.Verdict.Say("mend.proven-as-coloured", words.Args{"objects": n, "least": words.Seconds(audit.LeastForColours)})
	case a.After.Seconds-a.Search.Bound < leastTold:
		a.Verdict.Say("mend.nearly-proven", words.Args{"objects": n})
	default:
		a.Verdict.Say("mend.gap", words.Args{"objects": n, "bound": words.Seconds(a.Search.Bound),
			"more": words.Seconds(a.After.Seconds - a.Search.Bound)})
	}
	if a.Changed {
		a.Verdict = append(a.Verdict,
			words.Say("mend.counts", words.Args{
				"trims-before": words.Whole(a.Before.Trims), "trims-after": words.Whole(a.After.Trims),
				"stops-before": words.Whole(a.Before.ColourStops), "stops-after": words.Whole(a.After.ColourStops),
				"stitches-before": words.Whole(a.Before.Stitches), "stitches-after": words.Whole(a.After.Stitches)}),
			words.Say("mend.proof", words.Args{"points": words.Count(a.Proof.Points, "point"),
				"layers": words.Count(a.Proof.Layers, "layer")}))
	}
	a.Caveats = words.Sentences{}
	a.Kept.say(&a.Verdict, &a.Caveats)
	a.Of.sayCloth(&a.Caveats)
	if a.ThreadsFrom == "" && a.Of.Counts.ColourStops > 0 {
		a.Caveats.Say("mend.threads-unknown")
	}
	if !a.Changed {
		return
	}
	a.sayMachines()
	if a.After.ColourStops < a.Before.ColourStops {
		a.Caveats.Say("mend.stops-went")
	}
	a.sayFile()
	a.Caveats.Say("mend.scrap")
}

// sayMachines says for which machines the file is good, and where one leaves the thread uncut.
func (a *MendAnswer) sayMachines() {
	bad, as := 0, 0
	for _, m := range a.Machines {
		switch {
		case m.Good:
		case m.Trims[1] < a.After.Trims:
			bad++
			a.Caveats.Say("mend.trims-lost", words.Args{"machine": words.Name(m.Machine), "cut": words.Whole(m.Trims[1]),
				"trims": words.Count(a.After.Trims, "trim"), "jumps": words.Count(m.Jumps, "jump")})
		case m.After > m.Before && m.Trims[1] > m.Trims[0]:
			bad++
			a.Caveats.Say("mend.cuts-more-there", words.Args{"machine": words.Name(m.Machine), "was": words.Whole(m.Trims[0]),
				"now": words.Count(m.Trims[1], "trim"), "before": words.Seconds(m.Before), "after": words.Seconds(m.After)})
		case m.After > m.Before:
			bad++
			a.Caveats.Say("mend.slower-there", words.Args{"machine": words.Name(m.Machine),
				"before": words.Seconds(m.Before), "after": words.Seconds(m.After)})
		default:
			as++
		}
	}
	a.sayUncut()
	switch {
	case bad == 0 && as > 0:
		a.Verdict.Say("mend.good-but-uncut", words.Args{"machines": words.Count(len(a.Machines), "machine")})
	case a.TrimJumps == 0 || a.After.Trims == 0 || a.trimsAreRecords() && bad == 0 && len(a.Machines) == 1:
	case bad == 0 && len(a.Machines) > 1:
		a.Verdict.Say("mend.good-for-all", words.Args{"machines": words.Count(len(a.Machines), "machine")})
	case len(a.Machines) == 1:
		a.Caveats.Say("mend.good-for", words.Args{"machine": words.Name(a.Machine), "jumps": words.Count(a.TrimJumps, "jump")})
	}
}

// sayUncut names the machines that leave the thread where another one cuts, those together that want as many jumps for it.
func (a *MendAnswer) sayUncut() {
	first := slices.MinFunc(append([]MendMachine{{Jumps: math.MaxInt}}, a.Machines...),
		func(x, y MendMachine) int { return cmp.Compare(x.Jumps, y.Jumps) })
	said := map[int]bool{}
	for _, m := range a.Machines {
		if m.Uncut == 0 || said[m.Jumps] {
			continue
		}
		said[m.Jumps] = true
		var names words.List
		for _, other := range a.Machines {
			if other.Jumps == m.Jumps {
				names = append(names, words.Name(other.Machine))
			}
		}
		a.Caveats.Say("mend.left-uncut", words.Args{"machines": names, "ways": words.Count(m.Uncut, "way"), "longest": words.MM(m.Longest),
			"jumps": words.Count(m.Jumps, "jump"), "cuts": words.Name(first.Machine), "fewest": words.Count(first.Jumps, "jump")})
	}
}

// trimsAreRecords reports whether the file says each trim outright.
func (a *MendAnswer) trimsAreRecords() bool {
	n := 0
	for e := range a.Mended.Design.Events(math.MaxInt) {
		if e.Kind == stitch.TrimCut {
			n++
		}
	}
	return n == a.After.Trims
}

// KeptTable is the stops that a mend left alone.
func (a *MendAnswer) KeptTable() *Table { return a.Kept.table() }

// MachinesTable is what the machines make of the new file.
func (a *MendAnswer) MachinesTable() *Table {
	t := table("machines", words.Say("mend.machines"),
		column("machine", "mend.machine"),
		number("trims_before", "mend.trims-before"),
		number("trims_after", "mend.trims-after"),
		number("seconds_before", "mend.before"),
		number("seconds_after", "mend.after"),
		column("good", "mend.good"),
	)
	for _, m := range a.Machines {
		good := words.Say("mend.is-good")
		switch {
		case m.Good:
		case m.Trims[1] >= a.After.Trims && m.After <= m.Before:
			good = words.Say("mend.is-good-as-before", words.Args{"ways": words.Count(m.Uncut, "way")})
		case m.Trims[1] >= a.After.Trims && m.Trims[1] > m.Trims[0]:
			good = words.Say("mend.is-good-but-longer", words.Args{"trims": words.Count(m.Trims[1]-m.Trims[0], "trim")})
		default:
			good = words.Say("mend.is-not-good")
		}
		t.add(words.Name(m.Machine), words.Whole(m.Trims[0]), words.Whole(m.Trims[1]), words.Seconds(m.Before),
			words.Seconds(m.After), good)
	}
	return t
}

// Rethreaded reports whether the operator must set the colours otherwise than
// before.
func (a *MendAnswer) Rethreaded() bool {
	return !slices.IsSorted(a.Blocks) || len(a.Blocks) != a.Of.Counts.ColourStops+1
}

// ChangesTable is what was done.
func (a *MendAnswer) ChangesTable() *Table {
	t := table("changes", words.Say("mend.done"),
		column("kind", "mend.kind").inFile(),
		number("count", "audit.how-many").inFile(),
		number("seconds", "mend.gained"),
		column("what", "clock.what-short"),
	)
	for _, ch := range a.Changes {
		t.add(words.Name(ch.Kind), words.Whole(ch.Count), words.Seconds(ch.Seconds), words.Name(ch.What))
	}
	return t
}

// ColoursTable is the colours of the new file in the order of sewing.
func (a *MendAnswer) ColoursTable() *Table {
	t := table("colours", words.Say("mend.colours"),
		number("block", "clock.block"),
		number("old_block", "mend.old-block"),
		column("thread", "clock.thread-name"),
		number("needle", "clock.needle"),
	)
	for i, c := range a.Colours {
		row := []words.Value{words.Whole(c.Block), words.Whole(c.OldBlock), words.Name(c.Thread), nil}
		if i < len(a.Needles) {
			row[3] = words.Whole(a.Needles[i])
		}
		t.add(row...)
	}
	return t
}
