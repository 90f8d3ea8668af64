package floor

import "math"

// dispatch sends free operators to work: first the machines that call, in the
// order of the shop's rule, each to the eligible operator with the shortest
// way; then help with a loading that more than one may do; then hooping for
// machines that wait for a set; then hooping ahead. An operator who hoops
// looks up after every piece; all other work is finished once begun.
func (s *sim) dispatch() {
	for s.free > 0 && len(s.calls) > 0 {
		k, o := s.choose()
		if o < 0 {
			break
		}
		c := s.calls[k]
		s.calls = append(s.calls[:k], s.calls[k+1:]...)
		if c.at < s.now && c.at >= s.opt.WarmUp {
			s.out.Waited++
		}
		s.send(o, c.machine, c.work)
	}
	if s.free == 0 {
		return
	}
	for o := range s.hand {
		h := &s.hand[o]
		if h.busy || h.away.away(s.now) {
			continue
		}
		if m := s.helpFor(h); m >= 0 {
			s.help(o, m)
			continue
		}
		if h.Duty == MachinesOnly {
			continue
		}
		if m := s.hoopFor(h); m >= 0 {
			s.hoopOne(o, m)
		}
	}
}

// choose is the call to answer next and by whom; o is −1 where no free
// operator may answer any.
func (s *sim) choose() (k, o int) {
	k, o = -1, -1
	best := math.Inf(1)
	for i, c := range s.calls {
		rank := 0.0
		switch s.shop.Rule {
		case Shortest:
			rank = s.expected(c)
		case MostHeads:
			rank = -float64(s.bench[c.machine].heads)
		}
		if rank >= best { // calls stand in the order they came
			continue
		}
		who, way := -1, math.Inf(1)
		for j := range s.hand {
			h := &s.hand[j]
			if h.busy || h.Duty == HoopingOnly || !h.serves(c.machine) || h.away.away(s.now) {
				continue
			}
			if w := s.walk(h.at, c.machine); w < way {
				who, way = j, w
			}
		}
		if who >= 0 {
			k, o, best = i, who, rank
			if s.shop.Rule != Shortest && s.shop.Rule != MostHeads {
				break
			}
		}
	}
	return k, o
}

// expected is the mean work of a call, s.
func (s *sim) expected(c call) float64 {
	b := &s.bench[c.machine]
	switch c.work {
	case workBreak:
		return b.Repair.Mean
	case workBobbin:
		return b.Bobbin.Change.Mean
	case workStop:
		return b.run.Stops[b.stop].Work.Mean
	case workSetup:
		return b.Setup.Mean + b.Cone.Mean*float64(s.cones(b)*b.Heads)
	}
	w := b.Load.Mean * float64(b.heads)
	return w + b.Hoop.Mean*float64(b.short)
}

// cones is how many needles need another thread for the picked job.
func (s *sim) cones(b *bench) int {
	from := b.job
	if from < 0 {
		from = len(s.change) - 1
	}
	return s.change[from][b.picked]
}

func (s *sim) walk(from, to int) float64 {
	w := s.shop.Walk
	if from == to {
		return 0
	}
	if w.Speed > 0 && from >= 0 && to >= 0 {
		if p, q := s.bench[from].Place, s.bench[to].Place; p != nil && q != nil {
			return math.Hypot(p.X-q.X, p.Y-q.Y) / w.Speed
		}
	}
	return w.Seconds
}

// send puts an operator to work at a machine.
func (s *sim) send(o, m int, w work) {
	h, b := &s.hand[o], &s.bench[m]
	before := s.way(h, m)
	d := 0.0
	h.bobbins = 0
	switch w {
	case workBreak:
		d = b.repair.draw(b.rnd[forRepair].Rand)
		if b.run.Stitches > 0 {
			d += float64(b.Resew) * b.seconds / float64(b.run.Stitches)
		}
	case workBobbin:
		d = s.newBobbins(m, 0)
	case workStop:
		work := b.run.Stops[b.stop].Work.die()
		d = work.draw(b.rnd[forStop].Rand)
	case workSetup:
		d = b.setup.draw(b.rnd[forSetup].Rand)
		for range s.cones(b) * b.Heads {
			d += b.cone.draw(b.rnd[forSetup].Rand)
		}
	case workLoad:
		b.toLoad, b.loading = b.heads, 1
		d = b.loadSome()
		if b.Bobbin.Rule == Before && b.Bobbin.Metres > 0 {
			h.bobbins = s.newBobbins(m, s.shop.Jobs[b.picked].Runs[m].BobbinMetres)
			d += h.bobbins
		}
	}
	s.occupy(o, m, m, w, before, d)
	s.enter(m, Waiting)
	s.spend(m, Waiting, s.now, h.begins)
	b.state, b.since = whileWork[w], h.begins
}

