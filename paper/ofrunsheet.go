package paper

import (
	"context"
	"strings"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/picture"
	"needlepace/words"
)

// RunSheetOf is a run sheet as it goes to the floor, made at the time now, in
// words as by writes them. logo is as for QuoteOf.
func RunSheetOf(
	ctx context.Context, from From, r *book.RunSheet, now time.Time, logo []byte, by *words.Writer,
) (*RunSheet, error) {
	logo, err := logoOr(ctx, from, logo)
	if err != nil {
		return nil, err
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	drawing := picture.SewOutOf(r.Stitched, 3, r.Design, drawingWidth)
	drawing.W = by
	out := &RunSheet{
		Shop: Shop{Name: r.ShopName, Lines: w.Address, Logo: logo}, Number: r.Name, Made: w.Zone.In(now), W: by,
		Title: words.Say("runsheet.line",
			words.Args{"customer": words.Name(r.Customer), "design": words.Name(r.Design)}).Text(by),
		Machine: r.Machine,
		Pieces:  r.Quantity, Runs: r.Runs, Heads: r.Heads, LotSeconds: r.Total,
		RunSeconds: r.RunSeconds, Low: r.Low, High: r.High, Level: clock.DefaultLevel,
		SetSpeed: float64(r.Speed), RatedSpeed: float64(r.Rated), SpeedNote: r.SpeedWhy.Text(by),
		Drawing: drawing,
		Strip: &picture.Strips{W: by, Rows: []picture.StripRow{
			{Parts: picture.PartsOf(r.Parts), Low: r.Low, High: r.High},
		}},
		Link: r.Page, Reach: ask.RunSheetReach(r.Page).Text(by),
	}
	for _, c := range r.Cautions {
		out.Cautions = append(out.Cautions, c.Text(by))
	}
	for _, f := range ask.RunSheetFacts(r, w.Zone, now) {
		out.Facts = append(out.Facts, [2]string{f[0].Text(by), f[1].Text(by)})
	}
	layers := len(r.Blocks)
	colours, _ := picture.ThreadColours(r.Stitched, layers)
	for i, b := range r.Blocks {
		c := RunColour{Needle: b.Needle, Thread: b.Thread, Change: b.Cone.Text(by),
			Stitches: b.Stitches, Seconds: b.Seconds, From: b.Starts}
		if i < len(colours) {
			c.Colour = colours[i]
		}
		out.Colours = append(out.Colours, c)
	}
	for _, n := range r.Names {
		out.Names = append(out.Names, RunName{Name: n.Name, Garment: strings.TrimSpace(n.Colour + " " + n.Size), File: n.File, Run: n.Run,
			Head: n.Head, Seconds: n.Seconds})
	}
	for i, m := range ask.RunSheetChanges(r) {
		out.Changes = append(out.Changes, m.Text(by))
		if i == 0 {
			out.Changes = append(out.Changes, ask.RunSheetCones(r).Text(by))
		}
	}
	return out, nil
}
