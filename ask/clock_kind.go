package ask

import (
	"slices"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// ClockKind is what stitches of one kind take in a run.
type ClockKind struct {
	Kind        string       `json:"kind" enum:"running,satin,fill,tie,bean,under_cover,unknown"`
	Seconds     float64      `json:"seconds" doc:"in which it is sewn"`
	Share       float64      `json:"share" doc:"of the run time, 0 to 1"`
	Stitches    int          `json:"stitches"`
	Revolutions int          `json:"revolutions"`
	HeldSpeed   float64      `json:"held_speed" doc:"stitches/min"`
	Lost        float64      `json:"lost_seconds" doc:"what it takes beyond the set speed"`
	Parts       clock.Parts  `json:"parts"`
	LongBy      clock.LongBy `json:"long_stitches_by"`

	kind stitch.Kind
}

func kindsOf(d *Design, s *machine.Sheet, job clock.Job, seconds float64) []ClockKind {
	c := clock.New(s, job)
	out := []ClockKind{}
	for _, k := range c.ByKind(d.Design, d.Kinds(s.Reading.TrimAfterJumps), c.Trace(d.Design)) {
		out = append(out, ClockKind{k.Kind.String(), k.Seconds(), k.Seconds() / seconds, k.Stitches, k.Revolutions,
			k.HeldSpeed(), k.Lost(), k.Parts, k.LongBy, k.Kind})
	}
	return out
}

// loss is time that goes to something beyond the stitches at the set speed.
type loss struct {
	key     string // as in JSON
	name    words.Message
	seconds float64
}

// lossesOf are what a run loses in each kind of stitches, and where nothing is sewn.
func lossesOf(kinds []ClockKind, p *clock.Parts) []loss {
	var out []loss
	for _, k := range kinds {
		out = append(out, loss{k.Kind, k.kind.Name(), k.Lost})
	}
	for _, q := range standingOnly(p) {
		out = append(out, loss(q))
	}
	return out
}

// standingOnly are the parts of a run in which nothing is sewn.
func standingOnly(p *clock.Parts) []part { return partsOf(p)[clock.Trims:] }

// mostLosses is how many losses are named.
const mostLosses = 2

// sayKinds says where most of the time is lost.
func (a *ClockAnswer) sayKinds() {
	if a.Kinds == nil {
		return
	}
	all := lossesOf(a.Kinds, &a.Parts)
	slices.SortStableFunc(all, func(x, y loss) int {
		switch {
		case x.seconds > y.seconds:
			return -1
		case x.seconds < y.seconds:
			return 1
		}
		return 0
	})
	what := words.List{}
	for _, l := range all[:min(len(all), mostLosses)] {
		if l.seconds > worthSaying && l.key != clock.StartEnd.String() {
			what.Say("part.with-time", words.Args{"what": l.name, "time": words.Seconds(l.seconds)})
		}
	}
	if len(what) > 0 {
		a.Verdict.Say("clock.kinds-lose", words.Args{"what": what})
	}
}

// KindsTable is where the seconds go by kind of stitches, and after them the
// parts in which nothing is sewn: all of the run. The question must ask for them.
func (a *ClockAnswer) KindsTable() *Table {
	t := table("kinds", words.Say("clock.kinds", words.Args{"machine": words.Name(a.Machine)}))
	t.Columns = clockHead()
	for i := range t.Columns {
		t.Columns[i].File = true
	}
	t.Columns = append(t.Columns,
		column("kind", "clock.kind"),
		number("seconds", "clock.time"),
		number("share", "clock.share"),
		number("stitches", "clock.stitches"),
		number("revolutions", "clock.revolutions").inFile(),
		number("held_speed", "clock.held"),
		number("lost_seconds", "clock.lost"))
	t.Columns = append(t.Columns, partColumns()...)
	t.Columns = append(t.Columns, column("what", "clock.what"))
	for i := range a.Kinds {
		k := &a.Kinds[i]
		row := append(a.head(), coded{k.kind.Name(), k.Kind}, words.Seconds(k.Seconds), words.Share(k.Share),
			words.Whole(k.Stitches), words.Whole(k.Revolutions), words.PerMinute(k.HeldSpeed), words.Seconds(k.Lost))
		t.add(append(append(row, partValues(&k.Parts, &k.LongBy)...), k.kind.Means())...)
	}
	notes := a.notes()
	for _, p := range standingOnly(&a.Parts) {
		if p.seconds <= 0 {
			continue
		}
		row := append(a.head(), coded{p.name, p.key}, words.Seconds(p.seconds), words.Share(p.seconds/a.Seconds),
			nil, nil, nil, words.Seconds(p.seconds))
		for _, q := range partColumns() {
			if q.Key == "parts_"+p.key {
				row = append(row, words.Seconds(p.seconds))
			} else {
				row = append(row, nil)
			}
		}
		t.add(append(row, notes[p.key])...)
	}
	return t
}

// KindsOnTable is what each machine loses in each kind of stitches, and where
// nothing is sewn. The questions must ask for them.
func KindsOnTable(all []*ClockAnswer) *Table {
	t := table("kinds_on", words.Say("clock.kinds-on"), clockHead()[2])
	var keys []string
	cells := make([]map[string]float64, len(all))
	for i, a := range all {
		cells[i] = map[string]float64{}
		for _, l := range lossesOf(a.Kinds, &a.Parts) {
			cells[i][l.key] = l.seconds
			if l.seconds > 0 && !slices.Contains(keys, l.key) {
				keys = append(keys, l.key)
				t.Columns = append(t.Columns, Column{Key: l.key, Heading: l.name, Number: true})
			}
		}
	}
	for i, a := range all {
		row := []words.Value{words.Name(a.Machine)}
		for _, k := range keys {
			row = append(row, words.Seconds(cells[i][k]))
		}
		t.add(row...)
	}
	return t
}
