package paper

import (
	"io"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/picture"
	"needlepace/words"
)

// Quote is what a customer is offered. All amounts are already reckoned.
type Quote struct {
	Shop     Shop
	Number   string
	W        *words.Writer // how the customer is to read figures and sentences
	Made     words.Day     // date of the quote
	Valid    words.Day     // until then; zero: not said
	Customer []string      // name and address, one line each
	Theirs   string        // the customer's own number for the order; "": not said
	Title    string        // what is offered, in a line
	Facts    [][2]string
	Drawing  picture.Picture // the design; nil: none
	Currency string          // ISO 4217
	Places   int             // decimals of its amounts, where they are more than the currency's
	Lines    []QuoteLine
	Steps    *ask.Table // the price by quantity; nil: not said
	Subtotal decimal.Decimal
	Taxes    []QuoteTax
	Total    decimal.Decimal
	Sum      words.Message   // what Total is
	Taxed    bool            // the prices are without a tax that is added
	Deposit  *QuoteTax       // paid before work begins; nil: none
	Days     words.Sentences // when it can be had, the promise first; none: not said
	Notes    []string
	Example  bool // the prices are an example's: it is marked so and cannot be signed
}

// QuoteLine is one line of the quote.
type QuoteLine struct {
	Text, Detail string
	Quantity     int // 0: a lump sum
	Unit         decimal.Decimal
	Amount       decimal.Decimal
}

// QuoteTax is a tax on the subtotal.
type QuoteTax struct {
	Label  string
	Amount decimal.Decimal
}

// PDF writes the quote. The subtotal must be the sum of the lines and the
// total that of the subtotal and the taxes, each as rounded for print: a quote
// that does not add up is refused.
func (q *Quote) PDF(w io.Writer, size Size) error {
	if err := q.check(); err != nil {
		return err
	}
	p, err := inItsLetters(q.W, func(f *typeface) (*page, error) { return q.lay(f, size) })
	if err != nil {
		return err
	}
	return p.write(w)
}

func (q *Quote) lay(face *typeface, size Size) (*page, error) {
	title := words.Say("quote.title", words.Args{"serial": words.Name(q.Number)})
	foot := words.Say("quote.foot", words.Args{
		"shop": words.Name(q.Shop.Name), "serial": words.Name(q.Number), "day": q.Made,
	})
	p := newPageIn(face, size, q.text(title), q.Shop.foot(foot.Text(q.W)), words.Zone{}.At(q.Made, 0), q.W)
	if err := p.masthead(&q.Shop, q.text(words.Say("quote.kind")), q.Number); err != nil {
		return nil, err
	}
	top := p.y
	right := margin + p.width()*0.62
	fy := p.facts(right, top, p.width()*0.38, [][2]string{
		{q.text(words.Say("quote.date")), q.Made.Text(q.W)}, {q.text(words.Say("quote.valid-to")), q.valid()},
		{q.text(words.Say("quote.their-order")), q.Theirs},
	})
	for _, l := range q.Customer { // wrapped, for a name is never cut
		p.paragraph(margin, p.width()*0.5, l, normal, false, black)
	}
	p.y = max(p.y, fy) + 18
	if q.Example {
		p.paragraph(margin, p.width(), q.text(words.Say("price.example-paper")), head, true, black)
		p.y += 4
	}
	p.paragraph(margin, p.width(), q.Title, head, true, black)
	p.y += 8

	// The answer: what it costs and when it is there; beside it the drawing.
	top = p.y
	x, answerW := margin, p.width()
	bottom := top
	if q.Drawing != nil {
		_, h := p.picture(q.Drawing, margin, top, p.width()*0.42, 170)
		bottom = top + h
		x, answerW = margin+p.width()*0.46, p.width()*0.54
	}
	y := top
	p.text(x, y+small, q.text(q.Sum), small, false, quiet)
	p.text(x, y+small+large, q.money(q.Total, false), large, true, black)
	y += small + large + 16
	if q.Deposit != nil {
		p.text(x, y-4, q.Deposit.Label+": "+q.money(q.Deposit.Amount, false), small, false, black)
		y += small + 4
	}
	for i, m := range q.Days {
		tall, bold, grey := head-2, true, black
		if i > 0 {
			tall, bold, grey = small, false, quiet
		}
		for _, l := range p.wrap(m.Text(q.W), answerW, tall, bold) {
			p.text(x, y+tall, l, tall, bold, grey)
			y += tall * 1.3
		}
		y += 3
	}
	y = p.facts(x, y, answerW, q.Facts)
	p.y = max(bottom, y) + 12

	q.lines(p)
	q.steps(p)
	for i, n := range q.Notes {
		if i == 0 {
			p.y += 6
		}
		p.paragraph(margin, p.width(), n, small+0.5, false, black)
		p.y += 3
	}
	if q.Example {
		return p, nil
	}
	p.need(56)
	p.y += 34
	p.f.SetDrawColor(black, black, black)
	p.f.SetLineWidth(0.5)
	p.f.Line(margin, p.y, margin+p.width()*0.3, p.y)
	p.f.Line(margin+p.width()*0.36, p.y, margin+p.width()*0.9, p.y)
	p.text(margin, p.y+small+2, q.text(words.Say("quote.date")), small, false, quiet)
	p.text(margin+p.width()*0.36, p.y+small+2, q.text(words.Say("quote.accepted")), small, false, quiet)
	return p, nil
}

