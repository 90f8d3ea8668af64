package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"needlepace/ask"
	"needlepace/learn"
	"needlepace/learn/card"
	"needlepace/stitchfile"
)

// TestpieceCmd makes the stitch file that teaches most about a machine.
type TestpieceCmd struct {
	Machine string      `short:"m" required:"" help:"The machine: a sheet file (.toml) or a built-in class." placeholder:"SHEET"`
	Hoop    string      `default:"${piecehoop}" help:"Inside of the hoop, width x height in mm." placeholder:"WxH"`
	Minutes *float64    `help:"How long the piece may take on the machine. Default: 6, or 18 where every colour is re-threaded by hand." placeholder:"N"`
	Speed   float64     `help:"The speed to set, in stitches/min. Default: just below the machine's maximum, at no multiple of 50." placeholder:"N"`
	Output  string      `short:"o" required:"" help:"The stitch file to write (${writable}). The card and the file to fill in go beside it." placeholder:"PIECE.dst"`
	Card    PictureFile `help:"Where the printable card goes (.svg or .png). Default: beside the piece." placeholder:"CARD.svg"`
	JSON    bool        `name:"json" help:"One JSON object, for other programs."`
	Runs    string      `help:"Where the file to fill in goes. Default: beside the piece." placeholder:"RUNS.csv"`
}

// Run makes the piece, its card and its file of runs, and says what to expect.
func (a *TestpieceCmd) Run(c *Ctx) error {
	s, err := loadSheet(a.Machine)
	if err != nil {
		return err
	}
	x, y, err := inMM("hoop", a.Hoop)
	if err != nil {
		return err
	}
	base := strings.TrimSuffix(a.Output, filepath.Ext(a.Output))
	format, err := stitchfile.WriterFor(a.Output)
	if err != nil {
		return usagef("--output %s: %w", a.Output, err)
	}
	if a.Card == "" {
		a.Card = PictureFile(base + "-card.svg")
	}
	if a.Runs == "" {
		a.Runs = base + "-runs.csv"
	}
	q := ask.TestPieceQuestion{HoopX: x, HoopY: y, SetSpeed: a.Speed}
	if a.Minutes != nil {
		if q.Minutes = *a.Minutes; q.Minutes == 0 { // 0 means "not given" inside a question
			return usagef("--minutes 0: a test piece takes 2 to 60")
		}
	}
	answer, err := ask.TestPiece(c.Context, ask.Given{On: s}, q)
	if err != nil {
		return usageError{err}
	}
	p := answer.Piece
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
	if a.JSON {
		return writeJSON(c.Out, answer)
	}
	fmt.Fprintf(c.Out, "Test piece for %s\n\n", answer.Machine)
	writeSentences(c.Out, "  ", answer.Verdict)
	writeSentences(c.Out, "  ! ", answer.Caveats)
	for _, t := range []*ask.Table{answer.BlocksTable(), answer.SpreadTable()} {
		fmt.Fprintf(c.Out, "\n%s\n\n", t.Caption.Text(nil))
		writeTable(c.Out, t, "  ")
	}
	fmt.Fprintf(c.Out, "\n  stitch file: %s\n  card to print: %s\n  times go into: %s, then: needlepace learn -m %s %s\n",
		a.Output, a.Card, a.Runs, a.Machine, a.Runs)
	return nil
}
