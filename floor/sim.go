package floor

import (
	"context"
	"math"
)

// hoopTable is the place of an operator who is at no machine.
const hoopTable = -1

// State is what a machine does with a second of the shift.
type State int

// The states of a machine. Their seconds add up to the shift.
const (
	Running    State = iota // sewing
	Waiting                 // standing, for an operator: notice, walk and pauses of the operator included
	WaitHoop                // standing, for a hooped set
	Repair                  // a thread break is being put right
	Bobbins                 // bobbins are being changed
	Attending               // the operator's work at a stop of the design or a re-thread
	Loading                 // unloading and loading, and hooping on the machine
	Changeover              // from one job to the next
	Pausing                 // a pause of all operators, the machine standing
	NoWork                  // no job left
	NumStates
)

var stateNames = [NumStates]string{"running", "waiting for an operator", "waiting for a hooped set", "thread breaks",
	"bobbins",
	"operator stops", "loading", "changeover", "pause", "no work"}

// String names the state in the words of the floor.
func (s State) String() string {
	if s >= 0 && s < NumStates {
		return stateNames[s]
	}
	return "unknown state"
}

// work is what an operator is called for.
type work uint8

const (
	workSetup work = iota
	workLoad
	workBreak
	workBobbin
	workStop
	workHoop
)

// state of the machine while the work is done
var whileWork = [...]State{workSetup: Changeover, workLoad: Loading, workBreak: Repair, workBobbin: Bobbins,
	workStop: Attending, workHoop: WaitHoop}

// next is what ends a running machine's present stretch.
type next uint8

const (
	runEnd next = iota
	runBreak
	runBobbin
	runStop
)

// purposes of random streams
const (
	forBreaks = iota
	forRepair
	forBobbin
	forLoad
	forHoop
	forSetup
	forStop
	forQuality
	numPurposes
)

// bench is one machine while it is simulated.
type bench struct {
	*Machine
	rnd     [numPurposes]*stream
	job     int // set up for; −1 before the first
	picked  int // taken for the next run
	heads   int // heads that sew in this run
	run     *Run
	seconds float64 // of this run, in this replication
	done    float64 // of it, sewn
	budget  float64 // until the next thread break, in expected breaks (exponential, mean 1)
	stop    int     // next of run.Stops
	bobbin  []float64
	breaks  int // in this run, for the chance of a spoilt piece
	state   State
	since   float64
	ending  next
	version uint32
	// hooping beside the machine
	ready           []int // pieces of each hooped set that waits
	empty           int   // empty sets
	loaded          bool  // a set is on the machine
	short           int   // pieces that the set just taken is short of the heads
	toLoad          int   // heads that nobody loads yet
	loading         int   // operators who load
	target          int   // pieces of the set being hooped; 0: none is
	begun, finished int   // of target

	dice // Machine's spreads
}

// dice are a machine's times that vary.
type dice struct{ repair, setup, cone, loadOne, hoop, change die }

// hand is one operator while simulated.
type hand struct {
	*Operator
	away      calendar
	busy      bool
	at        int // machine last at, or hoopTable
	idleSince float64
	work      work
	machine   int
	from      float64 // start of the present work, notice and walk included
	begins    float64 // of the work itself
	bobbins   float64 // s of a loading that go into bobbins
}

type call struct {
	machine int
	work    work
	at      float64
}

// Shift is what one simulated shift came to. Times are seconds inside the
// measured stretch (the shift, or what follows the warm-up).
type Shift struct {
	Length   float64 // s measured, pauses included
	Pieces   int     // sewn to the end inside the measured stretch
	Good     int     // of them, not spoilt
	Jobs     []int   // pieces by job
	Machines []MachineShift
	Hands    []HandShift
	Calls    int     // of machines for an operator
	Waited   int     // of them, not answered at once
	AllBusy  float64 // s in which no operator was free
	Finished float64 // s, when the last job was done; 0 where work was left
}

// MachineShift is one machine's shift.
type MachineShift struct {
	Seconds    [NumStates]float64
	Pieces     int
	Good       int
	Planned    float64 // s: Σ planned run time per item × items (PRI·PQ)
	GoodPlan   float64 // s: the same for good items (PRI·GQ)
	Breaks     int
	BobbinEnds int     // bobbins changed
	Runs       int     // runs finished
	Left       float64 // pieces' worth of sewing under way at the end
	Attended   float64 // s of operators: on the way to it, at it and hooping for it
}

