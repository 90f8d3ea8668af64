package learn

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/words"
)

// driftRow is a dated time as the search for changes sees it.
type driftRow struct {
	obs  int // its observation
	date words.Day
	// Rows of one run, of one design at one speed, and of one block (or the whole)
	// of it have one number.
	run, design, block int

	off        float64
	size       float64 // s predicted
	slope      []float64
	read       float64 // variance of the reading, s²
	rests      float64 // Σ squares of the trims and colour stops in it, s²
	pause      float64
	slip, wide float64
	by         map[DriftKind]float64 // s for one standard deviation of a change
	parts      []int                 // of a whole: the rows of its blocks
	whole      noise                 // of a whole with its blocks
}

// driftRows are all of them.
type driftRows struct {
	all  []driftRow
	unit map[DriftKind]float64 // s that one standard deviation is, for trims and colour stops
	jj   *mat.SymDense         // covariance by the constants of the machine, once it is asked for
}

// driftRows are the dated times of the fit, linear about its mode: off is what was
// read less what the prior's mean would give.
func (po *posterior) driftRows() *driftRows {
	f := po.f
	m, p := f.model, len(f.z)
	out := &driftRows{}
	at := make([]int, len(m.obs)) // of each observation, from 1
	for i := range m.obs {
		if o := &m.obs[i]; o.Kind == DisplayReading || o.Date.IsZero() || f.aside[i] {
			continue
		}
		out.all = append(out.all, driftRow{})
		at[i] = len(out.all)
	}
	if len(out.all) < 3 || !po.severalDates() {
		return &driftRows{}
	}
	theta := make([]float64, p)
	f.prior.theta(f.z, theta)
	sheet := m.sheetAt(theta)
	out.unit = map[DriftKind]float64{DriftTrims: driftSD[DriftTrims] * sheet.Rest.Trim,
		DriftColours: driftSD[DriftColours] * sheet.Rest.ColourStop}
	moved := m.lawMoved(sheet)
	designs, runs, blocks := map[*group]int{}, map[string]int{}, map[string]int{}
	for i := range m.obs {
		if at[i] == 0 {
			continue
		}
		o, g, n := &m.obs[i], m.of[i], m.noise(i)
		r := &out.all[at[i]-1]
		design := numbered(designs, g)
		*r = driftRow{obs: i, date: o.Date, design: design, run: numbered(runs, fmt.Sprint(design, o.Date)),
			block: numbered(blocks, fmt.Sprint(design, o.Kind, o.Block, o.Only, len(m.partsOf(i)) > 0)), off: m.value(i) - f.pred[i],
			size: max(f.pred[i], 0), slope: slices.Clone(po.row(i)), read: n.sd * n.sd, pause: n.pause, slip: n.slip,
			wide: n.wide, by: map[DriftKind]float64{}}
		for k, s := range r.slope {
			r.off += s * f.z[k]
		}
		add := func(i int, sign float64) {
			o, g := &m.obs[i], m.of[i]
			g.rests(o, func(path string, n float64) {
				switch path {
				case "rest.trim":
					r.by[DriftTrims] += sign * n * out.unit[DriftTrims]
					r.rests += sign * n * sq(sheet.Rest.Trim)
				case "rest.colour_stop":
					r.by[DriftColours] += sign * n * out.unit[DriftColours]
					r.rests += sign * n * sq(sheet.Rest.ColourStop)
				}
			})
			for b := range g.blocks {
				if g.sewn(o, b) {
					r.by[DriftSpeed] += sign * moved[g].speed[b]
					r.by[DriftFrame] += sign * moved[g].frame[b]
				}
			}
		}
		add(i, 1)
		for _, b := range m.partsOf(i) {
			add(b, -1)
			if at[b] > 0 {
				r.parts = append(r.parts, at[b]-1)
			}
		}
		r.rests = max(r.rests, 0)
		r.by[DriftPace] = driftSD[DriftPace] * r.size
		if len(m.partsOf(i)) > 0 {
			r.whole = noiseOf(o.Kind, o.value(), o.StandardError())
		}
	}
	return out
}

// numbered gives each key a number of its own.
func numbered[K comparable](ids map[K]int, key K) int {
	n, ok := ids[key]
	if !ok {
		n = len(ids)
		ids[key] = n
	}
	return n
}

