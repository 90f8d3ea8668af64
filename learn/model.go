package learn

import (
	"math"
	"slices"
	"strings"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// model gives what the machine would show for each observation, as a function
// of the logarithms of the constants that may move. A run time is linear in
// the rests (each is a count times a constant) and the travels are few, so
// only the sewing needs the clock again when a constant of the speed law
// moves. The sums are those of package clock.
type model struct {
	base   *machine.Sheet
	free   []machine.Constant
	at     []float64 // the point the caches below belong to
	sheet  *machine.Sheet
	groups []*group
	obs    []Observation
	of     []*group // of each observation; nil for a display reading
	parts  [][]int  // of a whole run: the rows that time its blocks

	things []Observation      // what timed has gathered
	probes map[timing]float64 // what probe has clocked at this point, s
}

// pair finds the rows that time blocks of the very run another row times as a
// whole: same design, set speed and date, each block once. Such a whole counts
// as what is left of it without them (start, end, colour stops, untimed
// blocks), so that an interruption in a block is one interruption and not two.
func (m *model) pair(aside []bool) {
	type key struct {
		g    *group
		date words.Day
	}
	type set struct {
		wholes int
		whole  int
		blocks map[int][]int
	}
	sets := map[key]*set{}
	for i, g := range m.of {
		if g == nil || aside[i] {
			continue
		}
		o := &m.obs[i]
		k := key{g, o.Date}
		s := sets[k]
		if s == nil {
			s = &set{blocks: map[int][]int{}}
			sets[k] = s
		}
		if o.Kind == WholeRun {
			s.wholes++
			s.whole = i
		} else {
			s.blocks[o.Block] = append(s.blocks[o.Block], i)
		}
	}
	m.parts = make([][]int, len(m.obs))
	for _, s := range sets {
		if s.wholes != 1 {
			continue
		}
		var rows []int
		for _, b := range s.blocks {
			if len(b) > 1 {
				rows = nil
				break
			}
			rows = append(rows, b[0])
		}
		slices.Sort(rows)
		m.parts[s.whole] = rows
	}
}

// value is the number the fit compares: what was read, for a whole run less
// the blocks that were timed in it.
func (m *model) value(i int) float64 {
	v := m.obs[i].value()
	for _, b := range m.partsOf(i) {
		v -= m.obs[b].value()
	}
	return v
}

func (m *model) partsOf(i int) []int {
	if m.parts == nil {
		return nil
	}
	return m.parts[i]
}

// noise is the noise of value i.
func (m *model) noise(i int) noise {
	o := &m.obs[i]
	size, sd := o.value(), o.StandardError()
	if parts := m.partsOf(i); len(parts) > 0 {
		size = max(m.value(i), 0)
		v := sq(o.reading()) + sq(RunToRun*size)
		for _, b := range parts {
			v += sq(m.obs[b].reading())
		}
		sd = math.Sqrt(v)
	}
	return noiseOf(o.Kind, size, sd)
}

// group is one design at one set speed: observations of it share its runs.
type group struct {
	design  *stitch.Design
	speed   float64
	blocks  []blockCounts
	travels []travel
	home    stitch.Point // the way back, units of 0.1 mm; 0 where the machine stays
	sew     []float64    // s, by colour block
	travel  []float64    // s, by colour block, after its first stitch
	opening []float64    // s, by colour block, before its first stitch
	homing  float64      // s
	slope   [][]float64  // of ln sew by theta, by free constant and block, as last made; nil for the others
	thin    *thinned     // where a share of the design stands for it
}

type blockCounts struct {
	trims, colours, stops int
	needles               float64 // needle positions crossed
	stitches              int
}

type travel struct {
	stitch.Event
	opening bool // before the block's first stitch
}

// heldConstants are never learned: the window because timing shows only
// window·sqrt(accel), the maximum because the set speed is known.
func held(path string) bool { return path == "frame.window" || path == "max_speed" }

// freeConstants are the constants of a sheet that observations may move: those
// with a value and a spread, that matter in the sheet's modes.
func freeConstants(s *machine.Sheet) []machine.Constant {
	var out []machine.Constant
	for c := range s.Constants() {
		switch {
		case c.Whole || held(c.Path) || s.SD[c.Path] <= 0 || c.Get(s) <= 0:
		case c.Path == "travel.shaft_speed" && s.Travel.Mode != machine.ShaftTravel:
		case (c.Path == "travel.accel" || c.Path == "travel.speed") && s.Travel.Mode == machine.ShaftTravel &&
			!s.Travel.ReturnToStart:
		case c.Path == "shaft.soft_start_speed" && s.Shaft.SoftStartStitches == 0:
		default:
			out = append(out, c)
		}
	}
	return out
}

// Predict is what a sheet says each observation should show: seconds, or
// stitches/min for a display reading. The sheet must be valid and the
// observations have their designs.
func Predict(s *machine.Sheet, obs []Observation) []float64 {
	m := newModel(s, nil, obs)
	m.move(nil)
	out := make([]float64, len(obs))
	m.predict(out)
	return out
}

func newModel(s *machine.Sheet, free []machine.Constant, obs []Observation) *model {
	m := &model{base: s, free: free, obs: obs}
	type key struct {
		d     *stitch.Design
		speed float64
	}
	groups := map[key]*group{}
	for i := range obs {
		o := &obs[i]
		if o.Kind == DisplayReading {
			m.of = append(m.of, nil)
			continue
		}
		k := key{o.Design, min(o.SetSpeed, s.MaxSpeed)}
		g := groups[k]
		if g == nil {
			g = newGroup(s, o.Design, k.speed)
			groups[k] = g
			m.groups = append(m.groups, g)
		}
		m.of = append(m.of, g)
	}
	return m
}

func newGroup(s *machine.Sheet, d *stitch.Design, speed float64) *group {
	g := &group{design: d, speed: speed, blocks: make([]blockCounts, 1)}
	needle := func(b int) float64 { return float64(b % max(s.Needles, 1)) }
	sewn := -1 // last block with a stitch
	x, y := 0, 0
	for e := range d.Events(s.Reading.TrimAfterJumps) {
		b := &g.blocks[len(g.blocks)-1]
		switch e.Kind {
		case stitch.Run:
			sewn = e.Block
			for _, r := range d.Records[e.From:e.To] {
				x += int(r.DX)
				y += int(r.DY)
			}
			b.stitches += e.To - e.From
		case stitch.TrimCut:
			b.trims++
		case stitch.OperatorStop:
			b.stops++
		case stitch.ColourCut:
			g.blocks = append(g.blocks, blockCounts{colours: 1, needles: math.Abs(needle(e.Block) - needle(e.Block-1))})
		case stitch.Travel:
			g.travels = append(g.travels, travel{e, sewn < e.Block})
			x += e.DX
			y += e.DY
		}
	}
	if s.Travel.ReturnToStart {
		g.home = stitch.Point{X: -x, Y: -y}
	}
	n := len(g.blocks)
	g.sew, g.travel, g.opening = make([]float64, n), make([]float64, n), make([]float64, n)
	return g
}

func abs[T int | float64](v T) T { return max(v, -v) }

// shallow is a copy of a sheet that shares its tables of spreads: enough where
// only constants are set, and much cheaper than a clone.
func shallow(s *machine.Sheet) *machine.Sheet {
	c := *s
	return &c
}

// sheetAt is the sheet with the free constants at exp(theta), kept in the
// ranges a sheet may give.
func (m *model) sheetAt(theta []float64) *machine.Sheet {
	s := shallow(m.base)
	for k, c := range m.free {
		c.Set(s, min(max(math.Exp(theta[k]), c.Min), c.Max))
	}
	return s
}

// stitches is how many revolutions one move clocks.
func (m *model) stitches() int {
	n := 1
	for _, g := range m.groups {
		for _, b := range g.blocks {
			n += b.stitches
		}
	}
	return n
}

// move brings the caches to theta.
func (m *model) move(theta []float64) {
	s := m.sheetAt(theta)
	m.sheet = s
	m.at = append(m.at[:0], theta...)
	clear(m.probes)
	clocks := newClocks(s)
	for _, g := range m.groups {
		g.sewing(clocks, theta, g.sew)
		g.homing = g.travelling(clocks, g.travel, g.opening)
	}
}

// clocks are the clocks of one sheet by set speed.
type clocks struct {
	sheet *machine.Sheet
	sew   map[float64]*clock.Clock
	frame *clock.Clock // the way back is the frame's in either mode
}

func newClocks(s *machine.Sheet) *clocks {
	return &clocks{sheet: s, sew: map[float64]*clock.Clock{}}
}

func (c *clocks) at(speed float64) *clock.Clock {
	k := c.sew[speed]
	if k == nil {
		k = clock.New(c.sheet, clock.Job{Speed: speed})
		c.sew[speed] = k
	}
	return k
}

// sewing fills the sewing seconds of each block at theta.
func (g *group) sewing(c *clocks, theta, sew []float64) {
	if g.thin == nil {
		g.run(c, g.design, sew)
		return
	}
	g.run(c, g.thin.design, sew)
	g.thin.sewing(theta, sew)
}

func (g *group) run(c *clocks, d *stitch.Design, sew []float64) {
	clear(sew)
	for b, k := range c.at(g.speed).Run(d).Blocks {
		sew[b] = k.Parts.Sewing()
	}
}

func (g *group) travelling(c *clocks, after, opening []float64) (homing float64) {
	clear(after)
	clear(opening)
	k := c.at(g.speed)
	for _, e := range g.travels {
		t := k.TravelSeconds(e.DX, e.DY, e.Moves)
		if e.opening {
			opening[e.Block] += t
		} else {
			after[e.Block] += t
		}
	}
	if g.home != (stitch.Point{}) {
		if c.frame == nil {
			s := shallow(c.sheet)
			s.Travel.Mode = machine.FrameTravel
			c.frame = clock.New(s, clock.Job{})
		}
		homing = c.frame.TravelSeconds(g.home.X, g.home.Y, 1)
	}
	return homing
}

// predict fills out[i] with what value i should be at the point of the last
// move.
func (m *model) predict(out []float64) {
	for i := range m.obs {
		out[i] = m.prediction(i)
	}
	for i, parts := range m.parts {
		for _, b := range parts {
			out[i] -= m.prediction(b)
		}
	}
}

func (m *model) prediction(i int) float64 {
	o, g := &m.obs[i], m.of[i]
	switch o.Kind {
	case DisplayReading:
		return displayed(m.sheet, o)
	case BlockRun:
		return g.block(o.Block-1, &m.sheet.Rest, g.sew, g.travel)
	}
	return g.whole(&m.sheet.Rest, g.sew, g.travel, g.opening, g.homing)
}

func (g *group) block(b int, r *machine.Rest, sew, travel []float64) float64 {
	c := &g.blocks[b]
	return sew[b] + travel[b] + float64(c.trims)*r.Trim + float64(c.stops)*r.Stop
}

func (g *group) whole(r *machine.Rest, sew, travel, opening []float64, homing float64) float64 {
	t := r.Start + r.End + homing
	for b := range g.blocks {
		c := &g.blocks[b]
		t += g.block(b, r, sew, travel) + opening[b] + float64(c.colours)*r.ColourStop + c.needles*r.PerNeedle
	}
	return t
}

// displayed is the speed the shaft holds on stitches of one length along x.
func displayed(s *machine.Sheet, o *Observation) float64 {
	l := int16(math.Round(o.LengthMM * stitch.UnitsPerMM))
	d := &stitch.Design{}
	for i := range 4 {
		dx := l
		if o.Zigzag && i%2 == 1 {
			dx = -l
		}
		d.Records = append(d.Records, stitch.Record{DX: dx})
	}
	tr := clock.New(s, clock.Job{Speed: o.SetSpeed}).Trace(d)
	return 60 / tr.CapSeconds[2]
}

// logStep is the step of the differences in the logarithm of a constant.
const logStep = 1e-3

// jacobian fills jac[i·p+k] with the derivative of what predict gives by
// theta_k at the point of the last move: exact for the rests, differences of
// the clock for the others. Unless all is set the shaft's columns stay as they
// were.
func (m *model) jacobian(jac []float64, all bool) {
	p := len(m.free)
	for k, c := range m.free {
		switch {
		case strings.HasPrefix(c.Path, "rest."):
			m.restColumn(jac, k, c)
		case strings.HasPrefix(c.Path, "travel."):
			m.difference(jac, k, false)
		case strings.HasPrefix(c.Path, "shaft.") && !all:
			continue
		default:
			m.difference(jac, k, true)
		}
		for i, parts := range m.parts {
			for _, b := range parts {
				jac[i*p+k] -= jac[b*p+k]
			}
		}
	}
}

func (m *model) restColumn(jac []float64, k int, c machine.Constant) {
	p := len(m.free)
	v := c.Get(m.sheet)
	for i := range m.obs {
		o, g := &m.obs[i], m.of[i]
		n := 0.0
		if g != nil {
			lo, hi := 0, len(g.blocks)
			if o.Kind == BlockRun {
				lo, hi = o.Block-1, o.Block
			}
			for b := lo; b < hi; b++ {
				n += g.blocks[b].count(c.Path, o.Kind)
			}
			if o.Kind == WholeRun && (c.Path == "rest.start" || c.Path == "rest.end") {
				n = 1
			}
		}
		jac[i*p+k] = n * v
	}
}

// count is how often a rest happens in a block, as far as the kind of
// observation sees it.
func (b *blockCounts) count(path string, kind Kind) float64 {
	switch path {
	case "rest.trim":
		return float64(b.trims)
	case "rest.stop":
		return float64(b.stops)
	}
	if kind == WholeRun {
		switch path {
		case "rest.colour_stop":
			return float64(b.colours)
		case "rest.per_needle":
			return b.needles
		}
	}
	return 0
}

// slopes are the differences of ln sewing time over a step.
func slopes(now, then []float64) []float64 {
	out := make([]float64, len(now))
	for b := range out {
		out[b] = (then[b] - now[b]) / max(now[b], nothing) / logStep
	}
	return out
}

// difference fills a column from one run of the clock a step away: the sewing
// for a constant of the speed law, the travels for one of theirs.
func (m *model) difference(jac []float64, k int, law bool) {
	p := len(m.free)
	theta := append([]float64(nil), m.at...)
	theta[k] += logStep
	s := m.sheetAt(theta)
	c := newClocks(s)
	type moved struct {
		sew, travel, opening []float64
		homing               float64
	}
	by := make(map[*group]moved, len(m.groups))
	for _, g := range m.groups {
		v := moved{g.sew, g.travel, g.opening, g.homing}
		if law {
			v.sew = make([]float64, len(g.blocks))
			g.sewing(c, theta, v.sew)
			if g.slope == nil {
				g.slope = make([][]float64, p)
			}
			g.slope[k] = slopes(g.sew, v.sew)
		} else {
			v.travel, v.opening = make([]float64, len(g.blocks)), make([]float64, len(g.blocks))
			v.homing = g.travelling(c, v.travel, v.opening)
		}
		by[g] = v
	}
	r := &m.sheet.Rest
	for i := range m.obs {
		o, g := &m.obs[i], m.of[i]
		var now, then float64
		switch o.Kind {
		case DisplayReading:
			if law {
				now, then = displayed(m.sheet, o), displayed(s, o)
			}
		case BlockRun:
			v := by[g]
			now = g.block(o.Block-1, r, g.sew, g.travel)
			then = g.block(o.Block-1, r, v.sew, v.travel)
		default:
			v := by[g]
			now = g.whole(r, g.sew, g.travel, g.opening, g.homing)
			then = g.whole(r, v.sew, v.travel, v.opening, v.homing)
		}
		jac[i*p+k] = (then - now) / logStep
	}
}
