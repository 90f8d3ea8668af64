package pages

import (
	"cmp"
	"unicode"
	"unicode/utf8"

	"needlepace/ask"
	"needlepace/words"
)

// writer is how this reader wants figures and sentences.
func (c *call) writer() *words.Writer {
	d, _, err := c.When()
	if err != nil {
		if c.Context().Err() == nil && c.Ctx.Err() == nil { // else nobody reads it any more
			c.Log.ErrorContext(c.Context(), "the shop's settings cannot be read", "err", err)
		}
		return &words.Writer{Language: cmp.Or(c.Spoken, c.Language)}
	}
	return d.W
}

// tableOf lays a table of an answer out for a page. id names it there; empty:
// the table's own key.
func tableOf(t *ask.Table, id string, w *words.Writer) *table {
	out := &table{ID: id, Caption: t.Caption.Text(w), Full: len(t.Columns) > 5}
	if id == "" {
		out.ID = t.Key
	}
	for _, c := range t.Columns {
		out.Cols = append(out.Cols, col{Name: capital(c.Heading.Text(w)), CSV: c.Key, Num: c.Number, File: c.File})
	}
	long := false
	cells := func(row []words.Value) []cell {
		cells := make([]cell, len(row))
		for i, v := range row {
			if v != nil {
				cells[i] = figure(v.Text(w), v.Raw())
				long = long || i > 0 && !t.Columns[i].File && utf8.RuneCountInString(cells[i].Text) > longCell
			}
		}
		return cells
	}
	for _, row := range t.Rows {
		out.Rows = append(out.Rows, cells(row))
	}
	if t.Foot != nil {
		out.Foot = append(cells(t.Foot), make([]cell, len(t.Columns)-len(t.Foot))...)
	}
	if long && len(t.Columns) > 2 {
		out.cards()
	}
	return out
}

// longCell is how many letters of a cell make it a sentence, which beside other columns has
// a word a line on a phone.
const longCell = 40

// addTables lays an answer's tables out; nil ones are left out.
func (p *page) addTables(w *words.Writer, all ...*ask.Table) {
	for _, t := range all {
		if t != nil {
			p.addTable(tableOf(t, "", w))
		}
	}
}

// addTable puts a table on the page.
func (p *page) addTable(t *table) {
	if p.Tables == nil {
		p.Tables = map[string]*table{}
	}
	p.Tables[t.ID] = t
}

// capital is a text with a capital letter in front.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}
