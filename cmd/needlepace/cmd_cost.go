package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"strings"

	"needlepace/ask"
	"needlepace/floor"
	"needlepace/money"
	"needlepace/picture"
	"needlepace/thread"
)

// CostCmd says what a piece costs and what its price must be.
type CostCmd struct {
	Files   []string `arg:"" name:"file" help:"Stitch files, or folders of them."`
	Shop    string   `required:"" help:"The shop's file with its [money], SHOP.toml (docs/what-a-shift-yields.md)." placeholder:"SHOP.toml"`
	Machine []string `short:"m" help:"A machine of the shop by its name; may repeat. Default: all." placeholder:"NAME"`
	SimFlags
	Quantity []int   `short:"q" help:"Quantity steps. Default: the shop's." placeholder:"N,…"`
	Speed    float64 `help:"The operator's speed setting, in stitches/min. Default: the shop's for the machine." placeholder:"N"`
	CapFrame bool    `help:"The goods are on a cap frame."`
	Metallic bool    `help:"Metallic thread."`
	Heavy    float64 `help:"Factor on the frame's acceleration for a heavy garment, e.g. 0.7." placeholder:"F"`
	JSON     bool    `name:"json" help:"One JSON object for each design and machine, one a line."`
	CSV      bool    `name:"csv" help:"One CSV row for each design, machine and quantity."`
}

// costAnswer is one design's costs.
type costAnswer struct {
	file, design string
	quotes       []*money.Quote
}

// Run costs every design on every chosen machine.
func (a *CostCmd) Run(c *Ctx) error {
	if a.JSON && a.CSV {
		return usagef("--json and --csv: choose one")
	}
	sf, f, err := readShop(a.Shop)
	if err != nil {
		return err
	}
	if err := sf.CheckMoney(f); err != nil {
		return usageError{err}
	}
	r, err := sf.Resolve(f, sources(a.Shop))
	if err != nil {
		return usageError{err}
	}
	quantities := sf.Money.Quantities
	if len(a.Quantity) > 0 {
		quantities = a.Quantity
	}
	for i, q := range quantities {
		if q < 1 || q > floor.MaxQuantity || i > 0 && q <= quantities[i-1] {
			return usagef("--quantity: give rising numbers of pieces, e.g. 1,12,48")
		}
	}
	machines, err := a.machines(r)
	if err != nil {
		return err
	}
	files := stitchFiles(a.Files)
	rows := 0
	failed := false
	for _, file := range files {
		read, err := file.read()
		if err != nil {
			complain(c.Err, err)
			failed = true
			continue
		}
		for _, one := range read {
			if one.Err != nil {
				fmt.Fprintln(c.Err, "needlepace:", one.Err)
				failed = true
				continue
			}
			ans := costAnswer{file: one.Name}
			ans.design = ask.NewDesign(one.Design, one.Name, "").Title()
			for _, m := range machines {
				speed := sf.Machine[m].Speed
				if a.Speed > 0 {
					speed = a.Speed
				}
				q, err := money.OnFloor(c.Context, r, &sf.Money, one.Design, one.Name, m, speed,
					floor.Goods{CapFrame: a.CapFrame, Metallic: a.Metallic, Heavy: a.Heavy}, quantities,
					floor.Options{Seed: a.Seed, Level: a.Level / 100})
				if err != nil {
					if c.Context.Err() != nil {
						return err
					}
					fmt.Fprintf(c.Err, "needlepace: %s on %s: %v\n", one.Name, r.Shop.Machines[m].Name, floor.Locate(f, err))
					failed = true
					continue
				}
				ans.quotes = append(ans.quotes, q)
			}
			if err := a.print(c, sf, &ans, rows); err != nil {
				return err
			}
			rows++
		}
	}
	if failed {
		return errPartial
	}
	return nil
}

func (a *CostCmd) machines(r *floor.Resolved) ([]int, error) {
	var out []int
	var names []string
	for i, m := range r.Shop.Machines {
		names = append(names, m.Name)
		if len(a.Machine) == 0 {
			out = append(out, i)
		}
	}
	for _, want := range a.Machine {
		found := false
		for i, n := range names {
			if n == want {
				out = append(out, i)
				found = true
			}
		}
		if !found {
			return nil, usagef("the shop has no machine %q; it has %s", want, strings.Join(names, ", "))
		}
	}
	return out, nil
}

