package act

import (
	"context"

	"needlepace/ask"
	"needlepace/shop"
)

// Listen lays a recording on the design that was sewn.
func (s *Shop) Listen(ctx context.Context, q ask.ListenQuestion) (*ask.ListenAnswer, error) {
	return ask.Listen(ctx, s.Shelf(), q)
}

// KeepHeard puts the colour blocks that were heard whole among a machine's timed
// runs, from which it learns. A recording of which none was is refused.
func (s *Shop) KeepHeard(ctx context.Context, q ask.ListenQuestion, a *ask.ListenAnswer) ([]shop.Run, error) {
	rows := a.Rows()
	if len(rows) == 0 {
		return nil, shop.Invalidf("no colour block was heard whole: there is no time to keep")
	}
	runs := make([]shop.Run, len(rows))
	for i, r := range rows {
		runs[i] = shop.Run{DesignID: q.Design, SetSpeed: r.SetSpeed, Block: r.Block, Seconds: r.Seconds, Error: r.Error,
			Note: r.Note, Job: r.Job.String()}
	}
	return s.Timings.AddRuns(ctx, q.Machine, runs)
}
