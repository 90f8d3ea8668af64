package ask

import (
	"fmt"
	"strings"

	"needlepace/book"
	"needlepace/words"
)

// OrderTableAnswer is what came of a table of orders. Its JSON is a written
// contract: later versions add keys and never change one.
type OrderTableAnswer struct {
	Columns []OrderColumn `json:"columns"`
	Unused  []string      `json:"unused" doc:"headings that are nothing of an order"`
	Days    string        `json:"days" doc:"how days with strokes are written: dmy or mdy; empty: none are"`
	// DaysTold: nobody said Days, the table's other days tell it.
	DaysTold bool            `json:"-"`
	Orders   []OrderOfTable  `json:"orders" doc:"in the table's order"`
	Bad      []book.BadCell  `json:"bad"`
	Left     []book.BadCell  `json:"left" doc:"what is not read and is nothing wrong: titles, totals, columns without a heading"`
	Sheet    string          `json:"sheet" doc:"of a workbook, the one that was read; empty: it has no name"`
	Sheets   []string        `json:"sheets" doc:"the others of the workbook, which were not"`
	Hidden   []int           `json:"hidden,omitempty" doc:"rows that the sheet does not show, and which are read, from 1"`
	Letters  string          `json:"letters" doc:"those that a text was taken to have, as it is not Unicode; empty: nothing was guessed"`
	Foreign  []string        `json:"foreign,omitempty" doc:"a few words as they were read by those letters"`
	Rows     int             `json:"rows"`
	Notes    []string        `json:"notes" doc:"what a planner should know of the new orders"`
	Kept     bool            `json:"kept" doc:"the orders that can be taken in were"`
	Verdict  words.Sentences `json:"verdict"`
	Caveats  words.Sentences `json:"caveats"`
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
	case bad == 0 && len(a.Bad) > 0:
		a.Verdict.Say("ordertable.totals", words.Args{"cells": words.Count(len(a.Bad), "cell"), "fresh": orders})
	case bad > 0 && fresh == 0:
		a.Verdict.Say("ordertable.bad-alone", words.Args{"cells": words.Count(len(a.Bad), "cell"), "orders": words.Count(bad, "order")})
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
	switch {
	case a.DaysTold && a.Days == book.DayFirst:
		a.Caveats.Say("ordertable.day-first")
	case a.DaysTold && a.Days == book.MonthFirst:
		a.Caveats.Say("ordertable.month-first")
	}
	if len(a.Unused) > 0 {
		a.Caveats.Say("ordertable.unused", words.Args{"columns": namesOf(a.Unused)})
	}
	if len(a.Sheets) > 0 {
		a.Caveats.Say("ordertable.sheets", words.Args{"sheet": words.Name(a.Sheet), "others": namesOf(a.Sheets)})
	}
	if len(a.Hidden) > 0 {
		var rows words.List
		for _, n := range a.Hidden {
			rows = append(rows, words.Whole(n))
		}
		a.Caveats.Say("ordertable.hidden", words.Args{"rows": rows})
	}
	if a.Letters != "" {
		a.Caveats.Say("ordertable.letters", words.Args{"letters": words.Name(a.Letters), "words": namesOf(a.Foreign)})
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

// OrderFields is a mapping of columns with the fields' keys, where it has them as they are shown, in any language.
func OrderFields(said book.TableColumns) (book.TableColumns, error) {
	out := book.TableColumns{}
	for name, heading := range said {
		key, shown := "", []string{}
		for _, f := range book.TableFields {
			is := strings.EqualFold(strings.ReplaceAll(name, " ", "_"), f.Key)
			for _, l := range words.Languages() {
				is = is || sameWords(name, OrderField(f.Key).Text(&words.Writer{Language: l}))
			}
			if shown = append(shown, OrderField(f.Key).Text(nil)); is {
				key = f.Key
			}
		}
		if key == "" {
			return nil, fmt.Errorf("an order has no %q; columns can be %s", name, strings.Join(shown, ", "))
		}
		if _, twice := out[key]; twice {
			return nil, fmt.Errorf("two columns are said to be the %s", OrderField(key).Text(nil))
		}
		out[key] = heading
	}
	return out, nil
}

// sameWords reports whether texts are the same, whatever their case and kind of apostrophe.
func sameWords(a, b string) bool {
	plain := strings.NewReplacer("’", "'", "_", " ")
	return strings.EqualFold(plain.Replace(strings.TrimSpace(a)), plain.Replace(b))
}

// LeftTable is what is not read and is nothing wrong.
func (a *OrderTableAnswer) LeftTable() *Table {
	t := table("left", words.Say("ordertable.not-read"), number("row", "ordertable.row"), column("column", "ordertable.heading"),
		column("value", "ordertable.value"), column("why", "ordertable.why"))
	for _, b := range a.Left {
		t.add(words.Whole(b.Row), words.Name(b.Column), words.Name(b.Value), words.Name(b.Why))
	}
	return t
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
