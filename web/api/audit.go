package api

import (
	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/shop"
)

func auditRoutes() []*route {
	return []*route{
		op("audit", "POST /designs/{design}/audit", shop.Look,
			"Find what in a design wastes time or risks breaks on a machine, as work; the result is an Audit.",
			begins[ask.AuditAnswer](auditDesign)),
		op("mend", "POST /designs/{design}/mend", shop.AskWhatIf,
			"Make a design cheaper to sew without changing the sewn picture, as work; the result is a Mended, "+
				"whose file is at /work/{work}/mended. With keep it also becomes a design of the shop.",
			begins[mendedAnswer](mendDesign)),
		op("mendMany", "POST /designs/mend", shop.AskWhatIf,
			"Mend many designs, those named or a customer's, as work; the result is a MendedMany. Its files are at "+
				"/work/{work}/ID, by the designs' IDs, and all that can be taken together at /work/{work}/mended.zip. "+
				"With keep these also become designs of the shop. Money is in it for those who may see it.",
			begins[mendedManyAnswer](mendMany)),
	}
}

// JobAsked is the job in a body: the same as the clock's parameters.
type JobAsked struct {
	Machine string `json:"machine" doc:"ID of a machine of the shop, or the name of a built-in class"`
	ask.Job
}

// check says what is wrong with a job before work is begun.
func (a *JobAsked) check() error {
	if a.Machine == "" {
		return shop.Invalidf("machine is missing: the ID of a machine, or the name of a class")
	}
	_, err := a.Job.Clock()
	return err
}

type auditAsked struct {
	JobAsked
	Pieces int     `json:"pieces,omitempty" doc:"ordered; left out: 1"`
	HoopX  float64 `json:"hoop_x,omitempty" doc:"mm inside the hoop; left out: not checked"`
	FieldX float64 `json:"field_x,omitempty" doc:"mm that the machine can sew in; left out: what its sheet says"`
	FieldY float64 `json:"field_y,omitempty" doc:"mm; left out: what its sheet says"`
	HoopY  float64 `json:"hoop_y,omitempty"`
	Since  string  `json:"since,omitempty" doc:"ID of the design that is an earlier version: its findings are looked for again"`
}

func auditDesign(c *call, in auditAsked) (*jobs.Work, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	q := ask.AuditQuestion{Design: c.PathValue("design"), Machine: in.Machine, Job: in.Job,
		Pieces: in.Pieces, HoopX: in.HoopX, HoopY: in.HoopY, FieldX: in.FieldX, FieldY: in.FieldY,
		Density: true, Since: in.Since}
	if err := ask.AuditCheck(q); err != nil {
		return nil, err
	}
	if _, err := c.Shop.Clock(c.Ctx, q.Design, q.Machine, q.Job); err != nil {
		return nil, err
	}
	return c.begin("audit", func(w *work) (any, error) {
		w.step(0.05, "looking for what wastes time")
		return c.Shop.Audit(w.ctx, q)
	})
}

type mendAsked struct {
	JobAsked
	KeepColours bool    `json:"keep_colours,omitempty" doc:"the colour blocks stay in their order"`
	KeepStops   bool    `json:"keep_stops,omitempty" doc:"every stop stays, at its place and with what is sewn before it"`
	Release     []int   `json:"release,omitempty" doc:"stops that may go although no thread changes there, by number, from 1"`
	Format      string  `json:"format,omitempty" doc:"of the new file: dst, exp, jef, pes or vp3; left out: the old one's, or dst where that cannot be written"`
	Seconds     float64 `json:"seconds,omitempty" doc:"for the search, at most 600; left out: 5"`
	Keep        bool    `json:"keep,omitempty" doc:"add the mended file to the shop's designs"`
}

type mendedAnswer struct {
	File   string `json:"file" doc:"name of the new file; empty where nothing changed"`
	Design string `json:"design" doc:"with keep: the ID of the new design; else empty"`
	*ask.MendAnswer
}

// WorkFiles is the mended file.
func (m *mendedAnswer) WorkFiles() map[string]jobs.File {
	if m.Content == nil {
		return nil
	}
	return map[string]jobs.File{"mended": {Name: m.NewFile, MediaType: "application/octet-stream", Content: m.Content}}
}

func mendDesign(c *call, in mendAsked) (*jobs.Work, error) {
	if in.Keep {
		if err := c.Need(shop.KeepDesigns); err != nil {
			return nil, err
		}
	}
	if err := in.check(); err != nil {
		return nil, err
	}
	q := ask.MendQuestion{Design: c.PathValue("design"), Machine: in.Machine, Job: in.Job,
		KeepColours: in.KeepColours, KeepStops: in.KeepStops, Release: in.Release, Format: in.Format, Seconds: in.Seconds}
	if err := c.Shop.MendCheck(c.Ctx, q); err != nil {
		return nil, err
	}
	return c.begin("mend", func(w *work) (any, error) {
		q.Progress = func(f, _ float64) { w.step(f, "looking for a better order") }
		m, err := c.Shop.Mend(w.ctx, q)
		if err != nil {
			return nil, err
		}
		out := &mendedAnswer{File: m.NewFile, MendAnswer: m}
		if in.Keep && m.Changed {
			kept, err := c.Shop.KeepMended(w.ctx, q.Design, m)
			if err != nil {
				return nil, err
			}
			out.Design = kept.ID
		}
		return out, nil
	})
}
