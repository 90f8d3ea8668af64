package floor

// eventKind is what an event of the simulation is about.
type eventKind uint8

const (
	machineEvent  eventKind = iota // a running machine ends, breaks, runs out or stops
	operatorEvent                  // an operator has finished
	wakeEvent                      // a pause is over
)

// event is something that will happen. Version tells an event that still
// holds from one whose machine has gone another way since.
type event struct {
	at      float64
	seq     uint64 // ties are settled in the order they were scheduled
	version uint32
	index   int32
	kind    eventKind
}

// agenda is a binary heap of events, the earliest first.
type agenda struct {
	list []event
	seq  uint64
}

func (a *agenda) reset() { a.list, a.seq = a.list[:0], 0 }

func (e event) before(f event) bool { return e.at < f.at || e.at == f.at && e.seq < f.seq }

func (a *agenda) push(e event) {
	a.seq++
	e.seq = a.seq
	a.list = append(a.list, e)
	i := len(a.list) - 1
	for i > 0 {
		up := (i - 1) / 2
		if !e.before(a.list[up]) {
			break
		}
		a.list[i] = a.list[up]
		i = up
	}
	a.list[i] = e
}

func (a *agenda) pop() (event, bool) {
	n := len(a.list)
	if n == 0 {
		return event{}, false
	}
	top, e := a.list[0], a.list[n-1]
	a.list = a.list[:n-1]
	n--
	if n == 0 {
		return top, true
	}
	i := 0
	for {
		c := 2*i + 1
		if c >= n {
			break
		}
		if c+1 < n && a.list[c+1].before(a.list[c]) {
			c++
		}
		if !a.list[c].before(e) {
			break
		}
		a.list[i] = a.list[c]
		i = c
	}
	a.list[i] = e
	return top, true
}
