package main

import (
	"fmt"
	"strings"

	"needlepace/money"
	"needlepace/picture"
)

func compareText(c *Ctx, k *money.Comparison) {
	w, m := c.Out, k.Mix
	cur := m.Rates.Currency
	pieces := 0
	for _, d := range k.Designs {
		pieces += d.Weekly
	}
	fmt.Fprintf(w, "%s: %s, %s pieces a week, %s compared\n", title(m.Name), plural(len(k.Designs), "design"), thousands(pieces), plural(len(k.Machines), "machine"))
	fmt.Fprintf(w, "crews of %s under %s, %d shifts of %g h a week; intervals hold %.0f %%\n\n", plural(m.Crew.Machines, "machine"), plural(m.Crew.Operators, "operator"), m.Shifts, m.Hours, 100*k.Level)

	j := &k.Cheapest
	b := &k.Machines[j.Best]
	is := map[money.Verdict]string{money.Wins: "is the cheapest", money.Probably: "is probably the cheapest",
		money.CannotTell: "may be the cheapest, but it cannot be told", money.Alike: "is as cheap as another"}
	fmt.Fprintf(w, "  %s %s on this mix: %s %s a piece, between %s and %s", b.Name, is[j.Is], b.PerPiece.Mid.StringFixed(2), cur, b.PerPiece.Low.StringFixed(2), b.PerPiece.High.StringFixed(2))
	if j.Rival >= 0 {
		fmt.Fprintf(w, "; the chance that it beats %s is %s", k.Machines[j.Rival].Name, chanceText(j.Chance.P()))
	}
	fmt.Fprint(w, "\n")
	for _, tell := range j.Tells {
		switch tell.By {
		case money.BySheet:
			fmt.Fprintf(w, "  a timed test piece on %s would tell most\n", k.Machines[tell.Machine].Name)
		case money.ByWeeks:
			fmt.Fprintf(w, "  %d simulated weeks would tell more (--weeks)\n", tell.Weeks)
		}
	}
	if k.Placeholder {
		fmt.Fprintln(w, "  every price is a placeholder: put in your own, then take placeholder = true out of [money]")
	}
	if len(k.Missing) > 0 {
		fmt.Fprintf(w, "  counted as 0 for want of a figure: %s\n", strings.Join(k.Missing, ", "))
	}
	fmt.Fprintln(w)

	t := table{align: "lrrrrrrrr"}
	t.row("machine", "rated", "held", "hours a week", "between", "pieces a shift", "needed", cur+" a piece", "between")
	t.rule()
	for i := range k.Machines {
		x := &k.Machines[i]
		name := x.Name
		if x.Existing {
			name += " (existing)"
		}
		t.row(name, fmt.Sprintf("%.0f", x.Sheet.MaxSpeed), fmt.Sprintf("%.0f", x.Held), fmt.Sprintf("%.1f", x.Hours.Mean), fmt.Sprintf("%.1f and %.1f", x.Hours.From, x.Hours.To),
			count(x.PiecesPerShift.Mean), fmt.Sprint(x.Needed), x.PerPiece.Mid.StringFixed(3), x.PerPiece.Low.StringFixed(3)+" and "+x.PerPiece.High.StringFixed(3))
	}
	t.write(w)
	fmt.Fprintln(w, "rated and held speed in stitches/min; hours a week of one machine for the whole mix, loading, breaks, waiting and set-ups in it")
	for i := range k.Machines {
		if x := &k.Machines[i]; x.Needed > 1 {
			fmt.Fprintf(w, "  ! %s: the mix takes %.1f machine hours and a week has %.1f, so %d are counted\n", x.Name, x.Hours.Mean, x.Available, x.Needed)
		}
	}

	fmt.Fprintln(w, "\na year of the mix, "+cur)
	t = table{indent: "  ", align: "l" + strings.Repeat("r", len(k.Machines))}
	row := []string{""}
	for _, x := range k.Machines {
		row = append(row, x.Name)
	}
	t.row(row...)
	t.rule()
	for l := range k.Machines[0].Year {
		row := []string{k.Machines[0].Year[l].Name}
		for _, x := range k.Machines {
			row = append(row, picture.Thousands(x.Year[l].Amount.Round(0).InexactFloat64()))
		}
		t.row(row...)
	}
	t.rule()
	row = []string{"together"}
	for _, x := range k.Machines {
		row = append(row, picture.Thousands(x.YearCost.Mid.Round(0).InexactFloat64()))
	}
	t.row(row...)
	t.write(w)

	designsText(c, k)
	if len(k.Machines) > 1 {
		fmt.Fprintln(w, "\nchance that a year on the machine at the left costs less than on the one above")
		t = table{indent: "  ", align: "l" + strings.Repeat("r", len(k.Machines))}
		row = []string{""}
		for _, x := range k.Machines {
			row = append(row, x.Name)
		}
		t.row(row...)
		t.rule()
		for i, x := range k.Machines {
			row := []string{x.Name}
			for j := range k.Machines {
				if i == j {
					row = append(row, "–")
				} else {
					row = append(row, chanceText(k.Beats(i, j).P()))
				}
			}
			t.row(row...)
		}
		t.write(w)
	}
	for i := range k.Pairs {
		pairText(c, k, &k.Pairs[i])
	}
	fmt.Fprintln(w, "\nAn offer's sheet is assumed from its class until it has sewn a test piece: ask to time one before buying.")
}

