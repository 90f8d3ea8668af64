package ask

import (
	"math"

	"needlepace/money"
	"needlepace/words"
)

// tooLow is from which share on a quote's time is told to be too low.
const tooLow = 0.05

// why names the part that took most of the time that was not quoted.
func (r *AfterRow) why() words.Message {
	most := max(r.Loading, r.Breaks, r.Speed, r.Machine, r.Spoilt)
	time := words.Seconds(most)
	switch most {
	case r.Breaks:
		return words.Say("after.by-breaks", words.Args{"time": time})
	case r.Speed:
		return words.Say("after.by-speed", words.Args{"time": time})
	case r.Machine:
		return words.Say("after.by-machine", words.Args{"time": time})
	case r.Spoilt:
		return words.Say("after.by-spoilt", words.Args{"time": time})
	}
	return words.Say("after.by-loading", words.Args{"time": time})
}

func (a *AfterAnswer) say() {
	switch over := a.All.Over(); {
	case len(a.Rows) == 0:
		a.Verdict.Say("after.none")
	case over > tooLow*a.All.Quoted:
		a.Verdict.Say("after.longer", words.Args{"sewn": words.Seconds(a.All.Sewn), "quoted": words.Seconds(a.All.Quoted),
			"share": words.Share(over / a.All.Quoted), "why": a.All.why()})
	case over < -tooLow*a.All.Quoted:
		a.Verdict.Say("after.shorter", words.Args{"sewn": words.Seconds(a.All.Sewn), "quoted": words.Seconds(a.All.Quoted),
			"share": words.Share(math.Abs(over) / a.All.Quoted)})
	default:
		a.Verdict.Say("after.as-quoted", words.Args{"sewn": words.Seconds(a.All.Sewn),
			"quoted": words.Seconds(a.All.Quoted)})
	}
	told := 0
	for i := range a.Rows {
		r := &a.Rows[i]
		if len(a.Rows) > 1 && told < 3 && r.over() > tooLow {
			told++
			a.Verdict.Say("after.too-low", words.Args{"name": words.Name(r.Name), "share": words.Share(r.over()),
				"why": r.why()})
		}
	}
	if a.Untimed > 0 {
		a.Caveats.Say("after.untimed", words.Args{"n": words.Count(a.Untimed, "report")})
	}
	if a.Unquoted > 0 {
		a.Caveats.Say("after.unquoted", words.Args{"n": words.Count(a.Unquoted, "line")})
	}
	if a.Reckoned > 0 {
		a.Caveats.Say("after.reckoned", words.Args{"n": words.Count(a.Reckoned, "report")})
	}
	if a.Unpriced > 0 {
		a.Caveats.Say("after.unpriced", words.Args{"n": words.Count(a.Unpriced, "report")})
	}
	if len(a.Rows) > 0 {
		a.Caveats.Say("after.costed")
	}
}

// Table is a row each, in minutes, with the sum under them.
func (a *AfterAnswer) Table() *Table {
	t := table("after", words.Say("after.caption"),
		column("name", "after."+a.By),
		number("pieces", "column.pieces"),
		number("quoted_seconds", "after.quoted"),
		number("sewn_seconds", "after.sewn"),
		number("over_seconds", "after.over"),
		number("spoilt_seconds", "after.spoilt"),
		number("machine_seconds", "after.machine-part"),
		number("breaks_seconds", "after.breaks"),
		number("speed_seconds", "after.speed"),
		number("loading_seconds", "after.loading"),
		number("price", "after.price"),
		number("quoted_cost", "after.quoted-cost"),
		number("sewn_cost", "after.sewn-cost"),
		number("quoted_margin_percent", "after.quoted-margin"),
		number("margin_percent", "after.margin"),
	)
	time := func(s float64) words.Value { return coded{words.Fixed(s/60, 1), words.Fixed(s, 3).Raw()} }
	row := func(r *AfterRow, name words.Value) []words.Value {
		share := func(v float64) words.Value { return coded{words.Share(v), words.Fixed(100*v, 3).Raw()} }
		m := func(d money.Dec) words.Value {
			return words.Money{Amount: d, Code: a.Currency, Places: words.Places(a.Currency)}
		}
		return []words.Value{name, words.Whole(r.Pieces), time(r.Quoted), time(r.Sewn), time(r.Over()), time(r.Spoilt),
			time(r.Machine), time(r.Breaks), time(r.Speed), time(r.Loading),
			m(r.Price),
			m(r.Cost),
			m(r.Came), share(r.QuotedMargin()), share(r.Margin())}
	}
	for i := range a.Rows {
		t.add(row(&a.Rows[i], words.Name(a.Rows[i].Name))...)
	}
	if len(a.Rows) > 1 {
		t.Foot = row(&a.All, words.Say("after.all"))
	}
	return t
}
