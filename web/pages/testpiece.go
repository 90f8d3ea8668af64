package pages

import (
	"context"
	"net/url"
	"strconv"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
)

// pieceData is the page of a machine's test piece: what to ask, and the piece.
type pieceData struct {
	M            *shop.Machine
	HoopX, HoopY string
	Minutes      string
	Piece        *serve.Piece
	Work         string
}

func showTestPiece(c *call) error {
	m, err := c.Shop.Machines.Get(c.Ctx, c.PathValue("machine"))
	if err != nil {
		return err
	}
	q := c.URL.Query()
	hoop := strconv.Itoa(ask.DefaultPieceHoop)
	data := &pieceData{M: m, HoopX: hoop, HoopY: hoop}
	for name, to := range map[string]*string{"x": &data.HoopX, "y": &data.HoopY, "minutes": &data.Minutes} {
		if v := q.Get(name); v != "" {
			*to = v
		}
	}
	p := &page{Title: "Test piece for " + m.Name, Nav: "machines", Data: data}
	if data.Work = q.Get("work"); data.Work == "" {
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

func testPieceForm(c *call) error {
	m, err := c.Shop.Machines.Get(c.Ctx, c.PathValue("machine"))
	if err != nil {
		return err
	}
	f := &serve.Query{Values: c.PostForm}
	q := ask.TestPieceQuestion{Machine: m.ID, HoopX: f.Number("x"), HoopY: f.Number("y"), Minutes: f.Number("minutes")}
	if f.Err != nil {
		return f.Err
	}
	if err := ask.TestPieceCheck(q); err != nil {
		return err
	}
	then := url.Values{"x": {f.Get("x")}, "y": {f.Get("y")}, "minutes": {f.Get("minutes")}}
	return c.beginPage("testpiece", "/machines/"+m.ID+"/testpiece?"+then.Encode(), func(ctx context.Context, s jobs.Step) (any, error) {
		s(0, "choosing the blocks that teach most")
		piece, err := c.Shop.TestPiece(ctx, q)
		if err != nil {
			return nil, err
		}
		return serve.PieceOf(piece)
	})
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
		return shop.Errorf(shop.Invalid, "the piece could not be added")
	}
	return c.see("/time?" + url.Values{"machine": {c.PathValue("machine")}, "design": {added[0].Design.ID}}.Encode())
}
