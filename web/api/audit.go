package api

import (
	"needlepace/act"
	"needlepace/ask"
	"needlepace/clock"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/answer"
)

func auditRoutes() []*route {
	return []*route{
		{name: "audit", method: "POST", path: "/designs/{design}/audit", right: shop.Look, summary: "Find what in a design wastes time or risks breaks on a machine, as work; the result is an Audit.", in: auditAsked{}, out: jobs.Work{}, status: 202, result: auditAnswer{}, do: auditDesign},
		{name: "mend", method: "POST", path: "/designs/{design}/mend", right: shop.AskWhatIf, summary: "Make a design cheaper to sew without changing the sewn picture, as work; the result is a Mended, whose file is at /work/{work}/mended. With keep it also becomes a design of the shop.", in: mendAsked{}, out: jobs.Work{}, status: 202, result: answer.Mend{}, do: mendDesign},
	}
}

// JobAsked is the job in a body: the same as the clock's parameters.
type JobAsked struct {
	Machine string `json:"machine" doc:"ID of a machine of the shop, or the name of a built-in class"`
	ask.Job
}

func (a *JobAsked) job() (clock.Job, error) {
	if a.Machine == "" {
		return clock.Job{}, shop.Errorf(shop.Invalid, "machine is missing: the ID of a machine, or the name of a class")
	}
	return a.Job.Clock()
}

type auditAsked struct {
	JobAsked
	Pieces int     `json:"pieces,omitempty" doc:"ordered; left out: 1"`
	HoopX  float64 `json:"hoop_x,omitempty" doc:"mm inside the hoop; left out: not checked"`
	HoopY  float64 `json:"hoop_y,omitempty"`
}

type auditAnswer struct {
	Seconds  float64   `json:"seconds" doc:"run time as it is"`
	Stitches int       `json:"stitches"`
	Runs     int       `json:"runs" doc:"times the machine sews the design for the order"`
	Total    float64   `json:"total" doc:"seconds of all findings; they may overlap, so no promise"`
	Findings []finding `json:"findings" doc:"dearest first"`
	Off      []string  `json:"off" doc:"findings that could not be looked for, and why"`
	Density  density   `json:"density"`
	files    map[string]jobs.File
}

func (a *auditAnswer) WorkFiles() map[string]jobs.File { return a.files }

type finding struct {
	Kind         string  `json:"kind"`
	Block        int     `json:"block" doc:"colour block, from 1"`
	From         int     `json:"from" doc:"stitch from 0; to = from is between stitches"`
	To           int     `json:"to"`
	X            float64 `json:"x" doc:"mm from the start, y up"`
	Y            float64 `json:"y"`
	Count        int     `json:"count"`
	Seconds      float64 `json:"seconds" doc:"on each run"`
	OrderSeconds float64 `json:"order_seconds"`
	Risk         string  `json:"risk"`
	What         string  `json:"what"`
	Ask          string  `json:"ask" doc:"what to ask the digitizer for"`
}

type density struct {
	X0     float64 `json:"x0" doc:"mm, lower left corner"`
	Y0     float64 `json:"y0"`
	NX     int     `json:"nx"`
	NY     int     `json:"ny"`
	Counts []int32 `json:"counts" doc:"penetrations of each square millimetre, rows from below"`
}

func auditDesign(c *call) (any, error) {
	var in auditAsked
	if err := c.read(&in); err != nil {
		return nil, err
	}
	job, err := in.job()
	if err != nil {
		return nil, err
	}
	id := c.PathValue("design")
	if _, err := c.Shop.Clock(c.Ctx, id, in.Machine, in.Job); err != nil {
		return nil, err
	}
	return c.begin("audit", func(w *work) (any, error) {
		w.step(0.05, "looking for what wastes time")
		a, err := c.Shop.Audit(w.ctx, id, in.Machine, act.AuditAsked{Job: job, Pieces: in.Pieces, HoopX: in.HoopX, HoopY: in.HoopY})
		if err != nil {
			return nil, err
		}
		return auditOf(a), nil
	})
}

func auditOf(a *act.Audited) *auditAnswer {
	p := a.Penetrations
	out := &auditAnswer{Seconds: a.Seconds, Stitches: a.Stitches, Runs: a.Runs, Total: a.Total, Findings: []finding{}, Off: orEmpty(a.Off),
		Density: density{p.X0, p.Y0, p.NX, p.NY, orEmpty(p.Counts)}}
	for _, f := range a.Findings {
		out.Findings = append(out.Findings, finding{string(f.Kind), f.Block + 1, f.From, f.To, f.X, f.Y, f.Count, f.Seconds, f.OrderSeconds, string(f.Risk), f.What, f.Ask})
	}
	return out
}

type mendAsked struct {
	JobAsked
	KeepColours bool    `json:"keep_colours,omitempty" doc:"the colour blocks stay in their order"`
	Seconds     float64 `json:"seconds,omitempty" doc:"for the search, at most 600; left out: 20"`
	Keep        bool    `json:"keep,omitempty" doc:"add the mended file to the shop's designs"`
}

func mendDesign(c *call) (any, error) {
	var in mendAsked
	if err := c.read(&in); err != nil {
		return nil, err
	}
	if in.Keep {
		if err := c.Need(shop.KeepDesigns); err != nil {
			return nil, err
		}
	}
	job, err := in.job()
	if err != nil {
		return nil, err
	}
	id := c.PathValue("design")
	if _, err := c.Shop.Clock(c.Ctx, id, in.Machine, in.Job); err != nil {
		return nil, err
	}
	return c.begin("mend", func(w *work) (any, error) {
		m, err := c.Shop.Mend(w.ctx, id, in.Machine, act.MendAsked{Job: job, KeepColours: in.KeepColours, Seconds: in.Seconds, Keep: in.Keep},
			func(f float64) { w.step(f, "looking for a better order") })
		if err != nil {
			return nil, err
		}
		return answer.MendOf(m), nil
	})
}
