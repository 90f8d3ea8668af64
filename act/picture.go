package act

import (
	"context"

	"needlepace/ask"
	"needlepace/picture"
)

// RunPicture is the main picture of a run.
func (s *Shop) RunPicture(ctx context.Context, designID, machineID string, job ask.Job) (*picture.Run, error) {
	a, err := s.Clock(ctx, designID, machineID, job)
	if err != nil {
		return nil, err
	}
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	return picture.RunOf(a), nil
}
