package plan

import (
	"math"
	"slices"

	"needlepace/words"
)

// Schedule is a plan: every lot with its machine and times.
type Schedule struct {
	Lots     []Lot // by machine, then by time
	Unplaced []Unplaced
	Notes    []Note
	Totals
	Bound    float64 // no plan has less weighted lateness (Totals.Lateness) than this, s
	Moves    int64   // moves the search priced
	Complete bool    // false: the search was stopped before its moves were used up
	// Made, of a plan that Diff holds a later one against: all its lots as they were planned, in any
	// order, of which Lots is what is left to sew. Empty: Lots is all.
	Made []Made
}

// Made is a lot as it was planned, and what became of its pieces since.
type Made struct {
	Lot
	Sewn int // pieces that are sewn since, on its machine
	Gone int // pieces that nobody is to sew there any more
	Else int // of Gone: those that were sewn on another machine since; the others are no longer wanted
}

// by is how much of its set-up and work a lot was to have behind it at a second of the plan, in s of work.
func (m *Made) by(win []Window, at float64) float64 {
	all := m.Setup + m.Work
	switch span := openTime(win, m.SetupFrom, m.To); {
	case at >= m.To:
		return all
	case at <= m.SetupFrom || span <= 0:
		return 0
	default:
		return all * openTime(win, m.SetupFrom, at) / span
	}
}

// share is what n of its pieces are of its work, with its set-up where they are its first.
func (m *Made) share(n int, first bool) float64 {
	if n <= 0 || m.Quantity <= 0 {
		return 0
	}
	s := m.Work * float64(n) / float64(m.Quantity)
	if first {
		s += m.Setup
	}
	return s
}

// Totals are what a plan comes to.
type Totals struct {
	Lateness float64 // Σ job weight × seconds late
	Late     int     // jobs late
	MakeSpan float64 // s until the last lot is done
	Setup    float64 // s of set-up on all machines
	Work     float64 // s of machine time at work
	Money    float64 // what machine time at work and in set-up costs, in the shop's money
	Risk     float64 // Σ job weight × chance to be late, where chances are counted
	Moved    float64 // lots moved from where the plan before had them, the first counted 1 and later ones less
	Cost     float64 // the goal: these times Problem.Weights
}

// of is the goal: what totals come to.
func (w *Weights) of(t *Totals) float64 {
	return w.Lateness*t.Lateness + w.MakeSpan*t.MakeSpan + w.Setup*t.Setup + w.Work*t.Work + w.Money*t.Money +
		w.Risk*t.Risk + w.Move*t.Moved
}

// Gap is how far the weighted lateness may be above the best possible, as a
// share of the lateness; 0 means proved best.
func (s *Schedule) Gap() float64 {
	if s.Lateness <= s.Bound || s.Lateness == 0 {
		return 0
	}
	return (s.Lateness - s.Bound) / s.Lateness
}

// Lot is the part of a job that one machine makes in one go.
type Lot struct {
	Job, Machine int     // indices into the problem
	Quantity     int     // pieces
	Runs         int     // machine runs
	SetupFrom    float64 // s: the set-up begins
	From, To     float64 // s: the first run begins, the last one ends
	Setup        float64 // s of set-up
	Work         float64 // machine seconds of the runs
	Cones        int     // thread colours to put on before it
	Running      bool    // it is on the machine now
	Pinned       bool
}

// Unplaced is a job that the plan leaves out, and why.
type Unplaced struct {
	Job int // index into Problem.Jobs
	Why words.Message
}

// Note is something about a job that a planner should know.
type Note struct {
	Job int
	Say words.Message
}

// Ends gives the second at which each job is done; NaN for a job not placed.
func (s *Schedule) Ends(p *Problem) []float64 {
	ends := make([]float64, len(p.Jobs))
	for i := range ends {
		ends[i] = math.NaN()
	}
	for i := range s.Lots {
		l := &s.Lots[i]
		if math.IsNaN(ends[l.Job]) || l.To > ends[l.Job] {
			ends[l.Job] = l.To
		}
	}
	return ends
}

// Queue is the machine's lots in order.
func (s *Schedule) Queue(machine int) []Lot {
	lo, _ := slices.BinarySearchFunc(s.Lots, machine, func(l Lot, m int) int { return l.Machine - m })
	hi, _ := slices.BinarySearchFunc(s.Lots, machine+1, func(l Lot, m int) int { return l.Machine - m })
	return s.Lots[lo:hi]
}

