package serve

import (
	"needlepace/ask"
	"needlepace/picture"
)

// RunPicture is the main picture of a run. It waits for room to compute it.
func (c *Call) RunPicture(designID, machineID string, job ask.Job) (*picture.Run, error) {
	a, err := c.Shop.Clock(c.Ctx, designID, machineID, job)
	if err != nil {
		return nil, err
	}
	free, err := c.Shop.Asked().Slot(c.Ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	return picture.RunOf(a), nil
}
