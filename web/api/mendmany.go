package api

import (
	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

type mendManyAsked struct {
	JobAsked
	Designs     []string `json:"designs,omitempty" doc:"IDs; left out: the customer's"`
	Customer    string   `json:"customer,omitempty" doc:"whose designs, where none is named"`
	KeepColours bool     `json:"keep_colours,omitempty" doc:"the colour blocks stay in their order"`
	KeepStops   bool     `json:"keep_stops,omitempty" doc:"every stop stays, at its place and with what is sewn before it"`
	Format      string   `json:"format,omitempty" doc:"of the new files: dst, exp, jef, pes or vp3; left out: each old one's, or dst"`
	Seconds     float64  `json:"seconds,omitempty" doc:"for the search of each design, at most 600; left out: 5"`
	Keep        bool     `json:"keep,omitempty" doc:"add to the shop's designs what can be taken together"`
}

type mendedManyAnswer struct{ *ask.MendManyAnswer }

// WorkFiles are the mended files, and those together that can be taken so.
func (m *mendedManyAnswer) WorkFiles() map[string]jobs.File {
	return serve.MendedFiles(m.MendManyAnswer)
}

func mendMany(c *call, in mendManyAsked) (*jobs.Work, error) {
	if in.Keep {
		if err := c.Need(shop.KeepDesigns); err != nil {
			return nil, err
		}
	}
	if err := in.check(); err != nil {
		return nil, err
	}
	q := ask.MendManyQuestion{Designs: in.Designs, Machine: in.Machine, Job: in.Job, KeepColours: in.KeepColours,
		KeepStops: in.KeepStops, Format: in.Format, Seconds: in.Seconds, Money: c.May(shop.SeeMoney)}
	if len(q.Designs) == 0 && in.Customer != "" {
		all, _, err := c.Shop.Designs.Of(c.Ctx, in.Customer, ask.MostMended)
		if err != nil {
			return nil, err
		}
		for _, d := range all {
			q.Designs = append(q.Designs, d.ID)
		}
	}
	if err := c.Shop.MendManyCheck(c.Ctx, q); err != nil {
		return nil, err
	}
	return c.begin("mendmany", func(w *work) (any, error) {
		q.Progress = func(f float64, doing words.Message) { w.step(f, doing.Text(nil)) }
		if in.Keep {
			q.Done = func(d *ask.MendedDesign) error {
				if !d.Clear {
					return nil
				}
				kept, err := c.Shop.KeepMended(w.ctx, d.ID, d.Mend)
				if err == nil {
					d.Kept = kept.ID
				}
				return err
			}
		}
		m, err := c.Shop.MendMany(w.ctx, q)
		if err != nil {
			return nil, err
		}
		return &mendedManyAnswer{m}, nil
	})
}
