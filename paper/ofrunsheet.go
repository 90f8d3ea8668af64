package paper

import (
	"context"
	"fmt"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/picture"
	"needlepace/words"
)

// RunSheetOf is a run sheet as it goes to the floor, made at the time now. logo
// is as for QuoteOf.
func RunSheetOf(ctx context.Context, from From, r *book.RunSheet, now time.Time, logo []byte) (*RunSheet, error) {
	logo, err := logoOr(ctx, from, logo)
	if err != nil {
		return nil, err
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	loc := w.Location()
	out := &RunSheet{
		Shop: Shop{Name: r.ShopName, Lines: w.Address, Logo: logo}, Number: r.Name, Made: now.In(loc),
		Title: r.Customer + ": " + r.Design, Machine: r.Machine,
		Pieces: r.Quantity, Runs: r.Runs, Heads: r.Heads, LotSeconds: r.Total,
		RunSeconds: r.RunSeconds, Low: r.Low, High: r.High, Level: clock.DefaultLevel,
		SetSpeed: float64(r.Speed), RatedSpeed: float64(r.Rated), SpeedNote: r.SpeedWhy.Text(nil),
		Drawing: picture.SewOutOf(r.Stitched, 3, r.Design, drawingWidth),
		Strip: &picture.Strips{Rows: []picture.StripRow{
			{Parts: picture.PartsOf(r.Parts), Low: r.Low, High: r.High},
		}},
		Link: r.Page,
	}
	for _, c := range r.Cautions {
		out.Cautions = append(out.Cautions, c.Text(nil))
	}
	at := func(t time.Time) string { return t.In(loc).Format("Mon 2 January, 15:04") }
	out.Facts = [][2]string{
		{"order", r.Name + ", " + r.Customer}, {"design", ask.DesignFile(r.File, r.Label).Text(nil)},
		{"size", fmt.Sprintf("%.0f × %.0f mm, %s",
			r.WidthMM, r.HeightMM, words.Count(r.Stitches, "stitch").Text(nil))},
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
		c := RunColour{Needle: b.Needle, Thread: b.Thread, Change: b.Cone.Text(nil),
			Stitches: b.Stitches, Seconds: b.Seconds, From: b.Starts}
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
