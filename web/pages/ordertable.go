package pages

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/cells"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// orderTableData is a table of orders before and after it is taken in.
type orderTableData struct {
	A       *ask.OrderTableAnswer // nil: none is given yet
	Text    string                // the table, as it goes on to the next look
	Columns []columnChoice
	Dates   string
	Wrong   string
	Taken   words.Sentences // what came of a table that was taken in
}

// columnChoice is which heading a field of an order has.
type columnChoice struct {
	Field, Label, Value string
	Needed              bool
	Options             []option
}

// showOrderTable asks for a table, or says what was taken in of one.
func showOrderTable(c *call) error {
	data := &orderTableData{}
	if n, err := strconv.Atoi(c.asks("taken")); err == nil {
		data.Taken = words.Sentences{words.Say("ordertable.taken", words.Args{"orders": words.Count(n, "order")})}
		if n, err := strconv.Atoi(c.asks("left")); err == nil && n > 0 {
			data.Taken.Say("ordertable.left", words.Args{"orders": words.Count(n, "order")})
		}
		if n, err := strconv.Atoi(c.asks("already")); err == nil && n > 0 {
			data.Taken.Say("ordertable.already", words.Args{"orders": words.Count(n, "order")})
		}
	}
	return c.orderTablePage(data)
}

func (c *call) orderTablePage(data *orderTableData) error {
	w := c.writer()
	p := &page{Title: words.Say("ordertable.title").Text(w), Nav: "orders", Data: data}
	if data.A != nil {
		bad, all := data.A.BadTable(), data.A.OrderTable()
		p.addTables(w, bad, all)
		linkOrders(p.Tables["orders"], 1)
		p.Tables["orders"].cards()
	}
	return c.show("order_table.html", p)
}

// orderTableForm looks at a table that is given, or takes its orders in.
func orderTableForm(c *call) error {
	q := act.TableQuestion{Name: "table.csv", Try: true, Columns: book.TableColumns{}}
	data := &orderTableData{}
	parts, err := c.MultipartReader()
	if err != nil {
		return serve.BadRequest("the form cannot be read: %v", err)
	}
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			return serve.BadRequest("the form cannot be read: %v", err)
		}
		b, err := io.ReadAll(io.LimitReader(part, cells.MaxBytes+1))
		if err != nil {
			return err
		}
		field, chosen := strings.CutPrefix(part.FormName(), "column.")
		switch name := part.FormName(); {
		case chosen:
			q.Columns[field] = string(b)
		case name == "file" && part.FileName() != "" && len(b) > 0:
			q.Name, q.Data = shop.CleanFile(part.FileName()), b
		case name == "text" && len(q.Data) == 0:
			q.Data = b
		case name == "dates":
			q.Days = string(b)
		case name == "good_only":
			q.GoodOnly = true
		case name == "keep":
			q.Try = false
		}
	}
	if len(strings.TrimSpace(string(q.Data))) == 0 {
		data.Wrong = "choose a table, or paste one"
		return c.orderTablePage(data)
	}
	rows, err := cells.Read(q.Name, q.Data)
	if err != nil {
		data.Wrong = err.Error()
		return c.orderTablePage(data)
	}
	data.Text, data.Dates = tabbed(rows), q.Days
	head, _ := book.Headings(rows)
	q.Name, q.Data = "table.tsv", []byte(data.Text)
	data.A, err = c.Shop.TakeTable(c.Ctx, q, c.By())
	switch code := shop.CodeOf(err); {
	case err == nil && data.A.Kept:
		fresh, already, left := data.A.Count()
		return c.see(fmt.Sprintf("/orders/table?taken=%d&already=%d&left=%d", fresh, already, left))
	case err == nil:
		for _, x := range data.A.Columns {
			data.choice(c, x.Field, x.Heading, x.Needed, head)
		}
	case code == shop.Invalid || code == shop.Conflict:
		data.Wrong, data.A = err.Error(), nil
		columns, err := book.Columns(head, q.Columns, nil)
		if err != nil { // what is said stays said
			columns = q.Columns
		}
		for _, f := range book.TableFields {
			data.choice(c, f.Key, columns[f.Key], f.Needed, head)
		}
	default:
		return err
	}
	return c.orderTablePage(data)
}

func (d *orderTableData) choice(c *call, field, heading string, needed bool, head []string) {
	options := []option{{"", "no column"}}
	for _, h := range head {
		if h != "" {
			options = append(options, option{h, h})
		}
	}
	if heading != "" && !slices.Contains(head, heading) { // sizes with a column each
		options = append(options, option{heading, heading})
	}
	d.Columns = append(d.Columns, columnChoice{field, ask.OrderField(field).Text(c.writer()), heading, needed, options})
}

// tabbed is a table as text with tabs between.
func tabbed(rows [][]string) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	w.Comma = '\t'
	for _, r := range rows {
		if len(r) < 2 { // so that a table of one column, and an empty row, stays a row
			r = append(append([]string{}, r...), make([]string, 2-len(r))...)
		}
		if err := w.Write(r); err != nil { // into memory
			break
		}
	}
	w.Flush()
	return b.String()
}
