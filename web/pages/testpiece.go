package pages

import (
	"context"
	"fmt"
	"net/url"

	"needlepace/act"
	"needlepace/jobs"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/web/answer"
	"needlepace/web/serve"
	"needlepace/words"
)

// pieceData is the page of a machine's test piece: what to ask, and the piece.
type pieceData struct {
	M            *shop.Machine
	HoopX, HoopY string
	Minutes      string
	Piece        *answer.Piece
	Work         string
	Picture      bool
}

func showTestPiece(c *call) error {
	m, err := c.Shop.Machines.Get(c.Ctx, c.PathValue("machine"))
	if err != nil {
		return err
	}
	q := c.URL.Query()
	data := &pieceData{M: m, HoopX: "100", HoopY: "100"}
	for name, to := range map[string]*string{"x": &data.HoopX, "y": &data.HoopY, "minutes": &data.Minutes} {
		if v := q.Get(name); v != "" {
			*to = v
		}
	}
	p := &page{Title: "Test piece for " + m.Name, Nav: "machines", Data: data, Tables: map[string]*table{}}
	if q.Get("work") == "" {
		return c.show("testpiece.html", p)
	}
	piece, shown, err := result[*answer.Piece](c)
	if err != nil || shown {
		return err
	}
	data.Piece, data.Work = piece, q.Get("work")
	blocks := &table{ID: "blocks", Caption: "The blocks, each between two colour stops", Full: true, Cols: []col{{Name: "Block", CSV: "block"}, {Name: "What it is", CSV: "what"}, {Name: "Stitches", CSV: "stitches", Num: true}, {Name: "Trims", CSV: "trims", Num: true}, {Name: "Expected", CSV: "seconds", Num: true}}}
	for i, b := range piece.Blocks {
		blocks.Rows = append(blocks.Rows, []cell{whole(i + 1), text(b.What), whole(b.Stitches), whole(b.Trims), figure(words.Seconds(b.Seconds).Text(nil), fixed(b.Seconds, 2))})
	}
	blocks.Foot = []cell{text("whole"), text(""), figure(thousands(piece.Stitches), ""), text(""), figure(words.Seconds(piece.Seconds).Text(nil), "")}
	p.Tables["blocks"] = blocks
	spread := &table{ID: "spread", Caption: "What timing it once should teach", Cols: []col{{Name: "Constant", CSV: "constant"}, {Name: "Give or take now", CSV: "relative_sd_before", Num: true}, {Name: "After", CSV: "relative_sd_after", Num: true}}}
	for _, e := range piece.Spread {
		name := e.Path
		if k, ok := machine.ConstantAt(e.Path); ok {
			name = k.Means
		}
		spread.Rows = append(spread.Rows, []cell{{Text: name, Raw: e.Path}, figure(fmt.Sprintf("± %.0f %%", e.Before*100), raw(e.Before)), figure(fmt.Sprintf("± %.0f %%", e.After*100), raw(e.After))})
	}
	p.Tables["spread"] = spread
	return c.show("testpiece.html", p)
}

func testPieceForm(c *call) error {
	if err := c.ParseForm(); err != nil {
		return serve.BadRequest("the form cannot be read: %v", err)
	}
	f := &serve.Query{Values: c.PostForm}
	ask := act.PieceAsked{HoopX: f.Number("x"), HoopY: f.Number("y"), Minutes: f.Number("minutes")}
	if f.Err != nil {
		return f.Err
	}
	m, err := c.Shop.Machines.Get(c.Ctx, c.PathValue("machine"))
	if err != nil {
		return err
	}
	then := url.Values{"x": {f.Get("x")}, "y": {f.Get("y")}, "minutes": {f.Get("minutes")}}
	return c.beginPage("testpiece", "/machines/"+m.ID+"/testpiece?"+then.Encode(), func(ctx context.Context, s jobs.Step) (any, error) {
		s(0, "choosing the blocks that teach most")
		piece, sheet, err := c.Shop.TestPiece(ctx, m.ID, ask)
		if err != nil {
			return nil, err
		}
		return answer.PieceOf(piece, sheet.Name)
	})
}

// keepTestPieceForm adds the piece to the designs and goes on to timing it.
func keepTestPieceForm(c *call) error {
	piece, shown, err := result[*answer.Piece](c)
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
