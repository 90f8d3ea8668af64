package api

import (
	"fmt"
	"io"
	"mime"

	"needlepace/shop"
	"needlepace/shop/timings"
	"needlepace/web/serve"
)

func runRoutes() []*route {
	return []*route{
		op("listRuns", "GET /machines/{machine}/runs", shop.Look,
			"A machine's timed runs, oldest first.", gives(listRuns)),
		op("addRuns", "POST /machines/{machine}/runs", shop.TimeRuns,
			"Add what was seen on a machine: whole runs, colour blocks, speeds read off the display. All or none.",
			makes(addRuns)),
		op("importRuns", "POST /machines/{machine}/runs.csv", shop.TimeRuns,
			"The same from a file (docs: how to time a machine). Designs are the shop's, by ID, file name or name.",
			gives(importRuns).as(201).from("text/csv")),
		op("deleteRun", "DELETE /runs/{run}", shop.KeepMachines, "Forget a run.", does(deleteRun)),
		op("listTimings", "GET /timings", shop.Look,
			"Runs being timed on the page, newest first.",
			gives(listTimings), text("machine", "only of this machine"), yes("open", "only those not finished")),
		op("saveTiming", "PUT /timings/{timing}", shop.TimeRuns,
			"Keep a run being timed as it is now; send it after every press with a rising rev. The page makes up "+
				"the ID (8 to 64 letters, digits, - and _). Sent again it changes nothing; an older rev is refused "+
				"(409), and so is what another phone owns (key owner).",
			takes(saveTiming)),
		op("getTiming", "GET /timings/{timing}", shop.Look, "A run being timed.", gives(getTiming)),
		op("finishTiming", "POST /timings/{timing}/finish", shop.TimeRuns,
			"Turn a timing into runs: the whole, and each colour block with both its restart and the stop after it.",
			gives(finishTiming).as(201), text("owner", "the token that its phone sent with it"),
			yes("take", "though another phone owns it"),
			yes("sure", "though two presses lie nearer than 0.3 s, or the run lies far from what was predicted")),
		op("deleteTiming", "DELETE /timings/{timing}", shop.TimeRuns,
			"Forget a timing; runs it became stay.", does(deleteTiming)),
	}
}

type runPage struct {
	Runs []shop.Run `json:"runs"`
}

func runsOrNone(runs []shop.Run, err error) (*runPage, error) { return &runPage{orEmpty(runs)}, err }

func listRuns(c *call) (*runPage, error) {
	return runsOrNone(c.Shop.Timings.Runs(c.Ctx, c.PathValue("machine")))
}

type runsNew struct {
	Runs []runNew `json:"runs"`
	Sure bool     `json:"sure,omitempty" doc:"though a run lies far from what was predicted"`
}

type runNew struct {
	DesignID string  `json:"design,omitempty" doc:"ID; left out for a speed read off the display"`
	Date     string  `json:"date,omitempty" doc:"ISO 8601 day; left out: today"`
	SetSpeed float64 `json:"set_speed" doc:"stitches/min"`
	Block    int     `json:"block,omitempty" doc:"colour block from 1; left out: the whole run"`
	Seconds  float64 `json:"seconds,omitempty"`
	Shown    float64 `json:"shown_speed,omitempty" doc:"stitches/min read off the display"`
	LengthMM float64 `json:"length_mm,omitempty" doc:"of the stitch the display was read at"`
	Zigzag   bool    `json:"zigzag,omitempty" doc:"to and fro, not straight on"`
	Error    float64 `json:"error,omitempty" doc:"the reading's own standard error; left out: the usual one"`
	Step     float64 `json:"step,omitempty" doc:"what it was rounded to: 1 for whole seconds"`
	Note     string  `json:"note,omitempty"`
	Needles  string  `json:"needles,omitempty" doc:"the needle of each colour block, e.g. 1 4 2; left out: 1, 2, 3"`
	Job      string  `json:"job,omitempty" doc:"kinds of job it was of, with + between, e.g. cap-frame+heavy; left out: a plain one"`
	With     string  `json:"with,omitempty" doc:"what a block's time holds beside it: start, before, after, end; or the part it is of: only 120-340 (these stitches), only after 340 520 (the rests after these)"`
}

