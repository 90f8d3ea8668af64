package pages

import (
	"fmt"
	"path"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/shop"
	"needlepace/stitchfile"
	"needlepace/trial"
	"needlepace/words"
)

// trialForm is what the form of a trial turns: keys of its file.
type trialForm struct {
	Short   string `toml:"short" own:"1"`
	Base    string `toml:"base" own:"1"` // digest of the file that it was made from
	Name    string `toml:"name" says:"name-printed"`
	Client  string `toml:"client" says:"for"`
	Adviser string `toml:"adviser" says:"adviser"`
	Address string `toml:"address" says:"address"`

	Cloth   string  `toml:"cloth" says:"cloth"`
	Backing string  `toml:"backing" says:"backing"`
	Thread  string  `toml:"thread" says:"thread"`
	Needle  string  `toml:"needle" says:"needle"`
	Note    string  `toml:"note" says:"note"`
	Speaks  string  `toml:"language" says:"paper-language"`
	Repeats *count  `toml:"repeats" says:"repeats"`
	Differ  *amount `toml:"difference" says:"difference"`
	Seed    *count  `toml:"seed" says:"seed"`

	Design  []trialDesign  `toml:"design"`
	Place   []trialPlace   `toml:"place"`
	Machine []trialMachine `toml:"machine"`

	Spread struct {
		Run   *amount `toml:"run_percent" says:"run-scatter"`
		Lead  *amount `toml:"lead_percent" says:"leads-differ"`
		Setup *amount `toml:"setup_percent" says:"setup-differs"`
	} `toml:"spread"`
	Money struct {
		Currency string        `toml:"currency" says:"currency"`
		Source   string        `toml:"source" says:"source"`
		Labour   *money.Amount `toml:"labour_per_hour" says:"labour"`
		Tends    *amount       `toml:"machines_per_person" says:"machines-person"`
		Interest *money.Amount `toml:"interest_percent" says:"interest"`
		Hours    *amount       `toml:"hours_per_year" says:"hours-year"`
		Handling *seconds      `toml:"handling_seconds" says:"handling"`
	} `toml:"money"`
}

type trialDesign struct {
	entryOwn
	Name string  `toml:"name" says:"short-name"`
	File string  `toml:"file" says:"stitch-file"`
	Year *amount `toml:"year" says:"pieces-year"`
}

type trialPlace struct {
	entryOwn
	Name   string `toml:"name" says:"short-name"`
	Called string `toml:"called" says:"as-printed"`
	People lines  `toml:"people" says:"who-sews"`
}

type trialMachine struct {
	entryOwn
	Name   string        `toml:"name" says:"name"`
	Sheet  string        `toml:"sheet" says:"sheet"`
	Place  string        `toml:"place" says:"place"`
	Speed  *amount       `toml:"speed" says:"set-speed"`
	Format string        `toml:"format" says:"reads"`
	Price  *money.Amount `toml:"price" says:"price"`
	Life   *count        `toml:"life_years" says:"life"`
	Upkeep *money.Amount `toml:"upkeep_per_year" says:"upkeep"`
	Owned  bool          `toml:"owned" says:"owned"`
}

// Rows that are empty are no entries.
func (f *trialForm) dropEmpty() {
	for i := range f.Design {
		d := &f.Design[i]
		d.Drop = d.Drop || d.Name == "" && d.File == ""
	}
	for i := range f.Place {
		p := &f.Place[i]
		p.Drop = p.Drop || p.Name == ""
	}
	for i := range f.Machine {
		m := &f.Machine[i]
		m.Drop = m.Drop || m.Name == "" && m.Place == ""
	}
}

// spare gives the form empty rows for something more.
func (f *trialForm) spare() {
	grow := func(n, least int) int { return max(n+1, least) - n }
	f.Design = append(f.Design, make([]trialDesign, grow(len(f.Design), 4))...)
	f.Place = append(f.Place, make([]trialPlace, grow(len(f.Place), 2))...)
	f.Machine = append(f.Machine, make([]trialMachine, grow(len(f.Machine), 3))...)
}

// languages are those that a paper may be in, to choose from; with none, also that of
// whoever takes it.
func (c *call) languages(none bool) (out []option) {
	if none {
		out = append(out, option{"", words.Say("visit.language-own").Text(c.writer())})
	}
	for _, l := range words.Languages() {
		out = append(out, option{l.Tag.String(), l.Name})
	}
	return out
}

// trialPlan is the page of a trial's form.
type trialPlan struct {
	Visit  *shop.Visit
	Short  string // empty: a new one
	Base   string
	None   bool // no stitch file is there to choose
	Groups []fieldGroup
}