func (q *Quote) lines(p *page) {
	rows := make([][]string, 0, len(q.Lines))
	for _, l := range q.Lines {
		text := l.Text
		if l.Detail != "" {
			text += "\n" + l.Detail
		}
		quantity, unit := "", ""
		if l.Quantity > 0 {
			quantity, unit = words.Whole(l.Quantity).Text(q.W), q.money(l.Unit, true)
		}
		rows = append(rows, []string{text, quantity, unit, q.money(l.Amount, true)})
	}
	code := words.Name(q.Currency)
	say := words.Say("quote.untaxed-prices", words.Args{"currency": code})
	if q.Taxed {
		say = words.Say("quote.net-prices", words.Args{"currency": code})
	}
	p.paragraph(margin, p.width(), q.text(say), small, false, quiet)
	p.y += 4
	p.table(table{cols: []column{{head: q.text(words.Say("column.what")), width: 0.58},
		{head: q.text(words.Say("column.pieces")), width: 0.10, right: true},
		{head: q.text(words.Say("quote.each", words.Args{"currency": code})), width: 0.15, right: true},
		{head: q.text(words.Say("quote.amount", words.Args{"currency": code})), width: 0.17, right: true}}}, rows)
	sum := func(label string, d decimal.Decimal, bold bool) {
		p.need(normal * 1.5)
		p.right(margin+p.width()*0.83, p.y+normal, label, normal, bold, black)
		p.right(p.w-margin, p.y+normal, q.money(d, true), normal, bold, black)
		p.y += normal * 1.5
	}
	p.need(float64(len(q.Taxes)+3) * normal * 1.5) // the sums stand together
	if len(q.Taxes) > 0 {
		sum(q.text(words.Say("quote.net")), q.Subtotal, false)
		for _, t := range q.Taxes {
			sum(t.Label, t.Amount, false)
		}
	}
	sum(q.text(q.Sum), q.Total, true)
	if q.Deposit != nil {
		sum(q.Deposit.Label, q.Deposit.Amount, false)
	}
}

// steps sets the price by quantity as its table has it.
func (q *Quote) steps(p *page) {
	if q.Steps == nil {
		return
	}
	p.heading(q.Steps.Caption.Text(q.W))
	t := table{wrap: -1}
	wide := min(0.18, 0.74/float64(len(q.Steps.Columns)-1))
	for _, c := range q.Steps.Columns {
		t.cols = append(t.cols, column{head: c.Heading.Text(q.W), width: wide, right: c.Number})
	}
	t.cols[len(t.cols)-1].width = 1 - wide*float64(len(t.cols)-1)
	var rows [][]string
	for _, row := range q.Steps.Rows {
		cells := make([]string, len(t.cols))
		for i, v := range row {
			if v != nil {
				cells[i] = v.Text(q.W)
			}
		}
		rows = append(rows, cells)
	}
	t.cols[len(t.cols)-1].left = 12 // the note stands clear of the figure before it
	p.table(t, rows)
}

// text is a text of the quote.
func (q *Quote) text(m words.Message) string { return m.Text(q.W) }

func (q *Quote) valid() string {
	if q.Valid.IsZero() {
		return ""
	}
	return q.Valid.Text(q.W)
}

// money is an amount; bare where a heading has the currency.
func (q *Quote) money(d decimal.Decimal, bare bool) string {
	return words.Money{Amount: d, Code: q.Currency, Bare: bare, Places: q.Places, Sign: true}.Text(q.W)
}

func (q *Quote) check() error {
	if len(q.Lines) == 0 {
		return ask.Errorf("the quote has no lines; price the order first")
	}
	round := func(d decimal.Decimal) decimal.Decimal {
		return d.Round(int32(words.Money{Code: q.Currency, Places: q.Places}.Decimals()))
	}
	no := func(what string, sum decimal.Decimal, total string, is decimal.Decimal) error {
		return ask.Errorf("quote %s does not add up: its %s come to %s, its %s is %s. It is not printed: "+
			"make a new quote of the order, and print that", q.Number, what, q.money(sum, false), total,
			q.money(is, false))
	}
	sum := decimal.Zero
	for _, l := range q.Lines {
		sum = sum.Add(round(l.Amount))
	}
	if !sum.Equal(round(q.Subtotal)) {
		return no("lines", sum, "subtotal", q.Subtotal)
	}
	for _, t := range q.Taxes {
		sum = sum.Add(round(t.Amount))
	}
	if !sum.Equal(round(q.Total)) {
		return no("subtotal and taxes", sum, "total", q.Total)
	}
	return nil
}
