package api

import (
	"io"
	"mime"
	"strconv"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/recordings"
	"needlepace/shop"
	"needlepace/web/serve"
)

func listenRoutes() []*route {
	return []*route{
		op("beginRecording", "POST /recordings", shop.TimeRuns,
			"Begin to record a run beside a machine. The sound is not kept: of it only when something struck is, in "+
				"memory, for two hours.", makes(beginRecording)),
		op("sendSound", "PUT /recordings/{recording}/sound", shop.TimeRuns,
			"A piece of the sound: one channel, 16,000 samples a second of 16 bits, signed, low byte first, from the sample "+
				"that from says. Samples that are there already are left out, so a piece may be sent again; where some before it "+
				"are missing it is refused (409), and next says which comes next. Sent as audio/wav or audio/flac it is a "+
				"whole file.", gives(sendSound).from("application/octet-stream"), integer("from", "the first sample's number, from 0")),
		op("getRecording", "GET /recordings/{recording}", shop.TimeRuns,
			"Where a recording stands: how it sounds, and at which stitch the machine is believed to be.", gives(getRecording)),
		op("hear", "POST /recordings/{recording}/hear", shop.TimeRuns,
			"End a recording and lay it on the design, as work; the result is a Listen.", begins[ask.ListenAnswer](hear)),
		op("keepHeard", "POST /recordings/{recording}/keep", shop.TimeRuns,
			"Put the colour blocks that were heard whole, and the speeds held, among the machine's timed runs, and the breaks that were "+
				"heard among those that are counted, once.", gives(keepHeard).as(201), number("whole", "how long the run took from the start button to the "+
				"machine standing, s, where somebody knows it: no recording hears the button. 0: nobody does")),
		op("dropHeard", "DELETE /heard/{heard}", shop.KeepMachines,
			"Take a recording that was kept out of what is counted for thread breaks; getReported lists them. The times that were "+
				"heard in it stay among the machine's timed runs.", does(dropHeard)),
		op("dropHeardRuns", "DELETE /heard/{heard}/runs", shop.KeepMachines,
			"Take the times that were heard in a recording away from the machine's timed runs; it still counts for thread breaks.", does(dropHeardRuns)),
		op("dropRecording", "DELETE /recordings/{recording}", shop.TimeRuns,
			"Forget a recording; rows that were kept of it stay.", does(dropRecording)),
	}
}

// RecordingAsked is what a recording is of.
type RecordingAsked struct {
	Design string `json:"design" doc:"ID"`
	JobAsked
}

func beginRecording(c *call, in RecordingAsked) (*recordings.State, error) {
	if in.Machine == "" {
		return nil, shop.Invalidf("machine is missing: the ID of a machine, or the name of a class")
	}
	return advised(c)(c.BeginRecording(ask.ListenQuestion{Design: in.Design, Machine: in.Machine, Job: in.Job}))
}

func sendSound(c *call) (*recordings.State, error) {
	id := c.PathValue("recording")
	switch t, _, _ := mime.ParseMediaType(c.Header.Get("Content-Type")); t {
	case "audio/wav", "audio/x-wav", "audio/wave", "audio/vnd.wave", "audio/flac", "audio/x-flac":
		return advised(c)(c.Recordings.AddFile(id, c.By(), c.Body))
	case "application/octet-stream":
	default:
		return nil, shop.Errorf(shop.Unsupported, "send samples as application/octet-stream, or a file as audio/wav or audio/flac")
	}
	from, err := strconv.ParseInt(c.Query().Get("from"), 10, 64)
	if err != nil {
		return nil, shop.At("from", shop.Invalidf("from is missing or no number: the number of the piece's first sample, from 0"))
	}
	pcm, err := io.ReadAll(c.Body)
	if err != nil {
		return nil, serve.BadRequest("the body ended early: %w", err)
	}
	return advised(c)(c.Recordings.Add(id, c.By(), from, pcm))
}

func getRecording(c *call) (*recordings.State, error) {
	return advised(c)(c.Recordings.Look(c.PathValue("recording"), c.By()))
}

// advised says what to do in the language that was chosen in the browser.
func advised(c *call) func(*recordings.State, error) (*recordings.State, error) {
	return func(s *recordings.State, err error) (*recordings.State, error) {
		if w := chosen(c.Call); err == nil && w != nil {
			s.Advice = recordings.Advice(s).Text(w)
		}
		return s, err
	}
}

type hearAsked struct {
	Stitches bool `json:"stitches,omitempty" doc:"with each stitch: when, and its number in the design"`
}

func hear(c *call, in hearAsked) (*jobs.Work, error) {
	w, err := c.Hear(c.PathValue("recording"), in.Stitches)
	return &w, err
}

func keepHeard(c *call) (*runPage, error) {
	q := c.Query()
	whole := q.Number("whole")
	if q.Err != nil {
		return nil, q.Err
	}
	if whole < 0 {
		return nil, shop.At("whole", shop.Invalidf("whole is %g s; give 0 or more", whole))
	}
	return runsOrNone(c.KeepHeard(c.PathValue("recording"), whole))
}

func dropRecording(c *call) error { return c.Recordings.Drop(c.PathValue("recording"), c.By()) }

func dropHeardRuns(c *call) error { return c.Shop.Timings.DeleteHeardRuns(c.Ctx, c.PathValue("heard")) }

func dropHeard(c *call) error { return c.Shop.Timings.DropHeard(c.Ctx, c.PathValue("heard")) }
