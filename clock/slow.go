package clock

import "needlepace/stitch"

// gently is how many of a run's first revolutions are slow because the machine is let in gently: those within so many
// of their colour block, and those that begin within so many seconds of the start button, by what r has charged and
// the caps alone.
func (c *Clock) gently(run []stitch.Record, r *Result) int {
	n := min(max(c.slow.Stitches-r.Blocks[len(r.Blocks)-1].Revolutions, 0), len(run))
	now := 0.0
	for i := range r.Blocks {
		b := &r.Blocks[i]
		now += b.Parts.sum() + b.LongBy.Sum() // LongStitches is not yet filled
	}
	var px, py int
	for i := 0; i < len(run) && now < c.slow.Seconds; i++ {
		dx, dy := int(run[i].DX), int(run[i].DY)
		inv := max(c.law.stepped(c.law.cap(dx, dy, px, py).inv), c.invSlow)
		if i < c.soft {
			inv = max(inv, c.invSoft)
		}
		px, py = dx, dy
		now += inv
		n = max(n, i+1)
	}
	return n
}
