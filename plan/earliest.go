package plan

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Offer is when more jobs could be done within a plan.
type Offer struct {
	End    float64   // s: of the last of them
	Lots   []Lot     // of them
	Others *Effect   // what it does to the jobs already planned; Jobs leaves the new ones out
	Plan   *Schedule // the plan with the jobs in it; the first's index is len(Problem.Jobs)
	With   *Problem  // the problem with the jobs in it, as they were given
	Before *Schedule // the plan without them, but for those that run, timed as Plan is
	Loose  int       // lots of other jobs that the plan did not have, put where they cost least with the jobs; Before is without them
}

// earlyWeight is the weight of a job that is asked for as early as can be: too small to
// make others late.
const earlyWeight = 1e-3

// Earliest finds where more jobs, which belong together, fit best into the plan without moving
// what is planned: their own lateness, that of others and set-ups are
// weighed as in the plan. Give the jobs no due date, or that which the customer
// wants. Jobs without due date are placed where the last of them ends earliest without
// making any other job later than its due date more than it already is; which is
// given first matters only between jobs alike in their machines' number and in work.
func Earliest(p *Problem, s *Schedule, jobs ...Job) (*Offer, error) {
	first := len(p.Jobs)
	with := *p
	with.Jobs = slices.Concat(p.Jobs, jobs)
	windows := staffed(&with)
	for i, job := range jobs {
		if why := unfit(&with, &with.Jobs[first+i], closedIn(windows)); !why.IsZero() {
			return nil, fmt.Errorf("%s: %s", label(job.Name, job.ID, "job", first+i), why.Raw())
		}
		if math.IsInf(job.due(), 1) {
			// Due at once with a weight too small to push others: earliest end.
			with.Jobs[first+i].Due = 0
			with.Jobs[first+i].Weight = earlyWeight
			with.Weights = p.Weights.orDefault()
			with.Weights.Money = 0 // the day is asked for, not the cheapest place
		}
	}
	if p.Changeover != nil {
		return nil, errors.New("a job cannot be added to a problem with known set-up times between its jobs")
	}
	if err := Check(&with); err != nil {
		return nil, err
	}
	seeds, err := seedsOf(p, s)
	if err != nil {
		return nil, err
	}
	together := seeds[:0] // as they are written: lots of one job that follow each other are one
	for _, sd := range seeds {
		if k := len(together) - 1; k >= 0 && together[k].job == sd.job && together[k].machine == sd.machine {
			together[k].quantity += sd.quantity
			continue
		}
		together = append(together, sd)
	}
	md, at, loose := seeded(&with, windows, together)
	o := &Offer{With: &with, Before: at.schedule()}
	mine := make([][]int32, len(jobs)) // the lots of each that have no place yet
	others := loose[:0]
	for _, t := range loose {
		if i := int(md.job[t]) - first; i >= 0 {
			mine[i] = append(mine[i], t)
		} else {
			others = append(others, t)
		}
	}
	o.Loose = len(others)
	at = inTurn(at, mine, others)
	o.Plan = at.schedule()
	copy(with.Jobs[first:], jobs)
	with.Weights = p.Weights
	isNew := func(l Lot) bool { return l.Job >= first }
	o.Before.Lots = slices.DeleteFunc(o.Before.Lots, isNew)
	w := p.Weights.orDefault()
	o.Before.Cost, o.Plan.Cost = w.of(&o.Before.Totals), w.of(&o.Plan.Totals)
	for _, l := range o.Plan.Lots {
		if isNew(l) {
			o.Lots = append(o.Lots, l)
			o.End = max(o.End, l.To)
		}
	}
	o.Others = effect(p, o.Before, &Schedule{Lots: slices.DeleteFunc(slices.Clone(o.Plan.Lots), isNew), Totals: o.Plan.Totals})
	return o, nil
}

// inTurn puts the lots of new jobs, each job's together, into a state where they cost least, and
// then those of others. The job with the fewest machines goes first, and of those the one
// with the most work; then each is taken out and put in again for as long as that helps.
func inTurn(s *state, mine [][]int32, others []int32) *state {
	md := s.md
	var turn []int
	for i, lots := range mine {
		if len(lots) > 0 {
			turn = append(turn, i)
		}
	}
	size := func(i int) (machines int, work float64) {
		t := mine[i][0]
		least := math.Inf(1)
		for _, m := range md.fits[t] {
			least = min(least, md.at[m][t].work)
		}
		return len(md.fits[t]), least * float64(len(mine[i]))
	}
	slices.SortStableFunc(turn, func(a, b int) int {
		ma, wa := size(a)
		mb, wb := size(b)
		return cmp.Or(cmp.Compare(ma, mb), cmp.Compare(wb, wa))
	})
	// All ends are in the value by their sum; the last end counts as much.
	value := func(at *state) float64 {
		latest, ends := 0.0, at.schedule().Ends(md.p)
		for _, i := range turn {
			latest = max(latest, ends[md.job[mine[i][0]]])
		}
		return at.value() + earlyWeight*float64(len(turn))*md.w.Lateness*latest
	}
	for _, i := range turn {
		insertBest(s, mine[i])
	}
	best, least := s, value(s)
	for better := len(turn) > 1; better; { // what came first did not know what would come
		better = false
		for _, i := range turn {
			at := newState(md)
			at.copyFrom(best)
			at.takeOut(mine[i])
			insertBest(at, mine[i])
			if v := value(at); v < least {
				best, least, better = at, v, true
			}
		}
	}
	insertBest(best, others)
	return best
}

// takeOut takes lots out of their queues.
func (s *state) takeOut(lots []int32) {
	for _, t := range lots {
		m, i := int(s.mach[t]), int(s.pos[t])
		s.rows[m].seq = slices.Delete(s.rows[m].seq, i, i+1)
		s.refresh(m, i)
	}
	s.total()
}
