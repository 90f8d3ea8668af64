// Package answer is what the pages and the API both show of one question. It
// moves to package ask, question by question.
package answer

import (
	"context"

	"needlepace/clock"
	"needlepace/report"
	"needlepace/shop"
	"needlepace/thread"
)

// Clock is a clocked run as the API and the pages show it.
func Clock(ctx context.Context, s *shop.Shop, designID, machineID string, job clock.Job) (*report.Clock, error) {
	d, _, err := s.Design(ctx, designID)
	if err != nil {
		return nil, err
	}
	k, err := s.Clock(ctx, designID, machineID, job)
	if err != nil {
		return nil, err
	}
	a := report.ClockOf(k.Sheet.Name, k.Result, k.How)
	a.Design, a.File, a.WidthMM, a.HeightMM = d.Name, d.File, d.WidthMM, d.HeightMM
	a.Warnings = k.Warnings
	use, err := thread.Of(k.Design, thread.Default, k.Sheet.Reading.TrimAfterJumps)
	if err != nil {
		return nil, err
	}
	a.Thread = report.ThreadOf(&use)
	a.AddBlocks(k.Result)
	a.AddSweep(k.Sweep, k.Knee)
	a.AddWhy(k.How)
	return a, nil
}
