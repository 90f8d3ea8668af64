package act

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/paper"
	"needlepace/picture"
	"needlepace/stitch"
	"needlepace/words"
)

// drawing is a design as it looks sewn.
func drawing(d *stitch.Design, trimAfter int, name string) picture.Picture {
	segs := picture.Sewn(d, trimAfter)
	layers := 0
	if len(segs) > 0 {
		layers = int(segs[len(segs)-1].Layer) + 1
	}
	colours, _ := picture.ThreadColours(d, layers)
	return &picture.SewOut{Name: name, Segs: segs, Colours: colours, Width: 420, Height: 320}
}

// QuotePaper is a quote as it goes to the customer: no cost of the shop's is
// on it. logo is a PNG or JPEG; nil: the shop's own, if it has one.
func (s *Shop) QuotePaper(ctx context.Context, q *book.Quote, logo []byte) (*paper.Quote, error) {
	logo, err := s.logoOr(ctx, logo)
	if err != nil {
		return nil, err
	}
	d := func(day words.Day) time.Time {
		if day.IsZero() {
			return time.Time{} // not said
		}
		return words.Zone{}.At(day, 0)
	}
	out := &paper.Quote{
		Shop: paper.Shop{Name: q.ShopName, Lines: q.Address, Logo: logo}, Number: q.Serial, Made: d(q.Day), Valid: d(q.Valid),
		Customer: []string{q.Customer}, Currency: q.Currency, Subtotal: q.Net, Total: q.Gross,
		Earliest: d(q.Earliest), Promise: d(q.Promise), Chance: q.Chance, Notes: q.Terms,
	}
	if q.Promise == q.Due && q.OnTime > q.Chance {
		out.Chance = math.Floor(100*min(q.OnTime, .99)) / 100 // nothing is certain
	}
	if !q.Tax.IsZero() {
		out.Taxes = []paper.QuoteTax{{Label: "tax " + q.TaxRate + " %", Amount: q.Tax}}
	}
	var titles []string
	for i := range q.Lines {
		l := &q.Lines[i]
		what := "Embroidery"
		if l.Placement != "" {
			what += ", " + l.Placement
		}
		detail := fmt.Sprintf("%s, %.0f × %.0f mm, %s stitches in %d colours", l.Design, l.WidthMM, l.HeightMM, words.Whole(l.Stitches).Text(nil), len(l.Colours))
		out.Lines = append(out.Lines, paper.QuoteLine{Text: what, Detail: detail, Quantity: l.Quantity, Unit: l.Price, Amount: l.Sum})
		goods := l.Garment
		if goods == "" {
			titles = append(titles, words.Count(l.Quantity, "piece").Text(nil))
			continue
		}
		titles = append(titles, words.Whole(l.Quantity).Text(nil)+" × "+goods)
	}
	for _, f := range q.Fees {
		out.Lines = append(out.Lines, paper.QuoteLine{Text: strings.ToUpper(f.Name[:1]) + f.Name[1:], Detail: "once", Amount: f.Amount})
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
				out.Steps = append(out.Steps, paper.QuoteStep{Quantity: st.Quantity, PerPiece: st.Price, Total: st.Price.Mul(decimal.NewFromInt(int64(st.Quantity)))})
			}
		}
	}
	design, err := s.Designs.Stitches(ctx, one.DesignID)
	if err != nil {
		return nil, err
	}
	out.Drawing = drawing(book.Coloured(design, one.Blocks, one.BlockRGB), 3, one.Design)
	return out, nil
}

// logoOr is a logo given, else the shop's own.
func (s *Shop) logoOr(ctx context.Context, logo []byte) ([]byte, error) {
	if logo != nil {
		return logo, nil
	}
	return s.Settings.Logo(ctx)
}

// RunSheetPaper is a run sheet as it goes to the floor. logo is as for
// QuotePaper.
func (s *Shop) RunSheetPaper(ctx context.Context, r *book.RunSheet, logo []byte) (*paper.RunSheet, error) {
	logo, err := s.logoOr(ctx, logo)
	if err != nil {
		return nil, err
	}
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	loc := w.Location()
	out := &paper.RunSheet{
		Shop: paper.Shop{Name: r.ShopName, Lines: w.Address, Logo: logo}, Number: r.Name, Made: s.now().In(loc),
		Title: r.Customer + ": " + r.Design, Machine: r.Machine, Pieces: r.Quantity, Runs: r.Runs, Heads: r.Heads, LotSeconds: r.Total,
		RunSeconds: r.RunSeconds, Low: r.Low, High: r.High, Level: clock.DefaultLevel, SetSpeed: float64(r.Speed), RatedSpeed: float64(r.Rated), SpeedNote: r.SpeedWhy,
		Drawing:  drawing(r.Stitched, 3, r.Design),
		Strip:    &picture.Strips{Rows: []picture.StripRow{{Parts: picture.PartsOf(r.Parts), Low: r.Low, High: r.High}}},
		Cautions: r.Cautions, Link: r.Page,
	}
	at := func(t time.Time) string { return t.In(loc).Format("Mon 2 January, 15:04") }
	out.Facts = [][2]string{
		{"order", r.Name + ", " + r.Customer}, {"design", r.File}, {"size", fmt.Sprintf("%.0f × %.0f mm, %s stitches", r.WidthMM, r.HeightMM, words.Whole(r.Stitches).Text(nil))},
		{"garment", r.Garment}, {"place", r.Placement}, {"frame", r.Frame},
	}
	if !r.Planned.IsZero() {
		out.Facts = append(out.Facts, [2]string{"planned", at(r.Planned) + " to " + at(r.Done)})
	}
	out.Facts = append(out.Facts, [2]string{"due", r.Due.String()}, [2]string{"note", r.Note})
	for _, b := range r.Blocks {
		if b.Colour == "" {
			out.Facts = append(out.Facts, [2]string{"drawing", "where no colour is known, one of ours stands in"})
			break
		}
	}
	layers := len(r.Blocks)
	colours, _ := picture.ThreadColours(r.Stitched, layers)
	for i, b := range r.Blocks {
		c := paper.RunColour{Needle: b.Needle, Thread: b.Thread, Change: b.Cone, Stitches: b.Stitches, Seconds: b.Seconds, From: b.Starts}
		if i < len(colours) {
			c.Colour = colours[i]
		}
		out.Colours = append(out.Colours, c)
	}
	for i, m := range ask.RunSheetChanges(r) {
		out.Changes = append(out.Changes, m.Text(nil))
		if i == 0 {
			out.Changes = append(out.Changes, ask.RunSheetCones(r).Text(nil))
		}
	}
	return out, nil
}
