package serve

import "needlepace/ask"

// Today is the shop now, with the machines that tell where they are, or are listened to.
func (c *Call) Today() (*ask.TodayAnswer, error) {
	told, err := c.Shop.Told(c.Ctx)
	if err != nil {
		return nil, err
	}
	return ask.Today(c.Ctx, c.Shop.Asked(), ask.TodayQuestion{Now: c.Shop.Now(), Heard: append(told, c.Recordings.Heard()...)})
}
