package synth

import (
	"math"
	"math/rand/v2"

	"needlepace/stitch"
)

// Design draws a design of so many stitches: satin columns, runs and filled
// areas, with trims between them and a colour stop now and then.
func Design(stitches int, rng *rand.Rand) *stitch.Design {
	d := &stitch.Design{Name: "drawn"}
	sewn := 0
	sew := func(x, y float64) {
		d.Records = append(d.Records, stitch.Record{DX: int16(math.Round(x)), DY: int16(math.Round(y)), Op: stitch.Sew})
		sewn++
	}
	for part := 0; sewn < stitches; part++ {
		if part > 0 {
			if rng.IntN(4) == 0 {
				d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
			}
			for range 4 { // a trim and the way to the next part
				d.Records = append(d.Records, stitch.Record{DX: int16(rng.IntN(60) - 30), DY: int16(rng.IntN(60) - 30), Op: stitch.Jump})
			}
		}
		turn := rng.Float64() * 2 * math.Pi
		along := func(x, y float64) {
			sew(x*math.Cos(turn)-y*math.Sin(turn), x*math.Sin(turn)+y*math.Cos(turn))
		}
		n := min(60+rng.IntN(260), stitches-sewn+20)
		switch rng.IntN(3) {
		case 0: // satin, its width changing
			width, side := 15+45*rng.Float64(), 1.0
			for i := range n {
				along(2, side*width*(1+0.5*math.Sin(float64(i)/25)))
				side = -side
			}
		case 1: // running
			for i := range n {
				turn += 0.25 * math.Sin(float64(i)/9)
				along(18+6*math.Sin(float64(i)/17), 0)
			}
		default: // filled rows
			row, at, way := 5+rng.IntN(12), 0, 1.0
			for range n {
				if at++; at > row {
					along(0, 4)
					at, way = 0, -way
				} else {
					along(way*38, 0)
				}
			}
		}
	}
	return d
}
