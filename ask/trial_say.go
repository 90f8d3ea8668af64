package ask

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"needlepace/trial"
	"needlepace/words"
)

// tellingChance is the chance from which on a machine is said to be first.
const tellingChance = 0.8

func (a *TrialAnswer) say(returned bool) {
	n := &a.Need
	if a.Invented {
		a.Caveats.Say("trial.invented")
	}
	if !returned {
		a.Verdict.Say("trial.plan", words.Args{"designs": words.Count(len(a.Designs), "design"),
			"machines": words.Count(len(a.File.Machines), "machine"), "repeats": words.Whole(a.File.Repeats),
			"runs": words.Count(a.Planned, "run"), "places": words.Count(len(a.Places), "place"), "seed": words.Name(strconv.FormatUint(a.Seed, 10))})
		a.Verdict = append(a.Verdict, a.Tells())
		for i := range a.Places {
			a.Verdict = append(a.Verdict, a.Takes(&a.Places[i]))
		}
		if n.Elsewhere < 0 {
			a.Caveats.Say("trial.elsewhere-none")
		} else {
			a.Caveats.Say("trial.elsewhere", words.Args{"least": words.Share(n.Elsewhere)})
		}
		a.Caveats.Say("trial.known", words.Args{"run": words.Share(a.File.Known().Run), "lead": words.Share(a.File.Known().Cell),
			"setup": words.Share(a.File.Known().Setup)})
		return
	}
	a.sayResult()
	if a.years() == 0 {
		a.Caveats.Say("trial.no-mix")
	}
	if len(a.Apart) > 0 {
		a.Caveats.Say("trial.apart", words.Args{"runs": words.Count(len(a.Apart), "run")})
	}
	if len(a.Missing) > 0 {
		a.Caveats.Say("trial.missing", words.Args{"runs": words.Count(len(a.Missing), "run")})
	}
	if len(a.Ranks) > 0 {
		if best, next, _, _ := a.First(); a.placeOf(best) != a.placeOf(next) {
			a.Caveats.Say("trial.other-places", words.Args{"machine": words.Name(best.Machine), "rival": words.Name(next.Machine), "setup": words.Share(a.File.Known().Setup)})
		}
		for k, m := range a.File.Machines {
			if !slices.Contains(a.ranked, k) {
				a.Caveats.Say("trial.not-ranked", words.Args{"machine": words.Name(m.Name)})
			} else if a.File.Money != nil && !m.Priced() {
				a.Caveats = append(a.Caveats, a.noPrice(k))
			}
		}
	}
	if a.Money != nil && a.File.Money.Handling > 0 {
		most, least := 0, math.MaxInt
		for _, k := range a.ranked {
			most, least = max(most, a.Sheets[k].Heads), min(least, a.Sheets[k].Heads)
		}
		if most > max(least, 1) {
			a.Caveats.Say("trial.handling-heads", words.Args{"heads": words.Count(most, "head")})
		}
	}
	owned := slices.IndexFunc(a.File.Machines, func(m trial.MachineKeys) bool { return m.Owned })
	if a.Money != nil && owned >= 0 && !slices.Contains(a.priced, owned) {
		a.Caveats.Say("trial.owned-unknown", words.Args{"machine": words.Name(a.File.Machines[owned].Name)})
	}
	if a.RunSD > 2*a.File.Known().Run {
		a.Caveats.Say("trial.scatter", words.Args{"run": words.Share(a.RunSD), "known": words.Share(a.File.Known().Run)})
	}
}

// noPrice says of a machine without a price up to which one it would be the cheapest.
func (a *TrialAnswer) noPrice(k int) words.Message {
	m, f := a.File.Machines[k], a.File.Money
	most, is := a.most[k]
	name := words.Name(m.Name)
	if !is {
		return words.Say("trial.no-price", words.Args{"machine": name})
	}
	rival, upkeep := words.Name(a.Money.Costs[0].Machine), words.Money{Amount: m.Upkeep, Code: f.Currency, Round: true}
	if !most.IsPositive() {
		return words.Say("trial.no-price-worth", words.Args{"machine": name, "rival": rival, "upkeep": upkeep})
	}
	return words.Say("trial.no-price-up-to", words.Args{"machine": name, "rival": rival, "upkeep": upkeep,
		"price": words.Money{Amount: most, Code: f.Currency, Round: true}, "years": words.Count(m.Life, "year")})
}