// designsText is who wins which design, strips on one time axis.
func designsText(c *Ctx, k *money.Comparison) {
	w := c.Out
	fmt.Fprintln(w, "\nwhich machine wins which design")
	ts := picture.TextStrip{Width: max(12, min(c.OutWidth()-74, 36)), Colour: c.OutTerminal()}
	t := table{indent: "  ", align: "lrrrrrl"}
	t.row("design", "run time", "between", "held", "a piece", "wins", "where the seconds go")
	t.rule()
	seen := map[picture.Key]bool{}
	for _, d := range k.Designs {
		t.row(fmt.Sprintf("%s, mean stitch %.1f mm", d.Name, d.Mean))
		ts.Max = 0 // strips share an axis within a design
		for i := range d.On {
			ts.Max = max(ts.Max, d.On[i].Result.Seconds)
		}
		for i := range d.On {
			o := &d.On[i]
			wins := ""
			if i == d.First {
				wins = chanceText(d.FirstChance.P())
			}
			for _, p := range picture.PartsOf(o.Result.Parts) {
				seen[p.Key] = true
			}
			t.row("  "+k.Machines[i].Name, picture.LongTime(o.Result.Seconds), picture.ShortTime(o.Low)+" and "+picture.ShortTime(o.High),
				fmt.Sprintf("%.0f", o.Result.HeldSpeed()), picture.LongTime(o.PerPiece), wins, ts.Bar(picture.PartsOf(o.Result.Parts), 0))
		}
	}
	t.write(w)
	var parts []picture.Part
	for _, q := range picture.Keys {
		if seen[q] {
			parts = append(parts, picture.Part{Key: q, Seconds: 1})
		}
	}
	fmt.Fprintf(w, "\n  %s\n", ts.Legend(parts, false))
	fmt.Fprintln(w, "  wins: the chance that its run ends first; a piece: machine time a piece, loading and expected breaks in it, over the heads")
	for _, d := range k.Designs {
		text := fmt.Sprintf("  %s: %s", d.Name, k.Machines[d.First].Name)
		if d.Why != "" {
			text += " " + d.Why
		}
		if d.Most != d.First {
			text += fmt.Sprintf("; %s yields more pieces an hour", k.Machines[d.Most].Name)
		}
		fmt.Fprintln(w, text)
	}
}

func crossingText(cs []money.Crossing) string {
	var ups []string
	for _, x := range cs {
		if x.Up {
			ups = append(ups, x.At.StringFixed(1))
		}
	}
	switch len(ups) {
	case 0:
		return "never"
	case 1:
		return ups[0] + " years"
	}
	return strings.Join(ups, " and again ") + " years (the balance falls below zero between)"
}

func pairText(c *Ctx, k *money.Comparison, p *money.Pair) {
	w, cur := c.Out, k.Mix.Rates.Currency
	x, b := &k.Machines[p.Machine], &k.Machines[p.Base]
	fmt.Fprintf(w, "\n%s instead of %s\n", x.Name, b.Name)
	t := table{indent: "  ", align: "lll"}
	t.row("cheaper on this mix", chanceText(p.Cheaper.P()), "chance")
	t.row("fewer machine hours", chanceText(p.Faster.P()), "chance")
	t.row("money put in", p.Invest.StringFixed(0)+" "+cur, fmt.Sprintf("%s, less what %s would fetch", plural(x.Needed, "machine"), b.Name))
	t.row("saves a year", p.Saving.Mid.StringFixed(0)+" "+cur, "between "+p.Saving.Low.StringFixed(0)+" and "+p.Saving.High.StringFixed(0))
	if p.Invest.IsPositive() {
		t.row("paid back", crossingText(p.Payback), "at "+k.Mix.Rates.Interest.String()+" % interest: "+crossingText(p.Discounted))
	} else {
		t.row("paid back", "at once", "it costs no more to have")
	}
	t.row("net present value", p.NPV.Mid.StringFixed(0)+" "+cur, fmt.Sprintf("between %s and %s; above zero with %s chance, over %s", p.NPV.Low.StringFixed(0), p.NPV.High.StringFixed(0), chanceText(p.Worth.P()), plural(p.Horizon, "year")))
	if p.TieOK {
		t.row("they tie at a price of", p.Tie.Mid.StringFixed(0)+" "+cur, fmt.Sprintf("between %s and %s; the offer is %s", p.Tie.Low.StringFixed(0), p.Tie.High.StringFixed(0), x.Owned.Price))
	} else {
		t.row("they tie at a price of", "none", "even as a gift a year would cost more")
	}
	t.write(w)
	fmt.Fprintf(w, "  which stitches: %s\n", p.Reason)
}
