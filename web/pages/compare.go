package pages

import (
	"context"
	"fmt"
	"net/url"
	"time"

	"github.com/pelletier/go-toml/v2"

	"needlepace/act"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/picture"
	"needlepace/report"
	"needlepace/shop"
	"needlepace/web/answer"
	"needlepace/web/serve"
)

// setupList is the page that lists setups of one kind.
type setupList struct {
	Setups   []*shop.Setup
	Designs  int
	Machines int
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
	return &setupList{all, n, len(machines)}, err
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

// makeCompare makes a mix of the shop's machines and newest designs.
func makeCompare(c *call) error {
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
	mf := &money.MixFile{Name: "Our mix", Week: money.WeekKeys{Shifts: 5, Hours: 7.5, Machines: 1, Operators: 1}}
	mf.Money = money.Rates{Currency: set.Currency, Labour: money.Amount{Dec: money.Measured(20)}, Shifts: 240}
	for _, m := range machines {
		o := money.OfferKeys{Name: m.Name, Sheet: m.ID, Existing: true}
		o.Price, o.Life = money.Amount{Dec: money.Measured(5000)}, 7
		mf.Machine = append(mf.Machine, o)
	}
	if len(machines) == 1 { // something to compare it with
		o := money.OfferKeys{Name: "an offer", Sheet: "compact-8"}
		o.Price, o.Life = money.Amount{Dec: money.Measured(6000)}, 7
		mf.Machine = append(mf.Machine, o)
	}
	for _, d := range designs {
		mf.Design = append(mf.Design, money.DesignKeys{Name: d.Name, Design: d.ID, Weekly: 20})
	}
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
		o.Price, o.Life = money.Amount{Dec: money.Measured(6000)}, 7
		machines = append(machines, o)
	}
	mf.Machine = machines
	offers.Add = &knob{Name: "add_machine", Label: "Add a machine", Kind: "choice", Options: sheets}
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
		wanted = append(wanted, money.DesignKeys{Name: name, Design: add, Weekly: 20})
	}
	mf.Design = wanted
	work.Add = &knob{Name: "add_design", Label: "Add a design", Kind: "choice", Options: designs}
	week := knobGroup{Title: "The week", Rows: []knobRow{{Knobs: []knob{
		k.whole("week.shifts", "Shifts", &mf.Week.Shifts), k.amount("week.hours", "Hours of a shift", &mf.Week.Hours), k.whole("week.machines", "Machines to a crew", &mf.Week.Machines), k.whole("week.operators", "Operators to a crew", &mf.Week.Operators),
		k.optional("work.breaks", "Thread breaks a head, 1,000 stitches", &mf.Work.Breaks)}}}}
	m := &mf.Money
	rates := knobGroup{Title: "Money", Rows: []knobRow{{Knobs: []knob{
		k.text("money.currency", "Currency", &m.Currency), k.money("money.labour", "An operator's hour", &m.Labour), k.money("money.interest", "Interest, % a year", &m.Interest), k.money("money.overhead", "Overhead of a machine, a year", &m.Overhead),
		k.money("money.energy", "A kWh", &m.Energy), k.money("money.top", "Top thread, 1,000 m", &m.TopThread), k.money("money.bobbin", "Bobbin thread, 1,000 m", &m.BobbinThread), k.money("money.garment", "A spoilt garment", &m.Garment), k.whole("money.shifts", "Shifts a year", &m.Shifts)}}}}
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
	K       *report.Comparison
	Best    report.ComparedMachine
	Against string
	Designs []comparedStrips
	Pairs   []pairRow
	Turns   []string // names of pictures
}

type comparedStrips struct {
	Name, Mean, Why string
	Weekly          int
	Rows            []machineRow
	Top             float64
}

type pairRow struct {
	Machine, Base, Say, Reason string
}

