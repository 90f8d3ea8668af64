package audit

import "math"

// column is a stretch of satin: every stitch turns back on the one before it.
type column struct {
	object   int
	from, to int // holes: from ≤ k < to
}

// Satin turns by more than 135° at each hole, its stitches are as wide as the
// column, 0.8 mm and more, and lie close. So many in a row are a column.
// Engineering choices.
const (
	columnCos   = -0.7
	columnLeast = 8  // 0.1 mm
	columnStep  = 10 // 0.1 mm from a hole to the next one of its side, at most
	columnOpen  = 16 // and of an open one, which needs its underlay too
	columnRow   = 12 // stitches
)

// columns finds the satin of a design, once.
func (v *survey) columns() []column {
	if v.satin != nil {
		return v.satin
	}
	v.satin = v.columnsOf(columnStep)
	return v.satin
}

// columnsOf finds the satin whose holes of one side are so far apart at most.
func (v *survey) columnsOf(step float64) []column {
	found := []column{}
	for i := range v.l.objects {
		o := &v.l.objects[i]
		from := -1
		end := func(k int) {
			if from >= 0 && k-from > columnRow {
				found = append(found, column{i, from, k})
			}
			from = -1
		}
		for k := o.First + 1; k+1 < o.Last; k++ {
			if !v.turnsBack(k, step) {
				end(k + 1)
			} else if from < 0 {
				from = k - 1
			}
		}
		end(o.Last)
	}
	return found
}

// turnsBack says whether the thread turns back at hole k, as satin does, by a step of its side.
func (v *survey) turnsBack(k int, step float64) bool {
	a, b, c := v.l.holes[k-1], v.l.holes[k], v.l.holes[k+1]
	if c.record != b.record+1 || b.record != a.record+1 {
		return false
	}
	u, w := v.long(k-1, k), v.long(k, k+1)
	return v.long(k-1, k+1) <= step && u >= columnLeast && w >= columnLeast && float64(v.turn(k)) < columnCos*u*w
}

// long is the distance of two holes, 0.1 mm.
func (v *survey) long(a, b int) float64 {
	p, q := v.l.holes[a], v.l.holes[b]
	return math.Hypot(float64(q.x-p.x), float64(q.y-p.y))
}
