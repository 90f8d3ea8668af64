package pages

import (
	"cmp"
	"slices"
	"strings"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/words"
)

// machinesData is what the list of machines shows.
type machinesData struct {
	Machines []machineCard
	Order    *listOrder
	Classes  []option
}

// machineCard is one machine in the list.
type machineCard struct {
	*shop.Machine
	Satin ask.Held
	Kind  words.Value // what its class is called
	Basis words.Message
}

func machineCardOf(m *shop.Machine) machineCard {
	return machineCard{Machine: m, Satin: ask.HeldOf(m.Sheet), Kind: ask.ClassSays(m.Sheet), Basis: basis(m.Sheet)}
}

// basis says in a few words how well a machine is known.
func basis(s *machine.Sheet) words.Message {
	if s.Fit != nil {
		return words.Say("machines.learned", words.Args{"timings": words.Count(s.Fit.Runs, "timing")})
	}
	measured, all := 0, 0
	for c := range s.Constants() {
		if c.Whole || c.Path == "max_speed" {
			continue
		}
		all++
		if b := s.BasisOf[c.Path]; b == machine.Measured || b == machine.Spec {
			measured++
		}
	}
	switch {
	case measured == 0 && s.Pool != nil:
		return words.Say("machines.pooled", words.Args{"from": s.Pool.Words()})
	case measured == 0:
		return words.Say("machines.assumed")
	}
	return words.Say("machines.measured", words.Args{"n": words.Whole(measured), "others": words.Whole(all - measured)})
}

// machineColumns are the columns of the list of machines.
var machineColumns = []listedBy{
	{Key: "name", Name: words.Say("lists.machine"), First: words.Say("lists.first-by-name"), Last: words.Say("lists.by-name-back")},
	{Key: "kind", Name: words.Say("lists.kind"), First: words.Say("lists.by-kind"), Last: words.Say("lists.by-kind-back")},
	{Key: "speed", Name: words.Say("lists.holds"), First: words.Say("lists.fastest"), Last: words.Say("lists.slowest"), Falls: true},
	{Key: "known", Name: words.Say("lists.known"), First: words.Say("lists.by-known"), Last: words.Say("lists.by-known-back")},
	{},
}

func showMachines(c *call) error { return c.machinesPage(nil) }

// machinesPage lists the machines, with a form that was sent before.
func (c *call) machinesPage(f *form) error {
	all, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return err
	}
	q, w := c.Query(), c.writer()
	data := &machinesData{Order: c.listOrder(q, "name", machineColumns...)}
	if q.Err != nil {
		return q.Err
	}
	cards := make([]machineCard, len(all))
	for i, m := range all {
		cards[i] = machineCardOf(m)
	}
	sortRows(cards, func(k machineCard) string {
		switch data.Order.Key {
		case "kind":
			return k.Sheet.Class
		case "speed":
			return raw(k.Sheet.MaxSpeed)
		case "known":
			return k.Basis.Text(w)
		}
		return k.Name
	}, data.Order.Falls())
	if data.Classes, err = c.kindOptions(); err != nil {
		return err
	}
	t := &table{ID: "machines", Caption: words.Say("nav.machines").Text(w), Cols: cols("Machine", "Class", "Heads", "Needles",
		"Rated speed=rated_speed_per_min", "Basis")}
	for _, k := range cards {
		m := k.Machine
		data.Machines = append(data.Machines, k)
		t.row(text(m.Name), text(m.Sheet.Class), whole(m.Sheet.Heads), whole(m.Sheet.Needles),
			figure(words.PerMinute(m.Sheet.MaxSpeed).Text(nil), raw(m.Sheet.MaxSpeed)), text(k.Basis.Text(nil)))
	}
	return c.show("machines.html", &page{Title: words.Say("nav.machines").Text(w), Nav: "machines", Data: data, Form: f,
		Tables: map[string]*table{"machines": t}})
}

func addMachineForm(c *call) error {
	var in struct {
		Class string `toml:"class"`
		Name  string `toml:"name"`
	}
	return c.sent(&in, func(*form) (string, error) {
		m, err := c.Shop.AddMachine(c.Ctx, in.Class, in.Name, c.By())
		if err != nil {
			return "", err
		}
		return "/machines/" + m.ID, nil
	}, c.machinesPage)
}

