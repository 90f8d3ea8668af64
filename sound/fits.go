package sound

import "slices"

// A recording may be right as a whole and wrong in a part: a run that was not recorded, or is another one's,
// is laid where nothing of it is heard. So what is heard is looked at stretch by stretch.

const (
	fitStretch = 40  // strokes in a row
	fitLeast   = 0.6 // of the usual share of them that are clear: fewer are not this design's
)

// unheard is the longest row of strokes of which much less is heard than of others.
func (h *hearing) unheard() (longest int) {
	type stretch struct {
		n     int
		clear float64
	}
	var rows []stretch
	var shares []float64
	var now stretch
	end := func() {
		if now.n >= fitStretch/2 {
			rows, shares = append(rows, now), append(shares, now.clear/float64(now.n))
		}
		now = stretch{}
	}
	for _, l := range h.laid {
		for i, g := range l.gain {
			if l.number[i] < 0 || l.placed || h.dropped(l.heard[i]) {
				continue
			}
			if now.n++; g > clearly {
				now.clear++
			}
			if now.n == fitStretch {
				end()
			}
		}
		if len(l.at) >= fitStretch/2 {
			end()
		}
	}
	end()
	if len(shares) == 0 {
		return 0
	}
	usual := slices.Sorted(slices.Values(shares))[len(shares)/2]
	row := 0
	for i, r := range rows {
		if shares[i] >= fitLeast*usual {
			row = 0
			continue
		}
		row += r.n
		longest = max(longest, row)
	}
	return longest
}

// dropped reports whether the recorder left out what was at a time.
func (h *hearing) dropped(at float64) bool {
	t := int(at / Step)
	return t >= 0 && t < h.curve.n && h.curve.level[t] == 0
}
