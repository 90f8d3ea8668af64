package pages

import (
	"fmt"

	"needlepace/floor"
	"needlepace/shop"
)

// shiftForm is what the form of a shift turns: some keys of its file. What is
// tagged own is the form's and not the file's.
type shiftForm struct {
	setupOwn
	Shift struct {
		Hours  *amount  `toml:"hours"`
		Walk   *seconds `toml:"walk_seconds"`
		Notice *seconds `toml:"notice_seconds"`
	} `toml:"shift"`
	Work struct {
		Breaks   *amount `toml:"breaks_per_1000"`
		HoopSets *count  `toml:"hoop_sets"`
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
	Sheet string  `toml:"sheet"`
	Heads *count  `toml:"heads"`
	Speed *amount `toml:"speed"`
}

type shiftOperator struct {
	entryOwn
	Name string `toml:"name"`
	Duty string `toml:"duty"`
}

type shiftJob struct {
	entryOwn
	Name     string `toml:"name"`
	Design   string `toml:"design"`
	Quantity *count `toml:"quantity"`
	CapFrame bool   `toml:"cap_frame"`
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
		if !f.matches(len(sent.Machine), len(was.Machine)) || !f.matches(len(sent.Operator), len(was.Operator)) || !f.matches(len(sent.Job), len(was.Job)) {
			return nil
		}
		for i := range sent.Machine { // what the form only shows
			sent.Machine[i].Name = was.Machine[i].Name
		}
		for i := range sent.Job {
			sent.Job[i].Name, sent.Job[i].Design = was.Job[i].Name, was.Job[i].Design
		}
		if add := sent.AddMachine; add != "" {
			sent.Machine = append(sent.Machine, shiftMachine{Name: newName("machine", len(sent.Machine)), Sheet: add})
		}
		if sent.AddOperator {
			sent.Operator = append(sent.Operator, shiftOperator{Name: newName("operator", len(sent.Operator))})
		}
		if add := sent.AddJob; add != "" {
			d, _, err := c.Shop.Designs.Get(c.Ctx, add)
			if err != nil {
				return f.take(err)
			}
			sent.Job = append(sent.Job, shiftJob{Name: d.Name, Design: d.ID})
		}
		was = shiftForm{}
		return nil
	})
	return &shiftAsked{s, was}, err
}

// groups are the form's fields.
func (s *shiftAsked) groups(c *call) ([]fieldGroup, error) {
	sheets, err := c.sheetOptions()
	if err != nil {
		return nil, err
	}
	designs, err := c.designOptions()
	if err != nil {
		return nil, err
	}
	show := s.form.show
	day := fieldGroup{Title: "The shift", Rows: []fieldRow{{Fields: []field{
		show("shift.hours", "Hours, pauses included", s.Shift.Hours), show("shift.walk_seconds", "A walk, seconds", s.Shift.Walk),
		show("shift.notice_seconds", "Until a stop is noticed, seconds", s.Shift.Notice),
		show("work.breaks_per_1000", "Thread breaks a head, 1,000 stitches", s.Work.Breaks), show("work.hoop_sets", "Hoop sets a machine", s.Work.HoopSets),
	}}}}
	machines := fieldGroup{Title: "Machines", Add: &field{Name: "add_machine", Label: "Add a machine", Kind: "choice", Options: sheets}}
	for i, m := range s.Machine {
		n := fmt.Sprintf("machine[%d].", i)
		machines.Rows = append(machines.Rows, fieldRow{Name: firstOf(m.Name, m.Sheet), Here: n + "here", Drop: n + "drop", Fields: []field{
			show(n+"sheet", "Sheet", m.Sheet, sheets...), show(n+"heads", "Heads in use", m.Heads), show(n+"speed", "Set speed", m.Speed)}})
	}
	people := fieldGroup{Title: "Operators", Add: &field{Name: "add_operator", Label: "One more operator", Kind: "tick"}}
	duties := []option{{"", "everything"}, {string(floor.MachinesOnly), "machines only"}, {string(floor.HoopingOnly), "hooping only"}}
	for i, o := range s.Operator {
		n := fmt.Sprintf("operator[%d].", i)
		people.Rows = append(people.Rows, fieldRow{Says: o.Name, Here: n + "here", Drop: n + "drop", Fields: []field{
			show(n+"name", "Name", o.Name), show(n+"duty", "Does", o.Duty, duties...)}})
	}
	jobs := fieldGroup{Title: "Jobs, in their order", Add: &field{Name: "add_job", Label: "Add a job", Kind: "choice", Options: designs}}
	for i, j := range s.Job {
		n := fmt.Sprintf("job[%d].", i)
		jobs.Rows = append(jobs.Rows, fieldRow{Name: firstOf(j.Name, j.Design), Here: n + "here", Drop: n + "drop", Fields: []field{
			show(n+"quantity", "Pieces (empty: all the shift yields)", j.Quantity), show(n+"cap_frame", "cap frame", j.CapFrame)}})
	}
	return []fieldGroup{day, machines, people, jobs}, nil
}
