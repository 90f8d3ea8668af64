package main

import (
	"fmt"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/words"
)

func ordersText(c *Ctx, d *desk, orders []*book.Order, total int) error {
	if total == 0 {
		fmt.Fprintln(c.Out, "No orders. Take some in with `needlepace order add` or `needlepace order new`.")
		return nil
	}
	t := table{align: "llrllrl"}
	t.row("order", "state", "priority", "due", "customer", "pieces", "what")
	t.rule()
	for _, o := range orders {
		var what []string
		for i := range o.Lines {
			des, _, err := d.Designs.Get(c.Context, o.Lines[i].DesignID)
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
		t.row(fmt.Sprint(o.Number), string(o.State), plainNumber(o.Weight), dayOr(o.Due, "–"), o.Customer, pieces,
			strings.Join(what, "; "))
	}
	t.write(c.Out)
	if total > len(orders) {
		fmt.Fprintf(c.Out, "… and %s more\n", thousands(total-len(orders)))
	}
	return nil
}

func ordersCSV(c *Ctx, d *desk, orders []*book.Order) error {
	header := []string{"order", "state", "priority", "due", "goods_come", "promised", "customer", "line", "design",
		"placement", "garment", "quantity", "good", "spoilt", "threads", "note"}
	var rows [][]string
	for _, o := range orders {
		for i := range o.Lines {
			l := &o.Lines[i]
			des, _, err := d.Designs.Get(c.Context, l.DesignID)
			if err != nil {
				return err
			}
			rows = append(rows, []string{whole(o.Number), string(o.State), num(o.Weight), o.Due.String(),
				o.Goods.String(), o.Promised.String(), cell(o.Customer), whole(l.Line), cell(des.Name),
				cell(l.Placement), cell(l.Garment),
				whole(l.Quantity), whole(l.Good), whole(l.Spoilt), cell(strings.Join(l.Threads, ", ")), cell(o.Note)})
		}
	}
	return writeCSV(c.Out, header, rows)
}

// shownOrder is order show --json: the order with what was done to it.
type shownOrder struct {
	*book.Order
	History []book.Change `json:"history"`
	Reports []book.Report `json:"reports"`
	Notes   []string      `json:"notes"`
}

func showOrder(c *Ctx, d *desk, o *book.Order, asJSON bool) error {
	history, err := d.Orders.History(c.Context, o.ID)
	if err != nil {
		return err
	}
	reports, err := d.Orders.Reports(c.Context, o.ID)
	if err != nil {
		return err
	}
	notes, err := d.OrderNotes(c.Context, o)
	if err != nil {
		return err
	}
	if asJSON {
		return writeJSON(c.Out, shownOrder{o, history, append([]book.Report{}, reports...), notes})
	}
	fmt.Fprintf(c.Out, "Order %d of %s: %s\n", o.Number, o.Customer, o.State)
	fmt.Fprintf(c.Out, "  due %s, promised %s, priority %s", dayOr(o.Due, "any day"), dayOr(o.Promised, "nothing yet"),
		plainNumber(o.Weight))
	if !o.Goods.IsZero() {
		fmt.Fprintf(c.Out, ", goods come %s", o.Goods)
	}
	fmt.Fprintln(c.Out)
	if o.Note != "" {
		fmt.Fprintf(c.Out, "  note: %s\n", o.Note)
	}
	names := map[string]string{}
	machines, err := d.Machines.List(c.Context)
	if err != nil {
		return err
	}
	for _, m := range machines {
		names[m.ID] = m.Name
	}
	for i := range o.Lines {
		l := &o.Lines[i]
		des, _, err := d.Designs.Get(c.Context, l.DesignID)
		if err != nil {
			return err
		}
		fmt.Fprintf(c.Out, "  line %d: %s of %s", l.Line, plural(l.Quantity, "piece"), des.Name)
		for _, s := range []string{l.Garment, l.Placement} {
			if s != "" {
				fmt.Fprintf(c.Out, ", %s", s)
			}
		}
		fmt.Fprintf(c.Out, "; %d sewn, %d spoilt\n", l.Good, l.Spoilt)
		if len(l.Threads) > 0 {
			fmt.Fprintf(c.Out, "    threads: %s\n", strings.Join(l.Threads, ", "))
		}
		for _, h := range l.Holds {
			how := "held on"
			if h.Running {
				how = "on the machine now:"
			}
			fmt.Fprintf(c.Out, "    %s %s", how, names[h.MachineID])
			if !h.At.IsZero() {
				fmt.Fprintf(c.Out, " from %s", d.when(h.At))
			}
			fmt.Fprintln(c.Out)
		}
	}
	for _, n := range notes {
		fmt.Fprintln(c.Out, "  note:", n)
	}
	if len(reports) > 0 {
		fmt.Fprintln(c.Out, "\nSewn:")
		t := table{indent: "  ", align: "llrrrrrl"}
		t.row("day", "machine", "good", "spoilt", "breaks", "a piece took", "predicted", "note")
		for _, r := range reports {
			took, pred := "–", "–"
			if n := float64(r.Good + r.Spoilt); n > 0 {
				pred = words.Seconds(r.Predicted / n).Text(nil)
				if r.Seconds > 0 {
					took = words.Seconds(r.Seconds / n).Text(nil)
				}
			}
			breaks := "–"
			if r.Breaks >= 0 {
				breaks = whole(r.Breaks)
			}
			t.row(r.Day.String(), names[r.MachineID], whole(r.Good), whole(r.Spoilt), breaks, took, pred, r.Note)
		}
		t.write(c.Out)
	}
	fmt.Fprintln(c.Out, "\nHistory:")
	t := table{indent: "  ", align: "lll"}
	for _, h := range history {
		t.row(h.At.In(d.loc).Format("2006-01-02 15:04"), h.By, h.What)
	}
	t.write(c.Out)
	return nil
}

// when is a time by the shop's clocks: Tue 3 Mar, 09:40.
func (d *desk) when(t time.Time) string { return d.w.Zone.Near(t, d.Now()).Text(d.writer) }