// HandShift is one operator's shift.
type HandShift struct {
	Walking  float64
	Machines float64 // work at machines
	Hooping  float64
	Away     float64 // pauses
}

// sim is one shift being simulated; it is used again for the next.
type sim struct {
	shop    *Shop
	plan    plan
	opt     *Options
	rep     int
	now     float64
	end     float64 // s, simulated
	agenda  agenda
	bench   []bench
	hand    []hand
	calls   []call
	left    []int // pieces not yet begun, by job; −1: no end
	change  [][]int
	out     Shift
	free    int     // operators that are not busy (in a pause they are no busier)
	changed float64 // when free last changed
	working int     // machines that still have work
}

func newSim(shop *Shop, opt *Options) *sim {
	s := &sim{shop: shop, plan: newPlan(shop), opt: opt}
	s.bench = make([]bench, len(shop.Machines))
	for i := range s.bench {
		b := &s.bench[i]
		b.Machine = &shop.Machines[i]
		b.bobbin = make([]float64, b.Heads)
		b.dice = dice{b.Repair.die(), b.Setup.die(), b.Cone.die(), b.Load.die(), b.Hoop.die(), b.Bobbin.Change.die()}
		for p := range b.rnd {
			b.rnd[p] = newStream()
		}
	}
	s.hand = make([]hand, len(shop.Operators))
	for i := range s.hand {
		s.hand[i] = hand{Operator: &shop.Operators[i], away: s.plan.away[i]}
	}
	s.left = make([]int, len(shop.Jobs))
	s.change = conesChanged(shop.Jobs)
	return s
}

// conesChanged counts, for each job after each other, the threads of the
// second that the first did not leave on the machine; row len(jobs) is the
// first job of all.
func conesChanged(jobs []Job) [][]int {
	has := make([]map[string]bool, len(jobs)+1)
	for i := range jobs {
		has[i] = map[string]bool{}
		for _, t := range jobs[i].Threads {
			has[i][t] = true
		}
	}
	n := make([][]int, len(jobs)+1)
	for i := range n {
		n[i] = make([]int, len(jobs))
		for j := range jobs {
			for t := range has[j] {
				if !has[i][t] {
					n[i][j]++
				}
			}
		}
	}
	return n
}

// run simulates one shift: replication rep.
func (s *sim) runShift(ctx context.Context, rep int) (Shift, error) {
	s.reset(rep)
	for i := range s.bench {
		s.begin(i)
	}
	s.dispatch()
	for n := 0; ; n++ {
		if n&0xffff == 0xffff {
			if err := ctx.Err(); err != nil {
				return Shift{}, err
			}
		}
		e, ok := s.agenda.pop()
		if !ok || e.at > s.end { // what ends with the shift still counts
			break
		}
		s.now = e.at
		switch e.kind {
		case machineEvent:
			b := &s.bench[e.index]
			if b.version != e.version {
				continue
			}
			s.machine(int(e.index))
		case operatorEvent:
			s.operatorDone(int(e.index))
		}
		s.dispatch()
		if s.working == 0 {
			break
		}
	}
	return s.close(), nil
}

func (s *sim) reset(rep int) {
	s.rep, s.now, s.end = rep, 0, s.plan.length
	if s.opt.UntilDone {
		s.end = math.Inf(1)
	}
	s.agenda.reset()
	s.calls = s.calls[:0]
	s.out = Shift{Jobs: make([]int, len(s.left)), Machines: make([]MachineShift, len(s.bench)),
		Hands: make([]HandShift, len(s.hand))}
	s.free, s.changed = len(s.hand), 0
	s.working = len(s.bench)
	for i := range s.left {
		s.left[i] = s.shop.Jobs[i].Quantity
		if s.left[i] == 0 {
			s.left[i] = -1
		}
	}
	for i := range s.hand {
		h := &s.hand[i]
		*h = hand{Operator: h.Operator, away: h.away, at: hoopTable, idleSince: math.Inf(-1)}
		for _, p := range h.away {
			s.agenda.push(event{at: p.to, kind: wakeEvent})
		}
	}
	for i := range s.bench {
		b := &s.bench[i]
		for p, r := range b.rnd {
			r.seed(s.opt.Seed, rep, i, p)
		}
		version := b.version + 1
		*b = bench{Machine: b.Machine, rnd: b.rnd, bobbin: b.bobbin, ready: b.ready[:0], job: -1, picked: -1,
			state: NoWork, version: version, dice: b.dice}
		b.budget = b.rnd[forBreaks].ExpFloat64()
		for k := range b.bobbin {
			// A shift begins amid ordinary work: bobbins are anywhere between
			// full and empty.
			b.bobbin[k] = b.full() * b.rnd[forBobbin].Float64()
		}
		b.empty = b.HoopSets
		if s.shop.Ready {
			for ; b.empty > 0; b.empty-- {
				b.ready = append(b.ready, b.Heads)
			}
		}
	}
}

