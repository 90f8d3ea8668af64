package clock

import (
	"math"

	"needlepace/machine"
	"needlepace/stitch"
)

// The numbers that the seconds of sewing are made of, in the order of Numbers: then
// the ladder's seconds a revolution, and the logarithms of the corrections over
// length and over turn.
const (
	numSet    = iota // s a revolution at the set speed
	numSoft          // s a revolution in soft start
	numTurns         // s a revolution where the cap at turns holds
	numSlow          // s a revolution where the machine is let in gently
	numUp            // rev/s²
	numDown          // rev/s²
	numCreep         // rev/s
	numLag           // s
	numWindow        // 1/w
	numSettle        // s
	numTurn          // κ
	numX             // along x: mm/s², mm/s, s of jerk time
	numY      = numX + 3
	numTables = numY + 3
)

// Numbers are what the seconds of sewing are made of on a machine that sews a
// job (speeds, accelerations, times of the speed law, in an order of their own).
// Sheets with as many rungs and nodes have as many numbers. The sheet and the job
// must be valid.
func Numbers(s *machine.Sheet, job Job) []float64 {
	c, invSlow := newCore(s, job), 0.0
	if s.Slow.Speed > 0 {
		invSlow = c.invSet / s.Slow.Speed
	}
	out := []float64{numSet: c.invSet, numSoft: 60 / s.Shaft.SoftStartSpeed, numTurns: c.invTurn, numSlow: invSlow, numUp: s.Shaft.AccelUp,
		numDown: s.Shaft.AccelDown, numCreep: c.creep, numLag: s.Shaft.Lag, numWindow: c.perWindow, numSettle: c.settle,
		numTurn: c.turn, numX: c.x.accel, c.x.speed, c.x.jerkTime, numY: c.y.accel, c.y.speed, c.y.jerkTime}
	for _, r := range c.ladder {
		out = append(out, r.inv)
	}
	out = append(out, c.byLength.log...)
	return append(out, c.byTurn.log...)
}

// Slopes are the derivatives of the sewing seconds of each colour block of a
// design (the whole of it, whatever Job.From says) by each of the machine's Numbers,
// in one pass that costs about as much as two runs. Where a limit begins to bind the
// derivative is that of one side. Steps of speed have none: the sheet must have none.
//
// It is reverse-mode differentiation (A. Griewank and A. Walther, Evaluating
// Derivatives, 2nd ed., SIAM 2008, chapter 3) with what MODEL section 3 gives for
// nothing: each revolution's time hangs on its cap and on the squares of the speeds at its
// ends, and such a square is that of a cap, or of creep, or lies so many times 2·A_up
// above one before it, or 2·A_down above one after it. So each revolution's
// derivatives go to its anchors as it is passed.
func (c *Clock) Slopes(d *stitch.Design) [][]float64 {
	w := c.window()
	defer windows.Put(w)
	s := &slopes{clock: c, table: make([]float64, len(c.law.limits))}
	var out [][]float64
	open := func() {
		s.by = make([]float64, numTables+len(c.law.ladder)+len(c.law.byLength.log)+len(c.law.byTurn.log))
		out = append(out, s.by)
	}
	open()
	var b Block
	var at stitch.Point
	var slow []int // revolutions, by run
	if c.invSlow > 0 {
		whole, tr := *c, new(Trace)
		whole.job.From = 0
		whole.charge(d.Records, new(Result), tr)
		slow = tr.slow
	}
	for e := range d.Events(c.trimAfter) {
		switch e.Kind {
		case stitch.Run:
			s.each = append(s.each[:0], make([]float64, e.To-e.From)...)
			s.lagged = s.lagged[:0]
			w.slow = 0
			if c.invSlow > 0 {
				w.slow = slow[0]
				slow = slow[1:]
			}
			s.run(d.Records[e.From:e.To], w, &b, &at)
		case stitch.ColourCut:
			s.close()
			open()
		}
	}
	s.close()
	return out
}

