package paper

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/shopspring/decimal"

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

// QuoteOf is a quote as it goes to the customer: no cost of the shop's is on
// it. logo is a PNG or JPEG; nil: the shop's own, if it has one.
func QuoteOf(ctx context.Context, from From, q *book.Quote, logo []byte) (*Quote, error) {
	logo, err := logoOr(ctx, from, logo)
	if err != nil {
		return nil, err
	}
	d := func(day words.Day) time.Time {
		if day.IsZero() {
			return time.Time{} // not said
		}
		return words.Zone{}.At(day, 0)
	}
	out := &Quote{
		Shop: Shop{Name: q.ShopName, Lines: q.Address, Logo: logo}, Number: q.Serial,
		Made: d(q.Day), Valid: d(q.Valid), Customer: []string{q.Customer},
		Currency: q.Currency, Places: q.Places(), Subtotal: q.Net, Total: q.Gross,
		Earliest: d(q.Earliest), Promise: d(q.Promise), Chance: q.Chance, Notes: q.Terms,
		Example: q.Placeholder,
	}
	if q.Promise == q.Due && q.OnTime > q.Chance {
		out.Chance = math.Floor(100*min(q.OnTime, .99)) / 100 // nothing is certain
	}
	if !q.Tax.IsZero() {
		out.Taxes = []QuoteTax{{Label: "tax " + q.TaxRate + " %", Amount: q.Tax}}
	}
	var titles []string
	for i := range q.Lines {
		l := &q.Lines[i]
		what := "Embroidery"
		if l.Placement != "" {
			what += ", " + l.Placement
		}
		detail := fmt.Sprintf("%s, %.0f × %.0f mm, %s in %s", ask.QuoteDesign(l).Text(nil), l.WidthMM, l.HeightMM,
			words.Count(l.Stitches, "stitch").Text(nil), words.Count(len(l.Colours), "colour").Text(nil))
		out.Lines = append(out.Lines,
			QuoteLine{Text: what, Detail: detail, Quantity: l.Quantity, Unit: l.Price, Amount: l.Sum})
		goods := l.Garment
		if goods == "" {
			titles = append(titles, words.Count(l.Quantity, "piece").Text(nil))
			continue
		}
		titles = append(titles, words.Whole(l.Quantity).Text(nil)+" × "+goods)
	}
	for _, f := range q.Fees {
		out.Lines = append(out.Lines,
			QuoteLine{Text: strings.ToUpper(f.Name[:1]) + f.Name[1:], Detail: "once", Amount: f.Amount})
	}
	out.Title = strings.Join(titles, ", ")
	if !q.Due.IsZero() {
		out.Facts = append(out.Facts, [2]string{"wanted for", d(q.Due).Format("2 January 2006")})
	}
	if len(q.Lines) == 0 {
		return out, nil
	}
	one := &q.Lines[0]
	if len(q.Lines) == 1 { // steps of several designs would want a table each
		for _, st := range one.Steps {
			if st.Quantity != one.Quantity {
				total := st.Price.Mul(decimal.NewFromInt(int64(st.Quantity)))
				out.Steps = append(out.Steps, QuoteStep{Quantity: st.Quantity, PerPiece: st.Price, Total: total})
			}
		}
	}
	design, err := from.Stitches(ctx, one.DesignID)
	if err != nil {
		return nil, err
	}
	out.Drawing = picture.SewOutOf(book.Coloured(design, one.Blocks, one.BlockRGB), 3, one.Design, drawingWidth)
	return out, nil
}

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