// Takes says how long the runs of a place are expected to sew, and how long the pieces
// before them that are not timed, one of each design on each machine.
func (a *TrialAnswer) Takes(p *TrialPlace) words.Message {
	sum := 0.0
	for _, t := range p.Turns {
		sum += a.cellOf(t.Design, t.Machine).Predicted
	}
	return words.Say("trial.takes", words.Args{"place": words.Name(p.Called), "runs": words.Count(len(p.Turns), "run"), "time": words.Seconds(sum),
		"untimed": words.Seconds(sum / float64(a.File.Repeats))})
}

// Tells says what the trial could tell before anyone sewed.
func (a *TrialAnswer) Tells() words.Message {
	n := &a.Need
	if n.Enough {
		return words.Say("trial.enough", words.Args{"difference": words.Share(n.Difference), "least": words.Share(n.Least)})
	}
	if n.Repeats == 0 {
		return words.Say("trial.never-enough", words.Args{"difference": words.Share(n.Difference), "least": words.Share(n.Least),
			"setup": words.Share(a.File.Known().Setup)})
	}
	return words.Say("trial.not-enough", words.Args{"difference": words.Share(n.Difference), "repeats": words.Whole(n.Repeats),
		"least": words.Share(n.Least)})
}

// First is the machine that is the likeliest to be first on the mix, its rival, how much lies
// between the two at most (relative, with the answer's level), and whether it is said to be first:
// not where that is less than what is worth telling, nor where the chance is small. There must be ranks.
func (a *TrialAnswer) First() (best, next TrialRank, most float64, said bool) {
	best, next = a.Ranks[0], a.Ranks[1]
	for _, r := range a.Ranks[1:] { // also where middles lie close
		if r.First > best.First {
			best, next = r, best
		}
	}
	low, _, high := middle(a.ratios(a.mix, best, next), a.Level)
	most = max(1/low, high) - 1
	return best, next, most, most >= a.Need.Difference && best.First >= tellingChance
}

func (a *TrialAnswer) sayResult() {
	if len(a.Ranks) == 0 {
		a.Verdict.Say("trial.too-few", words.Args{"used": words.Whole(a.Used), "planned": words.Count(a.Planned, "run")})
		return
	}
	best, next, most, said := a.First()
	if m := a.Money; m != nil && m.Costs[0].Machine != best.Machine && m.Costs[0].Cheapest >= tellingChance {
		cheapest, first := words.Name(m.Costs[0].Machine), words.Name(best.Machine)
		if _, unpriced := a.most[a.at(best)]; unpriced {
			a.Verdict.Say("trial.cheapest-of-priced", words.Args{"machine": cheapest, "first": first})
		} else {
			a.Verdict.Say("trial.cheaper-than-first", words.Args{"machine": cheapest, "first": first})
		}
	}
	worth := a.Need.Difference
	switch {
	case most < worth:
		a.Verdict.Say("trial.alike", words.Args{"machine": words.Name(best.Machine), "rival": words.Name(next.Machine), "piece": words.FineSeconds(best.Piece),
			"other": words.FineSeconds(next.Piece), "most": words.Share(most), "difference": words.Share(worth), "level": words.Level(a.Level)})
		a.Verdict.Say("trial.alike-then")
	case said:
		a.Verdict.Say("trial.first", words.Args{"machine": words.Name(best.Machine), "rival": words.Name(next.Machine), "piece": words.FineSeconds(best.Piece),
			"other": words.FineSeconds(next.Piece), "less": words.Share(1 - best.Piece/next.Piece), "chance": words.Chance(best.First)})
	default:
		a.Verdict.Say("trial.cannot-tell", words.Args{"machine": words.Name(best.Machine), "rival": words.Name(next.Machine), "piece": words.FineSeconds(best.Piece),
			"other": words.FineSeconds(next.Piece), "chance": words.Chance(best.First)})
		a.Verdict.Say("trial.more-repeats")
	}
	if best.Heads != next.Heads {
		a.Verdict.Say("trial.heads-differ", words.Args{"machine": words.Name(best.Machine), "heads": words.Count(best.Heads, "head"),
			"rival": words.Name(next.Machine), "other": words.Count(next.Heads, "head")})
	}
	a.sayElsewhere(best, next)
	m := a.Money
	if m == nil {
		return
	}
	c := m.Costs[0]
	amount := func(s string) words.Value {
		v, _ := decimal.NewFromString(s)
		return words.Money{Amount: v, Code: m.Currency, Round: true}
	}
	a.Verdict.Say("trial.cheapest", words.Args{"machine": words.Name(c.Machine), "year": amount(c.Year), "rival": words.Name(m.Costs[1].Machine),
		"other": amount(m.Costs[1].Year), "lead": amount(m.Lead), "chance": words.Chance(c.Cheapest)})
	for i, k := range a.File.Machines {
		if k.Name == c.Machine && !k.Owned && c.tie.IsPositive() {
			a.Verdict.Say("trial.worth-up-to", words.Args{"machine": words.Name(a.File.Machines[i].Name), "price": amount(c.Tie)})
		}
	}
}

