package ask

import (
	"math"

	"needlepace/stitch"
)

// inKinds says of each finding in which kind of stitches it is: the kind that
// most of its stitches have, and of one whose stitches only bound it that of the
// stitch nearest to its place. What lies between stitches is in none.
func (a *AuditAnswer) inKinds(trimAfter int) {
	kinds := make([]stitch.Kind, 0, a.Stitches)
	at := make([]stitch.Point, 0, a.Stitches)
	p := stitch.Point{}
	all := a.Of.Kinds(trimAfter)
	for i, r := range a.Of.Records {
		p.X, p.Y = p.X+int(r.DX), p.Y+int(r.DY)
		if r.Op.Penetrates() {
			kinds, at = append(kinds, all[i]), append(at, p)
		}
	}
	for i := range a.Findings {
		f := &a.Findings[i]
		from, to := max(0, f.From), min(f.To, len(kinds))
		if from >= to || len(f.Places) > 0 && f.Places[0].From == f.Places[0].To {
			continue
		}
		if f.PastRev == f.FirstRev {
			near := math.Inf(1)
			for s := from; s < to; s++ {
				x, y := at[s].MM()
				if d := math.Hypot(x-f.X, y-f.Y); d < near {
					near, f.in = d, kinds[s]
				}
			}
		} else {
			var n [stitch.NumKinds]int
			for _, k := range kinds[from:to] {
				if n[k]++; n[k] > n[f.in] {
					f.in = k
				}
			}
		}
		if f.in != stitch.NotSewn {
			f.StitchKind = f.in.String()
		}
	}
}