// slopes are the derivatives of one colour block while they are gathered.
type slopes struct {
	clock  *Clock
	by     []float64 // by Numbers
	table  []float64 // by the seconds a revolution of each entry of the law's table
	each   []float64 // and of each revolution of the run that the table does not cover
	lagged []float64 // rev/s, each revolution's cap after the lag

	// The boundary that is passed: to what its square hangs on, how many revolutions it
	// rose since, or, falling, the derivatives by what is still to come.
	anchor  *float64
	factor  float64
	rises   float64
	falling bool
	owed    float64

	axes [2]struct {
		known [129]bool
		slope [129][3]float64
	}
}

// run is Clock.sew for the slopes of one run of revolutions.
func (s *slopes) run(rec []stitch.Record, w *window, b *Block, at *stitch.Point) {
	c := s.clock
	var u square
	var lagging float64
	exact := false
	for from, to := 0, 0; from < len(rec); from = to {
		to = w.upTo(from, len(rec))
		ahead := min(to+c.shaft.look, len(rec))
		limits := c.fill(rec, from, to, ahead, w, b, at)
		if c.invLag > 0 {
			if from == 0 {
				lagging = min(c.law.creep, limits[w.idx[0]].n)
			}
			limits, _, lagging = c.lagged(w, limits, to-from, ahead-from, lagging, nil)
			for _, m := range limits[:to-from] {
				s.lagged = append(s.lagged, m.n)
			}
		}
		grad := s.table
		if len(w.limits) > 0 && &limits[0] == &w.limits[0] {
			grad, exact = s.each[from:], true
		}
		idx := w.idx[:ahead-from]
		c.shaft.backward(w.ceiling, idx, limits, ahead == len(rec))
		if from == 0 {
			u = s.begin(w.ceiling[0], &limits[idx[0]], &grad[idx[0]])
		}
		u = s.forward(w.ceiling, idx, limits, grad, to-from, u)
	}
	if exact {
		s.caps(rec, w.slow)
	}
}

// begin is at the first boundary of a run.
func (s *slopes) begin(ceiling square, m *limit, at *float64) square {
	sh := &s.clock.shaft
	s.falling = false
	switch {
	case sh.creep <= ceiling:
		s.creep()
	case ceiling < m.square:
		s.falling = true
	default:
		s.cap(m, at)
	}
	return min(sh.creep, ceiling)
}

// creep and cap make the square of creep, or that of a cap, the anchor.
func (s *slopes) creep() { s.anchor, s.factor, s.rises = &s.by[numCreep], 2*s.clock.law.creep, 0 }

func (s *slopes) cap(m *limit, at *float64) { s.anchor, s.factor, s.rises = at, -2*m.n*m.n*m.n, 0 }

// pay gives the derivative by the square of the boundary's speed to what that hangs on.
func (s *slopes) pay(g float64) {
	if s.falling {
		s.owed += g
		return
	}
	*s.anchor += s.factor * g
	s.by[numUp] += 2 * s.rises * g
}

