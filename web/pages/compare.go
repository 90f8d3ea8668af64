package pages

import (
	"context"
	"fmt"
	"net/url"
	"time"

	"github.com/pelletier/go-toml/v2"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/answer"
	"needlepace/web/serve"
	"needlepace/words"
)

// setupList is the page that lists setups of one kind.
type setupList struct {
	Setups   []*shop.Setup
	Designs  int
	Machines []*shop.Machine
	Classes  []option
	Currency string
}

func (c *call) setupList(kind shop.SetupKind) (*setupList, error) {
	all, err := c.Shop.Setups.List(c.Ctx, kind)
	if err != nil {
		return nil, err
	}
	_, n, err := c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Limit: 1})
	if err != nil {
		return nil, err
	}
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return nil, err
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	list := &setupList{Setups: all, Designs: n, Machines: machines, Currency: set.Currency}
	for _, s := range machine.Classes() {
		list.Classes = append(list.Classes, option{s.Name, s.Class})
	}
	return list, err
}

// showCompares lists the mixes, or shows the only one.
func showCompares(c *call) error {
	list, err := c.setupList(shop.MixSetup)
	if err != nil {
		return err
	}
	return c.show("compares.html", &page{Title: "Compare", Nav: "compare", Data: list})
}

// sheetOptions are the sheets a setup may name: the shop's machines and the
// built-in classes.
func (c *call) sheetOptions() ([]option, error) {
	all, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return nil, err
	}
	var out []option
	for _, m := range all {
		out = append(out, option{m.ID, m.Name})
	}
	for _, s := range machine.Classes() {
		out = append(out, option{s.Name, "class: " + s.Class})
	}
	return out, nil
}

func (c *call) designOptions() ([]option, error) {
	all, _, err := c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Sort: "name", Limit: 500})
	if err != nil {
		return nil, err
	}
	var out []option
	for _, d := range all {
		out = append(out, option{d.ID, d.Name})
	}
	return out, nil
}

// makeCompare makes a mix of the shop's machines and newest designs, with the
// prices of the form.
func makeCompare(c *call) error {
	if err := c.ParseForm(); err != nil {
		return serve.BadRequest("the form cannot be read: %v", err)
	}
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return err
	}
	designs, _, err := c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Limit: 8})
	if err != nil {
		return err
	}
	if len(machines) == 0 || len(designs) == 0 {
		return shop.Errorf(shop.Invalid, "a comparison needs at least one machine and one design of yours: add them first")
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	k := &knobs{q: c.PostForm, asked: true}
	var labour money.Amount
	var shifts int
	k.money("labour", "An operator's hour", &labour)
	k.whole("shifts", "Shifts a year", &shifts)
	var offers []money.OfferKeys
	offer := func(name, sheet, field string, existing bool) {
		o := money.OfferKeys{Name: name, Sheet: sheet, Existing: existing}
		k.money("price."+field, "The price of "+name, &o.Price)
		k.whole("life."+field, "The life of "+name, &o.Life)
		offers = append(offers, o)
	}
	for _, m := range machines {
		offer(m.Name, m.ID, m.ID, true)
	}
	if class := k.added("offer"); class != "" {
		offer("an offer", class, "offer", false)
	}
	if k.err != nil {
		return k.err
	}
	var names []ask.Named
	for _, d := range designs {
		names = append(names, ask.Named{ID: d.ID, Name: d.Name})
	}
	mf := ask.FirstMix(set.Currency, labour, shifts, offers, names)
	b, err := toml.Marshal(mf)
	if err != nil {
		return err
	}
	kept, err := c.Shop.Setups.Save(c.Ctx, shop.Setup{Kind: shop.MixSetup, Name: mf.Name, TOML: string(b)})
	if err != nil {
		return err
	}
	return c.see("/compare/" + kept.ID)
}