func (a *CostCmd) print(c *Ctx, sf *money.ShopFile, ans *costAnswer, before int) error {
	switch {
	case a.JSON:
		for _, q := range ans.quotes {
			if err := writeJSON(c.Out, costRowOf(ans, q, sf.Money.Currency)); err != nil {
				return err
			}
		}
		return nil
	case a.CSV:
		return costCSV(c.Out, ans, sf.Money.Currency, before == 0)
	}
	if before > 0 {
		fmt.Fprintln(c.Out)
	}
	costText(c.Out, sf, ans, a.Level)
	return nil
}

// pieceOf is seconds that hold the machine for one piece.
func pieceOf(m *money.Made) string {
	var out []string
	for _, st := range []floor.State{floor.Running, floor.Loading, floor.Waiting, floor.WaitHoop, floor.Repair, floor.Bobbins, floor.Attending} {
		if s := m.Seconds[st]; s >= .05 {
			out = append(out, fmt.Sprintf("%s %s", st, picture.LongTime(s)))
		}
	}
	return strings.Join(out, ", ")
}

func costText(w io.Writer, sf *money.ShopFile, ans *costAnswer, level float64) {
	cur := sf.Money.Currency
	fmt.Fprintf(w, "%s: what a piece costs at %s, in %s\n", ans.file, title(sf.Name), cur)
	for _, q := range ans.quotes {
		last := q.Steps[len(q.Steps)-1]
		fmt.Fprintf(w, "\non %s, %s: run time %s, %s\n", q.Machine, plural(q.Heads, "head"), picture.LongTime(q.Clock.Seconds), intervalText(q.How))
		fmt.Fprintf(w, "  a piece holds the machine for %s: %s\n", picture.LongTime(q.Made.Occupied()), pieceOf(&q.Made))
		t := table{indent: "  ", align: "l" + strings.Repeat("r", len(q.Steps)) + "l"}
		row := []string{"pieces in the order"}
		for _, s := range q.Steps {
			row = append(row, thousands(s.Quantity))
		}
		t.row(row...)
		t.rule()
		for i, l := range last.Lines {
			row := []string{l.Name}
			for _, s := range q.Steps {
				row = append(row, s.Lines[i].Amount.StringFixed(3))
			}
			t.row(append(row, l.Basis)...)
		}
		t.rule()
		line := func(name, basis string, of func(*money.Cost) string) {
			row := []string{name}
			for _, s := range q.Steps {
				row = append(row, of(s))
			}
			t.row(append(row, basis)...)
		}
		line("cost a piece", "", func(k *money.Cost) string { return k.Total.StringFixed(2) })
		line("cost per 1,000 stitches", "", func(k *money.Cost) string { return k.PerThousand.StringFixed(3) })
		line("cost of a machine hour", "", func(k *money.Cost) string { return k.PerHour.StringFixed(2) })
		line("price to ask", fmt.Sprintf("%s %% of it is margin; rounded up to %s", sf.Money.Margin, sf.Money.PriceStep), func(k *money.Cost) string { return k.Price.StringFixed(2) })
		if !sf.Money.SalesTax.IsZero() {
			line("with sales tax", fmt.Sprintf("%s %%", sf.Money.SalesTax), func(k *money.Cost) string { return k.PriceTax.StringFixed(2) })
		}
		t.write(w)
		n := &q.Thread
		var cones []string
		for _, k := range n.Colours {
			cones = append(cones, fmt.Sprintf("%s %.0f m (%s)", k.Name, k.Order, plural(k.Cones, "cone")))
		}
		fmt.Fprintf(w, "  thread for %s pieces: %s; bobbin %.0f m (%s, a full one sews %.1f pieces)\n", thousands(n.Pieces), strings.Join(cones, ", "), n.Bobbin, plural(n.Bobbins, "bobbin"), n.PerBobbin)
		fmt.Fprintf(w, "  notes are for %s pieces; the run time's %.0f %% interval makes its cost %s to %s a piece\n", thousands(last.Quantity), level, q.Low.StringFixed(2), q.High.StringFixed(2))
	}
}

// The written contract of cost --json (docs/json.md). Money is decimal text.
type costRow struct {
	Design   string    `json:"design"`
	File     string    `json:"file"`
	Machine  string    `json:"machine"`
	Heads    int       `json:"heads"`
	Currency string    `json:"currency"`
	Run      float64   `json:"run_seconds"`
	Low      float64   `json:"run_seconds_low"`
	High     float64   `json:"run_seconds_high"`
	Piece    float64   `json:"machine_seconds_per_piece"`
	Stitches int       `json:"stitches"`
	Top      float64   `json:"top_thread_m"`
	Bobbin   float64   `json:"bobbin_thread_m"`
	Spoilt   float64   `json:"spoilt"`
	Steps    []costAt  `json:"steps"`
	Range    [2]string `json:"cost_range"` // of the last step, at the ends of the run time's interval
	Thread   needRow   `json:"thread"`     // for the last step's pieces
}

