package ask

import (
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/words"
)

// figured is a figure that is shown in other words: an order by its name.
type figured struct {
	words.Numeric
	as words.Value
}

// Text is the other words.
func (f figured) Text(w *words.Writer) string { return f.as.Text(w) }

// timed is an instant that is shown in other words.
type timed struct {
	words.Moment
	as words.Value
}

// Text is the other words.
func (t timed) Text(w *words.Writer) string { return t.as.Text(w) }

// planTimes writes the instants of a plan by the shop's clocks, near its
// beginning.
func planTimes(p *book.Plan) func(time.Time) words.NearMoment {
	return func(t time.Time) words.NearMoment { return p.Zone.Near(t, p.From) }
}

// yes is "yes" or an empty cell.
func yes(is bool) words.Value {
	if !is {
		return nil
	}
	return coded{words.Say("plan.yes"), "yes"}
}

// LotTable is what every machine sews, in its order.
func LotTable(p *book.Plan) *Table {
	t := table("lots", words.Say("plan.lots"),
		column("machine", "column.machine"),
		column("order", "column.order"),
		number("line", "column.line").inFile(),
		column("customer", "column.customer"),
		number("pieces", "column.pieces"),
		number("runs", "column.runs"),
		number("heads", "column.heads").inFile(),
		number("cones", "column.cones"),
		column("set_up_from", "column.set-up"),
		column("from", "column.sewing-from"),
		column("to", "column.until"),
		number("set_up_minutes", "column.set-up").inFile(),
		number("work_hours", "column.work").inFile(),
		column("running", "column.running").inFile(),
		column("held", "column.held-by-hand").inFile(),
		column("late", "column.late").inFile(),
		column("again", "column.again").inFile(),
	)
	at := planTimes(p)
	for i := range p.Lots {
		l := &p.Lots[i]
		order, until := words.Value(words.Name(l.Name)), words.Value(at(l.To))
		if l.Again {
			order = words.Say("plan.lot-again", words.Args{"order": order})
		}
		switch {
		case l.Running:
			order = words.Say("plan.lot-now", words.Args{"order": order})
		case l.Held:
			order = words.Say("plan.lot-held", words.Args{"order": order})
		}
		setup := words.Value(at(l.SetupFrom))
		if l.Setup == 0 {
			setup = words.None{}
		}
		if l.Late {
			until = words.Say("plan.until-late", words.Args{"at": until})
		}
		t.add(
			words.Name(l.Machine), figured{words.Whole(l.Number), order}, words.Whole(l.Line), words.Name(l.Customer),
			words.Whole(l.Quantity), words.Whole(l.Runs), words.Whole(l.Heads), words.Whole(l.Cones),
			timed{at(l.SetupFrom).Moment, setup}, at(l.From), timed{at(l.To).Moment, until}, words.Fixed(l.Setup/60, 0),
			words.Hours(l.Work/3600), yes(l.Running), yes(l.Held), yes(l.Late), yes(l.Again),
		)
	}
	return t
}

// byDue are a plan's lines by the day they are due, those without a day last.
func byDue(p *book.Plan) []book.LineEnd {
	all := slices.Clone(p.Ends)
	slices.SortStableFunc(all, func(a, b book.LineEnd) int {
		switch {
		case a.Due.IsZero() != b.Due.IsZero():
			if a.Due.IsZero() {
				return 1
			}
			return -1
		case !a.Due.Equal(b.Due):
			return a.Due.Compare(b.Due)
		}
		return strings.Compare(a.Name, b.Name)
	})
	return all
}

// sewn is when a line is done, and how late that is.
func sewn(on words.Value, end words.Value, late float64) words.Value {
	switch {
	case on == nil && late > 0:
		return words.Say("plan.sewn-late", words.Args{"at": end, "late": words.Span(late / 3600)})
	case on == nil:
		return end
	case late > 0:
		return words.Say("plan.on-sewn-late", words.Args{"on": on, "at": end, "late": words.Span(late / 3600)})
	}
	return words.Say("plan.on-sewn", words.Args{"on": on, "at": end})
}

func onTime(chance float64) words.Value {
	if chance < 0 {
		return words.None{}
	}
	return words.Chance(chance)
}