// forward is shaft.forward for the slopes: grad has those by the seconds of each limit.
// From u to v under the cap c, with the peak p ≤ c, a revolution takes
//
//	p = c: t = 1/c + (c−u)²/(2c·A_up) + (c−v)²/(2c·A_down)
//	p < c: t = (p−u)/A_up + (p−v)/A_down
//
// so that in both ∂t/∂u² = (1/p − 1/u)/(2·A_up) and ∂t/∂v² = (1/p − 1/v)/(2·A_down).
func (s *slopes) forward(ceiling []square, idx []uint16, limits []limit, grad []float64, n int, at square) square {
	sh := &s.clock.shaft
	for i, k := range idx[:n] {
		c := &limits[k]
		to := min(ceiling[i+1], at+sh.up)
		rise := to < ceiling[i+1]
		grad[k]++
		if to == c.square && at == to { // cruising
			s.cap(c, &grad[k])
			continue
		}
		u2, v2 := at.float(), to.float()
		u, v, p := math.Sqrt(u2), math.Sqrt(v2), c.n
		if p2 := sh.peak0 + sh.peakU*u2 + sh.peakV*v2; p2 <= c.n*c.n {
			p = math.Sqrt(p2)
			grad[k]--
			both := sh.perUp * sh.perDown / (2 * p)
			s.by[numUp] += both*(1/sh.perDown*2+v2-p2) - (p-u)*sh.perUp*sh.perUp
			s.by[numDown] += both*(1/sh.perUp*2+u2-p2) - (p-v)*sh.perDown*sh.perDown
		} else {
			rose, fell := sh.perUp*(p-u), sh.perDown*(p-v)
			grad[k] -= (rose*(p+u) + fell*(p+v)) / 2
			s.by[numUp] -= rose * rose * c.inv / 2
			s.by[numDown] -= fell * fell * c.inv / 2
		}
		s.pay((1/p - 1/u) * sh.perUp / 2)
		if s.falling {
			s.by[numDown] += 2 * s.owed
			s.falling = false
		}
		switch {
		case rise:
			s.rises++
		case i+1 == len(idx): // the run's end
			if s.cap(c, &grad[k]); sh.creep < c.square {
				s.creep()
			}
		default:
			next := idx[i+1]
			switch m := &limits[next]; {
			case to < min(c.square, m.square):
				s.falling = true
			case m.square < c.square:
				s.cap(m, &grad[next])
			default:
				s.cap(c, &grad[k])
			}
		}
		if !s.falling && s.owed != 0 {
			*s.anchor += s.factor * s.owed
			s.owed = 0
		}
		s.pay((1/p - 1/v) * sh.perDown / 2)
		at = to
	}
	return at
}

// caps passes the slopes by each revolution's cap on to the numbers that it is made
// of, last first: where the shaft follows its cap with a lag, a revolution hangs on those before.
func (s *slopes) caps(rec []stitch.Record, slow int) {
	c := s.clock
	later := 0.0 // by the speed after the revolution
	for i := len(rec) - 1; i >= 0; i-- {
		g := s.each[i]
		if g == 0 && later == 0 {
			continue
		}
		var px, py int
		if i > 0 {
			px, py = int(rec[i-1].DX), int(rec[i-1].DY)
		}
		dx, dy := int(rec[i].DX), int(rec[i].DY)
		inv, at := 0.0, -1 // at: what holds it back beside the law
		if i < c.soft || i < slow || c.invLag > 0 {
			inv = c.law.cap(dx, dy, px, py).inv
			if i < c.soft && c.invSoft > inv {
				inv, at = c.invSoft, numSoft
			}
			if i < slow && c.invSlow > inv {
				inv, at = c.invSlow, numSlow
			}
		}
		if c.invLag > 0 {
			before := min(c.law.creep, 1/inv)
			if i > 0 {
				before = s.lagged[i-1]
			}
			g, later = s.follow(before, s.lagged[i], inv, later-g/(s.lagged[i]*s.lagged[i]) /* by n */)
			if i == 0 {
				s.by[numCreep] += later
			}
		}
		if at >= 0 {
			s.by[at] += g
		} else {
			s.law(dx, dy, px, py, g)
		}
	}
}

// follow is the slopes of the function follow: from that by the speed after a
// revolution, after, to that by the seconds of its cap and that by the speed before. In
// y = 1 − after/N and q = 1 − before/N they come from
//
//	(1/y − 1)·dy = (1/q − 1)·dq + dN/(τN²) + dτ/(τ²N)
func (s *slopes) follow(before, after, inv, g float64) (byInv, byBefore float64) {
	n := 1 / inv
	y, q, invLag := 1-after*inv, 1-before*inv, s.clock.invLag
	if q < caughtUp {
		return -g * n * n, 0
	}
	a := y / (1 - y) // 0 where it has caught up
	ba := a * (1/q - 1)
	s.by[numLag] -= g * a * invLag * invLag
	byN := g * (1 - y - (ba*before+a*invLag)*inv)
	return -byN * n * n, g * ba
}

