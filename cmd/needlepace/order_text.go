package main

import (
	"fmt"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/words"
)

func ordersText(d *desk, orders []*book.Order, total int) error {
	if total == 0 {
		fmt.Fprintln(d.Out, "No orders. Take some in with `needlepace order add` or `needlepace order new`.")
		return nil
	}
	t := table{align: "llrllrl"}
	t.row("order", "state", "priority", "due", "customer", "pieces", "what")
	t.rule()
	for _, o := range orders {
		var what []string
		for i := range o.Lines {
			des, err := d.Designs.Get(d.Context, o.Lines[i].DesignID)
			if err != nil {
				return err
			}
			s := des.Name
			if o.Lines[i].Garment != "" {
				s += " on " + o.Lines[i].Garment
			}
			if des.Removed {
				s += " (design taken off the list)"
			}
			what = append(what, s)
		}
		pieces := thousands(o.Pieces())
		if n := o.Pieces() - o.Left(); n > 0 {
			pieces = thousands(n) + " of " + pieces
		}
		t.row(fmt.Sprint(o.Number), string(o.State), num(o.Weight), dayOr(o.Due, "–"), o.Customer, pieces,
			strings.Join(what, "; "))
	}
	t.write(d.Out)
	if total > len(orders) {
		fmt.Fprintf(d.Out, "… and %s more\n", thousands(total-len(orders)))
	}
	return nil
}

func ordersCSV(d *desk, orders []*book.Order) error {
	header := []string{"order", "state", "priority", "due", "goods_come", "promised", "customer", "line", "design",
		"placement", "garment", "quantity", "good", "spoilt", "threads", "note", "latest"}
	var rows [][]string
	for _, o := range orders {
		for i := range o.Lines {
			l := &o.Lines[i]
			des, err := d.Designs.Get(d.Context, l.DesignID)
			if err != nil {
				return err
			}
			rows = append(rows, []string{whole(o.Number), string(o.State), num(o.Weight), o.Due.String(),
				o.Goods.String(), o.Promised.String(), cell(o.Customer), whole(l.Line), cell(des.Name),
				cell(l.Placement), cell(l.Garment),
				whole(l.Quantity), whole(l.Good), whole(l.Spoilt), cell(strings.Join(l.Threads, ", ")), cell(o.Note),
				o.Latest.String()})
		}
	}
	return writeCSV(d.Out, header, rows)
}

// shownOrder is order show --json: the order with what was done to it.
type shownOrder struct {
	*book.Order
	History []book.Change `json:"history"`
	Reports []book.Report `json:"reports"`
	// Deliveries are those that the customer got before the whole, also those taken back.
	Deliveries []book.HandOver `json:"deliveries"`
	Notes      []string        `json:"notes"`
}

