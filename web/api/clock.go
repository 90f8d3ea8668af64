package api

import (
	"encoding/binary"
	"fmt"
	"math"
	"net/http"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
)

// jobParams are what the operator and the goods ask: the same as the flags of
// the clock command.
var jobParams = []param{
	{"machine", "string", "ID of a machine of the shop, or the name of a built-in class", nil},
	{"speed", "number", "the operator's setting in stitches/min; left out: the machine's maximum", nil},
	{"cap_frame", "boolean", "the goods are on a cap frame", nil},
	{"metallic", "boolean", "metallic thread", nil},
	{"job", "string", "kinds of job with + between: cap-frame, large-hoop, heavy, metallic, woollen; what each does is in " +
		"the machine's sheet, assumed or learned", nil},
	{"limit", "number", "the most the goods allow, stitches/min, instead of the machine's limits for its kinds of job",
		nil},
	{"heavy", "number", "factor on the frame's acceleration for a heavy garment, e.g. 0.7", nil},
	{"needles", "string", "needle of each colour block, from 1, e.g. 3,1,4", nil},
}

func clockRoutes() []*route {
	with := func(more ...param) []param { return append(append([]param(nil), jobParams...), more...) }
	theme := param{"theme", "string", "light where left out", []string{"light", "dark", "print", "page"}}
	return []*route{
		op("clockDesign", "GET /designs/{design}/clock", shop.Look,
			"How long a design takes on a machine, and where every second goes. The keys are those of the clock "+
				"command's JSON.",
			gives(clockDesign), with(param{"at_stitch", "integer", "the machine stands after this stitch, counted from 1: the answer " +
				"is of what is left of the run", nil})...),
		op("getRun", "GET /designs/{design}/run.bin", shop.Look,
			"The run stitch by stitch, for drawing, in pieces of at most 20,000. Little-endian: 'NPR2'; uint32 stitches "+
				"of the run; uint32 first of this piece, from 0; uint32 n of this piece; n × (int32 x0, y0, x1, y1 in "+
				"0.1 mm, y up); n × int32 colour block from 0; n × float32 held speed in stitches/min; n × float64 "+
				"start in s; n × float32 speed that the machine's limits allow; n × uint8 kind of stitches (0 none, "+
				"1 running, 2 satin, 3 fill, 4 tie, 5 bean, 6 under_cover, 7 unknown); n × uint8 limit that holds it "+
				"(0 the set speed, 1 the frame left and right, 2 the frame to and fro, 3 the speed ladder, 4 the turn "+
				"before it); the arrays stand one after another.",
			file("application/octet-stream", runBinary), with(param{"first", "integer",
				"the piece begins with this stitch, from 0", nil})...),
		op("getRests", "GET /designs/{design}/rests", shop.Look,
			"When the shaft stands in a run and why: start, trims, colour stops, travel, stops, end.",
			gives(runRests), jobParams...),
		op("drawRun", "GET /designs/{design}/run.svg", shop.Look,
			"The run as a picture: drawing by held speed, shaft-speed trace and strip.",
			file("image/svg+xml", runPicture(".svg")), with(theme)...),
		op("drawRunPNG", "GET /designs/{design}/run.png", shop.Look,
			"The same as PNG.", file("image/png", runPicture(".png")), with(theme)...),
	}
}

func clockDesign(c *call) (*ask.ClockAnswer, error) {
	q := c.Query()
	machineID, job := q.Job()
	from := q.Integer("at_stitch", 0)
	if q.Err != nil {
		return nil, q.Err
	}
	return c.Shop.ClockFrom(c.Ctx, c.PathValue("design"), machineID, job, from)
}

func runBinary(c *call) error {
	q := c.Query()
	machineID, job := q.Job()
	first := q.Integer("first", 0)
	if q.Err == nil && first < 0 {
		q.Err = shop.Invalidf("first is %d; the first stitch of a run is 0", first)
	}
	if q.Err != nil {
		return q.Err
	}
	tag, known, err := c.runKnown(fmt.Sprint("bin2-", first), machineID, job)
	if err != nil || known {
		return err
	}
	t, err := c.Shop.Trace(c.Ctx, c.PathValue("design"), machineID, job)
	if err != nil {
		return err
	}
	c.Bytes("application/octet-stream", packRun(t, first), tag)
	return nil
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

// runPiece is how many stitches one answer has at most: some 0.75 MB.
const runPiece = 20_000

// packRun is the binary form of a run from a stitch on (see getRun's summary).
func packRun(t *act.Traced, first int) []byte {
	first = min(first, len(t.Segments))
	end := min(first+runPiece, len(t.Segments))
	segments := t.Segments[first:end]
	b := make([]byte, 0, 16+len(segments)*(16+4+4+8+4+1+1))
	le := binary.LittleEndian
	b = append(b, "NPR2"...)
	for _, v := range [3]int{len(t.Segments), first, end - first} {
		b = le.AppendUint32(b, uint32(v))
	}
	for _, s := range segments {
		for _, v := range [4]int32{s.X0, s.Y0, s.X1, s.Y1} {
			b = le.AppendUint32(b, uint32(v))
		}
	}
	for _, s := range segments {
		b = le.AppendUint32(b, uint32(s.Layer))
	}
	for _, v := range t.Speeds[first:end] {
		b = le.AppendUint32(b, math.Float32bits(v))
	}
	for _, v := range t.Starts[first:end] {
		b = le.AppendUint64(b, math.Float64bits(v))
	}
	for _, v := range t.Caps[first:end] {
		b = le.AppendUint32(b, math.Float32bits(v))
	}
	for _, k := range t.Kinds[first:end] {
		b = append(b, byte(k))
	}
	for _, h := range t.HeldBy[first:end] {
		b = append(b, byte(h))
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

func runRests(c *call) (*restsAnswer, error) {
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
	return &a, nil
}

func runPicture(ext string) func(*call) error {
	return func(c *call) error {
		q := c.Query()
		machineID, job := q.Job()
		theme := q.OneOf("theme", "light", "light", "dark", "print", "page")
		if q.Err != nil {
			return q.Err
		}
		tag, known, err := c.runKnown(ext[1:]+"-"+theme, machineID, job)
		if err != nil || known {
			return err
		}
		p, err := c.RunPicture(c.PathValue("design"), machineID, job)
		if err != nil {
			return err
		}
		b, kind, err := serve.Drawn(p, ext, theme)
		if err == nil {
			c.Bytes(kind, b, tag)
		}
		return err
	}
}
