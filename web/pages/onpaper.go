package pages

import (
	"cmp"
	"slices"
	"strings"

	"needlepace/act"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/words"
)

// onPaper is what a page says on paper alone: the inputs that its figures were
// worked out from, since a form is not printed, and the constants used.
type onPaper struct {
	Inputs    []*table
	Constants []*table
}

// usedSheet is a machine by the name that the page calls it, and its sheet.
type usedSheet struct {
	Name  string
	Sheet *machine.Sheet
}

// sheetsAcross is how many machines one table of constants has beside each other:
// more are too wide for a sheet of paper.
const sheetsAcross = 4

// said is what an input is called, and its value.
type said struct {
	Name  words.Message
	Value string
}

// input adds one table of what was asked; values that are empty were not.
func (b *onPaper) input(caption words.Message, w *words.Writer, rows ...said) {
	t := &table{Caption: caption.Text(w), Cols: inputCols(w)}
	for _, r := range rows {
		if r.Value != "" {
			t.row(text(capital(r.Name.Text(w))), text(r.Value))
		}
	}
	b.Inputs = append(b.Inputs, t)
}

func inputCols(w *words.Writer) []col {
	return []col{{Name: capital(words.Say("paper.input").Text(w))}, {Name: capital(words.Say("paper.value").Text(w))}}
}

// groups adds the groups of a form, each with the values it was worked out from.
func (b *onPaper) groups(groups []fieldGroup, w *words.Writer) {
	for _, g := range groups {
		if len(g.Rows) == 1 && g.Rows[0].Here == "" {
			t := &table{Caption: g.Title, Cols: inputCols(w)}
			for _, f := range g.Rows[0].Fields {
				t.row(text(f.Label), text(f.shown(w)))
			}
			b.Inputs = append(b.Inputs, t)
			continue
		}
		t := &table{Caption: g.Title}
		for i, r := range g.Rows {
			named := r.Name != ""
			if i == 0 {
				if named {
					t.Cols = append(t.Cols, col{Name: capital(words.Say("paper.name").Text(w))})
				}
				for _, f := range r.Fields {
					t.Cols = append(t.Cols, col{Name: f.Label, Num: f.Kind == "number"})
				}
			}
			var cells []cell
			if named {
				cells = append(cells, text(r.Name))
			}
			for _, f := range r.Fields {
				cells = append(cells, text(f.shown(w)))
			}
			t.Rows = append(t.Rows, cells)
		}
		if len(t.Rows) > 0 {
			b.Inputs = append(b.Inputs, t)
		}
	}
}

// shown is a field's value as a text to read.
func (x field) shown(w *words.Writer) string {
	switch x.Kind {
	case "tick":
		if x.On {
			return words.Say("paper.yes").Text(w)
		}
		return words.Say("paper.no").Text(w)
	case "choice":
		for _, o := range x.Options {
			if o.Value == x.Value {
				return firstOf(o.Label, words.None{}.Text(w))
			}
		}
	}
	return firstOf(x.Value, words.None{}.Text(w))
}

// constants adds the constants of some machines, beside each other.
func (b *onPaper) constants(w *words.Writer, of ...usedSheet) {
	for len(of) > 0 {
		some := of[:min(len(of), sheetsAcross)]
		of = of[len(some):]
		t := &table{Caption: words.Say("paper.constants").Text(w),
			Cols: []col{{Name: capital(words.Say("clock.constant").Text(w))}}}
		for _, s := range some {
			t.Cols = append(t.Cols, col{Name: s.Name})
		}
		for _, k := range machine.AllConstants {
			cells, any := []cell{text(k.Means().Text(w))}, false
			for _, s := range some {
				v := words.None{}.Text(w)
				if !k.Absent(s.Sheet) {
					v, any = constantShown(k, s.Sheet, w), true
				}
				cells = append(cells, text(v))
			}
			if any {
				t.Rows = append(t.Rows, cells)
			}
		}
		b.Constants = append(b.Constants, t)
	}
}

// constantShown is a constant's value with its unit, its spread, and where it is
// from.
func constantShown(k machine.Constant, s *machine.Sheet, w *words.Writer) string {
	v := k.Get(s)
	if k.NoLimit(v) {
		return words.None{}.Text(w)
	}
	parts := []string{words.Figure(v).Text(w)}
	if k.Unit != "" {
		parts = append(parts, unitText(k.Unit, w))
	}
	if sd := s.SD[k.Path]; sd > 0 {
		parts = append(parts, words.GiveOrTake(sd).Text(w))
	}
	return strings.Join(parts, " ") + ", " + basisText(s.BasisOf[k.Path], w)
}