// mixOf reads a kept mix with the form's changes.
func (c *call) mixOf(id string, q url.Values) (*shop.Setup, *money.MixFile, []knobGroup, error) {
	kept, err := c.Shop.Setups.Get(c.Ctx, id)
	if err != nil {
		return nil, nil, nil, err
	}
	if kept.Kind != shop.MixSetup {
		return nil, nil, nil, shop.Errorf(shop.NotFound, "this is no mix")
	}
	if t := q.Get("toml"); t != "" {
		kept.TOML = t
	}
	mf, _, err := money.ParseMix("the mix", []byte(kept.TOML))
	if err != nil {
		return nil, nil, nil, shop.Errorf(shop.Invalid, "%w", err)
	}
	sheets, err := c.sheetOptions()
	if err != nil {
		return nil, nil, nil, err
	}
	designs, err := c.designOptions()
	if err != nil {
		return nil, nil, nil, err
	}
	k := newKnobs(q)
	offers := knobGroup{Title: "Machines"}
	var machines []money.OfferKeys
	for i := range mf.Machine {
		o, n := mf.Machine[i], fmt.Sprintf("machine.%d", i)
		if k.dropped(n) {
			continue
		}
		row := knobRow{Says: o.Name, Drop: n + ".drop", Knobs: []knob{
			k.text(n+".name", "Name", &o.Name), k.choice(n+".sheet", "Sheet", &o.Sheet, sheets),
			k.money(n+".price", "Price", &o.Price), k.whole(n+".life", "Life, years", &o.Life), k.amount(n+".speed", "Set speed", &o.Speed), k.tick(n+".existing", "ours", &o.Existing),
		}}
		row.Says = o.Name
		offers.Rows = append(offers.Rows, row)
		machines = append(machines, o)
	}
	if add := k.added("add_machine"); add != "" {
		o := money.OfferKeys{Name: fmt.Sprintf("offer %d", len(machines)+1), Sheet: add}
		k.money("add_price", "The price of the machine you add", &o.Price)
		k.whole("add_life", "Its life, years", &o.Life)
		machines = append(machines, o)
	}
	mf.Machine = machines
	offers.Add = &knob{Name: "add_machine", Label: "Add a machine", Kind: "choice", Options: sheets}
	offers.With = []knob{{Name: "add_price", Label: "its price", Kind: "number", Step: "any"}, {Name: "add_life", Label: "its life, years", Kind: "number", Step: "1"}}
	work := knobGroup{Title: "Pieces a week"}
	var wanted []money.DesignKeys
	for i := range mf.Design {
		d, n := mf.Design[i], fmt.Sprintf("design.%d", i)
		if k.dropped(n) {
			continue
		}
		row := knobRow{Drop: n + ".drop", Knobs: []knob{k.whole(n+".weekly", "A week", &d.Weekly), k.whole(n+".order", "An order", &d.Order), k.tick(n+".cap_frame", "cap frame", &d.CapFrame)}}
		if row.Name = d.Name; row.Name == "" {
			row.Name = d.Design
		}
		work.Rows = append(work.Rows, row)
		wanted = append(wanted, d)
	}
	if add := k.added("add_design"); add != "" {
		name := add
		for _, o := range designs {
			if o.Value == add {
				name = o.Label
			}
		}
		wanted = append(wanted, ask.WantedOf(ask.Named{ID: add, Name: name}))
	}
	mf.Design = wanted
	work.Add = &knob{Name: "add_design", Label: "Add a design", Kind: "choice", Options: designs}
	week := knobGroup{Title: "The week", Rows: []knobRow{{Knobs: []knob{
		k.whole("week.shifts", "Shifts", &mf.Week.Shifts), k.amount("week.hours", "Hours of a shift", &mf.Week.Hours), k.whole("week.machines", "Machines to a crew", &mf.Week.Machines), k.whole("week.operators", "Operators to a crew", &mf.Week.Operators),
		k.optional("work.breaks", "Thread breaks a head, 1,000 stitches", &mf.Work.Breaks)}}}}
	m := &mf.Money
	rates := knobGroup{Title: "Money", Rows: []knobRow{{Knobs: []knob{
		k.text("money.currency", "Currency", &m.Currency), k.money("money.labour", "An operator's hour", &m.Labour), k.money("money.interest", "Interest, % a year", &m.Interest), k.money("money.overhead", "Overhead of a machine, a year", &m.Overhead),
		k.money("money.energy", "A kWh", &m.Energy), k.money("money.top", "Top thread, 1,000 m", &m.TopThread), k.money("money.bobbin", "Bobbin thread, 1,000 m", &m.BobbinThread), k.money("money.garment", "A spoilt garment", &m.Garment), k.whole("money.shifts", "Shifts a year", &m.Shifts),
		k.tick("money.placeholder", "these prices are placeholders", &m.Placeholder)}}}}
	if k.err != nil {
		return nil, nil, nil, k.err
	}
	b, err := toml.Marshal(mf)
	if err != nil {
		return nil, nil, nil, err
	}
	if k.asked {
		kept.TOML = string(b)
	}
	return kept, mf, []knobGroup{offers, work, week, rates}, nil
}

