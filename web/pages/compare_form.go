package pages

import (
	"fmt"

	"github.com/pelletier/go-toml/v2"

	"needlepace/ask"
	"needlepace/money"
	"needlepace/shop"
)

// mixForm is what the form of a mix turns: some keys of its file.
type mixForm struct {
	setupOwn
	Machine []mixMachine `toml:"machine"`
	Design  []mixDesign  `toml:"design"`
	Week    struct {
		Shifts    *count  `toml:"shifts" label:"Shifts"`
		Hours     *amount `toml:"hours" label:"Hours of a shift"`
		Machines  *count  `toml:"machines" label:"Machines to a crew"`
		Operators *count  `toml:"operators" label:"Operators to a crew"`
	} `toml:"week"`
	Work struct {
		Breaks *amount `toml:"breaks_per_1000" label:"Thread breaks a head, 1,000 stitches"`
	} `toml:"work"`
	Money struct {
		Currency string        `toml:"currency" label:"Currency"`
		Labour   *money.Amount `toml:"labour_per_hour" label:"An operator’s hour"`
		Interest *money.Amount `toml:"interest_percent" label:"Interest, % a year"`
		Overhead *money.Amount `toml:"overhead_per_year" label:"Overhead of a machine, a year"`
		Energy   *money.Amount `toml:"energy_per_kwh" label:"A kWh"`
		Top      *money.Amount `toml:"top_thread_per_1000m" label:"Top thread, 1,000 m"`
		Bobbin   *money.Amount `toml:"bobbin_thread_per_1000m" label:"Bobbin thread, 1,000 m"`
		Garment  *money.Amount `toml:"garment_each" label:"A spoilt garment"`
		Shifts   *count        `toml:"shifts_per_year" label:"Shifts a year"`
		Example  bool          `toml:"placeholder" label:"these prices are placeholders"`
	} `toml:"money"`
	AddDesign string `toml:"add_design" own:"1"`
}

type mixMachine struct {
	entryOwn
	Name     string        `toml:"name" label:"Name"`
	Sheet    string        `toml:"sheet" label:"Sheet"`
	Price    *money.Amount `toml:"price" label:"Price"`
	Life     *count        `toml:"life_years" label:"Life, years"`
	Speed    *amount       `toml:"speed" label:"Set speed"`
	Existing bool          `toml:"existing" label:"ours"`
}

type mixDesign struct {
	entryOwn
	Name     string `toml:"name"`
	Design   string `toml:"design"`
	Weekly   *count `toml:"weekly" label:"A week"`
	Order    *count `toml:"order" label:"An order"`
	CapFrame bool   `toml:"cap_frame" label:"cap frame"`
}

// mixAsked is a kept mix with what a form asks of it.
type mixAsked struct {
	*setupAsked
	mixForm
}

// mixAsked reads the kept mix of the address and a form.
func (c *call) mixAsked() (*mixAsked, error) {
	var was, sent mixForm
	s, err := c.setupAsked(shop.MixSetup, &was, &sent, &sent.setupOwn, func(f *form) error {
		if !f.matches(len(sent.Machine), len(was.Machine)) || !f.matches(len(sent.Design), len(was.Design)) {
			return nil
		}
		for i := range was.Design { // what the form only shows
			sent.Design[i].Name, sent.Design[i].Design = was.Design[i].Name, was.Design[i].Design
		}
		if add := sent.AddMachine; add != "" { // its price is for the owner to say
			offer := mixMachine{Name: newName("offer", len(sent.Machine)), Sheet: add}
			f.added("machine", len(sent.Machine), offer, map[string]string{"name": offer.Name, "sheet": add})
			sent.Machine = append(sent.Machine, offer)
		}
		if add := sent.AddDesign; add != "" {
			d, err := c.Shop.Designs.Find(c.Ctx, add)
			if err != nil {
				return f.take(shop.At("add_design", err))
			}
			first := ask.WantedOf(ask.Named{ID: d.ID, Name: d.Name})
			weekly := count(first.Weekly)
			one := mixDesign{Name: first.Name, Design: first.Design, Weekly: &weekly}
			f.added("design", len(sent.Design), one, map[string]string{"weekly": fmt.Sprint(first.Weekly)})
			sent.Design = append(sent.Design, one)
		}
		return nil
	})
	if s != nil && s.shows() {
		was = sent
	}
	return &mixAsked{s, was}, err
}

// groups are the form's fields.
func (s *mixAsked) groups(c *call) ([]fieldGroup, error) {
	sheets, err := c.sheetOptions()
	if err != nil {
		return nil, err
	}
	designs, err := c.designChoice()
	if err != nil {
		return nil, err
	}
	f := s.form
	offers := fieldGroup{Title: "Machines", Add: adds("add_machine", "Add a machine", sheets),
		Rows: entryRows(f, "machine", s.Machine, choices{"sheet": sheets}, func(m mixMachine) fieldRow {
			return fieldRow{Says: m.Name, Dropped: m.Drop}
		})}
	work := fieldGroup{Title: "Pieces a week", Add: designs.add("add_design", "Add a design"),
		Rows: entryRows(f, "design", s.Design, nil, func(d mixDesign) fieldRow {
			return fieldRow{Name: firstOf(d.Name, d.Design), Dropped: d.Drop, Hidden: []option{{"name", d.Name}, {"design", d.Design}}}
		})}
	week := append(f.fields("week.", s.Week, nil), f.fields("work.", s.Work, nil)...)
	return []fieldGroup{offers, work, {Title: "The week", Rows: []fieldRow{{Fields: week}}},
		{Title: "Money", Rows: []fieldRow{{Fields: f.fields("money.", s.Money, nil)}}}}, nil
}

// paper is what the answer was worked out from.
func (s *mixAsked) paper(c *call) (*onPaper, error) {
	used := &mixAsked{setupAsked: &setupAsked{form: &form{}}}
	if err := toml.Unmarshal([]byte(s.toml), &used.mixForm); err != nil {
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