func showOrder(d *desk, o *book.Order, asJSON bool) error {
	history, err := d.Orders.History(d.Context, o.ID)
	if err != nil {
		return err
	}
	reports, err := d.Orders.Reports(d.Context, o.ID)
	if err != nil {
		return err
	}
	said, err := d.OrderNotes(d.Context, o)
	if err != nil {
		return err
	}
	notes := said.Lines()
	deliveries, err := d.Orders.Deliveries(d.Context, o.ID)
	if err != nil {
		return err
	}
	if asJSON {
		return writeJSON(d.Out, shownOrder{o, history, append([]book.Report{}, reports...),
			append([]book.HandOver{}, deliveries...), notes})
	}
	fmt.Fprintf(d.Out, "Order %d of %s: %s\n", o.Number, o.Customer, o.State)
	fmt.Fprintf(d.Out, "  due %s, promised %s, priority %s", dayOr(o.Due, "any day"), dayOr(o.Promised, "nothing yet"),
		num(o.Weight))
	if !o.Latest.IsZero() {
		fmt.Fprintf(d.Out, ", not after %s", o.Latest.Text(d.writer))
	}
	if !o.Goods.IsZero() {
		fmt.Fprintf(d.Out, ", goods come %s", o.Goods.Text(d.writer))
	}
	fmt.Fprintln(d.Out)
	if o.PurchaseOrder != "" {
		fmt.Fprintf(d.Out, "  their order: %s\n", o.PurchaseOrder)
	}
	if len(o.CustomerAddress) > 0 {
		fmt.Fprintf(d.Out, "  address: %s\n", strings.Join(o.CustomerAddress, ", "))
	}
	if o.Note != "" {
		fmt.Fprintf(d.Out, "  note: %s\n", o.Note)
	}
	names := map[string]string{}
	machines, err := d.Machines.List(d.Context)
	if err != nil {
		return err
	}
	for _, m := range machines {
		names[m.ID] = m.Name
	}
	for i := range o.Lines {
		l := &o.Lines[i]
		des, err := d.Designs.Get(d.Context, l.DesignID)
		if err != nil {
			return err
		}
		fmt.Fprintf(d.Out, "  line %d: %s of %s", l.Line, plural(l.Quantity, "piece"), des.Name)
		for _, s := range []string{l.Garment, l.Placement} {
			if s != "" {
				fmt.Fprintf(d.Out, ", %s", s)
			}
		}
		fmt.Fprintf(d.Out, "; %d sewn, %d spoilt", l.Good, l.Spoilt)
		if n := l.Rework(); n > 0 {
			fmt.Fprintf(d.Out, "; %d to be made again, new garments needed: %d", n, l.Garments())
		}
		if l.Delivered > 0 {
			fmt.Fprintf(d.Out, "; %d delivered", l.Delivered)
		}
		fmt.Fprintln(d.Out)
		if len(l.Threads) > 0 {
			fmt.Fprintf(d.Out, "    threads: %s\n", strings.Join(l.Threads, ", "))
		}
		for s := range strings.Lines(book.SizesText(l.Sizes)) {
			fmt.Fprintf(d.Out, "    %s\n", strings.TrimSpace(s))
		}
		if l.Named() {
			fmt.Fprintf(d.Out, "    %s", plural(len(l.Names), "name"))
			if l.NamesAlone {
				fmt.Fprint(d.Out, ", each piece sewn with its own file alone")
			}
			fmt.Fprintln(d.Out, ":")
			for s := range strings.Lines(d.NamesText(d.Context, l)) {
				fmt.Fprintf(d.Out, "      %s\n", strings.ReplaceAll(strings.TrimSpace(s), "\t", ", "))
			}
		}
		for _, g := range l.Deliveries {
			came := "not here yet"
			if !g.Came.IsZero() {
				came = "came " + g.Came.Text(d.writer)
			}
			fmt.Fprintf(d.Out, "    %s come %s: %s\n", plural(g.Pieces, "garment"), g.Day.Text(d.writer), came)
		}
		if say := l.Approval.Text(d.w.Zone.Day(d.Now())); say != nil {
			fmt.Fprintf(d.Out, "    %s\n", say.Text(d.writer))
		}
		if l.Foretold != nil {
			fmt.Fprintf(d.Out, "    before there was a file: %s\n", l.Foretold.Came(des.Stitches).Text(d.writer))
		}
		if say := l.PartnerText(o.Goods, d.w.Zone.Day(d.Now())); say != nil {
			fmt.Fprintf(d.Out, "    %s\n", say.Text(d.writer))
		}
		for _, g := range l.GarmentThreads {
			fmt.Fprintf(d.Out, "    threads on %s: %s\n", g.Colour, strings.Join(g.Threads, ", "))
		}
		for _, h := range l.Holds {
			how := "held on"
			if h.Running {
				how = "on the machine now:"
			}
			fmt.Fprintf(d.Out, "    %s %s", how, names[h.MachineID])
			if h.Quantity > 0 { // others have the rest
				fmt.Fprintf(d.Out, ", %s", words.Count(h.Quantity, "piece").Text(d.writer))
			}
			if !h.At.IsZero() {
				word := "from"
				if h.Running {
					word = "since"
				}
				fmt.Fprintf(d.Out, " %s %s", word, d.when(h.At))
			}
			fmt.Fprintln(d.Out)
		}
	}
	for i := range o.Roughs {
		r := &o.Roughs[i]
		fmt.Fprintf(d.Out, "  %s\n    %s\n", r.What().Text(d.writer), r.Told(true).Text(d.writer))
	}
	for _, n := range notes {
		fmt.Fprintln(d.Out, "  note:", n)
	}
	if len(reports) > 0 {
		fmt.Fprintln(d.Out, "\nSewn:")
		d.reportRows(reports, names)
	}
	if len(deliveries) > 0 {
		fmt.Fprintln(d.Out, "\nDelivered:")
		t := table{indent: "  ", align: "rlrrl"}
		t.row("no.", "day", "line", "pieces", "note")
		for _, x := range deliveries {
			t.row(whole(x.Number), x.Day.Text(d.writer), whole(x.Line), whole(x.Pieces), stands(x.Note, x.TakenBack))
		}
		t.write(d.Out)
	}
	fmt.Fprintln(d.Out, "\nHistory:")
	t := table{indent: "  ", align: "lll"}
	for _, h := range history {
		t.row(d.when(h.At), h.By, h.What)
	}
	t.write(d.Out)
	return nil
}

// when is a time by the shop's clocks: Tue 3 Mar, 09:40.
func (d *desk) when(t time.Time) string { return d.w.Zone.Near(t, d.Now()).Text(d.writer) }

// reportRows writes an order's reports.
func (d *desk) reportRows(reports []book.Report, names map[string]string) {
	t := table{indent: "  ", align: "rllrrrrrl"}
	t.row("no.", "day", "machine", "good", "spoilt", "breaks", "a piece took", "predicted", "note")
	for _, r := range reports {
		took, pred := "–", "–"
		if n := float64(r.Good + r.Spoilt); n > 0 {
			pred = long(r.Predicted / n)
			if r.Seconds > 0 {
				took = long(r.Seconds / n)
			}
		}
		breaks := "–"
		if r.Breaks >= 0 {
			breaks = whole(r.Breaks)
		}
		t.row(whole(r.Number), r.Day.Text(d.writer), names[r.MachineID], whole(r.Good), whole(r.Spoilt), breaks, took, pred,
			stands(r.Note, r.TakenBack))
	}
	t.write(d.Out)
}

// stands is a note, and in front of it that what it is about no longer counts.
func stands(note string, back *book.TakenBack) string {
	if back == nil {
		return note
	}
	what := words.Say("record.taken-back").Text(nil)
	for _, s := range []string{back.Why, note} {
		if s != "" && !strings.HasSuffix(what, s) {
			what += ": " + s
		}
	}
	return what
}