// machineData is what the page of one machine shows.
type machineData struct {
	M       *shop.Machine
	Card    machineCard
	History []shop.SheetVersion
	Fields  []sheetField
	Modes   []option
	Bases   []option
	Ladder  [2]string
	Runs    []shop.Run
	Alone   []shop.Run // of them, what no recording was heard in
	Heard   []*heardTogether
	Open    []timingRow
	Designs *designChoice
	In      *runFields
	CanUndo bool
	Fit     *machine.Fit
	Score   *ask.ScoreAnswer
	// Reported is what the floor's reports say of it.
	Reported *ask.ReportedAnswer
}

// Unlike reports whether it has other heads, needles or rated speed than its class is called after, or
// is of no class that is built in.
func (d *machineData) Unlike() bool {
	s := d.M.Sheet
	return !slices.ContainsFunc(machine.Classes(), func(c *machine.Sheet) bool {
		return c.Class == s.Class && c.Heads == s.Heads && c.Needles == s.Needles && c.MaxSpeed == s.MaxSpeed
	})
}

// sheetField is one constant in the form.
type sheetField struct {
	machine.Constant
	Value, Spread string
	Basis         machine.Basis
}

func showMachine(c *call) error { return c.machinePage(nil, nil) }

// machinePage shows a machine, with a form that was sent before; in is that of
// a run, where it was.
func (c *call) machinePage(in *runFields, f *form) error {
	id := c.PathValue("machine")
	m, err := c.Shop.Machines.Get(c.Ctx, id)
	if err != nil {
		return err
	}
	history, err := c.Shop.Machines.History(c.Ctx, id)
	if err != nil {
		return err
	}
	w, p := c.writer(), &page{Title: m.Name, Nav: "machines", Form: f}
	data := &machineData{M: m, Card: machineCardOf(m), History: history, Fit: m.Sheet.Fit,
		Modes: []option{{machine.FrameTravel, words.Say("machine-page.mode-frame").Text(w)}, {machine.ShaftTravel, words.Say("machine-page.mode-shaft").Text(w)}}}
	for _, b := range []machine.Basis{machine.Assumed, machine.Pooled, machine.Spec, machine.Measured, machine.Fitted} {
		data.Bases = append(data.Bases, option{string(b), basisText(b, w)})
	}
	data.CanUndo = len(history) > 1 && history[0].Parent > 0
	for i := range m.Sheet.Ladder.Length {
		data.Ladder[0] += raw(m.Sheet.Ladder.Length[i]) + " "
		data.Ladder[1] += raw(m.Sheet.Ladder.Speed[i]) + " "
	}
	data.Fields = sheetFields(m.Sheet)
	runs, err := c.Shop.Timings.Runs(c.Ctx, id)
	if err != nil {
		return err
	}
	data.Runs = runs
	if data.Open, err = c.openTimings(id); err != nil {
		return err
	}
	if data.Designs, err = c.designChoice(); err != nil {
		return err
	}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	if data.In = in; in == nil {
		speed := amount(m.Sheet.MaxSpeed)
		data.In = &runFields{Date: d.Today(), SetSpeed: &speed, Zigzag: true}
	}
	law, err := c.Shop.Law(c.Ctx, ask.LawQuestion{Machine: id, Zigzag: true})
	if err != nil {
		return err
	}
	p.addLaw(d.W, law)
	p.addTables(d.W, law.Table())
	alone, heard := together(runs)
	data.Alone, data.Heard = alone, heard
	if len(alone) > 0 {
		p.addTable(c.runsTable("runs", words.Say("machine-runs.heading"), alone))
	}
	if len(heard) > 0 {
		p.addTable(c.recordingsTable(heard))
		p.addTable(c.runsTable("heard-parts", words.Say("machine-runs.heard-parts"), slices.DeleteFunc(slices.Clone(runs),
			func(r shop.Run) bool { return r.HeardID == "" })))
	}
	if data.Score, err = c.Shop.Score(c.Ctx, id); err != nil {
		return err
	}
	p.addTables(d.W, data.Score.RunsTable(), data.Score.SheetsTable())
	p.Tables["score"].cards()
	if data.Reported, err = ask.Reported(c.Ctx, c.Shop.Asked(), id); err != nil {
		return err
	}
	p.addTables(d.W, data.Reported.Table(), data.Reported.SpeedTable(), data.Reported.RecordedTable())
	p.addTable(knownTable(m.Sheet, d.W))
	p.addTables(d.W, ask.JobsTable(m.Sheet))
	p.cards("jobs", "runs", "heard-runs", "heard-parts", "reported", "break-speeds", "heard")
	p.Data = data
	return c.show("machine.html", p)
}

