package pages

import (
	"cmp"
	"encoding/base64"
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
	Given   bool                  // a table is, and goes on to the next look
	Name    string                // of the file
	File    string                // what is in it, in base64
	Sheets  []option              // of a workbook of several, the one that is read first
	Letters []option              // of a text that is not Unicode, those that it was read by first
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
		bad, left, all := data.A.BadTable(), data.A.LeftTable(), data.A.OrderTable()
		p.addTables(w, bad, left, all)
		linkOrders(p.Tables["orders"], 1)
		p.Tables["orders"].cards()
	}
	return c.show("order_table.html", p)
}

// orderTableForm looks at a table that is given, or takes its orders in.
func orderTableForm(c *call) error {
	q := act.TableQuestion{Name: "table.csv", Try: true, Columns: book.TableColumns{}}
	data := &orderTableData{}
	looked := ""
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
		b, err := io.ReadAll(io.LimitReader(part, cells.MaxBytes/3*4+8))
		if err != nil {
			return err
		}
		field, chosen := strings.CutPrefix(part.FormName(), "column.")
		switch name := part.FormName(); {
		case chosen:
			q.Columns[field] = string(b)
		case name == "file" && part.FileName() != "" && len(b) > 0:
			q.Name, q.Data = shop.CleanFile(part.FileName()), b
		case name == "given" && len(b) > 0:
			if q.Data, err = base64.StdEncoding.DecodeString(string(b)); err != nil {
				return serve.BadRequest("the table cannot be read: %v", err)
			}
		case name == "name" && len(b) > 0:
			q.Name = shop.CleanFile(string(b))
		case name == "sheet":
			q.Sheet = string(b)
		case name == "letters":
			q.Letters = string(b)
		case name == "looked":
			looked = string(b)
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
	if looked != "" && looked != q.Sheet+"/"+q.Letters { // another sheet has other columns
		q.Columns = book.TableColumns{}
	}
	if len(strings.TrimSpace(string(q.Data))) == 0 {
		data.Wrong = "choose a table, or paste one"
		return c.orderTablePage(data)
	}
	sheet, read, err := act.OpenTable(q)
	if err != nil {
		data.Wrong = err.Error()
		return c.orderTablePage(data)
	}
	data.Given, data.Name, data.File, data.Dates = true, q.Name, base64.StdEncoding.EncodeToString(q.Data), q.Days
	if len(read.Sheets) > 0 {
		for _, s := range append([]string{read.Sheet}, read.Sheets...) {
			data.Sheets = append(data.Sheets, option{s, s})
		}
	}
	if read.Letters != "" || q.Letters != "" {
		now := cmp.Or(q.Letters, read.Letters)
		data.Letters = append(data.Letters, option{now, now})
		for _, l := range cells.Letters()[1:] {
			if l != now {
				data.Letters = append(data.Letters, option{l, l})
			}
		}
	}
	var head []string
	if h := book.HeadOf(sheet, q.Columns); h != nil {
		head = h.Names
	}
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
