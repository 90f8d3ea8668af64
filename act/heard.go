package act

import (
	"context"

	"needlepace/ask"
	"needlepace/learn"
	"needlepace/shop"
	"needlepace/words"
)

// Listen lays a recording on the design that was sewn.
func (s *Shop) Listen(ctx context.Context, q ask.ListenQuestion) (*ask.ListenAnswer, error) {
	return ask.Listen(ctx, s.Shelf(), q)
}

// KeepHeard puts the sewing in stretches, the rests, and the speeds held on
// stitches of one length, as they were heard, among a machine's timed runs, from which it learns; and the
// breaks that were heard over what was sewn to its break rate. The same recording
// again is refused: it would count twice.
func (s *Shop) KeepHeard(ctx context.Context, q ask.ListenQuestion, a *ask.ListenAnswer, by string) ([]shop.Run, error) {
	if a.Heard == nil {
		return nil, shop.Saying(shop.Invalid, words.Say("refused.recording-refused"))
	}
	h, err := ask.HeardBreaks(ctx, s.Asked(), q, a)
	if err != nil {
		return nil, err
	}
	h.By = by
	rows := a.Rows()
	runs := make([]shop.Run, len(rows))
	for i, r := range rows {
		runs[i] = shop.Run{SetSpeed: r.SetSpeed, Error: r.Error, Note: r.Note, Step: r.Step, With: r.Holds(), Job: r.Job.String()}
		if r.Kind == learn.DisplayReading {
			runs[i].Shown, runs[i].LengthMM, runs[i].Zigzag = r.Shown, r.LengthMM, r.Zigzag
		} else {
			runs[i].DesignID, runs[i].Block, runs[i].Seconds = q.Design, r.Block, r.Seconds
		}
	}
	return s.Timings.AddHeard(ctx, h, runs)
}
