package pages

import (
	"cmp"
	"context"
	"crypto/sha256"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"sync"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/stitchfile"
	"needlepace/web/serve"
	"needlepace/words"
)

// listData is what the list of designs shows.
type listData struct {
	Search, State string
	Order         *listOrder
	States        []option
	Kept          *keptLists
	Total         int
	From, To      int
	Rows          []template.HTML
	Machines      []serve.MachineName
	Next, Prev    template.URL
	All           int  // designs in the shop, whatever the search
	Own           bool // the shop has machines of its own
	Removed       bool
	Customer      string // whose designs; empty: all
}

// listRow is a row of the list: all that its template is given.
type listRow struct {
	*shop.Design
	Times     []listTime
	More      string // what it takes on the other machines, where there are many
	Picks     bool   // it can be ticked
	W         *words.Writer
	Size, Day string
}

// Say is a page's.
func (r *listRow) Say(key string, args ...any) (string, error) {
	return (&page{W: r.W}).Say(key, args...)
}

type listTime struct {
	Machine, ID string
	Seconds     float64
	Bar         bar
}

const pageSize = 50

// Where a shop has more machines than mostStrips, a row of the list shows its quickest ones and says the rest: with ten
// machines a row would be a third of a screen.
const mostStrips, quickest = 5, 3

// showHome is the first run while the shop is empty, then the designs, and today once there are orders to sew.
func showHome(c *call) error {
	empty, err := c.emptyShop()
	if err != nil {
		return err
	}
	if !empty {
		_, orders, err := c.Shop.Orders.List(c.Ctx, shop.OrderQuery{States: []book.OrderState{book.Agreed, book.Sewing}, Limit: 1})
		if err != nil {
			return err
		}
		if orders > 0 {
			return c.see("/today")
		}
		return c.see("/designs")
	}
	return c.firstPage(&beginFields{Class: ask.DefaultMachine, Currency: cmp.Or(c.proposedCurrency(), shop.DefaultSettings.Currency)}, nil)
}

// firstDesign is the sample design of first answers.
const firstDesign = "ostrel-light.dst"

// firstStrip is where a design of the demo shop's time goes on a built-in class.
var firstStrip = sync.OnceValue(func() bar {
	const file = firstDesign
	sheet, _ := machine.Class(ask.DefaultMachine)
	b, err := demo.FS.ReadFile("designs/" + file)
	if err != nil || sheet == nil {
		return bar{}
	}
	d, err := stitchfile.Decode(b, file)
	if err != nil {
		return bar{}
	}
	a, err := ask.Clock(context.Background(), ask.Given{Stitches: ask.NewDesign(d, file, ""), On: sheet},
		ask.ClockQuestion{})
	if err != nil {
		return bar{}
	}
	run := picture.PartsOf(a.Parts)
	return bar{Parts: run, Max: a.Seconds, Label: (&picture.Strips{Rows: []picture.StripRow{{Parts: run}}}).Desc()}
})

// emptyShop: no design, no machine.
func (c *call) emptyShop() (bool, error) {
	_, n, err := c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Limit: 1})
	if err != nil || n > 0 {
		return false, err
	}
	machines, err := c.Shop.Machines.List(c.Ctx)
	return len(machines) == 0, err
}

// designColumns are the columns of the list of designs.
var designColumns = []listedBy{
	{Class: "pictured"},
	{Key: "name", Name: words.Say("lists.design"), First: words.Say("lists.first-by-name"), Last: words.Say("lists.by-name-back")},
	{Key: "customer", Name: words.Say("lists.customer"), First: words.Say("lists.by-customer"), Last: words.Say("lists.by-customer-back")},
	{Key: "stitches", Name: words.Say("lists.stitches"), First: words.Say("lists.most-stitches"), Last: words.Say("lists.fewest-stitches"), Falls: true, Class: "n"},
	{Key: "size", Name: words.Say("lists.size"), First: words.Say("lists.largest"), Last: words.Say("lists.smallest"), Falls: true, Class: "n"},
	{Key: "added", Name: words.Say("lists.added"), First: words.Say("lists.newest"), Last: words.Say("lists.oldest"), Falls: true},
	{Name: words.Say("lists.on-machines"), Class: "took"},
}

// designStates are what the list of designs is narrowed down to.
var designStates = []struct {
	value string
	label words.Message
}{{"", words.Say("designs.state-all")}, {shop.Ordered, words.Say("designs.state-ordered")}, {shop.Timed, words.Say("designs.state-timed")},
	{shop.Untimed, words.Say("designs.state-untimed")}, {shop.Warned, words.Say("designs.state-warned")}}

