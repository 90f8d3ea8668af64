package ask

import (
	"context"
	"math"
	"slices"
	"time"

	"needlepace/book"
	"needlepace/plan"
	"needlepace/words"
)

// takeOffMoves is the effort of a plan without what is on a machine that goes down: it is made beside the one that was asked.
const takeOffMoves = 200_000

// takeOff notes what is on a machine that is down before it is done, and would be done sooner, at a smaller goal of the
// whole plan, if it were taken off now and all were planned anew. That is planned as the real thing would be, with a shorter search.
func (p *problem) takeOff(ctx context.Context, sc *plan.Schedule, seed uint64) error {
	for i := range sc.Lots {
		l := &sc.Lots[i]
		from, to := p.downBefore(l.Machine, l.To)
		if !l.Running || to.IsZero() {
			continue
		}
		of := &p.jobs[l.Job]
		q := *p.Problem
		q.Jobs = slices.Clone(p.Jobs)
		j := &q.Jobs[l.Job]
		for _, f := range j.Fits {
			if f.Machine == l.Machine { // a run that has begun is taken off with what it is in
				j.Quantity -= int(math.Floor(j.Pin.Done/f.Run)) * f.Pieces
			}
		}
		if j.Pin, j.MaxLots = nil, of.line.MostMachines; j.Quantity <= 0 {
			continue
		}
		desk, err := plan.NewDesk(p.Problem, sc)
		if err != nil {
			return wrong(err)
		}
		off, err := plan.Replan(ctx, plan.Plan{Problem: p.Problem, Schedule: sc}, &q, plan.Options{Seed: seed, Moves: takeOffMoves, NoBound: true})
		if err != nil {
			return wrong(err)
		}
		is, then := p.lineEnd(sc, of), p.lineEnd(off, of)
		if then > is-worthTelling.Seconds() || off.Cost >= desk.Schedule().Cost {
			continue
		}
		p.notes = slices.DeleteFunc(p.notes, func(n book.LeftOut) bool { // it says that too
			return n.OrderID == of.order.ID && n.Line == of.line.Line && n.Say.Key == "plan-why.on-down"
		})
		near := func(t time.Time) words.Value { return p.w.Zone.Near(t, p.Origin) }
		p.notes = append(p.notes, leftOut(of.order, of.line, words.Say("plan-why.take-off", words.Args{"machine": words.Name(p.stations[l.Machine].Name),
			"from": near(from), "until": near(to), "then": near(p.utc(then)), "is": near(p.utc(is))})))
	}
	return nil
}

// lineEnd is when a plan has the last of a line.
func (p *problem) lineEnd(sc *plan.Schedule, of *jobOf) (end float64) {
	for i, e := range sc.Ends(p.Problem) {
		if p.jobs[i].order.ID == of.order.ID && p.jobs[i].line.Line == of.line.Line {
			end = max(end, e)
		}
	}
	return end
}

// downBefore is the first time that is not over for which a machine is down before a second of the plan; zero: none.
func (p *problem) downBefore(m int, s float64) (from, to time.Time) {
	p.downs(p.stations[m].ID, func(f, t time.Time) bool {
		if p.Second(f) < s && (to.IsZero() || f.Before(from)) {
			from, to = f, t
		}
		return true
	})
	return from, to
}

// downs calls do with each time for which a machine is down and that is not over, until it says no.
func (p *problem) downs(machineID string, do func(from, to time.Time) bool) {
	for _, d := range p.w.Down {
		if d.Machine != "" && d.ID != machineID {
			continue
		}
		from, err := p.w.WallTime(d.From)
		to, err2 := p.w.WallTime(d.To)
		if err == nil && err2 == nil && p.Origin.Before(to) && !do(from, to) {
			return
		}
	}
}

// takenOff are the plan's notes of what should be taken off its machine, as long as it is there.
func (t *today) takenOff(a *TodayAnswer) {
	for i := range t.plan.Notes {
		n := &t.plan.Notes[i]
		_, l := t.line(n.OrderID, n.Line)
		if n.Say.Key != "plan-why.take-off" || l == nil {
			continue
		}
		for _, h := range l.Holds {
			if x := lotOn(t.plan, h.MachineID, n.OrderID, n.Line, h.Colour); h.Running && x != nil && x.Running && x.To.After(t.Now) {
				a.Watch = append(a.Watch, TodayAttention{WatchTakeOff, n.Number, n.Line, h.MachineID, h.Colour, noteSays(n)})
				break
			}
		}
	}
}
