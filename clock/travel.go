package clock

// TravelSeconds is a straight move where nothing is sewn (MODEL section 4):
// dx and dy in 0.1 mm, cut into so many jumps. Package audit weighs orders of
// sewing with it.
func (c *Clock) TravelSeconds(dx, dy, jumps int) float64 { return c.travelSeconds(dx, dy, jumps) }

// HomeSeconds is the return to the start at the end, from (dx, dy) in 0.1 mm: the
// frame's own move in either mode, for no record stands for it. 0 where the machine does not.
func (c *Clock) HomeSeconds(dx, dy int) float64 {
	if !c.homing {
		return 0
	}
	return c.frameTravel(dx, dy)
}