type needRow struct {
	Pieces  int         `json:"pieces"`
	Top     float64     `json:"top_m"`
	Bobbin  float64     `json:"bobbin_m"`
	Bobbins int         `json:"bobbins"`
	Colours []colourRow `json:"colours"`
}

type colourRow struct {
	Colour string  `json:"colour"`
	Blocks []int   `json:"blocks"` // from 1
	Top    float64 `json:"top_m"`
	Cones  int     `json:"cones"` // to have at hand: one a head at least
	Used   float64 `json:"cones_used"`
}

func needOf(n *thread.Need) needRow {
	out := needRow{n.Pieces, n.Top, n.Bobbin, n.Bobbins, nil}
	for _, c := range n.Colours {
		row := colourRow{Colour: c.Name, Top: c.Order, Cones: c.Cones, Used: c.Used}
		for _, b := range c.Blocks {
			row.Blocks = append(row.Blocks, b+1)
		}
		out.Colours = append(out.Colours, row)
	}
	return out
}

type costAt struct {
	Quantity    int        `json:"quantity"`
	Cost        string     `json:"cost"`
	PerThousand string     `json:"cost_per_1000_stitches"`
	PerHour     string     `json:"cost_per_machine_hour"`
	Price       string     `json:"price"`
	PriceTax    string     `json:"price_with_tax"`
	Hours       string     `json:"machine_hours"`
	Lines       []costLine `json:"lines"`
}

type costLine struct {
	Name   string `json:"name"`
	Amount string `json:"amount"`
	Basis  string `json:"basis"`
}

func costRowOf(ans *costAnswer, q *money.Quote, currency string) costRow {
	row := costRow{ans.design, ans.file, q.Machine, q.Heads, currency, q.Clock.Seconds, q.How.Low, q.How.High, q.Made.Occupied(),
		q.Clock.Stitches, q.Made.Top, q.Made.Bobbin, q.Made.Spoilt, nil, [2]string{q.Low.StringFixed(4), q.High.StringFixed(4)}, needOf(&q.Thread)}
	for _, s := range q.Steps {
		at := costAt{s.Quantity, s.Total.StringFixed(4), s.PerThousand.StringFixed(4), s.PerHour.StringFixed(4), s.Price.StringFixed(2), s.PriceTax.StringFixed(2), s.Hours.StringFixed(4), nil}
		for _, l := range s.Lines {
			at.Lines = append(at.Lines, costLine{l.Name, l.Amount.StringFixed(6), l.Basis})
		}
		row.Steps = append(row.Steps, at)
	}
	return row
}

func costCSV(w io.Writer, ans *costAnswer, currency string, headed bool) error {
	header := []string{"design", "file", "machine", "heads", "quantity", "currency"}
	var rows [][]string
	for _, q := range ans.quotes {
		for _, s := range q.Steps {
			row := []string{cell(ans.design), cell(ans.file), cell(q.Machine), whole(q.Heads), whole(s.Quantity), cell(currency)}
			for _, l := range s.Lines {
				if len(rows) == 0 {
					header = append(header, strings.ReplaceAll(strings.ReplaceAll(l.Name, " ", "_"), "-", "_"))
				}
				row = append(row, l.Amount.StringFixed(6))
			}
			rows = append(rows, append(row, s.Total.StringFixed(4), s.PerThousand.StringFixed(4), s.PerHour.StringFixed(4), s.Price.StringFixed(2), s.PriceTax.StringFixed(2)))
		}
	}
	if len(rows) == 0 {
		return nil
	}
	header = append(header, "cost", "cost_per_1000_stitches", "cost_per_machine_hour", "price", "price_with_tax")
	if !headed {
		return writeRows(w, rows)
	}
	return writeCSV(w, header, rows)
}

// writeRows is writeCSV for what follows a header already written.
func writeRows(w io.Writer, rows [][]string) error {
	c := csv.NewWriter(w)
	if err := c.WriteAll(rows); err != nil {
		return err
	}
	return c.Error()
}

func title(name string) string {
	if name == "" {
		return "The shop"
	}
	return name
}
