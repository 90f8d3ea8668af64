package zoo

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/stitch"
)

// displaySD is how far what a person reads off a display lies from the speed that the shaft holds, stitches/min.
const displaySD = 10

// follow does once what learning says to time next, on the machine of which rows were learned, and gives all rows then.
func (s *Study) follow(ctx context.Context, m *Machine, next *learn.Suggestion, sheet *machine.Sheet, rows []learn.Observation,
	rng *rand.Rand,
) ([]learn.Observation, error) {
	o := next.Row
	o.Row = len(rows) + 2
	switch {
	case next.Piece:
		p, err := learn.TestPiece(ctx, sheet, learn.PieceOptions{HoopX: 100, HoopY: 100})
		if err != nil {
			return nil, err
		}
		own := *s
		own.opt.Timed = nil
		more, _ := own.times(m, p, nil, rng)
		for i := range more {
			more[i].Row, more[i].Name = o.Row+i, "second piece"
		}
		return slices.Concat(rows, more), nil
	case o.Kind == learn.DisplayReading:
		o.Shown = m.shows(&o) + displaySD*rng.NormFloat64()
	case o.Design == nil: // the needles of each block: 1, 2, 3 and so on
		rows = slices.Clone(rows)
		for i := range rows {
			blocks := len(m.Run(rows[i].Design, rows[i].SetSpeed, nil, nil).Blocks)
			for b := range blocks {
				rows[i].Needles = append(rows[i].Needles, b%max(m.Sheet.Needles, 1))
			}
		}
		return rows, nil
	default:
		took := vary(m.Run(o.Design, o.SetSpeed, nil, rng), s.opt.Vary, rng)
		if o.Seconds = took.Seconds; o.Kind == learn.BlockRun {
			o.Seconds = took.Blocks[o.Block-1]
		}
		o.Seconds = max(o.Seconds+watchSD*rng.NormFloat64(), 0.1)
		written(&o)
	}
	return append(slices.Clone(rows), o), nil
}

// shows is the speed, stitches/min, that the display has while the machine sews stitches of one length.
func (m *Machine) shows(o *learn.Observation) float64 {
	took := func(n int) float64 {
		d := straight(n, o.LengthMM)
		for k := 1; o.Zigzag && k < n; k += 2 {
			d.Records[k].DX = -d.Records[k].DX
		}
		return m.Run(d, o.SetSpeed, nil, nil).Seconds
	}
	const n = 400
	return 60 * n / (took(2*n) - took(n))
}

// straight is so many stitches of one length (mm), one after the other.
func straight(n int, mm float64) *stitch.Design {
	d := &stitch.Design{}
	for range n {
		d.Records = append(d.Records, stitch.Record{DX: int16(math.Round(mm * stitch.UnitsPerMM)), Op: stitch.Sew})
	}
	return d
}