// compareData is a comparison as the page shows it.
type compareData struct {
	Setup   *shop.Setup
	Groups  []knobGroup
	Asked   bool
	K       *ask.ComparisonAnswer
	Best    *ask.ComparedMachine
	Cost    words.Value
	Designs []comparedStrips
	Pairs   []pairData
	Turns   []string // names of pictures
}

type comparedStrips struct {
	Name, Mean string
	Verdict    words.Sentences
	Weekly     int
	Rows       []machineRow
}

type pairData struct {
	Title   words.Message
	Verdict words.Sentences
}

func showCompare(c *call) error {
	q := c.URL.Query()
	kept, _, groups, err := c.mixOf(c.PathValue("setup"), q)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(c.Ctx, 25*time.Second)
	defer cancel()
	k, err := act.Answer(ctx, c.Shop, ask.Compare, ask.CompareQuestion{Name: "the mix", TOML: []byte(kept.TOML)})
	if err != nil {
		return err
	}
	w := c.writer()
	data := &compareData{Setup: kept, Groups: groups, Asked: q.Get("form") == "1", K: k, Best: k.Best(), Cost: k.Cost()}
	p := &page{Title: kept.Name, Nav: "compare", Data: data, Pics: map[string]pic{
		"cost": {picture.ComparedCosts(k, w, 760), picture.ComparedCosts(k, w, 340)}}}
	p.addTables(w, k.MachineTable(), k.YearTable(), k.BeatsTable(), k.DesignTable())
	for i := range k.Designs {
		data.Designs = append(data.Designs, stripsOf(&k.Designs[i], w))
	}
	for i := range k.Pairs {
		pair := &k.Pairs[i]
		data.Pairs = append(data.Pairs, pairData{k.InsteadOf(pair), pair.Verdict})
		for j := range pair.Turning {
			t := &pair.Turning[j]
			name := fmt.Sprintf("lengths-%d-%s", i+1, answer.FileWord(t.Shape))
			p.Pics[name] = pic{picture.ComparedLengths(pair, t, w, 700, 300), picture.ComparedLengths(pair, t, w, 340, 280)}
			data.Turns = append(data.Turns, name)
		}
	}
	return c.show("compare.html", p)
}

// stripsOf is a design on every machine, on one axis.
func stripsOf(d *ask.ComparedDesign, w *words.Writer) comparedStrips {
	row := comparedStrips{Name: d.Design, Mean: words.StitchMM(d.MeanStitch).Text(w), Verdict: d.Verdict, Weekly: d.Weekly}
	top := 0.0
	for _, on := range d.On {
		top = max(top, on.Interval.High, on.Seconds)
	}
	for _, on := range d.On {
		row.Rows = append(row.Rows, machineRow{Name: on.Machine, Note: words.PerMinute(on.Held).Text(w) + " held", Seconds: on.Seconds,
			On:  on.Machine == d.First && (d.FirstIs == money.Wins || d.FirstIs == money.Probably),
			Bar: bar{Parts: picture.PartsOf(on.Parts), Max: top, Low: on.Interval.Low, High: on.Interval.High}})
	}
	return row
}

// keepCompare keeps a mix with the form's changes.
func keepCompare(c *call) error {
	if err := c.ParseForm(); err != nil {
		return serve.BadRequest("the form cannot be read: %v", err)
	}
	id := c.PathValue("setup")
	kept, mf, _, err := c.mixOf(id, c.PostForm)
	if err != nil {
		return err
	}
	name := c.PostForm.Get("name")
	if name == "" {
		name = mf.Name
	}
	if _, err := c.Shop.Setups.Save(c.Ctx, shop.Setup{ID: id, Kind: kept.Kind, Name: name, TOML: kept.TOML, Version: kept.Version}); err != nil {
		return err
	}
	return c.see("/compare/" + id)
}

func dropSetup(back string) func(*call) error {
	return func(c *call) error {
		if err := c.Shop.Setups.Delete(c.Ctx, c.PathValue("setup")); err != nil {
			return err
		}
		return c.see(back)
	}
}