// DayTable is when every line is sewn and which day can be promised.
func DayTable(p *book.Plan) *Table {
	t := table("days", words.Say("plan.days", words.Args{"chance": words.Level(p.Chance)}),
		column("order", "column.order"),
		number("line", "column.line").inFile(),
		column("customer", "column.customer"),
		number("to_sew", "column.to-sew"),
		column("due", "column.due"),
		column("sewn_by_plan", "column.sewn-by-plan"),
		number("late_hours", "column.late").inFile(),
		number("chance_on_time", "column.on-time"),
		column("promise", "column.promise"),
		number("promise_chance", "column.promise-chance").inFile(),
	)
	at, today := planTimes(p), p.Zone.Day(p.From)
	for _, e := range byDue(p) {
		end := at(e.End)
		says := sewn(nil, end, e.Late)
		if e.Partner != "" {
			says = words.Say("plan.from-partner", words.Args{"partner": words.Name(e.Partner), "at": says})
		}
		t.add(
			figured{words.Whole(e.Number), words.Name(e.Name)}, words.Whole(e.Line), words.Name(e.Customer),
			words.Whole(e.Quantity), timed{at(e.Due).Moment, words.NearDay{Day: e.DueDay, Today: today}},
			timed{end.Moment, says}, words.Hours(e.Late/3600), onTime(e.OnTime),
			words.NearDay{Day: e.Day, Today: today}, words.Level(p.Chance),
		)
	}
	return t
}

// MovedTable is what moved against the plan before, and why.
func (a *PlanAnswer) MovedTable() *Table {
	t := table("moved", words.Say("plan.moved"),
		column("order", "column.order"),
		column("what", "column.what"),
		column("was", "column.was"),
		column("is", "column.is"),
		column("why", "column.why"),
	)
	if a.whatIf {
		t.Caption = words.Say("plan.moved-what-if")
	}
	at := planTimes(a.Plan)
	side := func(on string, end time.Time, late float64) words.Value {
		switch {
		case on == "":
			return words.None{}
		case end.IsZero():
			return words.Name(on)
		}
		return sewn(words.Name(on), at(end), late)
	}
	for i := range a.Moved {
		m := &a.Moved[i]
		t.add(
			words.Name(m.Name), words.Say("moved."+strings.ReplaceAll(m.Kind, " ", "-")),
			side(m.Was, m.EndWas, m.LateWas), side(m.Is, m.EndIs, m.LateIs), m.say,
		)
	}
	return t
}

// BothTable is what the plans without and with a what-if come to.
func (a *PlanAnswer) BothTable() *Table {
	t := table("both", words.Say("plan.both"),
		column("what", "column.the-plan"),
		number("before", "column.as-things-are"),
		number("after", "column.what-if"),
	)
	at := planTimes(a.Plan)
	for _, r := range []struct {
		what words.Message
		of   func(*book.Plan) words.Value
	}{
		{words.Say("plan.lines-late"), func(p *book.Plan) words.Value { return words.Whole(p.Late) }},
		{words.Say("plan.late-hours"), func(p *book.Plan) words.Value { return words.Fixed(p.LateHours, 1) }},
		{words.Say("plan.all-sewn"), func(p *book.Plan) words.Value { return at(p.Done) }},
		{words.Say("plan.machine-hours"), func(p *book.Plan) words.Value { return words.Fixed(p.WorkHours, 1) }},
		{words.Say("plan.set-up-hours"), func(p *book.Plan) words.Value { return words.Fixed(p.SetupHours, 1) }},
		{words.Say("plan.operators-asked"), func(p *book.Plan) words.Value { return words.Fixed(p.Hands, 1) }},
	} {
		t.add(r.what, r.of(a.Before), r.of(a.Plan))
	}
	return t
}

// LineTable is every line's end without and with a what-if.
func (a *PlanAnswer) LineTable() *Table {
	t := table("lines", words.Say("plan.line-by-line"),
		column("order", "column.order"),
		column("customer", "column.customer"),
		column("due", "column.due"),
		column("before", "column.sewn-as-things-are"),
		column("after", "column.sewn-then"),
		number("on_time_before", "column.on-time"),
		number("on_time_after", "column.on-time-then"),
	)
	at, today := planTimes(a.Plan), a.Plan.Zone.Day(a.Plan.From)
	for _, e := range byDue(a.Plan) {
		was, chance := words.Value(words.None{}), words.Value(words.None{})
		same := func(x book.LineEnd) bool { return x.OrderID == e.OrderID && x.Line == e.Line }
		if i := slices.IndexFunc(a.Before.Ends, same); i >= 0 {
			was, chance = at(a.Before.Ends[i].End), onTime(a.Before.Ends[i].OnTime)
		}
		t.add(
			figured{words.Whole(e.Number), words.Name(e.Name)}, words.Name(e.Customer),
			words.NearDay{Day: e.DueDay, Today: today}, was, timed{at(e.End).Moment, sewn(nil, at(e.End), e.Late)},
			chance, onTime(e.OnTime),
		)
	}
	return t
}
