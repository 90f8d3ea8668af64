package ask

import (
	"math"
	"slices"
	"time"

	"needlepace/book"
	"needlepace/plan"
)

// What is on a machine is counted on from what the floor said of it last: by Today, and by every
// plan, which has on it what is left then.

// lastWord is when the floor last spoke of pieces of a line that are held on a machine: it put them
// there, or reported some; zero: not known.
func lastWord(reports []book.Report, order string, line int, h *book.Hold) time.Time {
	if h.At.IsZero() { // put on before that was kept
		return time.Time{}
	}
	at := h.At
	for i := range reports {
		if r := &reports[i]; r.OrderID == order && r.Line == line && r.MachineID == h.MachineID && r.Added.After(at) {
			at = r.Added
		}
	}
	return at
}

// lotOn is a line's first lot on a machine by a plan; nil: none.
func lotOn(p *book.Plan, machineID, order string, line int, colour string) *book.PlanLot {
	if p == nil {
		return nil
	}
	for i := range p.Lots {
		x := &p.Lots[i]
		if x.MachineID == machineID && x.OrderID == order && x.Line == line && (colour == "" || x.Colour == "" || x.Colour == colour) {
			return x
		}
	}
	return nil
}

// begin says how much is done of what is on the machines now: what they did since the last word of it.
func (p *problem) begin() {
	var hours map[string]*openHours
	for i := range p.Jobs {
		of, pin := &p.jobs[i], p.Jobs[i].Pin
		if pin == nil || !pin.Running {
			continue
		}
		at := lastWord(p.reports, of.order.ID, of.line.Line, of.hold)
		if at.IsZero() || !at.Before(p.Origin) {
			continue
		}
		if hours == nil {
			hours = hoursOf(p.w, p.Machines, p.Origin)
		}
		now := *pin
		now.Done = hours[of.hold.MachineID].between(at, p.Origin)
		p.Jobs[i].Pin = &now
	}
}

// spoken is when the floor last spoke of each machine: what it is reported to have sewn was sewn
// by then, and what it has goes on from there.
func (p *problem) spoken() map[string]time.Time {
	last := map[string]time.Time{}
	say := func(machineID string, at time.Time) {
		if at.After(last[machineID]) {
			last[machineID] = at
		}
	}
	for i := range p.reports {
		say(p.reports[i].MachineID, p.reports[i].Added)
	}
	for _, o := range p.orders {
		for i := range o.Lines {
			for _, h := range o.Lines[i].Holds {
				if h.Running {
					say(h.MachineID, h.At)
				}
			}
		}
	}
	return last
}

// goOnFrom has each machine that the floor spoke of since the plan began go on from then; one that
// it did not speak of went by the plan. What was not to begin before now begins no sooner.
func (p *problem) goOnFrom(sc *plan.Schedule, now time.Time) {
	for id, at := range p.spoken() {
		if m, ok := p.index[id]; ok {
			p.Machines[m].Free = max(p.Machines[m].Free, p.Second(at))
		}
	}
	if now.IsZero() {
		return
	}
	begun := make([]bool, len(p.Jobs))
	for i := range sc.Lots {
		l := &sc.Lots[i]
		begun[l.Job] = begun[l.Job] || l.From <= p.Second(now)
	}
	for i := range p.Jobs {
		if !begun[i] {
			p.Jobs[i].Release = max(p.Jobs[i].Release, p.Second(now))
		}
	}
}

// openHours are when a machine works, slower where all machines ask for more hands than there are, as plans have it.
type openHours struct {
	origin time.Time
	win    []plan.Window // in s after origin; none: always
}

// hoursBack is how far back a machine's hours are looked at: what was begun
// before then counts from there.
const hoursBack = 31 * 24 * time.Hour

// hoursOf are the machines' about a moment, by their IDs; of the machines their IDs and what they ask of hands are used.
func hoursOf(w *book.Workshop, machines []plan.Machine, about time.Time) map[string]*openHours {
	origin := about.Add(-hoursBack).In(w.Location())
	days := min(31+w.Horizon, 31+92)
	p := plan.Problem{Origin: origin, Crew: w.Calendar("").Presences(origin, days)}
	for _, m := range machines {
		p.Machines = append(p.Machines, plan.Machine{Attention: m.Attention, Windows: w.Calendar(m.ID).Windows(origin, days)})
	}
	out := map[string]*openHours{}
	for i, win := range plan.Staffed(&p) {
		out[machines[i].ID] = &openHours{origin, win}
	}
	return out
}

func (h *openHours) second(t time.Time) float64 { return t.Sub(h.origin).Seconds() }

func (h *openHours) moment(s float64) time.Time {
	return h.origin.Add(time.Duration(math.Round(s)) * time.Second).UTC().Round(time.Second)
}

// between is the machine seconds from a to b; 0 where b is before a.
func (h *openHours) between(a, b time.Time) (sum float64) {
	from, to := max(0, h.second(a)), h.second(b)
	if len(h.win) == 0 {
		return max(0, to-from)
	}
	for _, w := range h.win {
		sum += max(0, min(to, w.To)-max(from, w.From)) * paceIn(w)
	}
	if last := h.win[len(h.win)-1].To; to > last { // past the calendar: as if open
		sum += to - max(from, last)
	}
	return sum
}

// after is the first open moment at which so many machine seconds have passed since a time.
func (h *openHours) after(at time.Time, seconds float64) time.Time {
	from := h.second(at)
	for _, w := range h.win {
		if w.To <= from {
			continue
		}
		begin, pace := max(from, w.From), paceIn(w)
		if end := begin + seconds/pace; end < w.To || end == w.To && seconds > 0 {
			return h.moment(end)
		}
		seconds -= (w.To - begin) * pace
		from = w.To
	}
	return h.moment(from + seconds)
}

// paceIn is the machine seconds a second of a window.
func paceIn(w plan.Window) float64 {
	if w.Rate == 0 {
		return 1
	}
	return w.Rate
}

// openAt reports whether the machine may run.
func (h *openHours) openAt(t time.Time) bool {
	s := h.second(t)
	return len(h.win) == 0 || slices.ContainsFunc(h.win, func(w plan.Window) bool { return w.From <= s && s < w.To })
}
