package ask

import (
	"math"

	"needlepace/words"
)

// Changes below these are not told of: they are the reckoning's own.
const (
	leastLateHours = .05
	leastLaterHour = .1
	leastChange    = .008
)

// changed is by how many hours of work something changes.
func changed(h float64) words.Value {
	amount := words.Value(words.Span(math.Abs(h)))
	if math.Abs(h) >= 48 { // hours of work are no days
		amount = words.Hours(math.Abs(h))
	}
	switch {
	case h > leastChange:
		return words.Say("move.more", words.Args{"amount": amount})
	case h < -leastChange:
		return words.Say("move.less", words.Args{"amount": amount})
	}
	return words.Say("move.no-change")
}

// say puts what a move does into sentences.
func (m *HandMove) say(split bool) {
	m.Verdict = words.Sentences{words.Say("move.to", words.Args{
		"order": words.Name(m.Lot.Name), "customer": words.Name(m.Lot.Customer), "from": words.Name(m.Lot.Machine),
		"to": words.Name(m.To), "place": words.Whole(m.Place + 1),
	})}
	add := func(said words.Message) { m.Verdict = append(m.Verdict, said) }
	more := m.After.Late - m.Before.Late
	switch {
	case more > 0:
		add(words.Say("move.more-late", words.Args{"lines": words.Count(more, "line")}))
	case more < 0:
		add(words.Say("move.fewer-late", words.Args{"lines": words.Count(-more, "line")}))
	}
	if math.Abs(m.LateHours) > leastLateHours {
		add(words.Say("move.late-hours", words.Args{"change": changed(m.LateHours)}))
	} else if more == 0 {
		add(words.Say("move.none-later"))
	}
	add(words.Say("move.hours", words.Args{"work": changed(m.MachineHours), "set-up": changed(m.SetupHours)}))
	switch by := words.Span(math.Abs(m.DoneLaterHour)); {
	case m.DoneLaterHour > leastLaterHour:
		add(words.Say("move.done-later", words.Args{"by": by}))
	case m.DoneLaterHour < -leastLaterHour:
		add(words.Say("move.done-earlier", words.Args{"by": by}))
	}
	m.Caveats = words.Sentences{}
	if split {
		m.Caveats.Say("move.split")
	}
}

// Worse reports whether a move makes lines late, or later.
func (m *HandMove) Worse() bool { return m.LateHours > leastLateHours || m.After.Late > m.Before.Late }

// LineTable is the lines whose end a move changes.
func (m *HandMove) LineTable() *Table {
	t := table("cost", words.Say("move.lines"),
		column("order", "column.order"),
		column("customer", "column.customer"),
		column("before", "column.sewn-as-things-are"),
		column("after", "column.sewn-then"),
		column("late_hours", "column.late-then"),
	)
	for _, l := range m.Lines {
		was, is := words.Span(l.LateWas/3600), words.Span(l.LateIs/3600)
		late := words.Value(words.None{})
		switch {
		case l.LateIs > 0 && l.LateWas > 0:
			late = words.Say("move.late-was", words.Args{"late": is, "was": was})
		case l.LateIs > 0:
			late = is
		case l.LateWas > 0:
			late = words.Say("move.on-time-was", words.Args{"was": was})
		}
		t.add(
			words.Name(l.Name), words.Name(l.Customer), m.zone.Near(l.Before, m.begins), m.zone.Near(l.After, m.begins),
			figured{words.Hours(l.LateIs / 3600), late},
		)
	}
	return t
}
