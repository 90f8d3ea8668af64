// Command make invents the demo shop's timed runs: what a person with a
// stopwatch might have written down beside Skipper, a machine that does not
// exist. The machine behind the times is drawn from Skipper's sheet with a
// fixed seed; one block was held up by a thread that ran out and nobody noted.
// Run from the project's root: go run ./demo/runs/make
package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"

	"needlepace/learn"
	"needlepace/learn/card"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/stitchfile"
	"needlepace/words"
)

const dir = "demo/runs"

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "make:", err)
		os.Exit(1)
	}
}

func run() error {
	b, err := os.ReadFile("demo/shop/skipper.toml")
	if err != nil {
		return err
	}
	sheet, err := machine.Parse("skipper.toml", b)
	if err != nil {
		return err
	}
	rng := rand.New(rand.NewPCG(1851, 7))
	truth := sheet.Clone()
	for c := range sheet.Constants() {
		if sd := sheet.SD[c.Path]; sd > 0 && c.Get(sheet) > 0 {
			c.Set(truth, c.Get(sheet)*math.Exp(0.7*math.Sqrt(math.Log1p(sd*sd))*rng.NormFloat64()))
		}
	}
	p, err := learn.TestPiece(context.Background(), sheet, learn.PieceOptions{HoopX: 100, HoopY: 100})
	if err != nil {
		return err
	}
	piece := words.NewDay(2026, 9, 14) // the day the test piece was timed
	obs := p.Observations("skipper-piece.dst")
	for i := range obs {
		obs[i].Date = piece
	}
	for _, r := range []struct {
		date  words.Day
		file  string
		speed float64
	}{
		{words.NewDay(2026, 9, 15), "ostrel-light.dst", 800}, {words.NewDay(2026, 9, 18), "chowder-patch.dst", 750},
		{words.NewDay(2026, 9, 22), "larkess-ferry.dst", 800}, {words.NewDay(2026, 10, 2), "whale-line.dst", 800},
	} {
		files, err := stitchfile.ReadFile(filepath.Join("demo/designs", r.file))
		if err != nil {
			return err
		}
		obs = append(obs, learn.Observation{Kind: learn.WholeRun, Date: r.date, Name: "../designs/" + r.file,
			Design: files[0].Design, SetSpeed: r.speed, Seconds: 1, Step: 1})
	}
	obs = append(obs, learn.Observation{Kind: learn.DisplayReading, Date: piece, SetSpeed: 800,
		LengthMM: 9, Zigzag: true, Shown: 1, Note: "block 1 of the piece"})
	const held = 3 // the block that was held up
	const late = 34.0
	for i, t := range learn.Predict(truth, obs) {
		o := &obs[i]
		if o.Kind == learn.DisplayReading {
			o.Shown = math.Round(t/10) * 10
			continue
		}
		t *= 1 + learn.RunToRun*rng.NormFloat64()
		t += 0.3 * rng.NormFloat64()
		if o.Date == piece && (o.Block == held || o.Block == 0) {
			t += late
		}
		if o.Block == 0 {
			o.Seconds, o.Step = math.Round(t), 1
		} else {
			o.Seconds, o.Step = math.Round(10*t)/10, 0.1
		}
	}
	for _, f := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{"skipper-piece.dst", func(w io.Writer) error { return stitchfile.Encode(w, p.Design, "dst") }},
		{"skipper-piece-card.svg", func(w io.Writer) error {
			return picture.SVG(w, &card.Card{Piece: p, Machine: sheet.Name, File: "skipper-piece.dst",
				CSV: "skipper.csv"}, picture.Light())
		}},
		{"skipper.csv", func(w io.Writer) error { return learn.WriteRuns(w, obs, false) }},
	} {
		var b bytes.Buffer
		if err := f.write(&b); err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, f.name), b.Bytes(), 0o644); err != nil {
			return err
		}
	}
	return nil
}
