package pages

import (
	"fmt"

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
		Shifts    *count  `toml:"shifts"`
		Hours     *amount `toml:"hours"`
		Machines  *count  `toml:"machines"`
		Operators *count  `toml:"operators"`
	} `toml:"week"`
	Work struct {
		Breaks *amount `toml:"breaks_per_1000"`
	} `toml:"work"`
	Money struct {
		Currency string        `toml:"currency"`
		Labour   *money.Amount `toml:"labour_per_hour"`
		Interest *money.Amount `toml:"interest_percent"`
		Overhead *money.Amount `toml:"overhead_per_year"`
		Energy   *money.Amount `toml:"energy_per_kwh"`
		Top      *money.Amount `toml:"top_thread_per_1000m"`
		Bobbin   *money.Amount `toml:"bobbin_thread_per_1000m"`
		Garment  *money.Amount `toml:"garment_each"`
		Shifts   *count        `toml:"shifts_per_year"`
		Example  bool          `toml:"placeholder"`
	} `toml:"money"`
	AddPrice  *money.Amount `toml:"add_price" own:"1"` // of the machine that is added
	AddLife   *count        `toml:"add_life" own:"1"`
	AddDesign string        `toml:"add_design" own:"1"`
}

type mixMachine struct {
	entryOwn
	Name     string        `toml:"name"`
	Sheet    string        `toml:"sheet"`
	Price    *money.Amount `toml:"price"`
	Life     *count        `toml:"life_years"`
	Speed    *amount       `toml:"speed"`
	Existing bool          `toml:"existing"`
}

type mixDesign struct {
	entryOwn
	Name     string `toml:"name"`
	Design   string `toml:"design"`
	Weekly   *count `toml:"weekly"`
	Order    *count `toml:"order"`
	CapFrame bool   `toml:"cap_frame"`
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
		for i := range sent.Design { // what the form only shows
			sent.Design[i].Name, sent.Design[i].Design = was.Design[i].Name, was.Design[i].Design
		}
		if add := sent.AddMachine; add != "" { // its price is for the owner to say
			sent.Machine = append(sent.Machine, mixMachine{Name: newName("offer", len(sent.Machine)), Sheet: add,
				Price: sent.AddPrice, Life: sent.AddLife})
		}
		if add := sent.AddDesign; add != "" {
			d, _, err := c.Shop.Designs.Get(c.Ctx, add)
			if err != nil {
				return f.take(err)
			}
			first := ask.WantedOf(ask.Named{ID: d.ID, Name: d.Name})
			weekly := count(first.Weekly)
			sent.Design = append(sent.Design, mixDesign{Name: first.Name, Design: first.Design, Weekly: &weekly})
		}
		was = mixForm{}
		return nil
	})
	return &mixAsked{s, was}, err
}

// groups are the form's fields.
func (s *mixAsked) groups(c *call) ([]fieldGroup, error) {
	sheets, err := c.sheetOptions()
	if err != nil {
		return nil, err
	}
	designs, err := c.designOptions()
	if err != nil {
		return nil, err
	}
	show := s.form.show
	offers := fieldGroup{Title: "Machines", Add: &field{Name: "add_machine", Label: "Add a machine", Kind: "choice", Options: sheets},
		With: []field{show("add_price", "its price", s.AddPrice), show("add_life", "its life, years", s.AddLife)}}
	for i, m := range s.Machine {
		n := fmt.Sprintf("machine[%d].", i)
		offers.Rows = append(offers.Rows, fieldRow{Says: m.Name, Here: n + "here", Drop: n + "drop", Fields: []field{
			show(n+"name", "Name", m.Name), show(n+"sheet", "Sheet", m.Sheet, sheets...), show(n+"price", "Price", m.Price),
			show(n+"life_years", "Life, years", m.Life), show(n+"speed", "Set speed", m.Speed), show(n+"existing", "ours", m.Existing)}})
	}
	work := fieldGroup{Title: "Pieces a week", Add: &field{Name: "add_design", Label: "Add a design", Kind: "choice", Options: designs}}
	for i, d := range s.Design {
		n := fmt.Sprintf("design[%d].", i)
		work.Rows = append(work.Rows, fieldRow{Name: firstOf(d.Name, d.Design), Here: n + "here", Drop: n + "drop", Fields: []field{
			show(n+"weekly", "A week", d.Weekly), show(n+"order", "An order", d.Order), show(n+"cap_frame", "cap frame", d.CapFrame)}})
	}
	week := fieldGroup{Title: "The week", Rows: []fieldRow{{Fields: []field{
		show("week.shifts", "Shifts", s.Week.Shifts), show("week.hours", "Hours of a shift", s.Week.Hours),
		show("week.machines", "Machines to a crew", s.Week.Machines), show("week.operators", "Operators to a crew", s.Week.Operators),
		show("work.breaks_per_1000", "Thread breaks a head, 1,000 stitches", s.Work.Breaks)}}}}
	m := &s.Money
	rates := fieldGroup{Title: "Money", Rows: []fieldRow{{Fields: []field{
		show("money.currency", "Currency", m.Currency), show("money.labour_per_hour", "An operator’s hour", m.Labour),
		show("money.interest_percent", "Interest, % a year", m.Interest), show("money.overhead_per_year", "Overhead of a machine, a year", m.Overhead),
		show("money.energy_per_kwh", "A kWh", m.Energy), show("money.top_thread_per_1000m", "Top thread, 1,000 m", m.Top),
		show("money.bobbin_thread_per_1000m", "Bobbin thread, 1,000 m", m.Bobbin), show("money.garment_each", "A spoilt garment", m.Garment),
		show("money.shifts_per_year", "Shifts a year", m.Shifts), show("money.placeholder", "these prices are placeholders", m.Example)}}}}
	return []fieldGroup{offers, work, week, rates}, nil
}
