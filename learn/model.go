package learn

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

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
	clocks *clocks
	groups []*group
	byKey  map[groupKey]*group
	obs    []Observation
	of     []*group // of each observation; nil for a display reading
	parts  [][]int  // of a whole run: the rows that time its blocks

	late lateness // s that rows lose beside what their groups take; nil: none

	things []Observation      // what timed has gathered
	probes map[timing]float64 // what probe has clocked at this point, s
}

// pair finds the rows that time blocks of the very run another row times as a
// whole: same design, set speed and date, each block once. Such a whole counts
// as what is left of it without them (start, end, colour stops, untimed
// blocks), so that an interruption in a block is one interruption and not two.
func (m *model) pair(aside []bool) {
	type key struct {
		design *stitch.Design
		speed  float64
		job    machine.Jobs
		date   words.Day
	}
	type set struct {
		wholes int
		whole  int
		blocks map[int][]int
		parts  []int        // rows of parts of blocks,
		heard  map[Only]int // and how many there are of each
	}
	sets := map[key]*set{}
	for i, g := range m.of {
		if g == nil || aside[i] {
			continue
		}
		o := &m.obs[i]
		k := key{o.Design, g.speed, g.job, o.Date}
		s := sets[k]
		if s == nil {
			s = &set{blocks: map[int][]int{}, heard: map[Only]int{}}
			sets[k] = s
		}
		if o.Kind == WholeRun {
			s.wholes++
			s.whole = i
		} else if o.Only != "" {
			s.parts = append(s.parts, i)
			s.heard[o.Only]++
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
		if len(s.parts) == len(s.heard) && len(rows) == 0 { // parts of one recording never overlap
			rows = s.parts
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
	if v := m.unsure(i); v > 0 {
		sd = math.Sqrt(sd*sd + v*sq(m.base.Rest.PerNeedle))
	}
	return noiseOf(o.Kind, size, sd)
}

// group is one design at one set speed in one kind of job: observations of it share its runs.
type group struct {
	layout
	setting
	moves
	slope [][]float64 // of ln sew by theta, by free constant of the law and block, as last made
	spots []spot      // the parts that rows time: the blocks after the design's own
	thin  *thinned    // where a share of the design stands for it
	part  []float64   // and the seconds of that, as sew
}

// moves are the seconds of a group in which the machine moves.
type moves struct {
	sew     []float64 // by colour block
	travel  []float64 // by colour block, after its first stitch
	opening []float64 // by colour block, before its first stitch
	homing  float64
}

func newMoves(blocks int) *moves {
	return &moves{sew: make([]float64, blocks), travel: make([]float64, blocks), opening: make([]float64, blocks)}
}

type blockCounts struct {
	trims, colours, stops int
	needles               float64 // needle positions crossed before it, or their mean
	unsure                float64 // variance of that, where nobody knows the needles
	stitches              int
	of                    int // of a part: the block it lies in
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
	return (&model{}).like(s, free, obs)
}

// groupKey is what observations of one group have in common.
type groupKey struct {
	design *stitch.Design
	setting
	needles string
}

// like is a model of other rows, or of another sheet that reads designs alike, which
// does not read anew the designs that m has.
func (m *model) like(s *machine.Sheet, free []machine.Constant, obs []Observation) *model {
	n := &model{base: s, free: free, obs: obs, byKey: map[groupKey]*group{}}
	lists := needlesOf(obs)
	for i := range obs {
		o := &obs[i]
		if o.Kind == DisplayReading {
			n.of = append(n.of, nil)
			continue
		}
		k := groupKey{o.Design, setting{min(o.SetSpeed, s.MaxSpeed), o.Job}, lists[i].String()}
		g := n.byKey[k]
		if g == nil {
			g = &group{setting: k.setting}
			if had := m.byKey[k]; had != nil {
				g.layout = had.own()
			} else {
				g.layout = newLayout(s, o.Design, lists[i])
			}
			n.byKey[k] = g
			n.groups = append(n.groups, g)
		}
		n.of = append(n.of, g)
	}
	n.placed(s, lists)
	for _, g := range n.groups {
		g.moves, g.part = *newMoves(len(g.blocks)), make([]float64, len(g.blocks))
	}
	return n
}

// layout is what a design asks of the machine besides its stitches; it is never changed.
type layout struct {
	design  *stitch.Design
	blocks  []blockCounts // the design's, and in a group the parts that rows time
	colours int           // blocks of the design; those after them are parts that some row times
	travels []travel
	ways    int          // of travels, the design's; those after them are of parts
	home    stitch.Point // the way back, units of 0.1 mm; 0 where the machine stays
}

// own is the layout without parts.
func (l layout) own() layout {
	l.blocks, l.travels = l.blocks[:l.colours], l.travels[:l.ways]
	return l
}

func newLayout(s *machine.Sheet, d *stitch.Design, on Needles) layout {
	g := layout{design: d, blocks: make([]blockCounts, 1)}
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
			b := blockCounts{colours: 1}
			b.needles, b.unsure = on.crossed(e.Block, s.Needles)
			g.blocks = append(g.blocks, b)
		case stitch.Travel:
			g.travels = append(g.travels, travel{e, sewn < e.Block})
			x += e.DX
			y += e.DY
		}
	}
	g.colours, g.ways = len(g.blocks), len(g.travels)
	if s.Travel.ReturnToStart {
		g.home = stitch.Point{X: -x, Y: -y}
	}
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
		for _, b := range g.blocks[:g.colours] {
			n += b.stitches
		}
	}
	return n
}