func showCompare(c *call) error {
	q := c.URL.Query()
	kept, _, groups, err := c.mixOf(c.PathValue("setup"), q)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(c.Ctx, 25*time.Second)
	defer cancel()
	result, err := c.Shop.Compare(ctx, kept.TOML, act.SimAsked{Weeks: 200}, func(float64, string) {})
	if err != nil {
		return err
	}
	k := report.ComparisonOf(result, 1)
	data := &compareData{Setup: kept, Groups: groups, Asked: q.Get("form") == "1", K: k}
	p := &page{Title: kept.Name, Nav: "compare", Data: data, Tables: map[string]*table{}, Pics: map[string]pic{}}
	best := 0
	for i := range result.Machines {
		if result.Machines[i].PerPiece.Mid.LessThan(result.Machines[best].PerPiece.Mid) {
			best = i
		}
	}
	data.Best = k.Machines[best]
	second, chance := -1, 0.0
	for j := range k.Machines {
		if j != best && (second < 0 || k.Beats[best][j] < chance) {
			second, chance = j, k.Beats[best][j]
		}
	}
	if second >= 0 {
		data.Against = fmt.Sprintf("The chance that it beats %s is %.0f %%.", k.Machines[second].Machine, chance*100)
	}
	comparedTables(p, k)
	p.Pics["cost"] = costPicture(result, best)
	for _, d := range k.Designs {
		row := comparedStrips{Name: d.Design, Mean: c.mm(d.MeanStitch), Why: sentence(d.Why), Weekly: d.Weekly}
		for _, on := range d.On {
			row.Top = max(row.Top, on.Interval.High, on.Seconds)
		}
		for _, on := range d.On {
			m := machineRow{Name: on.Machine, Note: perMin(on.Held) + " held", Seconds: on.Seconds, On: on.Machine == d.First, Bar: bar{Parts: picture.PartsOf(on.Parts), Max: row.Top, Low: on.Interval.Low, High: on.Interval.High}}
			if m.On {
				m.Note = fmt.Sprintf("first with %.0f %% chance", d.FirstChance*100)
			}
			row.Rows = append(row.Rows, m)
		}
		data.Designs = append(data.Designs, row)
	}
	for i, pair := range k.Pairs {
		data.Pairs = append(data.Pairs, pairRow{pair.Machine, pair.Base, pairSay(pair, k.Currency), sentence(pair.Reason)})
		for _, t := range pair.Turning {
			name := fmt.Sprintf("lengths-%d-%s", i+1, answer.FileWord(t.Shape))
			chart := func(w, h float64) picture.Picture {
				ch := &picture.Chart{Name: fmt.Sprintf("%s against %s, %s", pair.Machine, pair.Base, t.Shape), Text: "the lower is the faster",
					X: picture.Axis{Label: "stitch length, mm"}, Y: picture.Axis{Label: "seconds for 1,000 stitches", FromZero: true}, Width: w, Height: h,
					Series: []picture.Series{{Name: pair.Machine, Style: picture.Fitted, X: t.Length, Y: t.Machine}, {Name: pair.Base, Style: picture.Plain, X: t.Length, Y: t.Base}}}
				for _, u := range t.Turns {
					ch.Flags = append(ch.Flags, picture.Flag{X: u.Length, Text: fmt.Sprintf("%.1f mm", u.Length)})
				}
				return ch
			}
			p.Pics[name] = pic{chart(700, 300), chart(340, 280)}
			data.Turns = append(data.Turns, name)
		}
	}
	return c.show("compare.html", p)
}

// mm is a length in the reader's unit.
func (c *call) mm(v float64) string {
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		set = shop.DefaultSettings
	}
	return units{set}.Len(v)
}

func pairSay(p report.ComparedPair, currency string) string {
	s := fmt.Sprintf("Cheaper on this mix with %.0f %% chance; saves %s %s a year, between %s and %s.", p.Cheaper*100, round0(p.Saving.Mid), currency, round0(p.Saving.Low), round0(p.Saving.High))
	if len(p.Payback) > 0 {
		s += fmt.Sprintf(" Paid back after %s years.", rounded(p.Payback[0], 1))
	} else {
		s += " It is never paid back."
	}
	s += fmt.Sprintf(" Present value %s %s, above zero with %.0f %% chance.", round0(p.NPV.Mid), currency, p.Worth*100)
	if p.Tie != nil {
		s += fmt.Sprintf(" The two tie at a price of %s, between %s and %s.", round0(p.Tie.Mid), round0(p.Tie.Low), round0(p.Tie.High))
	}
	return s
}

