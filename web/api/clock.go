package api

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"net/http"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/picture"
	"needlepace/shop"
)

// jobParams are what the operator and the goods ask: the same as the flags of
// the clock command.
var jobParams = []param{
	{"machine", "string", "ID of a machine of the shop, or the name of a built-in class", nil},
	{"speed", "number", "the operator's setting in stitches/min; left out: the machine's maximum", nil},
	{"cap_frame", "boolean", "the goods are on a cap frame", nil},
	{"metallic", "boolean", "metallic thread", nil},
	{"limit", "number", "the most the goods allow, stitches/min, instead of those assumed for cap frame or metallic",
		nil},
	{"heavy", "number", "factor on the frame's acceleration for a heavy garment, e.g. 0.7", nil},
	{"needles", "string", "needle of each colour block, from 1, e.g. 3,1,4", nil},
}

func clockRoutes() []*route {
	with := func(more ...param) []param { return append(append([]param(nil), jobParams...), more...) }
	theme := param{"theme", "string", "light where left out", []string{"light", "dark", "print", "page"}}
	return []*route{
		{name: "clockDesign", at: "GET /designs/{design}/clock", right: shop.Look,
			summary: "How long a design takes on a machine, and where every second goes. The keys are those of the " +
				"clock command's JSON.",
			query: jobParams, out: ask.ClockAnswer{}, do: clockDesign},
		{name: "getRun", at: "GET /designs/{design}/run.bin", right: shop.Look,
			summary: "The run stitch by stitch, for drawing. Little-endian: 'NPR1'; uint32 n; n × (int32 x0, y0, x1, " +
				"y1 in 0.1 mm, y up); n × int32 colour block from 0; n × float32 held speed in stitches/min; n × " +
				"float64 start in s; the arrays stand one after another.",
			query: jobParams, outType: "application/octet-stream", do: runBinary},
		{name: "getRests", at: "GET /designs/{design}/rests", right: shop.Look,
			summary: "When the shaft stands in a run and why: start, trims, colour stops, travel, stops, end.",
			query:   jobParams, out: restsAnswer{}, do: runRests},
		{name: "drawRun", at: "GET /designs/{design}/run.svg", right: shop.Look,
			summary: "The run as a picture: drawing by held speed, shaft-speed trace and strip.", query: with(theme),
			outType: "image/svg+xml", do: runPicture("svg")},
		{name: "drawRunPNG", at: "GET /designs/{design}/run.png", right: shop.Look, summary: "The same as PNG.",
			query: with(theme), outType: "image/png", do: runPicture("png")},
	}
}

func clockDesign(c *call) (any, error) {
	q := c.Query()
	machineID, job := q.Job()
	if q.Err != nil {
		return nil, q.Err
	}
	return c.Shop.Clock(c.Ctx, c.PathValue("design"), machineID, job)
}

func runBinary(c *call) (any, error) {
	q := c.Query()
	machineID, job := q.Job()
	if q.Err != nil {
		return nil, q.Err
	}
	tag, known, err := c.runKnown("bin", machineID, job)
	if err != nil || known {
		return answered{}, err
	}
	t, err := c.Shop.Trace(c.Ctx, c.PathValue("design"), machineID, job)
	if err != nil {
		return nil, err
	}
	return c.bytes("application/octet-stream", packRun(t), tag)
}

// runKnown answers at once where the client has this very run already.
func (c *call) runKnown(form, machineID string, job ask.Job) (tag string, known bool, err error) {
	key, err := c.Shop.RunKey(c.Ctx, c.PathValue("design"), machineID, job)
	if err != nil {
		return "", false, err
	}
	tag = key + "-" + form
	if c.Header.Get("If-None-Match") == `"`+tag+`"` {
		c.W.Header().Set("ETag", `"`+tag+`"`)
		c.W.Header().Set("Cache-Control", "private, no-cache")
		c.W.WriteHeader(http.StatusNotModified)
		return tag, true, nil
	}
	return tag, false, nil
}

// packRun is the binary form of a run (see getRun's summary).
func packRun(t *act.Traced) []byte {
	n := len(t.Segments)
	b := make([]byte, 0, 8+n*(16+4+4+8))
	le := binary.LittleEndian
	b = append(b, "NPR1"...)
	b = le.AppendUint32(b, uint32(n))
	for _, s := range t.Segments {
		for _, v := range [4]int32{s.X0, s.Y0, s.X1, s.Y1} {
			b = le.AppendUint32(b, uint32(v))
		}
	}
	for _, s := range t.Segments {
		b = le.AppendUint32(b, uint32(s.Layer))
	}
	for _, v := range t.Speeds {
		b = le.AppendUint32(b, math.Float32bits(v))
	}
	for _, v := range t.Starts {
		b = le.AppendUint64(b, math.Float64bits(v))
	}
	return b
}

type restsAnswer struct {
	Seconds float64 `json:"seconds" doc:"the run time"`
	Rests   []rest  `json:"rests" doc:"in order of time"`
}

type rest struct {
	Kind    string  `json:"kind" enum:"start_end,trims,colour_stops,travel,stops"`
	At      float64 `json:"at" doc:"s from the start button"`
	Seconds float64 `json:"seconds"`
	Block   int     `json:"block" doc:"colour block from 1; of a colour stop the one it opens"`
}

func runRests(c *call) (any, error) {
	q := c.Query()
	machineID, job := q.Job()
	if q.Err != nil {
		return nil, q.Err
	}
	p, err := c.RunPicture(c.PathValue("design"), machineID, job)
	if err != nil {
		return nil, err
	}
	a := restsAnswer{Seconds: p.Seconds, Rests: []rest{}}
	block := 1
	for _, r := range p.Rests {
		if r.Key == picture.ColourStops {
			block++
		}
		a.Rests = append(a.Rests, rest{r.Key.String(), r.From, r.To - r.From, block})
	}
	return a, nil
}

func runPicture(kind string) func(*call) (any, error) {
	return func(c *call) (any, error) {
		q := c.Query()
		machineID, job := q.Job()
		theme := q.OneOf("theme", "light", "light", "dark", "print", "page")
		if q.Err != nil {
			return nil, q.Err
		}
		tag, known, err := c.runKnown(kind+"-"+theme, machineID, job)
		if err != nil || known {
			return answered{}, err
		}
		p, err := c.RunPicture(c.PathValue("design"), machineID, job)
		if err != nil {
			return nil, err
		}
		return c.picture(p, kind, theme, tag)
	}
}

// picture answers with a picture as svg or png; tag as for bytes.
func (c *call) picture(p picture.Picture, kind, theme, tag string) (any, error) {
	t, err := picture.ThemeNamed(theme)
	if err != nil {
		return nil, shop.Invalidf("%w", err)
	}
	var b bytes.Buffer
	if kind == "png" {
		if err := picture.PNG(&b, p, t, 2); err != nil {
			return nil, fmt.Errorf("web: drawing: %w", err)
		}
		return c.bytes("image/png", b.Bytes(), tag)
	}
	if err := picture.SVG(&b, p, t); err != nil {
		return nil, fmt.Errorf("web: drawing: %w", err)
	}
	return c.bytes("image/svg+xml", b.Bytes(), tag)
}