// move brings the caches to theta.
func (m *model) move(theta []float64) {
	if m.sheet != nil && slices.Equal(theta, m.at) {
		return
	}
	m.sheet = m.sheetAt(theta)
	m.at = append(m.at[:0], theta...)
	clear(m.probes)
	m.clocks = newClocks(m.sheet)
	for _, g := range m.groups {
		g.sewing(m.clocks, theta, g.sew, g.part)
		g.homing = g.travelling(m.clocks, g.travel, g.opening)
	}
}

// clocks are the clocks of one sheet by set speed and kind of job.
type clocks struct {
	sheet *machine.Sheet
	sew   map[setting]*clock.Clock
	frame *clock.Clock // the way back is the frame's in either mode
}

func newClocks(s *machine.Sheet) *clocks {
	return &clocks{sheet: s, sew: map[setting]*clock.Clock{}}
}

// setting is what a clock is made for.
type setting struct {
	speed float64 // set, stitches/min
	job   machine.Jobs
}

func (s setting) clockJob() clock.Job { return clock.Job{Speed: s.speed, Kinds: s.job} }

func (c *clocks) at(on setting) *clock.Clock {
	k := c.sew[on]
	if k == nil {
		k = clock.New(c.sheet, on.clockJob())
		c.sew[on] = k
	}
	return k
}

// sewing fills the sewing seconds of each block at theta, and those of the share of it
// that was run.
func (g *group) sewing(c *clocks, theta, sew, part []float64) {
	if g.thin == nil {
		g.run(c, g.design, sew)
		return
	}
	g.run(c, g.thin.design, part)
	g.thin.sewing(theta, part, sew)
}

func (g *group) run(c *clocks, d *stitch.Design, sew []float64) {
	clear(sew)
	k := c.at(g.setting)
	for b, k := range k.Run(d).Blocks {
		sew[b] = k.Parts.Sewing()
	}
	if d == g.design {
		g.sewingSpots(k, sew)
	}
}

func (g *group) travelling(c *clocks, after, opening []float64) (homing float64) {
	clear(after)
	clear(opening)
	k := c.at(g.setting)
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
	if o.Kind == DisplayReading {
		return displayed(m.clocks, o)
	}
	t := g.timed(o, &m.sheet.Rest, &g.moves)
	if m.late != nil {
		t += m.late[i]
	}
	return t
}

// timed is the time of an observation's run or block.
func (g *group) timed(o *Observation, r *machine.Rest, v *moves) float64 {
	t := g.moving(o, v)
	g.rests(o, func(path string, n float64) { t += n * restAt(r, path) })
	return t
}

// moving is that of its moves.
func (g *group) moving(o *Observation, v *moves) (t float64) {
	for b := range g.blocks {
		if g.sewn(o, b) {
			t += v.sew[b] + v.travel[b]
		}
		if g.changed(o, b) {
			t += v.opening[b]
		}
	}
	if o.has(AtEnd, g.colours) {
		t += v.homing
	}
	return t
}

// displayed is the speed the shaft holds on stitches of one length along x.
func displayed(c *clocks, o *Observation) float64 {
	dx := int(math.Round(o.LengthMM * stitch.UnitsPerMM))
	before := dx
	if o.Zigzag {
		before = -dx
	}
	return c.at(setting{o.SetSpeed, o.Job}).HoldsOn(dx, 0, before, 0)
}

// logStep is the step of the logarithm of a constant for differences of what needs no
// run: the clock's numbers, travels, display readings.
const logStep = 1e-6

// law reports whether a constant belongs to the speed law: the seconds of sewing move with it.
func law(c *machine.Constant) bool {
	return !strings.HasPrefix(c.Path, "rest.") && !strings.HasPrefix(c.Path, "travel.")
}

