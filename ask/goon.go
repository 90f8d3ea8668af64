package ask

import (
	"slices"
	"time"

	"needlepace/book"
	"needlepace/plan"
)

// goOn is a kept plan as the problem goes on with it. The floor's reports since
// are off its lots, and what is left of them is of the jobs that those pieces are
// of now: a part that was started or held is a job of its own, one that was
// let go or whose garments came is none any more.
func (p *problem) goOn(kept *book.Plan) *book.Plan { return p.inherit(kept, p.reports) }

func (p *problem) inherit(kept *book.Plan, reports []book.Report) *book.Plan {
	all := p.bequests(kept, reports)
	out := *kept
	out.Lots = nil
	for i := range all {
		out.Lots = append(out.Lots, all[i].parts(p)...)
	}
	out.Jobs = p.jobsOf(kept, all)
	return &out
}

// told is a kept plan as what moved is told against it: as the problem goes on with it, and how its lots were planned.
func (p *problem) told(kept, on *book.Plan) plan.Plan {
	out := on.AsPlan()
	jobs, machines := map[string]int{}, map[string]int{}
	for i := range out.Problem.Jobs {
		jobs[out.Problem.Jobs[i].ID] = i
	}
	for m := range out.Problem.Machines {
		machines[out.Problem.Machines[m].ID] = m
	}
	all := p.bequests(kept, p.reports)
	type line struct {
		order string
		n     int
	}
	elsewhere := map[line]int{} // pieces sewn since that are of no lot on their machine
	for i, n := range kept.GoodSince(p.reports) {
		elsewhere[line{p.reports[i].OrderID, p.reports[i].Line}] += n
	}
	for i := range all {
		elsewhere[line{all[i].lot.OrderID, all[i].lot.Line}] -= all[i].sewn
	}
	for i := range all {
		l := all[i].lot
		there := min(all[i].left, max(0, elsewhere[line{l.OrderID, l.Line}]))
		elsewhere[line{l.OrderID, l.Line}] -= there
		job, known := jobs[l.Job]
		if m, ok := machines[l.MachineID]; known && ok {
			second := out.Problem.Second
			out.Schedule.Made = append(out.Schedule.Made, plan.Made{Sewn: all[i].sewn, Gone: all[i].left, Else: there, Lot: plan.Lot{
				Job: job, Machine: m, Quantity: l.Quantity, Runs: l.Runs, Setup: l.Setup, Work: l.Work,
				SetupFrom: second(l.SetupFrom), From: second(l.From), To: second(l.To)}})
		}
	}
	return out
}

// bequests are what a kept plan's lots leave to the problem's jobs, after the reports since.
func (p *problem) bequests(kept *book.Plan, reports []book.Report) []bequest {
	lots := map[garments][]*bequest{}
	all := make([]bequest, len(kept.Lots))
	for i, sewn := range kept.Sewn(reports) {
		l := &kept.Lots[i]
		all[i] = bequest{lot: l, sewn: sewn, left: l.Quantity - sewn}
		of := garments{l.OrderID, l.Line, l.Colour}
		lots[of] = append(lots[of], &all[i])
	}
	p.share(lots)
	return all
}

// garments are the pieces of a line that have one set of threads.
type garments struct {
	order  string
	line   int
	colour string
}

// bequest is what a lot of a kept plan leaves to jobs.
type bequest struct {
	lot  *book.PlanLot
	sewn int // pieces since
	left int // pieces that no job has yet; at the end, that no job has any more
	to   []inherited
	gone []inherited // to what is sewn again, which has no place
}

type inherited struct{ job, pieces int }

// share gives the lots to the jobs: first to what is held on their machine, for
// it stands there whatever the plan says; then each job has its own, and what it
// lacks from those that are too many for theirs. What is held elsewhere than its
// pieces were has the lots that are left; what is spoilt and sewn again was in no
// plan.
func (p *problem) share(lots map[garments][]*bequest) {
	need := make([]int, len(p.Jobs))
	take := func(job int, from func(l *book.PlanLot) bool) {
		for _, b := range lots[p.garments(job)] {
			if n := min(need[job], b.left); n > 0 && from(b.lot) {
				b.left -= n
				need[job] -= n
				b.to = append(b.to, inherited{job, n})
			}
		}
	}
	all := func(*book.PlanLot) bool { return true }
	for i := range p.Jobs {
		need[i] = p.Jobs[i].Quantity
	}
	own := func(job int) func(l *book.PlanLot) bool {
		return func(l *book.PlanLot) bool { return l.Job == p.Jobs[job].ID }
	}
	for i := range p.Jobs {
		if pin := p.Jobs[i].Pin; pin != nil {
			here := func(l *book.PlanLot) bool { return l.MachineID == p.Machines[pin.Machine].ID }
			take(i, func(l *book.PlanLot) bool { return here(l) && own(i)(l) })
			take(i, here)
		}
	}
	for i := range p.Jobs {
		if p.Jobs[i].Pin == nil {
			take(i, own(i))
		}
	}
	for i := range p.Jobs {
		if p.Jobs[i].Pin == nil && !p.jobs[i].again {
			take(i, all)
		}
	}
	for i := range p.Jobs {
		if p.Jobs[i].Pin != nil { // from where it was
			take(i, all)
		}
		for _, b := range lots[p.garments(i)] {
			n := min(need[i], b.left)
			b.left -= n
			need[i] -= n
			b.gone = append(b.gone, inherited{i, n})
		}
	}
}

// parts are the lots that a lot is now, one after the other, by its jobs' names.
func (b *bequest) parts(p *problem) (out []book.PlanLot) {
	all := 0
	for _, x := range b.to {
		all += x.pieces
	}
	from, spans := b.lot.From, float64(b.lot.To.Sub(b.lot.From))
	for i, x := range b.to {
		l := *b.lot
		l.Job, l.Quantity, l.From = p.Jobs[x.job].ID, x.pieces, from
		l.Work *= float64(x.pieces) / float64(b.lot.Quantity)
		if i > 0 || b.sewn > 0 {
			l.SetupFrom, l.Setup, l.Cones = from, 0, 0
		}
		if i < len(b.to)-1 {
			l.To = from.Add(time.Duration(spans * float64(x.pieces) / float64(all))).Truncate(time.Second)
		}
		from = l.To
		out = append(out, l)
	}
	return out
}

// jobsOf are what the kept plan knows of its jobs, by the names that they have now:
// of each its pieces, less those that are sewn or another's.
func (p *problem) jobsOf(kept *book.Plan, all []bequest) []book.PlannedJob {
	out, at := slices.Clone(kept.Jobs), map[string]int{}
	for i := range out {
		at[out[i].ID] = i
	}
	for i := range all {
		b := &all[i]
		k, ok := at[b.lot.Job]
		if !ok { // a plan of an earlier version
			continue
		}
		out[k].Quantity -= b.sewn
		for _, x := range slices.Concat(b.to, b.gone) {
			job := &p.Jobs[x.job]
			if x.pieces == 0 || job.ID == b.lot.Job {
				continue
			}
			out[k].Quantity -= x.pieces
			to, ok := at[job.ID]
			if !ok {
				to = len(out)
				at[job.ID] = to
				heir := kept.Jobs[k]
				heir.ID, heir.Name, heir.Quantity = job.ID, job.Name, 0
				out = append(out, heir)
			}
			out[to].Quantity += x.pieces
		}
	}
	return out
}

// garments are those of a job.
func (p *problem) garments(job int) garments {
	of := p.jobs[job]
	return garments{of.order.ID, of.line.Line, of.colour()}
}
