package ask

import (
	"context"

	"needlepace/learn"
	"needlepace/words"
)

// DefaultPieceHoop is the hoop that a test piece is made for, mm inside: the
// smallest that most shops have.
const DefaultPieceHoop = 100

// TestPieceQuestion asks for the stitch file whose blocks, timed, teach most
// about a machine.
type TestPieceQuestion struct {
	Machine  string  `json:"-"` // by the asker's name for it
	HoopX    float64 `json:"hoop_x,omitempty" doc:"mm inside the hoop, 60 to 1,000; left out: 100"`
	HoopY    float64 `json:"hoop_y,omitempty" doc:"mm; left out: 100"`
	Minutes  float64 `json:"minutes,omitempty" doc:"at most, 2 to 60; left out: the usual for the machine"`
	SetSpeed float64 `json:"set_speed,omitempty" doc:"stitches/min; left out: just below the machine's maximum, at no multiple of 50"`
}

// TestPieceAnswer is a test piece and what it should teach. Its JSON is a
// written contract: later versions add keys and never change one.
type TestPieceAnswer struct {
	Machine  string                 `json:"machine" doc:"the machine's name"`
	Verdict  words.Sentences        `json:"verdict"`
	Caveats  words.Sentences        `json:"caveats"`
	Stitches int                    `json:"stitches"`
	WidthMM  float64                `json:"width_mm"`
	HeightMM float64                `json:"height_mm"`
	Seconds  float64                `json:"seconds" doc:"to expect"`
	SetSpeed float64                `json:"set_speed" doc:"stitches/min to sew it at"`
	Blocks   []PieceBlock           `json:"blocks"`
	Spread   []learn.ExpectedSpread `json:"spread"`

	Piece *learn.Piece `json:"-"` // what its file and its card are made from
}

// PieceBlock is a colour block of a test piece.
type PieceBlock struct {
	What     words.Plain `json:"what"`
	Stitches int         `json:"stitches"`
	Trims    int         `json:"trims"`
	Seconds  float64     `json:"seconds" doc:"to expect, as a person times it"`
}

// options are the question as package learn takes it.
func (q *TestPieceQuestion) options() learn.PieceOptions {
	o := learn.PieceOptions{HoopX: q.HoopX, HoopY: q.HoopY, Minutes: q.Minutes, SetSpeed: q.SetSpeed}
	for _, mm := range []*float64{&o.HoopX, &o.HoopY} {
		if *mm == 0 {
			*mm = DefaultPieceHoop
		}
	}
	return o
}

// TestPieceCheck says what is wrong with a question whatever machine it is
// asked about.
func TestPieceCheck(q TestPieceQuestion) error { return wrong(q.options().Check()) }

// TestPiece answers which stitch file teaches most about a machine.
func TestPiece(ctx context.Context, from Sheets, q TestPieceQuestion) (*TestPieceAnswer, error) {
	if err := TestPieceCheck(q); err != nil {
		return nil, err
	}
	sheet, err := from.Sheet(ctx, q.Machine)
	if err != nil {
		return nil, err
	}
	p, err := pieced.make(ctx, &pieceAsked{sheet, q.options()}, nil)
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	if err != nil {
		return nil, wrong(err)
	}
	n := p.Design.Count()
	a := &TestPieceAnswer{Machine: sheet.Name, Stitches: n.Stitches,
		WidthMM: n.Bounds.WidthMM(), HeightMM: n.Bounds.HeightMM(), Seconds: p.Seconds, SetSpeed: p.SetSpeed,
		Blocks: []PieceBlock{}, Spread: append([]learn.ExpectedSpread{}, p.Spread...), Piece: p}
	for _, b := range p.Blocks {
		a.Blocks = append(a.Blocks, PieceBlock{words.Plain(b.What), b.Stitches, b.Trims, b.Seconds})
	}
	sharper := 0
	for _, e := range p.Spread {
		if e.After < e.Before/2 {
			sharper++
		}
	}
	a.Verdict = words.Sentences{
		words.Say("testpiece.what", words.Args{"stitches": words.Count(a.Stitches, "stitch"),
			"blocks": words.Count(len(a.Blocks), "block"), "size": words.Size{W: a.WidthMM, H: a.HeightMM},
			"time": words.Seconds(a.Seconds), "speed": words.PerMinute(a.SetSpeed), "machine": words.Name(a.Machine)}),
		words.Say("testpiece.teaches", words.Args{"sharper": words.Whole(sharper),
			"constants": words.Count(len(a.Spread), "constant")}),
	}
	a.Caveats = words.Sentences{words.Say("testpiece.sew"), words.Say("testpiece.hands")}
	return a, nil
}

// BlocksTable is a row for each block, in the order of sewing.
func (a *TestPieceAnswer) BlocksTable() *Table {
	t := table("blocks", words.Say("testpiece.blocks"),
		number("block", "clock.block"),
		column("what", "testpiece.sews"),
		number("stitches", "clock.stitches"),
		number("trims", "testpiece.trims"),
		number("seconds", "testpiece.expect"),
	)
	for i, b := range a.Blocks {
		t.add(words.Whole(i+1), b.What, words.Whole(b.Stitches),
			words.Whole(b.Trims), words.Seconds(b.Seconds))
	}
	return t
}

// SpreadTable is how sure each constant is now, and should be then.
func (a *TestPieceAnswer) SpreadTable() *Table {
	t := table("spread", words.Say("testpiece.spread"),
		column("constant", "clock.constant"),
		number("relative_sd_before", "testpiece.now"),
		number("relative_sd_after", "testpiece.then"),
	)
	for _, e := range a.Spread {
		t.add(constantNamed(e.Path), words.GiveOrTake(e.Before), words.GiveOrTake(e.After))
	}
	return t
}
