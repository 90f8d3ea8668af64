package pages

import (
	"context"
	"fmt"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// setupList is the page that lists setups of one kind.
type setupList struct {
	Listed   *shortList
	Setups   []*shop.Setup
	Designs  int
	Machines []*shop.Machine
	Classes  []option
	Currency string
	In       *firstMix // the form of a new comparison
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
	list := &setupList{Setups: all, Designs: n, Machines: machines, Currency: set.Currency, Classes: classOptions(c.writer(), "")}
	return list, err
}

// showCompares lists the mixes, with the form of a new one.
func showCompares(c *call) error { return c.comparesPage(&firstMix{}, nil) }

func (c *call) comparesPage(in *firstMix, f *form) error {
	list, err := c.setupList(shop.MixSetup)
	if err != nil {
		return err
	}
	if err := c.listSetups(list, "Mixes", "/compare/"); err != nil {
		return err
	}
	list.In, list.Classes = in, append([]option{{"", "none"}}, list.Classes...)
	return c.show("compares.html", &page{Title: "Compare", Nav: "compare", Data: list, Form: f})
}

// machineOptions are the shop's machines to choose from, after what stands for none of them.
func (c *call) machineOptions(first ...option) ([]option, error) {
	all, err := c.Shop.Machines.List(c.Ctx)
	for i, name := range shop.MachineNames(all) {
		first = append(first, option{all[i].ID, name})
	}
	return first, err
}

// classOptions are the built-in classes, with a word before each.
func classOptions(w *words.Writer, before string) (out []option) {
	for _, s := range machine.Classes() {
		out = append(out, option{s.Name, before + ask.ClassSays(s).Text(w)})
	}
	return out
}

// sheetOptions are the sheets a setup may name: the shop's machines and the
// built-in classes.
func (c *call) sheetOptions() ([]option, error) {
	machines, err := c.machineOptions()
	return append(machines, classOptions(c.writer(), "class: ")...), err
}

// firstMix is what a new mix is made with.
type firstMix struct {
	Labour *money.Amount            `toml:"labour"`
	Shifts *count                   `toml:"shifts"`
	Offer  string                   `toml:"offer"` // class of a machine to compare with
	Price  map[string]*money.Amount `toml:"price"` // by machine; "offer" for the offer
	Life   map[string]*count        `toml:"life"`
}

// makeCompare makes a mix of the shop's machines and newest designs, with the
// prices of the form.
func makeCompare(c *call) error {
	var in firstMix
	return c.sent(&in, func(f *form) (string, error) {
		mf, err := in.mix(c, f)
		if err != nil || f.bad() {
			return "", err
		}
		return c.newSetup("/compare/", shop.MixSetup, mf.Name, mf)
	}, func(f *form) error { return c.comparesPage(&in, f) })
}

// mix is the first mix of the shop, and where its keys stand in the form.
func (in *firstMix) mix(c *call, f *form) (mf *money.MixFile, err error) {
	machines, designs, err := c.toBegin("a comparison", 8)
	if err != nil {
		return nil, err
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return nil, err
	}
	f.named = map[string]string{"money.labour_per_hour": "labour", "money.shifts_per_year": "shifts"}
	var offers []money.OfferKeys
	offer := func(name, sheet, field string, existing bool) {
		o := money.OfferKeys{Name: name, Sheet: sheet, Existing: existing}
		o.Price, o.Life = or(in.Price[field], money.Amount{}), int(or(in.Life[field], 0))
		offers = append(offers, o)
		key := fmt.Sprintf("machine[%d].", len(offers))
		f.named[key+"price"], f.named[key+"life_years"] = "price["+field+"]", "life["+field+"]"
	}
	for _, m := range machines {
		offer(m.Name, m.ID, m.ID, true)
	}
	if in.Offer != "" {
		offer("an offer", in.Offer, "offer", false)
	} else if in.Price["offer"] != nil || in.Life["offer"] != nil {
		f.refuse("offer", "choose the class of the machine that is offered")
	}
	return ask.FirstMix(set.Currency, or(in.Labour, money.Amount{}), int(or(in.Shifts, 0)), offers, designs), nil
}

// compareData is a comparison as the page shows it.
type compareData struct {
	*setupAsked
	Setup   *shop.Setup
	Groups  []fieldGroup
	K       *ask.ComparisonAnswer // nil: what the form says cannot be worked out
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

// showCompare shows a mix as it is asked for, or keeps it with the form's changes or as a whole file.
func showCompare(c *call) error {
	s, err := c.mixAsked()
	if err != nil {
		return err
	}
	if done, err := c.keepSetup(s.setupAsked, "/compare/"); done || err != nil {
		return err
	}
	return c.comparePage(s)
}

// comparePage shows a mix with its form: as it was asked for, or as it is kept
// where what was asked for is wrong.
func (c *call) comparePage(s *mixAsked) error {
	ctx, cancel := context.WithTimeout(c.Shop.Elsewhere(c.Ctx), 25*time.Second)
	defer cancel()
	k, err := answerTo(s.setupAsked, func(toml string) (*ask.ComparisonAnswer, error) {
		return act.Answer(ctx, c.Shop, ask.Compare, ask.CompareQuestion{Name: "the mix", TOML: []byte(toml)})
	})
	if err != nil {
		return err
	}
	groups, err := s.groups(c)
	if err != nil {
		return err
	}
	w := c.writer()
	data := &compareData{setupAsked: s.setupAsked, Setup: s.kept, Groups: groups, K: k}
	p := &page{Title: s.kept.Name, Nav: "compare", Told: s.form.message(), Data: data}
	if k == nil {
		return c.show("compare.html", p)
	}
	data.Best, data.Cost = k.Best(), k.Cost()
	p.Pics = map[string]pic{"cost": {picture.ComparedCosts(k, w, 760), picture.ComparedCosts(k, w, 340)}}
	p.addTables(w, k.MachineTable(), k.YearTable(), k.BeatsTable(), k.DesignTable())
	for i := range k.Designs {
		data.Designs = append(data.Designs, stripsOf(&k.Designs[i], w))
	}
	for i := range k.Pairs {
		pair := &k.Pairs[i]
		data.Pairs = append(data.Pairs, pairData{k.InsteadOf(pair), pair.Verdict})
		for j := range pair.Turning {
			t := &pair.Turning[j]
			name := fmt.Sprintf("lengths-%d-%s", i+1, serve.FileWord(t.Shape))
			p.draw(name, picture.ComparedLengths(pair, t, w, 700, 300), picture.ComparedLengths(pair, t, w, 340, 280))
			data.Turns = append(data.Turns, name)
		}
	}
	if p.Paper, err = s.paper(c); err != nil {
		return err
	}
	return c.show("compare.html", p)
}

// stripsOf is a design on every machine, on one axis.
func stripsOf(d *ask.ComparedDesign, w *words.Writer) comparedStrips {
	row := comparedStrips{Name: d.Design, Mean: words.StitchMM(d.MeanStitch).Text(w), Verdict: d.Verdict,
		Weekly: d.Weekly}
	for _, on := range d.On {
		row.Rows = append(row.Rows, machineRow{Name: on.Machine, Note: words.PerMinute(on.Held).Text(w) + " held",
			Seconds: on.Seconds,
			On:      on.Machine == d.First && (d.FirstIs == money.Wins || d.FirstIs == money.Probably),
			Bar: bar{Parts: picture.PartsOf(on.Parts), Max: d.Longest(), Low: on.Interval.Low,
				High: on.Interval.High}})
	}
	return row
}

func dropSetup(back string) func(*call) error {
	return func(c *call) error {
		if err := c.Shop.Setups.Delete(c.Ctx, c.PathValue("setup")); err != nil {
			return err
		}
		return c.see(back)
	}
}