func addRuns(c *call, in runsNew) (*runPage, error) {
	var runs []shop.Run
	for i, r := range in.Runs {
		on, err := day(fmt.Sprintf("date of run %d", i+1), r.Date)
		if err != nil {
			return nil, err
		}
		runs = append(runs, shop.Run{DesignID: r.DesignID, Date: on, SetSpeed: r.SetSpeed, Block: r.Block,
			Seconds: r.Seconds,
			Shown:   r.Shown, LengthMM: r.LengthMM, Zigzag: r.Zigzag, Error: r.Error, Step: r.Step, Note: r.Note,
			Needles: r.Needles, With: r.With, Job: r.Job, Sure: in.Sure})
	}
	return runsOrNone(c.Shop.Timings.AddRuns(c.Ctx, c.PathValue("machine"), runs))
}

type runsRead struct {
	Runs     []shop.Run `json:"runs"`
	Warnings []string   `json:"warnings"`
}

func importRuns(c *call) (*runsRead, error) {
	if t, _, err := mime.ParseMediaType(c.Header.Get("Content-Type")); err != nil || t != "text/csv" {
		return nil, shop.Errorf(shop.Unsupported, "send the file with Content-Type: text/csv")
	}
	b, err := io.ReadAll(io.LimitReader(c.Body, maxJSON+1))
	if err != nil {
		return nil, serve.BadRequest("the body ended early: %w", err)
	}
	if len(b) > maxJSON {
		return nil, shop.Errorf(shop.TooLarge, "the file has more than %d bytes", maxJSON)
	}
	runs, warnings, err := c.Shop.ReadRuns(c.Ctx, c.PathValue("machine"), "runs.csv", b)
	return &runsRead{runs, orEmpty(warnings)}, err
}

func orEmpty[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

func deleteRun(c *call) error { return c.Shop.Timings.DeleteRun(c.Ctx, c.PathValue("run")) }

type timingPage struct {
	Timings []*shop.Timing `json:"timings"`
}

func listTimings(c *call) (*timingPage, error) {
	q := c.Query()
	open := q.Yes("open")
	if q.Err != nil {
		return nil, q.Err
	}
	all, err := c.Shop.Timings.List(c.Ctx, q.Get("machine"), open)
	return &timingPage{orEmpty(all)}, err
}

type timingNew struct {
	MachineID string      `json:"machine"`
	DesignID  string      `json:"design"`
	SetSpeed  float64     `json:"set_speed" doc:"stitches/min"`
	Job       string      `json:"job,omitempty" doc:"kinds of job with + between; left out: a plain one"`
	Started   string      `json:"started" doc:"of the first press, RFC 3339"`
	Marks     []shop.Mark `json:"marks"`
	Note      string      `json:"note,omitempty"`
	Rev       int         `json:"rev" doc:"counts from 1, rises with every change"`
	Owner     string      `json:"owner,omitempty" doc:"a token of the phone's own: from then on nobody else changes the timing (409)"`
	Take      bool        `json:"take,omitempty" doc:"this phone owns it from now on, though another did"`
}

func saveTiming(c *call, in timingNew) (*shop.Timing, error) {
	started, err := parseTime(in.Started)
	if err != nil {
		return nil, shop.Invalidf("started is %q; write it as 2026-03-04T05:06:07Z", in.Started)
	}
	return c.Shop.Timings.Save(c.Ctx, &shop.Timing{ID: c.PathValue("timing"), MachineID: in.MachineID,
		DesignID: in.DesignID,
		SetSpeed: in.SetSpeed, Job: in.Job, Started: started, Marks: in.Marks, Note: in.Note, Rev: in.Rev,
		Owner: in.Owner, Take: in.Take, Holder: c.By()})
}

func getTiming(c *call) (*shop.Timing, error) {
	return c.Shop.Timings.Get(c.Ctx, c.PathValue("timing"))
}

func finishTiming(c *call) (*runPage, error) {
	q := c.Query()
	how := timings.Finishing{Owner: q.Get("owner"), Take: q.Yes("take"), Sure: q.Yes("sure")}
	if q.Err != nil {
		return nil, q.Err
	}
	return runsOrNone(c.Shop.Timings.Finish(c.Ctx, c.PathValue("timing"), how))
}

func deleteTiming(c *call) error {
	return c.Shop.Timings.Delete(c.Ctx, c.PathValue("timing"))
}
