package clock

// TravelSeconds is a straight move where nothing is sewn (MODEL section 4):
// dx and dy in 0.1 mm, cut into so many jumps. Package audit weighs orders of
// sewing with it.
func (c *Clock) TravelSeconds(dx, dy, jumps int) float64 { return c.travelSeconds(dx, dy, jumps) }
