package paper

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/stitchfile"
	"needlepace/words"
)

// The papers of the invented demo shop.

var made = time.Date(2026, 3, 3, 9, 30, 0, 0, time.UTC)

func money(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// logo is a small picture of our own.
func logo(t testing.TB) []byte {
	img := image.NewNRGBA(image.Rect(0, 0, 120, 80))
	for y := range 80 {
		for x := range 120 {
			if (x/10+y/10)%2 == 0 {
				img.Set(x, y, color.NRGBA{20, 60, 90, 255})
			} else {
				img.Set(x, y, color.NRGBA{255, 255, 255, 0})
			}
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

var shop = Shop{Name: demo.Shop, Lines: []string{"3 Net Loft Lane, Pellsand", "an invented shop"}}

type sewn struct {
	drawing, strip picture.Picture
	res            *clock.Result
	colours        []RunColour
	w, h           float64
}

func sew(t testing.TB, file, class string) sewn {
	t.Helper()
	data, err := demo.FS.ReadFile("designs/" + file)
	if err != nil {
		t.Fatal(err)
	}
	d, err := stitchfile.Decode(data, file)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range demo.Designs() {
		if x.File == file {
			d.Threads = x.Threads
		}
	}
	sheet, ok := machine.Class(class)
	if !ok {
		t.Fatal(class)
	}
	res := clock.Run(d, sheet, clock.Job{Speed: 850})
	cols, _ := picture.ThreadColours(d, len(res.Blocks))
	s := sewn{res: res}
	s.drawing = &picture.SewOut{Name: file, Segs: picture.Sewn(d, sheet.Reading.TrimAfterJumps), Colours: cols, Width: 420, Height: 320}
	parts := []picture.Part{
		{Key: picture.AtSetSpeed, Seconds: res.Parts.AtSetSpeed}, {Key: picture.LongStitches, Seconds: res.Parts.LongStitches},
		{Key: picture.Ramps, Seconds: res.Parts.Ramps}, {Key: picture.Trims, Seconds: res.Parts.Trims},
		{Key: picture.ColourStops, Seconds: res.Parts.ColourStops}, {Key: picture.Travel, Seconds: res.Parts.Travel},
		{Key: picture.Stops, Seconds: res.Parts.Stops}, {Key: picture.StartEnd, Seconds: res.Parts.StartEnd},
	}
	s.strip = &picture.Strips{Rows: []picture.StripRow{{Parts: picture.SumParts(parts), Low: res.Seconds * 0.9, High: res.Seconds * 1.1}}, Width: 800}
	at := 0.0
	for i, b := range res.Blocks {
		c := RunColour{Needle: b.Needle + 1, Colour: cols[i], Stitches: b.Stitches, Seconds: b.Seconds, From: at, Change: "put on", Thread: "thread " + string(rune('A'+i))}
		if i < len(d.Threads) && d.Threads[i].Name != "" {
			c.Thread = d.Threads[i].Name
		}
		if i%3 == 1 {
			c.Change = "stays"
		}
		at += b.Seconds
		s.colours = append(s.colours, c)
	}
	b := d.Count().Bounds
	s.w, s.h = b.WidthMM(), b.HeightMM()
	return s
}

func sampleQuote(t testing.TB) *Quote {
	s := sew(t, "larkess-ferry.dst", "multi-6")
	day := func(d int) words.Day { return words.NewDay(2026, 3, d) }
	kept := &book.Quote{Currency: "EUR", Day: day(3), Earliest: day(12), Promise: day(16), Due: day(16),
		Chance: 0.9, OnTime: 0.998,
		Lines: []book.QuoteLine{{Line: 1, Design: "larkess-ferry", Quantity: 72, Steps: []book.QuoteStep{
			{Quantity: 24, Price: money("6.90")}, {Quantity: 72, Price: money("4.85")},
			{Quantity: 144, Price: money("4.20")}, {Quantity: 288, Price: money("3.95")},
		}}}}
	return &Quote{
		Shop: shop, Number: "Q-1042", Made: words.NewDay(2026, 3, 3), Valid: words.NewDay(2026, 4, 2),
		Customer: []string{"Larkess Ferry Company", "att. Ines Harrow", "Slipway 1, Pellsand"},
		Title:    "72 polo shirts with the ferry logo on the left chest",
		Drawing:  s.drawing,
		Facts:    [][2]string{{"design", "larkess-ferry, 74 × 58 mm, 5 colours"}, {"garment", "polo shirt, yours, delivered to us by 6 March 2026"}, {"place", "left chest"}},
		Currency: "EUR",
		Lines: []QuoteLine{
			{"Embroidery, left chest", "3,960 stitches in 5 colours; thread and backing included", 72, money("4.85"), money("349.20")},
			{"Getting the design ready", "once; no charge when you order it again", 0, money("0"), money("45.00")},
			{"Machine set-up", "", 0, money("0"), money("18.00")},
		},
		Sum: words.Say("quote.gross"), Taxed: true,
		Steps:    ask.QuoteSteps(kept, &kept.Lines[0], false),
		Subtotal: money("412.20"), Taxes: []QuoteTax{{"Tax, 21 %", money("86.56")}}, Total: money("498.76"),
		Days:  ask.QuoteDay(kept),
		Notes: []string{"Prices hold for goods that take embroidery like the sample. We keep two pieces in a hundred as allowance for spoilage of your goods; tell us if they cannot be replaced."},
	}
}

func sampleSheet(t testing.TB) *RunSheet {
	s := sew(t, "larkess-ferry.dst", "multi-6")
	return &RunSheet{
		Shop: shop, Number: "1042 / lot 1", Made: made, Title: "Larkess Ferry Company: ferry logo, left chest", Machine: "Six Sisters",
		Facts:  [][2]string{{"order", "1042, Larkess Ferry Company"}, {"design", "larkess-ferry.dst"}, {"size", "74 × 58 mm, " + words.Whole(s.res.Stitches).Text(nil) + " stitches"}, {"garment", "polo shirt, navy, cotton piqué"}, {"place", "left chest, 100 mm below the shoulder seam"}, {"hoop", "round 120 mm, medium cut-away backing"}, {"planned", "9 March 2026, 07:10 to 12:40"}, {"due", "Monday, 16 March 2026"}},
		Pieces: 72, Runs: 12, Heads: 6, LotSeconds: 12*s.res.Seconds*1.15 + 1800,
		RunSeconds: s.res.Seconds, Low: s.res.Seconds * 0.9, High: s.res.Seconds * 1.1, Level: 0.9,
		SetSpeed: 850, RatedSpeed: 1000, SpeedNote: "the next 50 buy less than 1 %",
		Drawing: s.drawing, Strip: s.strip, Colours: s.colours,
		Changes: []string{"Bobbins: new on all 6 heads before run 1, then after every 3 runs (18 bobbins in all).", "Cones: 5 colours × 6 heads; the fullest cone needs 310 m for the lot."},
		Link:    "https://shop.example/runs/1042-1/record",
	}
}
