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

	warm *warmUp // nil: none

	things []Observation      // what timed has gathered
	probes map[timing]float64 // what probe has clocked at this point, s
	flow   map[*group][]float64
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
	if v := m.unsure(i); v > 0 {
		sd = math.Sqrt(sd*sd + v*sq(m.base.Rest.PerNeedle))
	}
	return noiseOf(o.Kind, size, sd)
}

// group is one design at one set speed in one kind of job: observations of it share its runs.
type group struct {
	design  *stitch.Design
	speed   float64
	job     machine.Jobs
	blocks  []blockCounts
	travels []travel
	home    stitch.Point // the way back, units of 0.1 mm; 0 where the machine stays
	moves
	slope [][]float64 // of ln sew by theta, by free constant and block, as last made; nil for the others
	thin  *thinned    // where a share of the design stands for it
}

// moves are the seconds of a group in which the machine moves.
type moves struct {
	sew     []float64 // by colour block
	travel  []float64 // by colour block, after its first stitch
	opening []float64 // by colour block, before its first stitch
	homing  float64
}

type blockCounts struct {
	trims, colours, stops int
	needles               float64 // needle positions crossed before it, or their mean
	unsure                float64 // variance of that, where nobody knows the needles
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
		d       *stitch.Design
		speed   float64
		job     machine.Jobs
		needles string
	}
	groups := map[key]*group{}
	lists := needlesOf(obs)
	for i := range obs {
		o := &obs[i]
		if o.Kind == DisplayReading {
			m.of = append(m.of, nil)
			continue
		}
		k := key{o.Design, min(o.SetSpeed, s.MaxSpeed), o.Job, lists[i].String()}
		g := groups[k]
		if g == nil {
			g = newGroup(s, o.Design, k.speed, lists[i])
			g.job = o.Job
			groups[k] = g
			m.groups = append(m.groups, g)
		}
		m.of = append(m.of, g)
	}
	return m
}

func newGroup(s *machine.Sheet, d *stitch.Design, speed float64, on Needles) *group {
	g := &group{design: d, speed: speed, blocks: make([]blockCounts, 1)}
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
	clear(m.flow)
	clocks := newClocks(s)
	for _, g := range m.groups {
		g.sewing(clocks, theta, g.sew)
		g.homing = g.travelling(clocks, g.travel, g.opening)
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

func (c *clocks) at(g *group) *clock.Clock {
	on := setting{g.speed, g.job}
	k := c.sew[on]
	if k == nil {
		k = clock.New(c.sheet, clock.Job{Speed: g.speed, Kinds: g.job})
		c.sew[on] = k
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
	for b, k := range c.at(g).Run(d).Blocks {
		sew[b] = k.Parts.Sewing()
	}
}

func (g *group) travelling(c *clocks, after, opening []float64) (homing float64) {
	clear(after)
	clear(opening)
	k := c.at(g)
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
		return displayed(m.sheet, o)
	}
	t := g.timed(o, &m.sheet.Rest, &g.moves)
	if m.warm != nil {
		t += m.warm.late[i]
	}
	return t
}

// timed is the time of an observation's run or block.
func (g *group) timed(o *Observation, r *machine.Rest, v *moves) float64 {
	t := 0.0
	for b := range g.blocks {
		if g.sewn(o, b) {
			t += v.sew[b] + v.travel[b]
		}
		if g.changed(o, b) {
			t += v.opening[b]
		}
	}
	if o.has(AtEnd, len(g.blocks)) {
		t += v.homing
	}
	g.rests(o, func(path string, n float64) { t += n * restAt(r, path) })
	return t
}

// displayed is the speed the shaft holds on stitches of one length along x.
func displayed(s *machine.Sheet, o *Observation) float64 {
	dx := int(math.Round(o.LengthMM * stitch.UnitsPerMM))
	before := dx
	if o.Zigzag {
		before = -dx
	}
	return clock.New(s, clock.Job{Speed: o.SetSpeed, Kinds: o.Job}).HoldsOn(dx, 0, before, 0)
}

// logStep is the step of the differences in the logarithm of a constant.
const logStep = 1e-3

// jacobian fills jac[i·p+k] with the derivative of what predict gives by
// theta_k at the point of the last move: exact for the rests, differences of
// the clock for the others. Unless all is set the shaft's columns stay as they
// were.
func (m *model) jacobian(jac []float64, all bool) {
	for k, c := range m.free {
		if all || !strings.HasPrefix(c.Path, "shaft.") {
			m.column(jac, k)
		}
	}
}

// column fills column k of jac.
func (m *model) column(jac []float64, k int) {
	c := m.free[k]
	switch {
	case strings.HasPrefix(c.Path, "rest."):
		m.restColumn(jac, k, c)
	case strings.HasPrefix(c.Path, "travel."):
		m.difference(jac, k, false)
	default:
		m.difference(jac, k, true)
	}
	m.less(jac, k)
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

// slopes are the differences of ln sewing time over a step.
func slopes(now, then []float64, step float64) []float64 {
	out := make([]float64, len(now))
	for b := range out {
		out[b] = (then[b] - now[b]) / max(now[b], nothing) / step
	}
	return out
}

// difference fills a column from one run of the clock a step away: the sewing
// for a constant of the speed law, the travels for one of theirs.
func (m *model) difference(jac []float64, k int, law bool) {
	p := len(m.free)
	theta := append([]float64(nil), m.at...)
	step, job := logStep, m.free[k].Job
	if isLimit(&m.free[k]) {
		step = -step
	}
	theta[k] += step
	now, s := m.sheet, m.sheetAt(theta)
	if law {
		now, s = flowing(now), flowing(s)
	}
	c := newClocks(s)
	by := make(map[*group]*moves, len(m.groups))
	for _, g := range m.groups {
		v := g.moves
		if job != 0 && g.job&job == 0 {
			by[g] = &v
			continue // it does not ask for that
		}
		if law {
			v.sew = make([]float64, len(g.blocks))
			g.sewing(c, theta, v.sew)
			if now != m.sheet {
				for b, was := range m.flowed(g, now) {
					v.sew[b] += g.sew[b] - was
				}
			}
			if g.slope == nil {
				g.slope = make([][]float64, p)
			}
			g.slope[k] = slopes(g.sew, v.sew, step)
		} else {
			v.travel, v.opening = make([]float64, len(g.blocks)), make([]float64, len(g.blocks))
			v.homing = g.travelling(c, v.travel, v.opening)
		}
		by[g] = &v
	}
	r := &m.sheet.Rest
	for i := range m.obs {
		o, g := &m.obs[i], m.of[i]
		var before, then float64
		switch o.Kind {
		case DisplayReading:
			if law {
				before, then = displayed(now, o), displayed(s, o)
			}
		default:
			before, then = g.timed(o, r, &g.moves), g.timed(o, r, by[g])
		}
		jac[i*p+k] = (then - before) / step
	}
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

// flowed are the sewing seconds of a group's blocks at the point of the last
// move, without steps; they are run once.
func (m *model) flowed(g *group, s *machine.Sheet) []float64 {
	if sew := m.flow[g]; sew != nil {
		return sew
	}
	if m.flow == nil {
		m.flow = map[*group][]float64{}
	}
	sew := make([]float64, len(g.blocks))
	g.sewing(newClocks(s), m.at, sew)
	m.flow[g] = sew
	return sew
}