// way is the time until an operator stands at a machine: the walk and, for one
// who was free, the notice.
func (s *sim) way(h *hand, m int) float64 {
	d := s.walk(h.at, m)
	if h.idleSince < s.now {
		d += s.shop.Notice
	}
	return d
}

// loadSome takes the heads that one operator loads at a stretch and returns
// the seconds: all of them, or one head where others may come to help. Pieces
// that are hooped on the machine are hooped as they are loaded.
func (b *bench) loadSome() float64 {
	n := b.toLoad
	if b.Loaders > 1 {
		n = min(n, 1)
	}
	b.toLoad -= n
	d := 0.0
	for range n {
		d += b.loadOne.draw(b.rnd[forLoad].Rand)
		if b.short > 0 {
			b.short--
			d += b.hoop.draw(b.rnd[forHoop].Rand)
		}
	}
	return d
}

// helpFor is the machine whose loading a free operator can shorten, the one
// with most heads left; −1 where the way there takes longer than the rest.
func (s *sim) helpFor(h *hand) int {
	best, most := -1, 0
	if h.Duty == HoopingOnly {
		return best
	}
	for m := range s.bench {
		b := &s.bench[m]
		if b.toLoad <= most || b.loading >= b.Loaders || !h.serves(m) {
			continue
		}
		if s.way(h, m) < float64(b.toLoad)*b.Load.Mean {
			best, most = m, b.toLoad
		}
	}
	return best
}

// help has a free operator load heads of a machine that another loads.
func (s *sim) help(o, m int) {
	h, b := &s.hand[o], &s.bench[m]
	before := s.way(h, m)
	b.loading++
	h.bobbins = 0
	s.occupy(o, m, m, workLoad, before, b.loadSome())
}

// occupy keeps an operator busy: the way, then the work, both lying still
// through the operator's pauses.
func (s *sim) occupy(o, m, place int, w work, before, d float64) {
	s.busyChanged()
	s.free--
	h := &s.hand[o]
	h.busy, h.work, h.machine, h.from, h.at = true, w, m, s.now, place
	h.begins = h.away.after(s.now, before)
	s.agenda.push(event{at: h.away.after(h.begins, d), kind: operatorEvent, index: int32(o)})
}

// newBobbins changes the bobbins of a machine by its rule and returns the
// seconds it takes: at run-out those (nearly) empty or, by rule, all; before a
// run those with less than need metres left.
func (s *sim) newBobbins(m int, need float64) float64 {
	b := &s.bench[m]
	limit := max(need, .005*b.Bobbin.Metres)
	d := 0.0
	for k := range b.bobbin[:b.heads] {
		if b.bobbin[k] < limit || need == 0 && b.Bobbin.Rule == AllHeads {
			b.bobbin[k] = b.full()
			d += b.change.draw(b.rnd[forBobbin].Rand)
			if s.counted() {
				s.out.Machines[m].BobbinEnds++
			}
		}
	}
	return d
}

// busyChanged charges the stretch since the number of free operators last
// changed.
func (s *sim) busyChanged() {
	if s.free == 0 {
		s.out.AllBusy += max(0, min(s.now, s.end)-max(s.changed, s.opt.WarmUp))
	}
	s.changed = s.now
}

