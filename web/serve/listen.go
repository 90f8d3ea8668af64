package serve

import (
	"context"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/recordings"
	"needlepace/shop"
	"needlepace/words"
)

// BeginRecording begins a recording of a run.
func (c *Call) BeginRecording(q ask.ListenQuestion) (*recordings.State, error) {
	d, t, err := ask.Follow(c.Ctx, c.Shop.Shelf(), q, recordings.Rate)
	if err != nil {
		return nil, err
	}
	return c.Recordings.Begin(c.By(), q, d, t)
}

// Hear ends a recording and lays it on its design, as work.
func (c *Call) Hear(id string, each bool) (jobs.Work, error) {
	by := c.By()
	q, err := c.Recordings.Question(id, by)
	if err != nil {
		return jobs.Work{}, err
	}
	q.Each = each
	d, _, err := c.When()
	if err != nil {
		return jobs.Work{}, err
	}
	what := words.Say("hearing.hearing").Text(d.W)
	s, desk := c.Shop, c.Recordings
	return c.Jobs.Begin("listen", by, func(ctx context.Context, step jobs.Step) (any, error) {
		q.Progress = func(done float64) { step(done, what) }
		step(0, what)
		a, err := s.Listen(s.Elsewhere(ctx), q)
		if err != nil {
			return nil, err
		}
		return a, desk.Answered(id, by, a)
	})
}

// KeepHeard puts what was heard whole in a recording among its machine's timed
// runs, with the whole run's time, s, where it is known (0: it is not).
func (c *Call) KeepHeard(id string, whole float64) ([]shop.Run, error) {
	q, err := c.Recordings.Question(id, c.By())
	if err != nil {
		return nil, err
	}
	return c.Recordings.Keep(id, c.By(), func(a *ask.ListenAnswer) (_ []shop.Run, err error) {
		if whole > 0 {
			if a, err = a.WithWhole(whole); err != nil {
				return nil, err
			}
		}
		return c.Shop.KeepHeard(c.Ctx, q, a, c.By())
	})
}
