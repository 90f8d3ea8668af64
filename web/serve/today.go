package serve

import "needlepace/ask"

// Today is the shop now, with the machines that are listened to.
func (c *Call) Today() (*ask.TodayAnswer, error) {
	return ask.Today(c.Ctx, c.Shop.Asked(), ask.TodayQuestion{Now: c.Shop.Now(), Heard: c.Recordings.Heard()})
}
