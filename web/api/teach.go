package api

import (
	"needlepace/act"
	"needlepace/ask"
	"needlepace/clock"
	"needlepace/jobs"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/answer"
)

func teachRoutes() []*route {
	theme := param{"theme", "string", "light where left out", []string{"light", "dark", "print", "page"}}
	return []*route{
		{name: "learn", method: "POST", path: "/machines/{machine}/learn", right: shop.KeepMachines, summary: "Fit the machine's sheet to its timed runs, as work; the result is a learned answer (schema Learned). With keep the sheet becomes the machine's new version.", in: learnAsked{}, out: jobs.Work{}, status: 202, result: learnedAnswer{}, do: learnMachine},
		{name: "makeTestPiece", method: "POST", path: "/machines/{machine}/testpiece", right: shop.AskWhatIf, summary: "Make the test piece that teaches most about a machine, as work; the result (schema Piece) names its files: the piece in every format that can be written (piece.dst, …), card.svg, card.png, runs.csv. machine may be a class.", in: pieceAsked{}, out: jobs.Work{}, status: 202, result: answer.Piece{}, do: makeTestPiece},
		{name: "getSpeedLaw", method: "GET", path: "/machines/{machine}/law", right: shop.Look, summary: "The speed the machine holds against stitch length, of the present sheet and (for a learned one) of the sheet before, with 90 % bands, and the speeds read off the display.", out: lawAnswer{}, do: getLaw},
		{name: "drawSpeedLaw", method: "GET", path: "/machines/{machine}/law.svg", right: shop.Look, summary: "The same as a picture.", query: []param{theme}, out: []byte(nil), outType: "image/svg+xml", do: drawLaw},
	}
}

type learnAsked struct {
	Keep bool `json:"keep" doc:"make the learned sheet the machine's new version"`
}

type learnedAnswer struct {
	*ask.LearnAnswer
	TOML    string `json:"toml" doc:"the learned sheet"`
	Version int    `json:"version" doc:"with keep: the machine's new version; else 0"`
}

func learnMachine(c *call) (any, error) {
	var in learnAsked
	if err := c.read(&in); err != nil {
		return nil, err
	}
	id := c.PathValue("machine")
	if _, err := c.Shop.Timings.Runs(c.Ctx, id); err != nil {
		return nil, err
	}
	by := c.By()
	return c.begin("learn", func(w *work) (any, error) {
		w.step(0.05, "learning")
		l, err := c.Shop.Learn(w.ctx, id, in.Keep, by)
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

type pieceAsked struct {
	HoopX    float64 `json:"hoop_x" doc:"mm inside the hoop, 60 to 1,000"`
	HoopY    float64 `json:"hoop_y"`
	Minutes  float64 `json:"minutes,omitempty" doc:"at most, 2 to 60; left out: the usual for the machine"`
	SetSpeed float64 `json:"set_speed,omitempty" doc:"stitches/min; left out: the machine's maximum"`
}

func makeTestPiece(c *call) (any, error) {
	var in pieceAsked
	if err := c.read(&in); err != nil {
		return nil, err
	}
	id := c.PathValue("machine")
	if _, ok := machine.Class(id); !ok {
		if _, err := c.Shop.Machines.Get(c.Ctx, id); err != nil {
			return nil, err
		}
	}
	return c.begin("testpiece", func(w *work) (any, error) {
		w.step(0.05, "choosing the blocks that teach most")
		p, sheet, err := c.Shop.TestPiece(w.ctx, id, act.PieceAsked{HoopX: in.HoopX, HoopY: in.HoopY, Minutes: in.Minutes, SetSpeed: in.SetSpeed})
		if err != nil {
			return nil, err
		}
		w.step(0.9, "writing the card")
		return answer.PieceOf(p, sheet.Name)
	})
}

type lawAnswer struct {
	SetSpeed float64      `json:"set_speed" doc:"stitches/min"`
	Now      lawCurve     `json:"now"`
	Before   *lawCurve    `json:"before" doc:"of the sheet before learning; null for one never learned"`
	Readings []lawReading `json:"readings" doc:"speeds read off the display"`
}

type lawCurve struct {
	LengthMM []float64 `json:"length_mm"`
	Low      []float64 `json:"low" doc:"stitches/min, 90 % band"`
	Mid      []float64 `json:"mid"`
	High     []float64 `json:"high"`
}

type lawReading struct {
	LengthMM float64 `json:"length_mm"`
	Shown    float64 `json:"shown_speed"`
	Zigzag   bool    `json:"zigzag"`
}

func lawOf(c *call) (*lawAnswer, string, error) {
	l, err := c.Shop.Law(c.Ctx, c.PathValue("machine"))
	if err != nil {
		return nil, "", err
	}
	curve := func(points []clock.LengthPoint) (k lawCurve) {
		for _, p := range points {
			k.LengthMM, k.Low, k.Mid, k.High = append(k.LengthMM, p.LengthMM), append(k.Low, p.Low), append(k.Mid, p.Mid), append(k.High, p.High)
		}
		return k
	}
	a := &lawAnswer{SetSpeed: l.SetSpeed, Now: curve(l.Now), Readings: []lawReading{}}
	if l.Before != nil {
		b := curve(l.Before)
		a.Before = &b
	}
	for _, r := range l.Readings {
		a.Readings = append(a.Readings, lawReading{r.LengthMM, r.Shown, r.Zigzag})
	}
	return a, l.Name, nil
}

func getLaw(c *call) (any, error) {
	a, _, err := lawOf(c)
	return noNil(a, err)
}

func drawLaw(c *call) (any, error) {
	q := c.Query()
	theme := q.OneOf("theme", "light", "light", "dark", "print", "page")
	if q.Err != nil {
		return nil, q.Err
	}
	a, name, err := lawOf(c)
	if err != nil {
		return nil, err
	}
	curve := func(k lawCurve) picture.Curve {
		return picture.Curve{X: k.LengthMM, Low: k.Low, Mid: k.Mid, High: k.High}
	}
	var assumed, fitted picture.Curve
	text := "Speed held on running stitches of one length, with its 90 % band."
	if a.Before != nil {
		assumed, fitted = curve(*a.Before), curve(a.Now)
	} else {
		assumed = curve(a.Now)
	}
	var readings []picture.Reading
	for _, r := range a.Readings {
		readings = append(readings, picture.Reading{X: r.LengthMM, Low: r.Shown, Mid: r.Shown, High: r.Shown})
	}
	return c.picture(picture.SpeedLaw(name, text, assumed, fitted, readings, a.SetSpeed), "svg", theme, "")
}