// addLaw draws speed against stitch length.
func (p *page) addLaw(w *words.Writer, a *ask.LawAnswer) {
	chart := func(width, height float64) picture.Picture {
		ch := picture.LawOf(a, w)
		ch.Width, ch.Height = width, height
		return ch
	}
	p.draw("speed", chart(760, 400), chart(344, 340))
}

// knownTable lists the constants, what they mean and how well they are known.
func knownTable(s *machine.Sheet, w *words.Writer) *table {
	t := &table{ID: "known", Caption: words.Say("machine-page.sheet").Text(w), Full: true,
		Cols: cols("What=constant", "#Value", "-Unit", "#Give or take=relative_sd", "From=basis")}
	for i, key := range []string{"what", "value", "unit", "give-or-take", "from"} {
		t.Cols[i].say(words.Say("machine-page."+key), w)
	}
	for k := range s.Constants() {
		sd := words.GiveOrTake(s.SD[k.Path])
		v := k.Get(s)
		shown := strings.TrimSpace(words.Figure(v).Text(w) + " " + unitText(k.Unit, w))
		if k.NoLimit(v) {
			shown = words.Say("machine-page.none-known").Text(w)
		}
		t.row(figure(k.Means().Text(w), k.Path), figure(shown, raw(v)), text(k.Unit),
			figure(sd.Text(w), sd.Raw()), figure(basisText(s.BasisOf[k.Path], w), string(cmp.Or(s.BasisOf[k.Path], machine.Assumed))))
	}
	return t
}

// knownPart is a part of the sheet's table, under a name of its own.
type knownPart struct {
	Own  bool // what is known of this machine itself
	Name words.Message
	*table
}

// Parts are the sheet's table in parts: first what is known of this machine itself,
// then what is only assumed, by what it is of. A table that its reader sorted is one.
func (d *machineData) Parts(t *table, w *words.Writer) (parts []knownPart) {
	if slices.ContainsFunc(t.Cols, func(c col) bool { return c.Now != "" }) {
		return nil
	}
	rows := map[string][][]cell{}
	for _, row := range t.Rows {
		of, _, _ := strings.Cut(row[0].Raw, ".")
		switch basis := row[len(row)-1].Raw; {
		case basis != string(machine.Assumed):
			of = "own"
		case of == "turns" || of == "correction":
			of = "frame"
		case of != "shaft" && of != "frame" && of != "travel" && of != "rest":
			of = "machine"
		}
		rows[of] = append(rows[of], row)
	}
	for _, of := range []string{"own", "machine", "shaft", "frame", "travel", "rest"} {
		if rows[of] != nil {
			name := words.Say("known-part."+of, words.Args{"n": words.Whole(len(rows[of]))})
			parts = append(parts, knownPart{of == "own", name, &table{ID: t.ID + "-" + of, Caption: name.Text(w), Cols: t.Cols, Full: true, Rows: rows[of]}})
		}
	}
	return parts
}

// sheetFields are the constants for the form.
func sheetFields(s *machine.Sheet) []sheetField {
	var out []sheetField
	for _, k := range machine.Constants {
		f := sheetField{Constant: k, Value: raw(k.Get(s)), Basis: cmp.Or(s.BasisOf[k.Path], machine.Assumed)}
		if k.NoLimit(k.Get(s)) {
			f.Value = "" // no limit
		}
		if v := s.SD[k.Path]; v > 0 {
			f.Spread = raw(v * 100)
		}
		out = append(out, f)
	}
	return out
}