// schedule writes the state down. Lots of one job that follow each other
// without a set-up become one, also where a hand has just brought them together.
func (s *state) schedule() *Schedule {
	md := s.md
	out := &Schedule{Unplaced: md.unplaced, Notes: remarks(md.p)}
	type end struct {
		of *entry
		at float64 // working seconds
	}
	out.Lots = make([]Lot, 0, md.n)
	ends := make([]end, 0, md.n) // of out.Lots
	for m := range s.rows {
		line := &md.lines[m]
		prev, e, rank := int32(-1), md.free[m], int32(-1)
		for _, t := range s.rows[m].seq {
			a := &md.at[m][t]
			j := &md.p.Jobs[md.job[t]]
			set := md.setup(m, prev, t)
			begin := max(e+set, a.release)
			work := a.work
			last := len(out.Lots) - 1
			joins := prev >= 0 && out.Lots[last].Job == int(md.job[t]) && set == 0
			if joins { // one lot: a last run of each with empty heads is one
				o := &out.Lots[last]
				o.Quantity += md.quantity[t]
				o.Runs = j.fit(m).Runs(o.Quantity)
				whole := told(j.work(j.fit(m), o.Quantity))
				work, o.Work = whole-o.Work, whole
				o.To = max(line.end(begin+work), o.From)
				ends[last].at = begin + work
			} else {
				l := Lot{
					Job: int(md.job[t]), Machine: m, Quantity: md.quantity[t], Runs: j.fit(m).Runs(md.quantity[t]),
					Setup: set, Work: work, Cones: md.changes(m, prev, t),
					SetupFrom: line.start(e), From: line.start(begin), To: line.end(begin + work),
					Running: j.Pin != nil && j.Pin.Running, Pinned: j.Pin != nil,
				}
				// A set-up before late goods need not be made at once.
				if set == 0 {
					l.SetupFrom = l.From
				}
				if l.To < l.From { // nothing of it is left to sew: it is done, though the machine may be closed
					l.SetupFrom, l.From = l.To, l.To
				}
				out.Lots, ends = append(out.Lots, l), append(ends, end{a, begin + work})
			}
			e = begin + work
			out.Setup += set
			out.Work += work
			out.Money += md.p.Machines[m].Rate * (set + work)
			if md.old != nil {
				out.Moved += md.old.moved(m, t, &rank)
			}
			prev = t
		}
		if len(s.rows[m].seq) > 0 {
			out.MakeSpan = max(out.MakeSpan, line.end(e))
		}
	}
	for i, end := range out.Ends(md.p) {
		j := &md.p.Jobs[i]
		if late := end - j.due(); late > 2*hair {
			out.Late++
			out.Lateness += j.Weight * late
		}
	}
	fine := make([]float64, len(md.p.Jobs)) // chance to be in time
	for i := range fine {
		fine[i] = 1
	}
	for i, e := range ends {
		l := &out.Lots[i]
		fine[l.Job] *= 1 - md.chance(l.Machine, e.of, e.at)
	}
	for i, f := range fine { // in their order: a sum of floats hangs on it
		out.Risk += md.p.Jobs[i].Weight * (1 - f)
	}
	out.Cost = md.w.of(&out.Totals)
	beyond := map[int]bool{}
	for i := range out.Lots {
		l := &out.Lots[i]
		if l.To > md.lines[l.Machine].horizon()+1 && !beyond[l.Job] {
			beyond[l.Job] = true
			out.Notes = append(out.Notes, Note{l.Job, words.Say("plan-why.estimate")})
		}
	}
	return out
}

// totals are what the state comes to, as schedule gives it but for lots of one job that it writes as one: those are
// counted apart.
func (s *state) totals() (out Totals) {
	md := s.md
	last := make([]float64, len(md.p.Jobs)) // end in s
	fine := make([]float64, len(md.p.Jobs)) // chance to be in time
	for i := range fine {
		fine[i] = 1
	}
	for m := range s.rows {
		r, rank := &s.rows[m], int32(-1)
		for k, t := range r.seq {
			h, j := &r.stops[k], md.job[t]
			out.Setup += h.set
			out.Work += h.work
			out.Money += md.p.Machines[m].Rate * (h.set + h.work)
			if md.old != nil {
				out.Moved += md.old.moved(m, t, &rank)
			}
			last[j] = max(last[j], md.lines[m].end(r.end[k]))
			fine[j] *= 1 - md.chance(m, &h.entry, r.end[k])
		}
		out.MakeSpan = max(out.MakeSpan, r.finish)
	}
	for i := range last {
		j := &md.p.Jobs[i]
		if late := last[i] - j.due(); late > 2*hair {
			out.Late++
			out.Lateness += j.Weight * late
		}
		out.Risk += j.Weight * (1 - fine[i])
	}
	out.Cost = md.w.of(&out)
	return out
}