// basisText says where a constant is from; one of which nothing is said is assumed.
func basisText(b machine.Basis, w *words.Writer) string {
	return words.Say("basis." + string(cmp.Or(b, machine.Assumed))).Text(w)
}

// unitText is the unit of a constant, for reading: those of the metre and the second are
// alike everywhere.
func unitText(unit string, w *words.Writer) string {
	switch unit {
	case "stitches/min":
		return words.Say("unit.stitches-min").Text(w)
	case "rev/s²":
		return words.Say("unit.rev").Text(w)
	case "degrees":
		return words.Say("unit.degrees").Text(w)
	}
	return unit
}

// sheetsOf are the sheets that a setup names; one that two machines share stands
// once, under both names.
func (c *call) sheetsOf(names, refs []string) ([]usedSheet, error) {
	var out []usedSheet
	at := map[string]int{}
	for i, ref := range refs {
		name := firstOf(names[i], ref)
		if k, ok := at[ref]; ok {
			out[k].Name += ", " + name
			continue
		}
		sheet, ok := machine.Class(ref)
		if !ok {
			m, err := c.Shop.Machines.Find(c.Ctx, ref)
			if shop.CodeOf(err) == shop.NotFound { // taken off the list since; the answer says so
				continue
			}
			if err != nil {
				return nil, err
			}
			sheet, name = m.Sheet, firstOf(names[i], m.Name)
		}
		at[ref] = len(out)
		out = append(out, usedSheet{name, sheet})
	}
	return out, nil
}

// runPaper is what a run of a design was worked out from.
func runPaper(d *designData, sheets []usedSheet, w *words.Writer) *onPaper {
	var b onPaper
	name := d.Ask.Machine
	for _, m := range d.Machines {
		if m.On {
			name = m.Name
		}
	}
	var kinds []string
	for kind := range d.Ask.Kinds.Each() {
		kinds = append(kinds, words.Say("job."+kind.String()).Text(w))
	}
	b.input(words.Say("paper.run"), w, said{words.Say("paper.design"), d.D.Name}, said{words.Say("paper.file"), d.D.File},
		said{words.Say("paper.machine"), name}, said{words.Say("paper.set-speed"), words.PerMinute(d.A.SetSpeed).Text(w)},
		said{words.Say("paper.kinds"), strings.Join(kinds, ", ")}, said{words.Say("paper.heavy"), d.Ask.Heavy})
	b.constants(w, sheets...)
	return &b
}

// setupPaper is what a kept setup was worked out from: groups of the file that
// the answer was made of, not what stands in the form, which may be wrong.
func (c *call) setupPaper(groups []fieldGroup, names, refs []string) (*onPaper, error) {
	var b onPaper
	b.groups(groups, c.writer())
	sheets, err := c.sheetsOf(names, refs)
	b.constants(c.writer(), sheets...)
	return &b, err
}

// learnPaper is what a sheet was learned from.
func learnPaper(m *shop.Machine, l *act.LearnedSheet, w *words.Writer) *onPaper {
	var b onPaper
	var days []words.Day
	for _, r := range l.Runs {
		if !r.Date.IsZero() {
			days = append(days, r.Date)
		}
	}
	slices.SortFunc(days, words.Day.Compare)
	rows := []said{{words.Say("paper.machine"), m.Name}, {words.Say("paper.class"), m.Sheet.Class}, {words.Say("paper.timings"), words.Whole(l.Used).Text(w)}}
	if len(days) > 0 {
		rows = append(rows, said{words.Say("paper.from-day"), days[0].Text(w)}, said{words.Say("paper.to-day"), days[len(days)-1].Text(w)})
	}
	b.input(words.Say("paper.learned-from"), w, rows...)
	b.constants(w, usedSheet{words.Say("paper.before", words.Args{"machine": words.Name(m.Name)}).Text(w), m.Sheet},
		usedSheet{words.Say("paper.now", words.Args{"machine": words.Name(m.Name)}).Text(w), l.Result.Sheet})
	return &b
}
