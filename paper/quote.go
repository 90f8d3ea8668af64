package paper

import (
	"fmt"
	"io"
	"strconv"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/picture"
	"needlepace/words"
)

// Quote is what a customer is offered. All amounts are already reckoned.
type Quote struct {
	Shop     Shop
	Number   string
	Made     time.Time // date of the quote
	Valid    time.Time // until then; zero: not said
	Customer []string  // name and address, one line each
	Title    string    // what is offered, in a line
	Facts    [][2]string
	Drawing  picture.Picture // the design; nil: none
	Currency string          // ISO 4217
	Places   int             // decimals of its amounts, where they are more than the currency's
	Lines    []QuoteLine
	Steps    []QuoteStep
	Subtotal decimal.Decimal
	Taxes    []QuoteTax
	Total    decimal.Decimal
	Earliest time.Time // the earliest day the plan allows; zero: not said
	Promise  time.Time // the day that is promised; zero: not said
	Chance   float64   // that it is met, 0 to 1; 0: not said
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

// QuoteStep is the price at another quantity.
type QuoteStep struct {
	Quantity int
	PerPiece decimal.Decimal
	Total    decimal.Decimal
}

// QuoteTax is a tax on the subtotal.
type QuoteTax struct {
	Label  string
	Amount decimal.Decimal
}

const dayLayout = "2 January 2006"

func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(dayLayout)
}

func weekday(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("Monday, " + dayLayout)
}

// PDF writes the quote. The subtotal must be the sum of the lines and the
// total that of the subtotal and the taxes, each as rounded for print: a quote
// that does not add up is refused.
func (q *Quote) PDF(w io.Writer, size Size) error {
	if err := q.check(); err != nil {
		return err
	}
	p := newPage(size, "Quote "+q.Number, q.Shop.Name+"  ·  quote "+q.Number+", "+day(q.Made), q.Made, nil)
	if err := p.masthead(&q.Shop, "Quote", q.Number); err != nil {
		return err
	}
	top := p.y
	y := top
	for _, l := range q.Customer {
		p.text(margin, y+normal, p.fit(l, p.width()*0.5, normal, false), normal, false, black)
		y += normal * 1.4
	}
	right := margin + p.width()*0.62
	fy := p.facts(right, top, p.width()*0.38, [][2]string{{"date", day(q.Made)}, {"valid until", day(q.Valid)}})
	p.y = max(y, fy) + 18
	if q.Example {
		p.paragraph(margin, p.width(), words.Say("price.example-paper").Text(nil), head, true, black)
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
	y = top
	p.text(x, y+small, "total", small, false, quiet)
	p.text(x, y+small+large, q.money(q.Total, false), large, true, black)
	y += small + large + 16
	if !q.Promise.IsZero() {
		p.text(x, y+small, "promised for", small, false, quiet)
		p.text(x, y+small+head+1, p.fit(weekday(q.Promise), answerW, head, true), head, true, black)
		y += small + head + 10
		if q.Chance > 0 {
			p.text(x, y+small, p.fit(fmt.Sprintf("met with a chance of %s %% by our plan as it stands today",
				strconv.FormatFloat(q.Chance*100, 'f', -1, 64)), answerW, small, false), small, false, quiet)
			y += small * 1.5
		}
		if !q.Earliest.IsZero() {
			p.text(x, y+small, p.fit("earliest, if all goes well: "+weekday(q.Earliest), answerW, small, false), small,
				false, quiet)
			y += small * 1.5
		}
		y += 6
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
		return p.write(w)
	}
	p.need(56)
	p.y += 34
	p.f.SetDrawColor(black, black, black)
	p.f.SetLineWidth(0.5)
	p.f.Line(margin, p.y, margin+p.width()*0.3, p.y)
	p.f.Line(margin+p.width()*0.36, p.y, margin+p.width()*0.9, p.y)
	p.text(margin, p.y+small+2, "date", small, false, quiet)
	p.text(margin+p.width()*0.36, p.y+small+2, "accepted: name and signature", small, false, quiet)
	return p.write(w)
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
			quantity, unit = words.Whole(l.Quantity).Text(nil), q.money(l.Unit, true)
		}
		rows = append(rows, []string{text, quantity, unit, q.money(l.Amount, true)})
	}
	code := ""
	if q.Currency != "" {
		code = ", " + q.Currency
	}
	p.table(table{cols: []column{{head: "what", width: 0.52}, {head: "pieces", width: 0.12, right: true},
		{head: "each" + code, width: 0.17, right: true}, {head: "amount" + code, width: 0.19, right: true}}}, rows)
	sum := func(label string, d decimal.Decimal, bold bool) {
		p.need(normal * 1.5)
		p.right(margin+p.width()*0.81, p.y+normal, label, normal, bold, black)
		p.right(p.w-margin, p.y+normal, q.money(d, true), normal, bold, black)
		p.y += normal * 1.5
	}
	if len(q.Taxes) > 0 {
		sum("subtotal", q.Subtotal, false)
		for _, t := range q.Taxes {
			sum(t.Label, t.Amount, false)
		}
	}
	sum("total", q.Total, true)
}

func (q *Quote) steps(p *page) {
	if len(q.Steps) == 0 {
		return
	}
	p.heading("Other quantities")
	var rows [][]string
	for _, s := range q.Steps {
		rows = append(rows, []string{words.Whole(s.Quantity).Text(nil), q.money(s.PerPiece, true),
			q.money(s.Total, true)})
	}
	code := ""
	if q.Currency != "" {
		code = ", " + q.Currency
	}
	p.table(table{cols: []column{{head: "pieces", width: 0.12, right: true},
		{head: "each" + code, width: 0.2, right: true}, {head: "altogether" + code, width: 0.22, right: true}},
		wrap: -1}, rows)
}

// money is an amount; bare where a heading has the currency.
func (q *Quote) money(d decimal.Decimal, bare bool) string {
	return words.Money{Amount: d, Code: q.Currency, Bare: bare, Places: q.Places}.Text(nil)
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