func (po *posterior) severalDates() bool {
	first := words.Day{}
	for i := range po.f.model.obs {
		switch o := &po.f.model.obs[i]; {
		case o.Date.IsZero() || po.f.aside[i]:
		case first.IsZero():
			first = o.Date
		case o.Date != first:
			return true
		}
	}
	return false
}

// lawMoves are what one standard deviation of slowness adds to the sewing of each
// block, s.
type lawMoves struct{ speed, frame []float64 }

// lawMoved finds them by the clock, half a standard deviation away from the sheet: the
// times bend.
func (m *model) lawMoved(sheet *machine.Sheet) map[*group]lawMoves {
	const half = 0.5
	slow := shallow(sheet)
	slow.Frame.AccelX *= math.Exp(-half * driftSD[DriftFrame])
	slow.Frame.AccelY *= math.Exp(-half * driftSD[DriftFrame])
	set := math.Exp(-half * driftSD[DriftSpeed])
	out := map[*group]lawMoves{}
	for _, g := range m.groups {
		d := g.design
		if g.thin != nil {
			d = g.thin.design
		}
		sew := func(s *machine.Sheet, speed float64) []float64 {
			t := make([]float64, len(g.blocks))
			for b, k := range clock.New(s, clock.Job{Speed: speed}).Run(d).Blocks {
				t[b] = k.Parts.Sewing()
			}
			return t
		}
		now := sew(sheet, g.speed)
		speed, frame := sew(sheet, g.speed*set), sew(slow, g.speed)
		for b := range now {
			share := g.sew[b] / max(now[b], nothing) / half // of a thinned design: its shape, the whole's size
			speed[b] = (speed[b] - now[b]) * share
			frame[b] = (frame[b] - now[b]) * share
		}
		for b := g.colours; b < len(now); b++ { // a part, as its block
			of := g.blocks[b].of
			share := g.sew[b] / max(g.sew[of], nothing)
			speed[b], frame[b] = speed[of]*share, frame[of]*share
		}
		out[g] = lawMoves{speed, frame}
	}
	return out
}

// together puts many rows together: blocks into their wholes, then times of one
// block on one date into their median. Of what is still too many the blocks
// count that were timed on most dates.
func (rows *driftRows) together() *driftRows {
	inside := make([]bool, len(rows.all))
	out := &driftRows{unit: rows.unit}
	type key struct {
		block int
		date  words.Day
	}
	cells := map[key][]driftRow{}
	var order []key
	for i := range rows.all {
		for _, b := range rows.all[i].parts {
			inside[b] = true
		}
	}
	for i := range rows.all {
		if inside[i] {
			continue
		}
		r := rows.all[i]
		if len(r.parts) > 0 {
			r.slope, r.by = slices.Clone(r.slope), maps.Clone(r.by)
			for _, b := range r.parts {
				part := &rows.all[b]
				r.off, r.size, r.rests = r.off+part.off, r.size+part.size, r.rests+part.rests
				for k, s := range part.slope {
					r.slope[k] += s
				}
				for k, v := range part.by {
					r.by[k] += v
				}
			}
			r.read, r.pause, r.slip, r.wide = sq(r.whole.sd), r.whole.pause, r.whole.slip, r.whole.wide
			r.parts = nil
		}
		k := key{r.block, r.date}
		if cells[k] == nil {
			order = append(order, k)
		}
		cells[k] = append(cells[k], r)
	}
	dates := map[int]int{}
	for _, k := range order {
		dates[k.block]++
	}
	slices.SortStableFunc(order, func(a, b key) int { return dates[b.block] - dates[a.block] })
	for _, k := range order[:min(len(order), driftMostSums)] {
		cell := cells[k]
		slices.SortStableFunc(cell, func(a, b driftRow) int {
			if a.off < b.off {
				return -1
			}
			return 1
		})
		n := len(cell)
		r := cell[n/2]
		if n > 1 {
			// The median of n normal values has about π/2 times the variance of their mean.
			r.off = (cell[(n-1)/2].off + cell[n/2].off) / 2
			r.read, r.rests = r.read*math.Pi/2/float64(n), r.rests*math.Pi/2/float64(n)
			if n > 2 {
				r.pause, r.slip = r.pause/float64(n), r.slip/float64(n)
			}
		}
		out.all = append(out.all, r)
	}
	return out
}