// law passes the slope by a revolution's cap on to the numbers of the speed law: what
// binds takes it.
func (s *slopes) law(dx, dy, px, py int, g float64) {
	l := s.clock.law
	most, at, mm, cos := l.invSet, numSet, 0.0, 1.0
	if len(l.byLength.at) > 0 {
		mm = stitch.LengthMM(dx, dy)
	}
	if len(l.ladder) > 0 {
		if k := l.rungOf(dx, dy); l.ladder[k].inv > most {
			most, at = l.ladder[k].inv, numTables+k
		}
	}
	if dx == 0 && dy == 0 {
		s.by[at] += g
		return
	}
	t, ty := l.along(dx, dy)
	axis, d := 0, dx
	if ty > t {
		t, axis, d = ty, 1, dy
	}
	if l.turning {
		cos = turnCos(dx, dy, px, py)
	}
	factor, turned := l.perWindow, 1+l.turn*(1-cos)/2
	if l.corrected {
		factor *= l.byLength.factor(mm)
		if len(l.byTurn.at) > 0 {
			factor *= l.byTurn.factor(turnDegrees(dx, dy, px, py))
		}
		if l.invTurn > most && l.sharp(dx, dy, px, py, cos) {
			most, at = l.invTurn, numTurns
		}
	}
	frame := (t*turned + l.settle) * factor
	if frame < most {
		s.by[at] += g
		return
	}
	s.frame(axis, d, g*turned*factor)
	s.by[numSettle] += g * factor
	s.by[numTurn] += g * factor * t * (1 - cos) / 2
	s.by[numWindow] += g * frame / l.perWindow
	nodes := s.by[numTables+len(l.ladder):]
	if len(l.byLength.at) > 0 {
		l.byLength.slope(mm, g*frame, nodes)
	}
	if len(l.byTurn.at) > 0 {
		l.byTurn.slope(turnDegrees(dx, dy, px, py), g*frame, nodes[len(l.byLength.at):])
	}
}

// frame passes the slope by t(d) along an axis on, d in units of either sign.
func (s *slopes) frame(axis, d int, g float64) {
	d = max(d, -d)
	to := s.by[numX+3*axis:]
	law := &s.clock.law.x
	if axis == 1 {
		law = &s.clock.law.y
	}
	memo := &s.axes[axis]
	var slope [3]float64
	if d < len(memo.known) {
		if !memo.known[d] {
			memo.known[d], memo.slope[d] = true, law.slopes(d)
		}
		slope = memo.slope[d]
	} else {
		slope = law.slopes(d)
	}
	for k, v := range slope {
		to[k] += g * v
	}
}

// slopes are the derivatives of t(d) by acceleration, speed and jerk time.
func (a axisLaw) slopes(d int) (out [3]float64) {
	const step = 1e-5 // the error is its square
	for k, p := range []*float64{&a.accel, &a.speed, &a.jerkTime} {
		if v := *p; v > 0 {
			*p = v * (1 + step)
			up := a.units(d)
			*p = v * (1 - step)
			out[k] = (up - a.units(d)) / (2 * step * v)
			*p = v
		}
	}
	return out
}

// close passes what the block's entries of the table have on to the numbers.
func (s *slopes) close() {
	l := s.clock.law
	if !l.simple {
		return
	}
	for k, g := range s.table[l.half:] { // under the soft-start speed
		if l.limits[l.half+k].inv > l.limits[k].inv {
			s.by[numSoft] += g
		} else {
			s.table[k] += g
		}
	}
	s.by[numSet] += s.table[l.half-1]
	for axis, rank := range []*[256]uint16{&l.rankX, &l.rankY} {
		for d := 1; d <= 128; d++ {
			k := int(rank[uint8(-d)])
			if g := s.table[k]; k < l.half-1 && g != 0 {
				s.frame(axis, d, g*l.perWindow)
				s.by[numSettle] += g * l.perWindow
				s.by[numWindow] += g * l.limits[k].inv / l.perWindow
			}
		}
	}
	clear(s.table)
}