// full is the metres on a new bobbin.
func (b *bench) full() float64 {
	m := b.Bobbin.Metres
	if b.Bobbin.CV > 0 {
		m *= max(.2, 1+b.Bobbin.CV*b.rnd[forBobbin].NormFloat64())
	}
	return m
}

// begin is the machine's first step of the shift.
func (s *sim) begin(i int) {
	b := &s.bench[i]
	if !s.shop.Ready {
		s.nextRun(i)
		return
	}
	if !s.pick(i) {
		return
	}
	b.job = b.picked
	s.takeSet(i)
	b.loaded = true
	s.startRun(i)
}

// enter charges the state that ends now and opens the next.
func (s *sim) enter(i int, st State) {
	b := &s.bench[i]
	s.spend(i, b.state, b.since, s.now)
	b.state, b.since = st, s.now
}

func (s *sim) spend(i int, st State, from, to float64) {
	if from, to = max(from, s.opt.WarmUp), min(to, s.end); to > from {
		s.out.Machines[i].Seconds[st] += to - from
	}
}

// counted reports whether what happens now is inside the measured stretch.
func (s *sim) counted() bool { return s.now >= s.opt.WarmUp }

// pick takes the next run for a machine: the first job in order that it may
// sew and that has pieces left, on as many heads as there are pieces for.
func (s *sim) pick(i int) bool {
	b := &s.bench[i]
	b.picked = s.look(i)
	if b.picked < 0 {
		s.enter(i, NoWork)
		s.working--
		return false
	}
	b.heads = b.Heads
	if n := s.left[b.picked]; n > 0 {
		b.heads = min(n, b.Heads)
		if s.left[b.picked] -= b.heads; s.left[b.picked] == 0 {
			s.left[b.picked] = -2 // none left
		}
	}
	return true
}

// look is the job pick would take, −1 for none. A piece count of −1 has no
// end, −2 is used up.
func (s *sim) look(i int) int {
	for j := range s.shop.Jobs {
		if s.left[j] != -2 && s.shop.Jobs[j].on(i) {
			return j
		}
	}
	return -1
}

// nextRun sends a machine that stands empty or finished to its next run.
func (s *sim) nextRun(i int) {
	if !s.pick(i) {
		return
	}
	b := &s.bench[i]
	if b.picked != b.job {
		s.call(i, workSetup)
		return
	}
	s.load(i)
}

// load calls for a loading, or waits for a hooped set.
func (s *sim) load(i int) {
	b := &s.bench[i]
	if !b.HoopOn {
		if len(b.ready) == 0 {
			s.enter(i, WaitHoop)
			// A set that is on the machine cannot be hooped: with a single
			// set it is taken off first, by the hand that will hoop it.
			if b.loaded && b.empty == 0 && b.target == 0 {
				b.loaded = false
				b.empty++
			}
			return
		}
	}
	s.takeSet(i)
	s.call(i, workLoad)
}

// takeSet takes the hooped set that has waited longest. Where the plan
// changed since it was hooped and it holds too few pieces, the rest is hooped
// at the machine.
func (s *sim) takeSet(i int) {
	b := &s.bench[i]
	b.short = b.heads
	if !b.HoopOn {
		b.short = max(0, b.heads-b.ready[0])
		b.ready = append(b.ready[:0], b.ready[1:]...)
	}
}

func (s *sim) call(i int, w work) {
	if s.bench[i].state != Waiting {
		s.enter(i, Waiting)
	}
	s.calls = append(s.calls, call{i, w, s.now})
	if s.counted() {
		s.out.Calls++
	}
}

// startRun begins the run of what has just been loaded.
func (s *sim) startRun(i int) {
	b := &s.bench[i]
	b.run = &s.shop.Jobs[b.picked].Runs[i]
	b.seconds = b.run.Seconds[s.rep%len(b.run.Seconds)]
	b.done, b.stop, b.breaks = 0, 0, 0
	s.resume(i)
}

