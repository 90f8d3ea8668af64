package shop

import (
	"context"

	"needlepace/clock"
	"needlepace/picture"
	"needlepace/report"
)

// RunPicture gathers what the main picture of a run draws.
func (s *Shop) RunPicture(ctx context.Context, designID, machineID string, job clock.Job) (*picture.Run, error) {
	d, err := s.store.Design(ctx, designID)
	if err != nil {
		return nil, err
	}
	k, err := s.Clock(ctx, designID, machineID, job)
	if err != nil {
		return nil, err
	}
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	return report.RunPicture(d.Name, k.Design, k.Sheet, job, k.Result, k.How), nil
}