// charge books an operator's work up to t, on the operator and on the machine.
func (s *sim) charge(o int, t float64) {
	h := &s.hand[o]
	warm := s.opt.WarmUp
	clip := func(from, to float64) float64 {
		from, to = max(from, warm), min(to, t)
		return max(0, to-from) - h.away.within(min(from, to), to)
	}
	book := &s.out.Hands[o]
	walked, worked := clip(h.from, h.begins), clip(h.begins, t)
	book.Walking += walked
	s.out.Machines[h.machine].Attended += walked + worked
	if h.work == workHoop {
		book.Hooping += worked
		return
	}
	book.Machines += worked
	// The machine's whole stretch is charged to the work by enter; what the
	// operator's pauses took of it was waiting, and bobbins changed at a
	// loading are bobbins.
	sec := &s.out.Machines[h.machine].Seconds
	st := whileWork[h.work]
	move := func(to State, d float64) {
		d = min(d, sec[st])
		sec[st] -= d
		sec[to] += d
	}
	from := max(h.begins, warm)
	if t > from {
		if h.work != workLoad || s.bench[h.machine].loading == 1 { // nobody went on loading meanwhile
			move(Waiting, h.away.within(from, t))
		}
		if h.bobbins > 0 {
			move(Bobbins, min(h.bobbins, worked))
		}
	}
}

// operatorDone is the end of an operator's work.
func (s *sim) operatorDone(o int) {
	h := &s.hand[o]
	m := h.machine
	b := &s.bench[m]
	s.busyChanged()
	s.free++
	h.busy, h.idleSince = false, s.now
	if h.work == workHoop {
		s.charge(o, s.now)
		if b.finished++; b.finished == b.target {
			b.ready = append(b.ready, b.target)
			b.target, b.begun, b.finished = 0, 0, 0
			if b.state == WaitHoop {
				s.takeSet(m)
				s.call(m, workLoad)
			}
		}
		return
	}
	if h.work == workLoad && (b.toLoad > 0 || b.loading > 1) {
		if s.now > b.since {
			s.enter(m, Loading)
		}
		s.charge(o, s.now)
		h.bobbins = 0
		if b.toLoad > 0 {
			s.occupy(o, m, m, workLoad, 0, b.loadSome())
		} else {
			b.loading--
		}
		return
	}
	s.enter(m, Waiting)
	s.charge(o, s.now)
	switch h.work {
	case workSetup:
		b.job = b.picked
		s.load(m)
	case workLoad:
		b.loading = 0
		if b.loaded {
			b.empty++
		}
		b.loaded = true
		s.startRun(m)
	case workStop:
		b.stop++
		s.resume(m)
	default:
		s.resume(m)
	}
}

// hoopFor is the machine an operator would hoop for: one that waits for its
// set first, the longest wait before the others; then the one with the fewest
// hooped sets. −1: nothing to hoop.
func (s *sim) hoopFor(h *hand) int {
	best, bestSets, bestWait := -1, math.MaxInt, math.Inf(1)
	for m := range s.bench {
		b := &s.bench[m]
		if b.HoopOn || !h.serves(m) || !s.toHoop(m) {
			continue
		}
		sets, wait := len(b.ready), math.Inf(1)
		if b.state == WaitHoop {
			sets, wait = -1, b.since
		}
		if sets < bestSets || sets == bestSets && wait < bestWait {
			best, bestSets, bestWait = m, sets, wait
		}
	}
	return best
}

// toHoop reports whether a piece can be hooped for the machine now.
func (s *sim) toHoop(m int) bool {
	b := &s.bench[m]
	if b.target > 0 {
		return b.begun < b.target
	}
	return b.empty > 0 && s.nextPieces(m) > 0
}

// nextPieces is how many pieces the machine's next set will hold.
func (s *sim) nextPieces(m int) int {
	b := &s.bench[m]
	if b.state == WaitHoop {
		return b.heads
	}
	j := s.look(m)
	switch {
	case j < 0:
		return 0
	case s.left[j] < 0:
		return b.Heads
	}
	return min(s.left[j], b.Heads)
}

// hoopOne has an operator hoop one piece at the table.
func (s *sim) hoopOne(o, m int) {
	b := &s.bench[m]
	if b.target == 0 {
		b.target = s.nextPieces(m)
		b.empty--
	}
	b.begun++
	s.occupy(o, m, hoopTable, workHoop, s.walk(s.hand[o].at, hoopTable), b.hoop.draw(b.rnd[forHoop].Rand))
}