// resume sews on, to whatever comes first: the end, a thread break, an empty
// bobbin or a stop.
func (s *sim) resume(i int) {
	b := &s.bench[i]
	s.enter(i, Running)
	t, what := b.seconds-b.done, runEnd
	if b.stop < len(b.run.Stops) {
		if d := max(b.run.Stops[b.stop].Fraction*b.seconds-b.done, 0); d < t {
			t, what = d, runStop
		}
	}
	if rate := b.breakRate(); rate > 0 {
		if d := b.budget / rate; d < t {
			t, what = d, runBreak
		}
	}
	if rate := b.bobbinRate(); rate > 0 {
		left := math.Inf(1)
		for _, m := range b.bobbin[:b.heads] {
			left = min(left, m)
		}
		if d := max(left, 0) / rate; d < t {
			t, what = d, runBobbin
		}
	}
	b.ending = what
	b.version++
	s.agenda.push(event{at: s.now + t, kind: machineEvent, index: int32(i), version: b.version})
}

// breakRate is thread breaks a second of sewing: those of a run come evenly
// over its seconds.
func (b *bench) breakRate() float64 {
	return b.Breaks / 1000 * float64(b.heads) * float64(b.run.Stitches) / b.seconds
}

// bobbinRate is metres of bobbin thread a second, each head.
func (b *bench) bobbinRate() float64 {
	if b.Bobbin.Metres == 0 {
		return 0
	}
	return b.run.BobbinMetres / b.seconds
}

// machine is the end of a stretch of sewing.
func (s *sim) machine(i int) {
	b := &s.bench[i]
	dt := s.now - b.since
	b.done += dt
	b.budget -= dt * b.breakRate()
	if rate := b.bobbinRate(); rate > 0 {
		for k := range b.bobbin[:b.heads] {
			b.bobbin[k] -= dt * rate
		}
	}
	switch b.ending {
	case runBreak:
		b.budget = b.rnd[forBreaks].ExpFloat64()
		b.breaks++
		if s.counted() {
			s.out.Machines[i].Breaks++
		}
		s.call(i, workBreak)
	case runBobbin:
		s.call(i, workBobbin)
	case runStop:
		s.call(i, workStop)
	default:
		s.runDone(i)
		s.nextRun(i)
	}
}

func (s *sim) runDone(i int) {
	b := &s.bench[i]
	spoilt := 0
	q := b.rnd[forQuality]
	for range b.heads {
		if b.Reject > 0 && q.Float64() < b.Reject {
			spoilt++
		}
	}
	if b.RejectPerBreak > 0 {
		for range b.breaks {
			if q.Float64() < b.RejectPerBreak {
				spoilt++
			}
		}
	}
	spoilt = min(spoilt, b.heads)
	if !s.counted() {
		return
	}
	m := &s.out.Machines[i]
	m.Runs++
	m.Pieces += b.heads
	m.Good += b.heads - spoilt
	// Planned run time per item: the machine's heads together make Heads
	// items in the planned run time, whether all of them sew or not.
	item := b.run.Planned / float64(b.Heads)
	m.Planned += item * float64(b.heads)
	m.GoodPlan += item * float64(b.heads-spoilt)
	s.out.Pieces += b.heads
	s.out.Good += b.heads - spoilt
	s.out.Jobs[b.picked] += b.heads
}

// close charges what is under way and adds up.
func (s *sim) close() Shift {
	if s.working == 0 {
		s.out.Finished = s.now
	}
	if s.opt.UntilDone {
		s.end = s.now
	}
	s.now = s.end
	for i := range s.bench {
		if b := &s.bench[i]; b.state == Running {
			s.out.Machines[i].Left = float64(b.heads) * min(1, (b.done+s.now-b.since)/b.seconds)
		}
		s.enter(i, s.bench[i].state)
		if !s.opt.UntilDone {
			s.out.Machines[i].Seconds[Pausing] += s.plan.cut
		}
	}
	for i := range s.hand {
		h := &s.hand[i]
		if h.busy {
			s.charge(i, s.now)
		}
		s.out.Hands[i].Away = h.away.within(s.opt.WarmUp, s.now)
		if !s.opt.UntilDone {
			s.out.Hands[i].Away += s.plan.cut
		}
	}
	for _, c := range s.calls { // still not answered
		if c.at < s.now && c.at >= s.opt.WarmUp {
			s.out.Waited++
		}
	}
	s.busyChanged()
	s.out.Length = s.now - s.opt.WarmUp
	if !s.opt.UntilDone {
		s.out.Length += s.plan.cut
	}
	return s.out
}
