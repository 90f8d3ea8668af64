package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"needlepace/learn"
	"needlepace/learn/card"
	"needlepace/stitchfile"
	"needlepace/words"
)

// TestpieceCmd makes the stitch file that teaches most about a machine.
type TestpieceCmd struct {
	Machine string   `short:"m" required:"" help:"The machine: a sheet file (.toml) or a built-in class." placeholder:"SHEET"`
	Hoop    string   `default:"100x100" help:"Inside of the hoop, width x height in mm." placeholder:"WxH"`
	Minutes *float64 `help:"How long the piece may take on the machine. Default: 6, or 18 where every colour is re-threaded by hand." placeholder:"N"`
	Speed   float64  `help:"The speed to set, in stitches/min. Default: the machine's maximum." placeholder:"N"`
	Output  string   `short:"o" required:"" help:"The stitch file to write (${writable}). The card and the file to fill in go beside it." placeholder:"PIECE.dst"`
	Card    string   `help:"Where the printable card goes (.svg or .png). Default: beside the piece." placeholder:"CARD.svg"`
	Runs    string   `help:"Where the file to fill in goes. Default: beside the piece." placeholder:"RUNS.csv"`
}

// Run makes the piece, its card and its file of runs, and says what to expect.
func (a *TestpieceCmd) Run(c *Ctx) error {
	s, err := loadSheet(a.Machine)
	if err != nil {
		return err
	}
	x, y, err := hoopSize(a.Hoop)
	if err != nil {
		return err
	}
	base := strings.TrimSuffix(a.Output, filepath.Ext(a.Output))
	format, err := stitchfile.WriterFor(a.Output)
	if err != nil {
		return usagef("--output %s: %w", a.Output, err)
	}
	if a.Card == "" {
		a.Card = base + "-card.svg"
	}
	if a.Runs == "" {
		a.Runs = base + "-runs.csv"
	}
	minutes := 0.0 // the default
	if a.Minutes != nil {
		if minutes = *a.Minutes; minutes == 0 {
			return usagef("--minutes 0: a test piece takes 2 to 60")
		}
	}
	p, err := learn.TestPiece(c.Context, s, learn.PieceOptions{HoopX: x, HoopY: y, Minutes: minutes, SetSpeed: a.Speed})
	if err != nil {
		return usageError{err}
	}
	name := filepath.Base(a.Output)
	if rel, err := filepath.Rel(filepath.Dir(a.Runs), a.Output); err == nil {
		name = filepath.ToSlash(rel)
	}
	if err := create(a.Output, func(w io.Writer) error { return stitchfile.Encode(w, p.Design, format) }); err != nil {
		return err
	}
	if err := create(a.Runs, func(w io.Writer) error { return learn.WriteRuns(w, p.Observations(name), true) }); err != nil {
		return err
	}
	k := &card.Card{Piece: p, Machine: s.Name, File: filepath.Base(a.Output), CSV: filepath.Base(a.Runs)}
	if err := writePicture(a.Card, k); err != nil {
		return err
	}
	a.print(c, p)
	return nil
}

func hoopSize(text string) (x, y float64, err error) {
	w, h, ok := strings.Cut(strings.NewReplacer("×", "x", "X", "x", " ", "", "mm", "").Replace(text), "x")
	if ok {
		var e1, e2 error
		x, e1 = strconv.ParseFloat(w, 64)
		y, e2 = strconv.ParseFloat(h, 64)
		ok = e1 == nil && e2 == nil
	}
	if !ok {
		return 0, 0, usagef("--hoop %s: write width x height in mm, e.g. 100x100", text)
	}
	return x, y, nil
}

func (a *TestpieceCmd) print(c *Ctx, p *learn.Piece) {
	w := c.Out
	n := p.Design.Count()
	fmt.Fprintf(w, "%s: %s in %s, %.0f × %.0f mm, about %s at %s/min\n\n", a.Output, plural(n.Stitches, "stitch"), plural(len(p.Blocks), "block"),
		n.Bounds.WidthMM(), n.Bounds.HeightMM(), words.Seconds(p.Seconds).Text(nil), words.Fixed(p.SetSpeed, 0).Text(nil))
	t := table{indent: "  ", align: "rlrrr"}
	t.row("block", "what it sews", "stitches", "trims", "expect")
	t.rule()
	for i, b := range p.Blocks {
		t.row(strconv.Itoa(i+1), b.What, words.Whole(b.Stitches).Text(nil), strconv.Itoa(b.Trims), words.Seconds(b.Seconds).Text(nil))
	}
	t.write(w)
	fmt.Fprint(w, "\nHow sure each constant is now, and should be once every block and the whole are timed:\n\n")
	t = table{indent: "  ", align: "lrr"}
	t.row("constant", "now", "then")
	t.rule()
	for _, e := range p.Spread {
		t.row(e.Path, plusMinus(e.Before), plusMinus(e.After))
	}
	t.write(w)
	fmt.Fprintf(w, `
card to print: %s
times go into: %s, then: needlepace learn -m %s %s
Woven cloth, one layer of stabiliser. Keep hands clear while the machine runs; its manual and local rules come first.
`, a.Card, a.Runs, a.Machine, a.Runs)
}

// plusMinus is a relative standard deviation for people: ±35 %, ±1.8 %.
func plusMinus(sd float64) string {
	digits := 0
	if 100*sd < 9.95 {
		digits = 1
	}
	return "±" + strconv.FormatFloat(100*sd, 'f', digits, 64) + " %"
}