// sayElsewhere says what the trial tells of designs that nobody sewed: there a machine's
// lead is another one, by as much as it differed between those that were.
func (a *TrialAnswer) sayElsewhere(best, next TrialRank) {
	if best.Further < 0 {
		a.Verdict.Say("trial.further-none")
		return
	}
	low, _, high := middle(a.ratios(a.next, best, next), a.Level)
	a.Verdict.Say("trial.further", words.Args{"machine": words.Name(best.Machine), "rival": words.Name(next.Machine), "chance": words.Chance(best.Further),
		"low": words.Share(low), "high": words.Share(high), "level": words.Level(a.Level)})
}

// ratios are how many times as long one machine takes as another, in each of draws: ln of s
// a piece by machine.
func (a *TrialAnswer) ratios(draws [][]float64, x, y TrialRank) []float64 {
	out := make([]float64, len(draws))
	for i, d := range draws {
		out[i] = math.Exp(d[a.at(x)] - d[a.at(y)])
	}
	return out
}

// at is which machine of the trial a rank is of.
func (a *TrialAnswer) at(r TrialRank) int {
	return slices.IndexFunc(a.File.Machines, func(m trial.MachineKeys) bool { return m.Name == r.Machine })
}

// placeOf is where a machine stood.
func (a *TrialAnswer) placeOf(r TrialRank) string { return a.File.Machines[a.at(r)].Place }

// RunTable is a row for each turn of a place, for the card and the terminal.
func (a *TrialAnswer) RunTable(p *TrialPlace) *Table {
	return a.runTable("turns-"+p.Name, words.Say("trial.turns", words.Args{"place": words.Name(p.Called)}), *p)
}

// AllRuns is a row for each turn of all places, for a file.
func (a *TrialAnswer) AllRuns() *Table { return a.runTable("turns", words.Message{}, a.Places...) }

func (a *TrialAnswer) runTable(key string, caption words.Message, places ...TrialPlace) *Table {
	t := table(key, caption,
		number("turn", "trial.turn"), number("block", "trial.block"), column("design", "clock.design"), column("machine", "clock.machine"),
		column("person", "trial.person"), number("speed", "trial.speed"), number("expected_seconds", "trial.expected"),
		Column{Key: "place", Heading: words.Say("trial.place"), File: true})
	for _, p := range places {
		for _, x := range p.Turns {
			c := a.cellOf(x.Design, x.Machine)
			var who words.Value
			if x.Person != "" {
				who = words.Name(x.Person)
			}
			t.add(words.Whole(x.Number), words.Whole(x.Block), words.Name(x.Design), words.Name(x.Machine), who,
				words.PerMinute(c.Clock.SetSpeed), words.Seconds(c.Predicted), words.Name(p.Name))
		}
	}
	return t
}

func (a *TrialAnswer) cellOf(design, machine string) *TrialCell {
	for i := range a.Cells {
		if c := &a.Cells[i]; c.Design == design && c.Machine == machine {
			return c
		}
	}
	return nil
}

// CellTable is a row for each design on each machine: predicted, measured, first.
func (a *TrialAnswer) CellTable() *Table {
	t := table("cells", words.Say("trial.cells"),
		column("design", "clock.design"), column("machine", "clock.machine"), number("runs", "trial.runs"),
		number("predicted_seconds", "trial.predicted"), number("seconds", "trial.measured"), number("low", "trial.low"),
		number("high", "trial.high"), number("first", "trial.first-chance"))
	for _, c := range a.Cells {
		var mid, low, high, first words.Value
		if c.Seconds > 0 {
			mid, low, high = words.Seconds(c.Seconds), words.Seconds(c.Low), words.Seconds(c.High)
		}
		if len(a.Ranks) > 0 && slices.ContainsFunc(a.ranked, func(k int) bool { return a.File.Machines[k].Name == c.Machine }) {
			first = words.Chance(c.First)
		}
		t.add(words.Name(c.Design), words.Name(c.Machine), words.Whole(len(c.Measured)), words.Seconds(c.Predicted), mid, low, high, first)
	}
	return t
}

