package paper

import (
	"context"
	"slices"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/picture"
	"needlepace/stitch"
	"needlepace/words"
)

// From is where papers find what is not in the answer that they lay out.
type From interface {
	// Stitches is a design itself.
	Stitches(ctx context.Context, id string) (*stitch.Design, error)
	// Logo is the shop's picture, a PNG; nil where it has none.
	Logo(ctx context.Context) ([]byte, error)
	// Workshop says when and how the shop works, and where it is.
	Workshop(ctx context.Context) (w *book.Workshop, given bool, err error)
}

// QuoteOf is a quote as it goes to the customer, in words as by writes them: no
// cost of the shop's is on it. logo is a PNG or JPEG; nil: the shop's own, if it
// has one.
func QuoteOf(ctx context.Context, from From, q *book.Quote, logo []byte, by *words.Writer) (*Quote, error) {
	logo, err := logoOr(ctx, from, logo)
	if err != nil {
		return nil, err
	}
	out := &Quote{
		Shop: Shop{Name: q.ShopName, Lines: q.Address, Logo: logo}, Number: q.Serial, W: by,
		Made: q.Day, Valid: q.Valid, Customer: append([]string{q.Customer}, q.CustomerAddress...), Theirs: q.PurchaseOrder,
		Sum: ask.QuoteTotal(q), Taxed: !q.Tax.IsZero(),
		Currency: q.Currency, Places: q.Places(), Subtotal: q.Net, Total: q.Gross, Notes: q.Terms,
		Example: q.Placeholder,
	}
	if !q.Promise.IsZero() || !q.TooLate.IsZero() {
		out.Days = ask.QuoteDay(q)
	}
	if !q.Tax.IsZero() {
		label := words.Say("quote.tax", words.Args{"percent": words.Name(q.TaxRate)}).Text(by)
		out.Taxes = []QuoteTax{{Label: label, Amount: q.Tax}}
	}
	var titles words.List
	for i := range q.Lines {
		l := &q.Lines[i]
		what, detail := ask.QuoteWork(l)
		if len(q.Lines) > titledLines && l.Garment != "" { // the title does not name it
			what = words.Say("quote.garment-work", words.Args{"garment": words.Name(l.Garment), "work": what})
		}
		out.Lines = append(out.Lines,
			QuoteLine{Text: what.Text(by), Detail: detail.Text(by), Quantity: l.Quantity, Unit: l.Price, Amount: l.Sum})
		titles = append(titles, ask.QuoteGoods(l))
	}
	for _, f := range q.Fees {
		out.Lines = append(out.Lines, QuoteLine{Text: ask.QuoteFee(q, f).Text(by), Amount: f.Amount})
	}
	for _, x := range ask.QuoteExtras(q) {
		out.Lines = append(out.Lines, QuoteLine{Text: x.What.Text(by), Amount: x.Amount})
	}
	if q.Deposit.IsPositive() {
		out.Deposit = &QuoteTax{Label: ask.QuoteDeposit(q).Text(by), Amount: q.Deposit}
	}
	out.Title = titles.Text(by)
	if len(q.Lines) > titledLines {
		pieces := 0
		for i := range q.Lines {
			pieces += q.Lines[i].Quantity
		}
		out.Title = words.Say("quote.lines", words.Args{"lines": words.Count(len(q.Lines), "line"),
			"pieces": words.Count(pieces, "piece")}).Text(by)
	}
	if !q.Due.IsZero() {
		out.Facts = append(out.Facts,
			[2]string{words.Say("quote.wanted").Text(by), words.FullDay{Day: q.Due}.Text(by)})
	}
	if len(q.Lines) == 0 {
		return out, nil
	}
	one := &q.Lines[0]
	if len(q.Lines) == 1 && len(one.Steps) > 1 { // steps of several designs would want a table each
		out.Steps = ask.QuoteSteps(q, one, false)
	}
	if slices.ContainsFunc(q.Lines, func(l book.QuoteLine) bool { return l.DesignID != one.DesignID }) {
		return out, nil // one drawing would be taken for all of it
	}
	design, err := from.Stitches(ctx, one.DesignID)
	if err != nil {
		return nil, err
	}
	drawing := picture.SewOutOf(book.Coloured(design, one.Blocks, one.BlockRGB), 3, one.Design, drawingWidth)
	drawing.W = by
	out.Drawing = drawing
	return out, nil
}

// titledLines is how many lines a quote's title names one by one.
const titledLines = 3

// drawingWidth is how wide the drawing on a paper is laid out, px.
const drawingWidth = 420

// logoOr is a logo given, else the shop's own.
func logoOr(ctx context.Context, from From, logo []byte) ([]byte, error) {
	if logo != nil {
		return logo, nil
	}
	return from.Logo(ctx)
}

// QuoteSheets are a quote's prices, what it comes to and its days, for a workbook.
func QuoteSheets(q *book.Quote) []Sheet {
	return []Sheet{
		TableSheet("Quote "+q.Serial, ask.QuotePrices(q)), TableSheet("Together", ask.QuoteSum(q)),
		TableSheet("Days", ask.QuoteDays(q)),
	}
}