func showDesigns(c *call) error {
	q := c.Query()
	order := c.listOrder(q, "added", designColumns...)
	query := shop.DesignQuery{
		Search: q.Get("search"), Sort: order.Key, Reverse: order.Backwards, State: q.OneOf("state", "", shop.DesignStates...),
		Offset: q.Integer("from", 0), Limit: pageSize, Removed: q.Yes("removed"),
		Customer: q.Get("customer"),
	}
	if q.Err != nil {
		return q.Err
	}
	rows := !c.URL.Query().Has("csv")
	list, err := c.Designs(query, !rows)
	if err != nil {
		return err
	}
	data := &listData{Search: query.Search, State: query.State, Order: order, Total: list.Total, Machines: list.Machines,
		Own: len(list.Machines) > 0, Removed: query.Removed, Customer: query.Customer}
	for _, s := range designStates {
		data.States = append(data.States, option{s.value, s.label.Text(c.writer())})
	}
	data.All = list.Total
	if data.Kept, err = c.keptLists(shop.ListOfDesigns); err != nil {
		return err
	}
	if query.Search != "" || query.Customer != "" || query.Removed || query.State != "" {
		if _, data.All, err = c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Limit: 1}); err != nil {
			return err
		}
	}
	if data.Total > 0 {
		data.From, data.To = query.Offset+1, query.Offset+len(list.Designs)
	}
	if query.Offset > 0 {
		data.Prev = turned(q, "from", max(0, query.Offset-pageSize))
	}
	if data.To < data.Total {
		data.Next = turned(q, "from", query.Offset+pageSize)
	}
	t := &table{ID: "designs", Caption: words.Say("nav.designs").Text(c.writer()), Cols: cols("Design", "File", "Customer", "Stitches",
		"Width=width_mm", "Height=height_mm", "Colour stops")}
	for _, m := range list.Machines {
		t.Cols = append(t.Cols, col{Name: m.Name, CSV: m.Name + " seconds", Num: true})
	}
	t.Cols = append(t.Cols, cols("Label inside=label")...)
	if rows {
		if data.Rows, err = c.designRows(list.Designs, !query.Removed && c.May(shop.AskWhatIf)); err != nil {
			return err
		}
		t.Rows = make([][]cell, len(data.Rows)) // for the file only
	}
	for _, d := range list.Designs {
		if rows {
			break
		}
		cells := []cell{text(d.Name), text(d.File), text(d.Customer), whole(d.Stitches),
			figure("", fixed(d.WidthMM, 1)), figure("", fixed(d.HeightMM, 1)), whole(d.ColourStops)}
		for _, one := range d.Times {
			cells = append(cells, figure(words.Seconds(one.Seconds).Text(nil), fixed(one.Seconds, 3)))
		}
		t.row(append(cells, text(d.Label))...)
	}
	return c.show("designs.html", &page{Title: words.Say("nav.designs").Text(c.writer()), Nav: "designs", Data: data,
		Tables: map[string]*table{"designs": t}})
}

// mostRows is how many bytes of rows are kept as they were written.
const mostRows = 10 << 20

// designRows are rows of the list of designs. Each is kept as it was written, by all that its template is given: what is said of
// the design, the machines and their sheets, by which it is clocked, and how who asks wants it.
func (c *call) designRows(designs []serve.ListedDesign, picks bool) ([]template.HTML, error) {
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return nil, err
	}
	w := c.writer()
	by := fmt.Sprint(picks, w.Tag(), w.Inch, w.Hours12, w.Zone, len(machines))
	for _, m := range machines {
		by += fmt.Sprintf("%q%q%q", m.ID, m.Name, m.Digest)
	}
	t, err := templates()
	if err != nil {
		return nil, err
	}
	out := make([]template.HTML, len(designs))
	for i := range designs {
		d := designs[i].Design
		key := sha256.Sum256(fmt.Appendf(nil, "%s%#v", by, *d))
		row, err := c.Kept.Rows.Get(c.Ctx, mostRows, key, func() (serve.Row, error) {
			row := &listRow{Design: d, Picks: picks, W: w, Size: words.Size{W: d.WidthMM, H: d.HeightMM}.Text(w),
				Day: w.Zone.Day(d.Added).Text(w)}
			times, err := c.Shop.Times(c.Ctx, []string{d.ID}, machines)
			if err != nil {
				return "", err
			}
			for k, one := range times[0] {
				row.Times = append(row.Times, listTime{machines[k].Name, machines[k].ID, one.Seconds,
					bar{Parts: picture.PartsOf(one.Parts), Thin: true}})
			}
			if n := len(row.Times); n > mostStrips {
				slices.SortStableFunc(row.Times, func(a, b listTime) int { return cmp.Compare(a.Seconds, b.Seconds) })
				row.More = words.Say("designs.more", words.Args{"machines": words.Count(n-quickest, "machine"),
					"low": words.Seconds(row.Times[quickest].Seconds), "high": words.Seconds(row.Times[n-1].Seconds)}).Text(w)
				row.Times = row.Times[:quickest]
			}
			slowest := 0.0 // a jacket back among cap logos must not shrink them to nothing: each design has its own axis
			for _, one := range row.Times {
				slowest = max(slowest, one.Seconds)
			}
			for k := range row.Times {
				row.Times[k].Bar.Max = slowest
			}
			var b strings.Builder
			err = t.ExecuteTemplate(&b, "design-row", row)
			return serve.Row(b.String()), err
		})
		if err != nil {
			return nil, err
		}
		out[i] = template.HTML(row)
	}
	return out, nil
}

// describeForm keeps what the form on a design's page says.
func describeForm(c *call) error {
	id := c.PathValue("design")
	var in struct {
		Name     string `toml:"name"`
		Customer string `toml:"customer"`
		Note     string `toml:"note"`
	}
	return c.sent(&in, func(*form) (string, error) {
		_, err := c.Shop.Designs.Describe(c.Ctx, id, shop.Description{
			Name: strings.TrimSpace(in.Name), Customer: in.Customer, Note: in.Note})
		return "/designs/" + id, err
	}, c.designPage)
}

func removeDesignForm(c *call) error {
	return c.seeOr("/designs", c.Shop.Designs.Remove(c.Ctx, c.PathValue("design")))
}

func restoreDesignForm(c *call) error {
	id := c.PathValue("design")
	return c.seeOr("/designs/"+id, c.Shop.Designs.Restore(c.Ctx, id))
}