// showTrialPlan shows the form of a new trial, or of one that is there.
func showTrialPlan(c *call) error {
	v, err := c.Shop.Visits.Get(c.Ctx, c.PathValue("visit"))
	if err != nil {
		return err
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	in := &trialForm{Short: c.asks("trial"), Client: v.Client, Adviser: set.ShopName}
	three := count(trial.DefaultRepeats)
	in.Repeats, in.Money.Currency = &three, set.Currency
	if in.Short != "" {
		b, err := c.Shop.Visits.Read(c.Ctx, v.ID, act.TrialFolder(in.Short)+"TRIAL.toml")
		if err != nil {
			return err
		}
		short := in.Short
		in = &trialForm{}
		if err := toml.Unmarshal(b, in); err != nil {
			return shop.Errorf(shop.Storage, "the kept trial cannot be read: %w", err)
		}
		in.Short, in.Base = short, shop.Digest(b)[:16]
	}
	in.spare()
	return c.trialPlanPage(v, in, &form{w: c.writer()})
}

// keepTrialForm keeps a trial as its form says.
func keepTrialForm(c *call) error {
	v, err := c.Shop.Visits.Get(c.Ctx, c.PathValue("visit"))
	if err != nil {
		return err
	}
	var in trialForm
	return c.sent(&in, func(f *form) (string, error) {
		in.dropEmpty()
		at := act.TrialFolder(in.Short) + "TRIAL.toml"
		was, err := c.Shop.Visits.Read(c.Ctx, v.ID, at)
		switch {
		case shop.CodeOf(err) == shop.NotFound:
			was = nil
		case err != nil:
			return "", err
		case in.Base != shop.Digest(was)[:16]:
			return "", shop.Saying(shop.Conflict, words.Say("refused.trial-there", words.Args{"name": words.Name(in.Short)}))
		}
		if in.Money.Labour == nil && in.Money.Source == "" { // nothing is said of money
			in.Money.Currency = ""
		}
		b, err := overFile(was, &in)
		if err != nil {
			return "", err
		}
		if _, err = c.Shop.KeepTrial(c.Ctx, v.ID, in.Short, c.By(), b, nil); err != nil {
			return "", err
		}
		return fmt.Sprintf("/visits/%s/trials/%s", v.ID, in.Short), nil
	}, func(f *form) error { return c.trialPlanPage(v, &in, f) })
}

func (c *call) trialPlanPage(v *shop.Visit, in *trialForm, f *form) error {
	files, err := c.Shop.Visits.Files(c.Ctx, v.ID)
	if err != nil {
		return err
	}
	sheets, formats := []option{{"", "–"}}, []option{}
	for _, x := range files {
		if strings.HasPrefix(x.Name, "machines/") && path.Ext(x.Name) == ".toml" {
			sheets = append(sheets, option{"../../" + x.Name, words.Say("visit.in-visit", words.Args{"file": words.Name(path.Base(x.Name))}).Text(c.writer())})
		}
	}
	designs, err := c.visitDesigns(v)
	if err != nil {
		return err
	}
	machines, err := c.machineOptions()
	if err != nil {
		return err
	}
	for _, o := range machines {
		sheets = append(sheets, option{act.OfShop + o.Value, o.Label})
	}
	for _, k := range machine.Classes() {
		sheets = append(sheets, option{k.Name, words.Say("visit.of-class", words.Args{"class": ask.ClassSays(k)}).Text(c.writer())})
	}
	for _, e := range stitchfile.Writable() {
		formats = append(formats, option{strings.TrimPrefix(e, "."), e})
	}
	for i := range in.Machine {
		if in.Machine[i].Format == "" {
			in.Machine[i].Format = "dst"
		}
	}
	data := &trialPlan{Visit: v, Short: in.Short, Base: in.Base, None: len(designs) < 2}
	w := c.writer()
	about := []field{}
	if in.Base == "" {
		about = append(about, f.show("short", words.Say("visit.short").Text(w), in.Short))
	}
	data.Groups = []fieldGroup{
		{Title: words.Say("visit.about").Text(w), Rows: []fieldRow{{Fields: append(about, f.fields("", *in, choices{"language": c.languages(true)})...)}}},
		{Title: words.Say("trialcard.designs").Text(w), Rows: entryRows(f, "design", in.Design, choices{"file": designs}, func(d trialDesign) fieldRow {
			return fieldRow{Says: firstOf(d.Name, words.Say("visit.more-design").Text(w)), Dropped: d.Drop && d.Name != ""}
		})},
		{Title: words.Say("visit.places").Text(w), Rows: entryRows(f, "place", in.Place, nil, func(p trialPlace) fieldRow {
			return fieldRow{Says: firstOf(p.Name, words.Say("visit.more-place").Text(w)), Dropped: p.Drop && p.Name != ""}
		})},
		{Title: words.Say("trialpaper.machines").Text(w), Rows: entryRows(f, "machine", in.Machine, choices{"sheet": sheets, "format": formats}, func(m trialMachine) fieldRow {
			return fieldRow{Says: firstOf(m.Name, words.Say("visit.more-machine").Text(w)), Dropped: m.Drop && m.Name != ""}
		})},
		{Title: words.Say("visit.known").Text(w), Rows: []fieldRow{{Fields: f.fields("spread.", in.Spread, nil)}}},
		{Title: words.Say("visit.money").Text(w), Rows: []fieldRow{{Fields: f.fields("money.", in.Money, nil)}}},
	}
	for g := range data.Groups { // what is empty can be left so: it need not be taken away
		for r := range data.Groups[g].Rows {
			row := &data.Groups[g].Rows[r]
			if row.Drop != "" && len(row.Fields) > 0 && row.Fields[0].Value == "" {
				row.Drop = ""
			}
		}
	}
	p := &page{Title: words.Say("visit.plan-title").Text(w), Nav: "visits", Data: data, Form: f, Told: f.message()}
	return c.show("trial_plan.html", p)
}
