package api

import (
	"needlepace/act"
	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
)

func teachRoutes() []*route {
	theme := param{"theme", "string", "light where left out", []string{"light", "dark", "print", "page"}}
	zigzag := param{"zigzag", "boolean", "stitches to and fro, as in satin; left out: straight on", nil}
	return []*route{
		op("learn", "POST /machines/{machine}/learn", shop.KeepMachines,
			"Fit the machine's sheet to its timed runs, as work; the result is a learned answer (schema Learned). "+
				"With keep the sheet becomes the machine's new version. With meant, keys of slips that an answer "+
				"asked about, their runs are kept as they were meant, with what was written in the note.",
			begins[learnedAnswer](learnMachine)),
		op("makeTestPiece", "POST /machines/{machine}/testpiece", shop.AskWhatIf,
			"Make the test piece that teaches most about a machine, as work; the result (schema Piece) names its "+
				"files: the piece in every format that can hold it (piece.dst, …), card.svg, card.png, runs.csv. "+
				"machine may be a class.",
			begins[serve.Piece](makeTestPiece)),
		op("getSpeedLaw", "GET /machines/{machine}/law", shop.Look,
			"The speed the machine holds against stitch length, of the present sheet and (for a learned one) of "+
				"the sheet before, with 90 % bands, and the speeds read off the display.",
			gives(getLaw), zigzag),
		op("drawSpeedLaw", "GET /machines/{machine}/law.svg", shop.Look,
			"The same as a picture.", file("image/svg+xml", drawLaw), theme, zigzag),
	}
}

type learnAsked struct {
	Keep  bool     `json:"keep" doc:"make the learned sheet the machine's new version"`
	Meant []string `json:"meant,omitempty" doc:"keys of slips that are ones: their runs are kept as meant"`
	Since string   `json:"since,omitempty" doc:"ISO 8601 day: leave out what was timed before it"`
}

type learnedAnswer struct {
	*ask.LearnAnswer
	TOML    string `json:"toml" doc:"the learned sheet"`
	Version int    `json:"version" doc:"with keep: the machine's new version; else 0"`
}

func learnMachine(c *call, in learnAsked) (*jobs.Work, error) {
	id := c.PathValue("machine")
	if err := c.Shop.LearnCheck(c.Ctx, id); err != nil {
		return nil, err
	}
	since, err := day("since", in.Since)
	if err != nil {
		return nil, err
	}
	by := c.By()
	return c.begin("learn", func(w *work) (any, error) {
		w.step(0.05, "learning")
		l, err := c.Shop.Learn(w.ctx, id, act.Learning{Keep: in.Keep, Meant: in.Meant, Since: since, By: by})
		if err != nil {
			return nil, err
		}
		return learnedOf(l), nil
	})
}

func learnedOf(l *act.LearnedSheet) *learnedAnswer {
	a := &learnedAnswer{LearnAnswer: l.LearnAnswer, TOML: string(l.Result.Sheet.TOML())}
	for i := range a.Rows {
		if row := a.Rows[i].Row; row >= 1 && row <= len(l.Runs) {
			a.Rows[i].Run = l.Runs[row-1].ID
		}
	}
	if l.Machine != nil {
		a.Version = l.Machine.Version
	}
	return a
}

type pieceAsked struct{ ask.TestPieceQuestion }

func makeTestPiece(c *call, in pieceAsked) (*jobs.Work, error) {
	id := c.PathValue("machine")
	if _, ok := machine.Class(id); !ok {
		if _, err := c.Shop.Machines.Get(c.Ctx, id); err != nil {
			return nil, err
		}
	}
	in.Machine = id
	if err := ask.TestPieceCheck(in.TestPieceQuestion); err != nil {
		return nil, err
	}
	d, _, err := c.When()
	if err != nil {
		return nil, err
	}
	return c.begin("testpiece", func(w *work) (any, error) {
		w.step(0.05, "choosing the blocks that teach most")
		a, err := c.Shop.TestPiece(w.ctx, in.TestPieceQuestion)
		if err != nil {
			return nil, err
		}
		w.step(0.9, "writing the card")
		return serve.PieceOf(a, d.W)
	})
}

func lawOf(c *call, q *serve.Query) (*ask.LawAnswer, error) {
	zigzag := q.Yes("zigzag")
	if q.Err != nil {
		return nil, q.Err
	}
	return c.Shop.Law(c.Ctx, ask.LawQuestion{Machine: c.PathValue("machine"), Zigzag: zigzag})
}

func getLaw(c *call) (*ask.LawAnswer, error) { return lawOf(c, c.Query()) }

func drawLaw(c *call) error {
	q := c.Query()
	theme := q.OneOf("theme", "light", "light", "dark", "print", "page")
	a, err := lawOf(c, q)
	if err != nil {
		return err
	}
	b, kind, err := serve.Drawn(picture.LawOf(a, nil), ".svg", theme)
	if err == nil {
		c.Bytes(kind, b, "")
	}
	return err
}
