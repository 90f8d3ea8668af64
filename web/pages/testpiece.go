package pages

import (
	"context"
	"net/url"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// pieceData is the page of a machine's test piece: what to ask, and the piece.
type pieceData struct {
	M     *shop.Machine
	In    *pieceFields
	Piece *serve.Piece
	Work  string
}

// testPiecePage shows the test piece that was made, or the form of one.
func (c *call) testPiecePage(in *pieceFields, f *form) error {
	m, err := c.Machine()
	if err != nil {
		return err
	}
	if !f.typed.Has("x") {
		in.X, in.Y = some(amount(ask.DefaultPieceHoop)), some(amount(ask.DefaultPieceHoop))
	}
	data := &pieceData{M: m, In: in}
	p := &page{Title: words.Say("testpiece.for", words.Args{"machine": words.Name(m.Name)}).Text(c.writer()),
		Nav: "machines", Data: data, Form: f}
	if data.Work = c.asks("work"); data.Work == "" || f.bad() {
		return c.show("testpiece.html", p)
	}
	piece, shown, err := result[*serve.Piece](c)
	if err != nil || shown {
		return err
	}
	data.Piece = piece
	p.addTables(c.writer(), piece.BlocksTable(), piece.SpreadTable())
	return c.show("testpiece.html", p)
}

// pieceFields is the form of a test piece: the hoop's inside in mm, and for how
// many minutes at most it sews; nil: the usual.
type pieceFields struct {
	X       *amount `toml:"x"`
	Y       *amount `toml:"y"`
	Minutes *amount `toml:"minutes"`
}

func testPieceForm(c *call) error {
	m, err := c.Machine()
	if err != nil {
		return err
	}
	var in pieceFields
	return c.sent(&in, func(f *form) (string, error) {
		q := ask.TestPieceQuestion{Machine: m.ID, HoopX: float64(or(in.X, 0)), HoopY: float64(or(in.Y, 0)),
			Minutes: float64(or(in.Minutes, 0))}
		if err := ask.TestPieceCheck(q); err != nil {
			return "", err
		}
		w := c.writer()
		then := "/machines/" + m.ID + "/testpiece?" + f.typed.Encode()
		return "", c.beginPage("testpiece", then, func(ctx context.Context, s jobs.Step) (any, error) {
			s(0, words.Say("testpiece.choosing").Text(w))
			piece, err := c.Shop.TestPiece(ctx, q)
			if err != nil {
				return nil, err
			}
			return serve.PieceOf(piece, w)
		})
	}, func(f *form) error { return c.testPiecePage(&in, f) })
}

// keepTestPieceForm adds the piece to the designs and goes on to timing it.
func keepTestPieceForm(c *call) error {
	piece, shown, err := result[*serve.Piece](c)
	if err != nil || shown {
		return err
	}
	f, ok := piece.Contents["piece.dst"]
	if !ok {
		return shop.Errorf(shop.NotFound, "the piece has no file")
	}
	added, err := c.Shop.AddFile(c.Ctx, f.Name, f.Content)
	if err != nil {
		return err
	}
	if len(added) == 0 || added[0].Design == nil {
		return shop.Invalidf("the piece could not be added")
	}
	return c.see("/time?" + url.Values{"machine": {c.PathValue("machine")}, "design": {added[0].Design.ID}}.Encode())
}