func costPicture(k *money.Comparison, best int) pic {
	f := func(d money.Dec) float64 { return d.InexactFloat64() }
	draw := func(w float64) picture.Picture {
		p := &picture.Intervals{Name: "Cost of a piece", Text: fmt.Sprintf("%s, %.0f %% intervals", k.Mix.Rates.Currency, k.Level*100), Axis: picture.Axis{Label: k.Mix.Rates.Currency + " a piece"}, Width: w}
		for i := range k.Machines {
			m := &k.Machines[i]
			p.Rows = append(p.Rows, picture.Interval{Label: m.Name, Low: f(m.PerPiece.Low), Mid: f(m.PerPiece.Mid), High: f(m.PerPiece.High), Note: m.PerPiece.Mid.StringFixed(2), Strong: i == best})
		}
		return p
	}
	return pic{draw(760), draw(340)}
}

func comparedTables(p *page, k *report.Comparison) {
	t := &table{ID: "machines", Caption: "The machines on this mix", Full: true, Cols: []col{
		{Name: "Machine", CSV: "machine"}, {Name: "Rated", CSV: "rated_speed", Num: true}, {Name: "Held", CSV: "held_speed", Num: true}, {Name: "Hours a week", CSV: "hours_a_week", Num: true}, {Name: "Pieces a shift", CSV: "pieces_per_shift", Num: true},
		{Name: "Needed", CSV: "machines_needed", Num: true}, {Name: k.Currency + " a piece", CSV: "cost_per_piece", Num: true}, {Name: "between", CSV: "cost_between", Num: true}, {Name: "OEE", CSV: "oee", Num: true},
	}}
	for _, m := range k.Machines {
		name := m.Machine
		if m.Existing {
			name += " (ours)"
		}
		t.Rows = append(t.Rows, []cell{text(name), figure(perMin(m.RatedSpeed), raw(m.RatedSpeed)), figure(perMin(m.HeldSpeed), fixed(m.HeldSpeed, 1)), figure(fixed(m.Hours.Mean, 1), fixed(m.Hours.Mean, 3)), figure(fixed(m.PiecesPerShift.Mean, 1), fixed(m.PiecesPerShift.Mean, 2)),
			whole(m.Needed), figure(cash(m.PerPiece.Mid), m.PerPiece.Mid), figure(cash(m.PerPiece.Low)+" and "+cash(m.PerPiece.High), m.PerPiece.Low+" and "+m.PerPiece.High), figure(share(m.OEE.OEE, 1), fixed(m.OEE.OEE, 4))})
	}
	p.Tables["machines"] = t
	b := &table{ID: "beats", Caption: "Chance that a year on the machine at the left costs less than on the one above", Cols: []col{{Name: "Machine", CSV: "machine"}}}
	for _, m := range k.Machines {
		b.Cols = append(b.Cols, col{Name: m.Machine, Num: true})
	}
	for i, m := range k.Machines {
		row := []cell{text(m.Machine)}
		for j := range k.Machines {
			if i == j {
				row = append(row, text("–"))
				continue
			}
			row = append(row, figure(fmt.Sprintf("%.0f %%", k.Beats[i][j]*100), fixed(k.Beats[i][j], 4)))
		}
		b.Rows = append(b.Rows, row)
	}
	p.Tables["beats"] = b
	y := &table{ID: "year", Caption: "A year of the mix, " + k.Currency, Full: true, Cols: []col{{Name: "Machine", CSV: "machine"}}}
	names := []string{}
	for _, n := range []string{"machine", "upkeep", "overhead", "labour", "energy", "top thread", "bobbin thread", "backing", "needles", "spoilage"} {
		used := false
		for _, m := range k.Machines {
			v, ok := m.Lines[n]
			used = used || ok && v != "0.00"
		}
		if used {
			names = append(names, n)
			y.Cols = append(y.Cols, col{Name: n, Num: true})
		}
	}
	y.Cols = append(y.Cols, col{Name: "together", Num: true})
	for _, m := range k.Machines {
		row := []cell{text(m.Machine)}
		for _, n := range names {
			row = append(row, figure(round0(m.Lines[n]), m.Lines[n]))
		}
		y.Rows = append(y.Rows, append(row, figure(round0(m.Year.Mid), m.Year.Mid)))
	}
	p.Tables["year"] = y
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