// RankTable is a row for each machine over the mix.
func (a *TrialAnswer) RankTable() *Table {
	heads := number("heads", "trial.heads")
	if !slices.ContainsFunc(a.Ranks, func(r TrialRank) bool { return r.Heads != a.Ranks[0].Heads }) {
		heads = heads.inFile() // they tell nothing apart
	}
	t := table("ranks", words.Say("trial.ranks"),
		column("machine", "clock.machine"), heads, number("first", "trial.first-chance"),
		number("first_elsewhere", "trial.first-elsewhere"), number("seconds_per_piece", "trial.per-piece"), number("low", "trial.low"), number("high", "trial.high"),
		number("pieces_in_8_hours", "trial.in-8-hours"), number("measured_over_predicted", "trial.off"), number("inside", "trial.inside"))
	for _, r := range a.Ranks {
		var further words.Value = words.None{}
		if r.Further >= 0 {
			further = words.Chance(r.Further)
		}
		t.add(words.Name(r.Machine), words.Whole(r.Heads), words.Chance(r.First), further, words.FineSeconds(r.Piece), words.FineSeconds(r.Low), words.FineSeconds(r.High),
			words.Fixed(r.Shift, 0), words.Fixed(r.Off, 3), words.Whole(r.Inside))
	}
	return t
}

// ApartTable is a row for each run that is not used or did not come.
func (a *TrialAnswer) ApartTable() *Table {
	t := table("apart", words.Say("trial.not-used"),
		column("place", "trial.place"), number("turn", "trial.turn"), column("design", "clock.design"), column("machine", "clock.machine"),
		number("seconds", "trial.measured"), column("why", "trial.why"), column("file", "clock.file"))
	for _, x := range a.Apart {
		var took words.Value // nothing where it could not be read
		if x.Seconds > 0 {
			took = words.Seconds(x.Seconds)
		}
		t.add(words.Name(x.Place), words.Whole(x.Turn), words.Name(x.Design), words.Name(x.Machine), took, x.Why, words.Name(x.File))
	}
	for _, x := range a.Missing {
		t.add(words.Name(x.Place), words.Whole(x.Turn), words.Name(x.Design), words.Name(x.Machine), nil, words.Say("trial.did-not-come"), nil)
	}
	return t
}

// CostTable is a row for each machine's year; nil without money.
func (a *TrialAnswer) CostTable() *Table {
	m := a.Money
	if m == nil {
		return nil
	}
	t := table("costs", words.Say("trial.costs"),
		column("machine", "clock.machine"), number("hours", "trial.hours"), number("machines_needed", "trial.needed"), number("labour", "trial.labour"),
		number("owning", "trial.owning"), number("upkeep", "trial.upkeep"), number("year", "trial.year"), number("cheapest", "trial.cheapest-chance"),
		number("tie_price", "trial.tie"), number("payback_years", "trial.payback"), number("present_value", "trial.present-value"))
	amount := func(s string) words.Value {
		v, err := decimal.NewFromString(s)
		if err != nil {
			return words.None{}
		}
		return words.Money{Amount: v, Code: m.Currency, Bare: true, Round: true}
	}
	for _, c := range m.Costs {
		var back words.Value = words.None{}
		if c.Payback > 0 {
			back = words.Fixed(c.Payback, 1)
		}
		t.add(words.Name(c.Machine), words.Fixed(c.Hours, 0), words.Whole(c.Needed), amount(c.Labour), amount(c.Owning), amount(c.Upkeep),
			amount(c.Year), words.Chance(c.Cheapest), amount(c.Tie), back, amount(c.Worth))
	}
	return t
}

// GradeTable is a row for each design on each machine that was graded.
func (a *TrialAnswer) GradeTable() *Table {
	t := table("grades", words.Say("trial.grades"), column("design", "clock.design"), column("machine", "clock.machine"), number("grades", "trial.how-many"))
	for _, x := range trial.Aspects {
		t.Columns = append(t.Columns, Column{Key: strings.ReplaceAll(string(x), "-", "_"), Heading: words.Say("trial.aspect." + string(x)), Number: true})
	}
	for _, g := range a.Graded {
		row := []words.Value{words.Name(g.Design), words.Name(g.Machine), words.Whole(g.Grades)}
		for _, x := range trial.Aspects {
			if v, ok := g.Mean[string(x)]; ok && !math.IsNaN(v) {
				row = append(row, words.Fixed(v, 1))
			} else {
				row = append(row, nil)
			}
		}
		t.add(row...)
	}
	return t
}

// Agrees says how far two graders agree; empty where nobody graded a second time.
func (a *TrialAnswer) Agrees() words.Message {
	k := a.Agreement
	if k == nil {
		return words.Message{}
	}
	return words.Say("trial.agree", words.Args{"one": words.Name(a.agreed[0]), "other": words.Name(a.agreed[1]), "kappa": words.Fixed(k.Kappa, 2), "se": words.Fixed(k.SE, 2), "pairs": words.Whole(k.Pairs),
		"same": words.Share(k.Plain)})
}
