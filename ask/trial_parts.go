package ask

import (
	"slices"
	"sort"

	"needlepace/words"
)

// parted is where the seconds of a piece go on each machine that is ranked, mean over the
// mix, as the sheets have it: a watch at the machine does not part a run.
func (a *TrialAnswer) parted() (all [][]part) {
	total := a.years()
	for _, k := range a.ranked {
		var mean []part
		for i, d := range a.Designs {
			weight := 1 / float64(len(a.Designs))
			if total > 0 {
				weight = d.Year / total
			}
			for n, p := range partsOf(&a.cell(i, k).Clock.Parts) {
				if i == 0 {
					mean = append(mean, part{p.key, p.name, 0})
				}
				mean[n].seconds += weight * p.seconds / float64(max(a.Sheets[k].Heads, 1))
			}
		}
		all = append(all, mean)
	}
	return all
}

// PartTable is a row for each machine: where the seconds of a piece go.
func (a *TrialAnswer) PartTable() *Table {
	t := table("parts", words.Say("trial.parts"), column("machine", "clock.machine"))
	all := a.parted()
	if len(a.Ranks) == 0 {
		return t
	}
	var on []int
	for n, p := range all[0] {
		if slices.ContainsFunc(all, func(m []part) bool { return m[n].seconds >= leastCost }) {
			on = append(on, n)
			t.Columns = append(t.Columns, Column{Key: p.key, Heading: p.name, Number: true})
		}
	}
	for c, k := range a.ranked {
		row := []words.Value{words.Name(a.File.Machines[k].Name)}
		for _, n := range on {
			row = append(row, words.Seconds(all[c][n].seconds))
		}
		t.add(row...)
	}
	return t
}

// Gains says in which parts of a piece the first machine gains on its rival, and in which it
// loses; nothing where there are no ranks.
func (a *TrialAnswer) Gains() words.Message {
	if len(a.Ranks) == 0 {
		return words.Message{}
	}
	best, next, _, _ := a.First()
	at := func(r TrialRank) int {
		return slices.IndexFunc(a.ranked, func(k int) bool { return a.File.Machines[k].Name == r.Machine })
	}
	all := a.parted()
	var gains, losses []part
	for n, p := range all[at(best)] {
		switch by := all[at(next)][n].seconds - p.seconds; {
		case by >= leastCost:
			gains = append(gains, part{p.key, p.name, by})
		case by <= -leastCost:
			losses = append(losses, part{p.key, p.name, -by})
		}
	}
	list := func(of []part) (l words.List) {
		sort.SliceStable(of, func(i, j int) bool { return of[i].seconds > of[j].seconds })
		for _, p := range of[:min(len(of), 3)] {
			l = append(l, words.Say("part.with-time", words.Args{"what": p.name, "time": words.Seconds(p.seconds)}))
		}
		return l
	}
	switch {
	case len(gains) == 0:
		return words.Message{} // the sheets have it the other way round, which the times above say
	case len(losses) == 0:
		return words.Say("trial.gains", words.Args{"machine": words.Name(best.Machine), "rival": words.Name(next.Machine), "gains": list(gains)})
	}
	return words.Say("trial.gains-and-loses", words.Args{"machine": words.Name(best.Machine), "rival": words.Name(next.Machine), "gains": list(gains), "losses": list(losses)})
}

// Sewn is when the runs that came were sewn, the first day and the last, and by whom; zero
// days where nobody wrote one.
func (a *TrialAnswer) Sewn() (first, last words.Day, by []string) {
	for i := range a.Runs {
		r := &a.Runs[i]
		if !r.Apart.IsZero() {
			continue
		}
		if d, err := words.ParseDay(r.Day); err == nil && !d.IsZero() {
			if first.IsZero() || d.Compare(first) < 0 {
				first = d
			}
			if d.Compare(last) > 0 {
				last = d
			}
		}
		if r.Person != "" && !slices.Contains(by, r.Person) {
			by = append(by, r.Person)
		}
	}
	slices.Sort(by)
	return first, last, by
}
