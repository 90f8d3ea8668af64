package ask

import (
	"fmt"

	"needlepace/book"
	"needlepace/words"
)

// OrderTableAnswer is what came of a table of orders. Its JSON is a written
// contract: later versions add keys and never change one.
type OrderTableAnswer struct {
	Columns []OrderColumn   `json:"columns"`
	Unused  []string        `json:"unused" doc:"headings that are nothing of an order"`
	Days    string          `json:"days" doc:"how days with strokes are written: dmy or mdy; empty: none are"`
	Orders  []OrderOfTable  `json:"orders" doc:"in the table's order"`
	Bad     []book.BadCell  `json:"bad"`
	Rows    int             `json:"rows"`
	Notes   []string        `json:"notes" doc:"what a planner should know of the new orders"`
	Kept    bool            `json:"kept" doc:"the orders that can be taken in were"`
	Verdict words.Sentences `json:"verdict"`
	Caveats words.Sentences `json:"caveats"`
}

// OrderColumn is what a column is.
type OrderColumn struct {
	Field   string `json:"field"`
	Heading string `json:"heading" doc:"empty: no column is it"`
	Needed  bool   `json:"needed"`
}

// OrderOfTable is one order of a table.
type OrderOfTable struct {
	Rows      []int     `json:"rows" doc:"of the file, from 1"`
	Customer  string    `json:"customer"`
	Reference string    `json:"reference"`
	Lines     int       `json:"lines"`
	Pieces    int       `json:"pieces"`
	Due       words.Day `json:"due"`
	Number    int       `json:"number" doc:"of the order that it is now; 0: it is none"`
	Already   bool      `json:"already" doc:"it was taken in before"`
	Bad       bool      `json:"bad"`
}

// Count is how many orders are new, here already, and cannot be taken in.
func (a *OrderTableAnswer) Count() (fresh, already, bad int) {
	for i := range a.Orders {
		switch o := &a.Orders[i]; {
		case o.Bad:
			bad++
		case o.Already:
			already++
		default:
			fresh++
		}
	}
	return fresh, already, bad
}

// Say puts the answer into sentences.
func (a *OrderTableAnswer) Say() {
	fresh, already, bad := a.Count()
	a.Verdict, a.Caveats = words.Sentences{}, words.Sentences{}
	orders := words.Count(fresh, "order")
	switch {
	case a.Kept && fresh == 1:
		a.Verdict.Say("ordertable.kept-one", words.Args{"order": words.Name(fmt.Sprint(a.first()))})
	case a.Kept && fresh > 0:
		a.Verdict.Say("ordertable.kept", words.Args{"orders": orders, "first": words.Name(fmt.Sprint(a.first())), "last": words.Name(fmt.Sprint(a.last()))})
	case a.Kept || fresh == 0 && bad == 0:
		a.Verdict.Say("ordertable.none-new")
	case bad > 0:
		a.Verdict.Say("ordertable.bad", words.Args{"cells": words.Count(len(a.Bad), "cell"), "orders": words.Count(bad, "order"),
			"fresh": orders})
	default:
		a.Verdict.Say("ordertable.ready", words.Args{"orders": orders})
	}
	if a.Kept && bad > 0 {
		a.Caveats.Say("ordertable.left", words.Args{"orders": words.Count(bad, "order")})
	}
	if already > 0 {
		a.Caveats.Say("ordertable.already", words.Args{"orders": words.Count(already, "order")})
	}
	if len(a.Unused) > 0 {
		var names words.List
		for _, h := range a.Unused {
			names = append(names, words.Name(h))
		}
		a.Caveats.Say("ordertable.unused", words.Args{"columns": names})
	}
}

func (a *OrderTableAnswer) first() int {
	for i := range a.Orders {
		if o := &a.Orders[i]; !o.Already && !o.Bad {
			return o.Number
		}
	}
	return 0
}

func (a *OrderTableAnswer) last() (n int) {
	for i := range a.Orders {
		if o := &a.Orders[i]; !o.Already && !o.Bad {
			n = o.Number
		}
	}
	return n
}

// ColumnTable is what each column is.
func (a *OrderTableAnswer) ColumnTable() *Table {
	t := table("columns", words.Say("ordertable.columns"), column("field", "ordertable.field"), column("heading", "ordertable.heading"))
	for _, c := range a.Columns {
		var h words.Value
		if c.Heading != "" {
			h = words.Name(c.Heading)
		}
		t.add(fieldNamed(c.Field), h)
	}
	return t
}

// fieldNamed is a field of an order's table as people call it.
func fieldNamed(key string) words.Value { return coded{OrderField(key), key} }

// OrderField is a field of an order's table in words.
func OrderField(key string) words.Message {
	switch key {
	case "customer":
		return words.Say("ordertable.customer")
	case "design":
		return words.Say("ordertable.design")
	case "quantity":
		return words.Say("ordertable.quantity")
	case "reference":
		return words.Say("ordertable.reference")
	case "due":
		return words.Say("ordertable.due")
	case "latest":
		return words.Say("ordertable.latest")
	case "goods":
		return words.Say("ordertable.goods")
	case "priority":
		return words.Say("ordertable.priority")
	case "customer_address":
		return words.Say("ordertable.customer-address")
	case "garment":
		return words.Say("ordertable.garment")
	case "size":
		return words.Say("ordertable.size")
	case "garment_colour":
		return words.Say("ordertable.garment-colour")
	case "placement":
		return words.Say("ordertable.placement")
	case "threads":
		return words.Say("ordertable.threads")
	case "speed":
		return words.Say("ordertable.speed")
	case "cap_frame":
		return words.Say("ordertable.cap-frame")
	case "digitize":
		return words.Say("ordertable.digitize")
	case "agreed":
		return words.Say("ordertable.agreed")
	}
	return words.Say("ordertable.note")
}

// BadTable is every cell that an order cannot be made of.
func (a *OrderTableAnswer) BadTable() *Table {
	t := table("bad", words.Say("ordertable.bad-cells"), number("row", "ordertable.row"), column("column", "ordertable.heading"),
		column("value", "ordertable.value"), column("why", "ordertable.why"))
	for _, b := range a.Bad {
		t.add(words.Whole(b.Row), words.Name(b.Column), words.Name(b.Value), words.Name(b.Why))
	}
	return t
}

// OrderTable is every order of the table, and what came of it.
func (a *OrderTableAnswer) OrderTable() *Table {
	t := table("orders", words.Say("ordertable.orders"), column("rows", "ordertable.rows"), column("order", "column.order"),
		column("customer", "column.customer"), column("reference", "ordertable.reference"), number("lines", "ordertable.lines"),
		number("pieces", "column.pieces"), column("due", "ordertable.due"), column("state", "ordertable.state"))
	for i := range a.Orders {
		o := &a.Orders[i]
		rows := fmt.Sprint(o.Rows[0])
		if n := len(o.Rows); n > 1 {
			rows += fmt.Sprintf("–%d", o.Rows[n-1])
		}
		var number, due words.Value
		if o.Number > 0 {
			number = words.Name(fmt.Sprint(o.Number))
		}
		if !o.Due.IsZero() {
			due = o.Due
		}
		state := words.Say("ordertable.is-ready")
		switch {
		case o.Bad:
			state = words.Say("ordertable.is-bad")
		case o.Already:
			state = words.Say("ordertable.is-already")
		case a.Kept:
			state = words.Say("ordertable.is-new")
		}
		t.add(words.Name(rows), number, words.Name(o.Customer), words.Name(o.Reference), words.Whole(o.Lines), words.Whole(o.Pieces),
			due, state)
	}
	return t
}
