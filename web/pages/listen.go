package pages

import (
	"net/url"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/picture"
	"needlepace/recordings"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// listenForm leads from the choice of a run to the page that records it.
func listenForm(c *call) error {
	q := c.URL.Query()
	d, err := c.Shop.Designs.Find(c.Ctx, q.Get("design"))
	if err != nil {
		return shop.At("design", err)
	}
	q.Del("design")
	if q.Get("speed") == "" {
		q.Del("speed")
	}
	return c.see("/designs/" + url.PathEscape(d.ID) + "/listen?" + q.Encode())
}

// listening is the page on which a run is recorded.
type listening struct {
	*designData
	Mine bool // the machine is the shop's: its times can be kept
	Job  string
	Set  float64 // stitches/min; 0: as heard
	Rate int
}

func showListen(c *call) error {
	p, run, err := c.designRun()
	if err != nil {
		return err
	}
	q, machineID, job := c.runQuery()
	if machineID == "" {
		machineID = run.Ask.Machine
	}
	data := &listening{designData: run, Job: job.Kinds.String(), Set: q.Number("speed"), Rate: recordings.Rate}
	if q.Err != nil {
		return q.Err
	}
	if _, err := c.Shop.Machines.Get(c.Ctx, machineID); err == nil {
		data.Mine = true
	}
	p.Title, p.Nav, p.Bare = words.Say("hearing.title", words.Args{"design": words.Name(run.D.Name)}).Text(c.writer()), "time", true
	p.Data = data
	return c.show("listen.html", p)
}

// hearForm ends a recording and has it heard.
func hearForm(c *call) error {
	id := c.PathValue("recording")
	w, err := c.Hear(id, false)
	if err != nil {
		return err
	}
	return c.see("/recordings/" + id + "?work=" + w.ID)
}

// heardData is what was heard in a recording.
type heardData struct {
	State   *recordings.State
	A       *ask.ListenAnswer // nil where it was refused
	Refused string
	D       *shop.Design
	Again   string // the page to record another run on
	Mine    bool
	Rows    int // rows that can be kept
	Heard   bar
	Sheet   bar
	Top     float64
}

func showHeard(c *call) error { return c.heardPage(nil) }

// heardPage shows what was heard, with the form to keep it as it was sent.
func (c *call) heardPage(f *form) error {
	id := c.PathValue("recording")
	st, err := c.Recordings.Look(id, c.By())
	if err != nil {
		return err
	}
	data := &heardData{State: st}
	if data.D, err = c.Shop.Designs.Get(c.Ctx, st.Design); err != nil {
		return err
	}
	if _, err := c.Shop.Machines.Get(c.Ctx, st.Machine); err == nil {
		data.Mine = true
	}
	data.Again = "/designs/" + st.Design + "/listen?" + url.Values{"machine": {st.Machine}}.Encode()
	if data.A, err = c.Recordings.Answer(id, c.By()); err != nil {
		a, shown, err := result[*ask.ListenAnswer](c)
		switch {
		case shown:
			return nil
		case err == nil:
			data.A = a
		case shop.CodeOf(err) == shop.Invalid:
			data.Refused = words.Sentence(serve.Saying(err).In(c.writer()))
		default:
			return err
		}
	}
	w := c.writer()
	p := &page{Title: words.Say("hearing.heard-title", words.Args{"design": words.Name(data.D.Name)}).Text(w), Nav: "time", Data: data, Form: f}
	if data.A == nil {
		return c.show("heard.html", p)
	}
	heard, sheet := data.A.Parts()
	data.Rows = len(data.A.Rows())
	data.Top = max(heard.Sum(), sheet.Sum())
	strip := func(parts clock.Parts) bar { return bar{Parts: picture.PartsOf(parts), Max: data.Top, W: w} }
	data.Heard, data.Sheet = strip(heard), strip(sheet)
	p.addTables(w, data.A.RunTable(), data.A.RestTable())
	p.draw("speed", picture.HeardOf(data.A, w), nil)
	return c.show("heard.html", p)
}

// keepHeardForm puts what was heard among the machine's timed runs.
func keepHeardForm(c *call) error {
	id := c.PathValue("recording")
	st, err := c.Recordings.Look(id, c.By())
	if err != nil {
		return err
	}
	var in struct {
		Whole *timed `toml:"whole"`
	}
	return c.sent(&in, func(*form) (string, error) {
		_, err := c.KeepHeard(id, or(in.Whole, timed{}).seconds)
		return "/machines/" + st.Machine + "#timed", err
	}, c.heardPage)
}

// dropRecordingForm forgets a recording.
func dropRecordingForm(c *call) error {
	if err := c.Recordings.Drop(c.PathValue("recording"), c.By()); err != nil && shop.CodeOf(err) != shop.NotFound {
		return err
	}
	return c.see("/time")
}

// removeHeardForm takes a recording out of what is counted for breaks.
func removeHeardForm(c *call) error {
	return c.seeOr("/machines/"+c.PathValue("machine")+"#reported", c.Shop.Timings.DropHeard(c.Ctx, c.PathValue("heard")))
}
