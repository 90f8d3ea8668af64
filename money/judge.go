package money

// Judgement is which machine is the best at something, and how far that may be
// said.
type Judgement struct {
	Best   int     // by the sheets as they are
	Rival  int     // whom Best beats least surely; −1 where there is no other machine
	Chance Chance  // that Best beats Rival
	Is     Verdict // what may be said
	Tells  []Tell  // what would tell, where it cannot be told for sure; the most telling first
}

// TellBy is what would tell two machines apart.
type TellBy string

// What would tell.
const (
	ByWeeks TellBy = "weeks" // more simulated weeks: Weeks in all
	BySheet TellBy = "sheet" // what Machine's sheet leaves open: time a test piece on it
)

// Tell is one thing that would tell two machines apart.
type Tell struct {
	By      TellBy
	Weeks   int     // of ByWeeks: simulated weeks in all
	Machine int     // of BySheet
	SD      float64 // of BySheet: money a year that the sheet leaves open, standard deviation
}

// cheapest judges the year's cost.
func (c *Comparison) cheapest() Judgement {
	j := Judgement{Rival: -1}
	for i := range c.Machines {
		if c.Machines[i].YearCost.Mid.LessThan(c.Machines[j.Best].YearCost.Mid) {
			j.Best = i
		}
	}
	for i := range c.Machines {
		if i == j.Best {
			continue
		}
		if p := c.Beats(j.Best, i); j.Rival < 0 || p.P() < j.Chance.P() {
			j.Rival, j.Chance = i, p
		}
	}
	if j.Rival < 0 {
		j.Is = Wins
		return j
	}
	j.Is = j.Chance.Verdict()
	j.Tells = c.tells(j.Best, j.Rival, j.Chance)
	return j
}

// tells is what would tell machines a and b apart, where p is the chance that a
// is the cheaper. Machines of one sheet share what it leaves open, so that
// learning it does not tell them apart.
func (c *Comparison) tells(a, b int, p Chance) []Tell {
	if v := p.Verdict(); v == Wins || v == Alike {
		return nil
	}
	var out []Tell
	x, y := &c.Machines[a], &c.Machines[b]
	if x.SheetID != y.SheetID {
		wide := a
		if y.sheetSD > x.sheetSD {
			wide = b
		}
		if sd := c.Machines[wide].sheetSD; sd > 0 {
			out = append(out, Tell{By: BySheet, Machine: wide, SD: sd})
		}
	}
	if n := p.MoreDraws(c.Level); n > 0 {
		out = append(out, Tell{By: ByWeeks, Weeks: n})
	}
	return out
}
