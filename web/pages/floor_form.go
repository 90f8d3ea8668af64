package pages

import (
	"github.com/pelletier/go-toml/v2"

	"needlepace/floor"
	"needlepace/shop"
)

// shiftForm is what the form of a shift turns: some keys of its file. What is
// tagged own is the form's and not the file's.
type shiftForm struct {
	setupOwn
	Shift struct {
		Hours  *amount  `toml:"hours" label:"Hours, pauses included"`
		Walk   *seconds `toml:"walk_seconds" label:"A walk, seconds"`
		Notice *seconds `toml:"notice_seconds" label:"Until a stop is noticed, seconds"`
	} `toml:"shift"`
	Work struct {
		Breaks   *amount `toml:"breaks_per_1000" label:"Thread breaks a head, 1,000 stitches"`
		HoopSets *count  `toml:"hoop_sets" label:"Hoop sets a machine"`
	} `toml:"work"`
	Machine  []shiftMachine  `toml:"machine"`
	Operator []shiftOperator `toml:"operator"`
	Job      []shiftJob      `toml:"job"`

	AddOperator bool   `toml:"add_operator" own:"1"`
	AddJob      string `toml:"add_job" own:"1"`
}

type shiftMachine struct {
	entryOwn
	Name  string  `toml:"name"`
	Sheet string  `toml:"sheet" label:"Sheet"`
	Heads *count  `toml:"heads" label:"Heads in use"`
	Speed *amount `toml:"speed" label:"Set speed"`
}

type shiftOperator struct {
	entryOwn
	Name string `toml:"name" label:"Name"`
	Duty string `toml:"duty" label:"Does"`
}

type shiftJob struct {
	entryOwn
	Name     string `toml:"name"`
	Design   string `toml:"design"`
	Quantity *count `toml:"quantity" label:"Pieces (empty: all the shift yields)"`
	CapFrame bool   `toml:"cap_frame" label:"cap frame"`
}

// shiftAsked is a kept shift with what a form asks of it.
type shiftAsked struct {
	*setupAsked
	shiftForm
}

// shiftAsked reads the kept shift of the address and a form.
func (c *call) shiftAsked() (*shiftAsked, error) {
	var was, sent shiftForm
	s, err := c.setupAsked(shop.FloorSetup, &was, &sent, &sent.setupOwn, func(f *form) error {
		if !f.matches(len(sent.Machine), len(was.Machine)) || !f.matches(len(sent.Operator), len(was.Operator)) ||
			!f.matches(len(sent.Job), len(was.Job)) {
			return nil
		}
		for i := range was.Machine { // what the form only shows
			sent.Machine[i].Name = was.Machine[i].Name
		}
		for i := range was.Job {
			sent.Job[i].Name, sent.Job[i].Design = was.Job[i].Name, was.Job[i].Design
		}
		if add := sent.AddMachine; add != "" {
			one := shiftMachine{Name: newName("machine", len(sent.Machine)), Sheet: add}
			f.added("machine", len(sent.Machine), one, map[string]string{"sheet": add})
			sent.Machine = append(sent.Machine, one)
		}
		if sent.AddOperator {
			one := shiftOperator{Name: newName("operator", len(sent.Operator))}
			f.added("operator", len(sent.Operator), one, map[string]string{"name": one.Name})
			sent.Operator = append(sent.Operator, one)
		}
		if add := sent.AddJob; add != "" {
			d, err := c.Shop.Designs.Find(c.Ctx, add)
			if err != nil {
				return f.take(shop.At("add_job", err))
			}
			one := shiftJob{Name: d.Name, Design: d.ID}
			f.added("job", len(sent.Job), one, nil)
			sent.Job = append(sent.Job, one)
		}
		return nil
	})
	if s != nil && s.shows() {
		was = sent
	}
	return &shiftAsked{s, was}, err
}

// groups are the form's fields.
func (s *shiftAsked) groups(c *call) ([]fieldGroup, error) {
	sheets, err := c.sheetOptions()
	if err != nil {
		return nil, err
	}
	designs, err := c.designChoice()
	if err != nil {
		return nil, err
	}
	f := s.form
	day := append(f.fields("shift.", s.Shift, nil), f.fields("work.", s.Work, nil)...)
	machines := fieldGroup{Title: "Machines", Add: adds("add_machine", "Add a machine", sheets),
		Rows: entryRows(f, "machine", s.Machine, choices{"sheet": sheets}, func(m shiftMachine) fieldRow {
			return fieldRow{Name: firstOf(m.Name, m.Sheet), Dropped: m.Drop, Hidden: []option{{"name", m.Name}}}
		})}
	duties := []option{{"", "everything"}, {string(floor.MachinesOnly), "machines only"},
		{string(floor.HoopingOnly), "hooping only"}}
	people := fieldGroup{Title: "Operators", Add: &field{Name: "add_operator", Label: "One more operator",
		Kind: "tick"},
		Rows: entryRows(f, "operator", s.Operator, choices{"duty": duties}, func(o shiftOperator) fieldRow {
			return fieldRow{Says: o.Name, Dropped: o.Drop}
		})}
	jobs := fieldGroup{Title: "Jobs, in their order", Add: designs.add("add_job", "Add a job"),
		Rows: entryRows(f, "job", s.Job, nil, func(j shiftJob) fieldRow {
			return fieldRow{Name: firstOf(j.Name, j.Design), Dropped: j.Drop, Hidden: []option{{"name", j.Name}, {"design", j.Design}}}
		})}
	return []fieldGroup{{Title: "The shift", Rows: []fieldRow{{Fields: day}}}, machines, people, jobs}, nil
}

// paper is what the answer was worked out from.
func (s *shiftAsked) paper(c *call) (*onPaper, error) {
	used := &shiftAsked{setupAsked: &setupAsked{form: &form{}}}
	if err := toml.Unmarshal([]byte(s.toml), &used.shiftForm); err != nil {
		return nil, err
	}
	groups, err := used.groups(c)
	if err != nil {
		return nil, err
	}
	var names, refs []string
	for _, m := range used.Machine {
		names, refs = append(names, m.Name), append(refs, m.Sheet)
	}
	return c.setupPaper(groups, names, refs)
}