// jacobian fills jac[i·p+k] with the derivative of what predict gives by
// theta_k at the point of the last move.
func (m *model) jacobian(jac []float64) {
	p := len(m.free)
	near := m.nearby()
	for _, g := range m.groups {
		if t := g.thin; t != nil {
			g.slope = t.slopes(m.at, g.part, near.slopes(g, t.design, g.part))
		} else {
			g.slope = near.slopes(g, g.design, g.sew)
		}
	}
	for k := range m.free {
		c := &m.free[k]
		if strings.HasPrefix(c.Path, "rest.") {
			continue
		}
		by := make(map[*group]*moves, len(m.groups))
		for _, g := range m.groups {
			v := newMoves(len(g.blocks))
			if law(c) {
				for b, s := range g.slope[k] {
					v.sew[b] = s * max(g.sew[b], nothing)
				}
			} else {
				v.homing = g.travelling(near.at[k], v.travel, v.opening)
				v.homing = (v.homing - g.homing) / near.steps[k]
				for b := range v.travel {
					v.travel[b] = (v.travel[b] - g.travel[b]) / near.steps[k]
					v.opening[b] = (v.opening[b] - g.opening[b]) / near.steps[k]
				}
			}
			by[g] = v
		}
		for i := range m.obs {
			switch o := &m.obs[i]; {
			case o.Kind != DisplayReading:
				jac[i*p+k] = m.of[i].moving(o, by[m.of[i]])
			case law(c):
				jac[i*p+k] = (displayed(near.at[k], o) - displayed(near.clocks, o)) / near.steps[k]
			}
		}
		m.less(jac, k)
	}
	m.jacobianRests(jac)
}

// less takes the timed blocks off the whole runs in a column.
func (m *model) less(jac []float64, k int) {
	p := len(m.free)
	for i, parts := range m.parts {
		for _, b := range parts {
			jac[i*p+k] -= jac[b*p+k]
		}
	}
}

// jacobianRests fills the columns of the rests alone.
func (m *model) jacobianRests(jac []float64) {
	for k, c := range m.free {
		if strings.HasPrefix(c.Path, "rest.") {
			m.restColumn(jac, k, c)
			m.less(jac, k)
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
			g.rests(o, func(path string, many float64) {
				if path == c.Path {
					n += many
				}
			})
		}
		jac[i*p+k] = n * v
	}
}

// nearby are the machines one step of a constant away from that of the last move.
type nearby struct {
	clocks *clocks
	free   []machine.Constant
	at     []*clocks
	steps  []float64
	by     map[setting][][]float64 // derivatives of the clock's numbers, by free constant; nil for those of no law
}

func (m *model) nearby() *nearby {
	n := &nearby{clocks: m.clocks, free: m.free, by: map[setting][][]float64{}}
	if now := flowing(m.sheet); n.clocks == nil || now != n.clocks.sheet {
		n.clocks = newClocks(now)
	}
	theta := slices.Clone(m.at)
	for k, was := range m.at {
		step := logStep
		if isLimit(&m.free[k]) {
			step = -step
		}
		theta[k] += step
		n.at, n.steps = append(n.at, newClocks(flowing(m.sheetAt(theta)))), append(n.steps, step)
		theta[k] = was
	}
	return n
}

// slopes are the derivatives of ln sewing seconds of a group's design, or of a share of it, by
// free constant and block; sew are those seconds.
func (n *nearby) slopes(g *group, d *stitch.Design, sew []float64) [][]float64 {
	job := g.clockJob()
	by := n.by[g.setting]
	if by == nil {
		by = make([][]float64, len(n.free))
		here := clock.Numbers(n.clocks.sheet, job)
		for k := range n.free {
			if law(&n.free[k]) {
				by[k] = clock.Numbers(n.at[k].sheet, job)
				floats.Sub(by[k], here)
				floats.Scale(1/n.steps[k], by[k])
			}
		}
		n.by[g.setting] = by
	}
	out := make([][]float64, len(n.free))
	run := n.clocks.at(g.setting).Slopes(d)
	for k, v := range by {
		if v == nil {
			continue
		}
		out[k] = make([]float64, len(sew))
		for b := range run {
			out[k][b] = floats.Dot(v, run[b]) / max(sew[b], nothing)
		}
	}
	if d == g.design {
		n.spotSlopes(g, out)
	}
	return out
}

// flowing is a sheet whose speeds do not go in steps: over a small step of a
// constant times in steps stand still or jump, and their slope is, on average,
// that of the same law without steps.
func flowing(s *machine.Sheet) *machine.Sheet {
	if s.Shaft.SpeedStep == 0 {
		return s
	}
	s = shallow(s)
	s.Shaft.SpeedStep = 0
	return s
}
