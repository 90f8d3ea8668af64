package plan

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"time"

	"needlepace/words"
)

// diff is two plans held against each other.
type diff struct {
	b, a  *view
	moved map[string]bool // jobs that the second plan put elsewhere
	desk  *Desk           // of the second plan, once it is needed
	is    Totals          // what it comes to there
	broke bool            // it cannot be made
}

// moved are the jobs that a plan put on other machines, or in another order on
// theirs: all but the longest run of jobs of each machine that kept their order.
func moved(b, a *view) map[string]bool {
	out := map[string]bool{}
	for id, now := range a.jobs {
		was, had := b.jobs[id]
		out[id] = had && !slices.Equal(was.machines, now.machines)
	}
	for id, m := range a.mach {
		bm, had := b.mach[id]
		if !had {
			continue
		}
		rank := map[string]int{}
		for k, l := range b.Schedule.Queue(bm) {
			job := b.Problem.Jobs[l.Job].ID
			if _, ok := rank[job]; !ok {
				rank[job] = k
			}
		}
		var jobs []string
		for _, l := range a.Schedule.Queue(m) {
			job := a.Problem.Jobs[l.Job].ID
			if _, ok := rank[job]; ok && !slices.Contains(jobs, job) {
				jobs = append(jobs, job)
			}
		}
		stay := longestRising(jobs, rank)
		for _, job := range jobs {
			if !stay[job] {
				out[job] = true
			}
		}
	}
	return out
}

// longestRising is the longest subsequence of jobs with rising ranks (patience
// sorting; Fredman, Discrete Mathematics 11, 1975).
func longestRising(jobs []string, rank map[string]int) map[string]bool {
	var ends []int // ends[n]: index of the job with the least rank that ends a run of n+1
	before := make([]int, len(jobs))
	for i, j := range jobs {
		n, _ := slices.BinarySearchFunc(ends, rank[j], func(k, r int) int { return cmp.Compare(rank[jobs[k]], r) })
		before[i] = -1
		if n > 0 {
			before[i] = ends[n-1]
		}
		if n == len(ends) {
			ends = append(ends, i)
		} else {
			ends[n] = i
		}
	}
	out := map[string]bool{}
	if len(ends) > 0 {
		for i := ends[len(ends)-1]; i >= 0; i = before[i] {
			out[jobs[i]] = true
		}
	}
	return out
}

// reasons gives each change that has none its reason: of many, two cores find half of them each, with a desk of
// their own.
func (d diff) reasons(all []Change) {
	give := func(d diff, part []Change) {
		for i := range part {
			if c := &part[i]; c.Why.IsZero() {
				c.Why = d.why(&d.a.Problem.Jobs[d.a.index[c.Job]], d.b.jobs[c.Job], d.a.jobs[c.Job])
			}
		}
	}
	half := 0
	if len(all) > manyReasons {
		half = len(all) / 2
	}
	done := make(chan bool)
	go func() {
		give(d, all[:half])
		close(done)
	}()
	give(d, all[half:])
	<-done
}

// manyReasons is from how many changes on a second desk, some ten milliseconds' work, pays.
const manyReasons = 20

// why gives the reason for a job's change: what changed of the job itself; for a
// job that the plan moved, the term of the goal that would be worse without the
// move; for one that only ends at another time, what before it makes the most of
// the difference.
func (d *diff) why(j *Job, was, now seen) (why words.Message) {
	old := &d.b.Problem.Jobs[d.b.index[j.ID]]
	if t := d.ownReason(old, j, was, now); !t.IsZero() {
		return t
	}
	for _, id := range was.machines {
		if _, ok := d.a.mach[id]; !ok {
			return words.Say("plan-why.machine-gone", words.Args{"machine": words.Name(id)})
		}
	}
	if d.moved[j.ID] {
		if t := d.closed(was); !t.IsZero() {
			return t
		}
		return d.gain(j, was, now)
	}
	return d.pushed(now)
}

// runChanged is from what share on another time of a job on a machine is a reason to make it elsewhere: a
// report of the floor moves every machine's pace a little.
const runChanged = 0.05

// ownReason is what changed of a job, nothing where nothing did.
func (d *diff) ownReason(old, j *Job, was, now seen) (why words.Message) {
	b, a := d.b, d.a
	switch {
	case old.Quantity != j.Quantity && (d.moved[j.ID] || (j.Quantity > old.Quantity) == now.end.After(was.end)):
		// Fewer pieces make nothing later.
		return words.Say("plan-why.quantity", words.Args{"was": words.Whole(old.Quantity), "is": words.Whole(j.Quantity)})
	case !old.Pin.same(j.Pin) && (d.moved[j.ID] || j.Pin == nil || !j.Pin.Running):
		// What was begun where it was planned ends when it does by what holds its machine.
		if j.Pin == nil {
			return words.Say("plan-why.unpinned")
		}
		if j.Pin.Running {
			return words.Say("plan-why.running")
		}
		return words.Say("plan-why.pinned")
	case d.moved[j.ID] && old.due() != j.due() && !b.Problem.At(old.due()).Equal(a.Problem.At(j.due())):
		return words.Say("plan-why.due")
	case d.moved[j.ID] && old.Weight != j.Weight:
		return words.Say("plan-why.weight")
	case old.Design != j.Design:
		return words.Say("plan-why.design")
	}
	if t := d.waited(old, j, was, now); !t.IsZero() {
		return t
	}
	// What a run took where it was planned, from its lots.
	for _, i := range was.lots {
		l := &b.Schedule.Lots[i]
		id := b.Problem.Machines[l.Machine].ID
		m, ok := a.mach[id]
		if !ok {
			continue
		}
		f := j.anyFit(m)
		switch {
		case f == nil:
			return words.Say("plan-why.machine-cannot", words.Args{"machine": words.Name(id)})
		case l.Runs > 0 && d.moved[j.ID]: // of one that stayed it is one reason among others (pushed)
			is := f.work(l.Runs, l.Quantity)
			if math.Abs(is-l.Work) > runChanged*l.Work {
				return words.Say("plan-why.takes", words.Args{"is": hours(is), "machine": theMachine(&a.Problem.Machines[m], m), "was": hours(l.Work)})
			}
		}
	}
	return why
}

// waited says that a job begins when it does because what it waits for comes on another day than was thought: it
// could not begin when it was to, or begins when it could not have. Nothing where that day is no matter.
func (d *diff) waited(old, j *Job, was, now seen) (why words.Message) {
	b, a := d.b.Problem, d.a.Problem
	then, is := b.At(old.Release), a.At(j.Release)
	gone := !then.After(a.Origin) // the day that was thought of has passed
	if gone {
		then = a.Origin
	}
	switch {
	case is.After(then) && d.b.begins(was).Before(is):
		switch {
		case j.Approval && gone:
			return words.Say("plan-why.not-approved")
		case j.Approval:
			return words.Say("plan-why.approval")
		case gone && old.Release > 0:
			return words.Say("plan-why.goods-not-here")
		}
		return words.Say("plan-why.goods")
	case is.Before(then) && d.a.begins(now).Before(then):
		switch {
		case old.Approval && !j.Approval:
			return words.Say("plan-why.approved")
		case old.Approval:
			return words.Say("plan-why.approval")
		case j.Release <= 0:
			return words.Say("plan-why.goods-here")
		}
		return words.Say("plan-why.goods")
	}
	return why
}

// begins is when the first piece of a job is sewn.
func (v *view) begins(s seen) time.Time {
	from := math.Inf(1)
	for _, i := range s.lots {
		from = min(from, v.Schedule.Lots[i].From)
	}
	return v.Problem.At(from)
}

// closed says which machine is closed in the time that a job had there.
func (d *diff) closed(was seen) (why words.Message) {
	for _, i := range was.lots {
		l := &d.b.Schedule.Lots[i]
		bm := &d.b.Problem.Machines[l.Machine]
		am := &d.a.Problem.Machines[d.a.mach[bm.ID]]
		begin := max(l.SetupFrom, d.b.Problem.Second(d.a.Problem.Origin)) // what has gone by is not closed
		from, to := d.a.Problem.Second(d.b.Problem.At(begin)), d.a.Problem.Second(d.b.Problem.At(l.To))
		if shut := openTime(bm.Windows, begin, l.To) - openTime(am.Windows, from, to); shut > 1 {
			return words.Say("plan-why.closed", words.Args{"machine": theMachine(bm, l.Machine), "time": hours(shut)})
		}
	}
	return why
}

// gain puts a moved job back to where it was and says which term of the goal is
// the worse for it.
func (d *diff) gain(j *Job, was, now seen) (why words.Message) {
	u, alone := d.back(j, was, now)
	if !alone {
		return words.Say("plan-why.together")
	}
	t, w := &d.is, d.a.Problem.Weights.orDefault()
	terms := []struct {
		worse float64
		say   words.Message
	}{
		{w.Lateness * (u.Lateness - t.Lateness), words.Say("plan-why.less-late", words.Args{"time": hours(max(u.Lateness-t.Lateness, 0))})},
		{w.Risk * (u.Risk - t.Risk), words.Say("plan-why.surer")},
		{w.Money*(u.Money-t.Money) + w.Setup*(u.Setup-t.Setup) + w.Work*(u.Work-t.Work),
			words.Say("plan-why.cheaper")},
		{w.MakeSpan * (u.MakeSpan - t.MakeSpan), words.Say("plan-why.sooner")},
	}
	most := slices.MaxFunc(terms, func(x, y struct {
		worse float64
		say   words.Message
	}) int {
		return cmp.Compare(x.worse, y.worse)
	})
	if most.worse <= 1e-6 {
		return words.Say("plan-why.together-gains")
	}
	return most.say
}

// back is what the second plan comes to with a job where the first had it; alone
// says whether it can go back there alone.
func (d *diff) back(j *Job, was, now seen) (back Totals, alone bool) {
	if len(was.lots) != 1 || len(now.lots) != 1 || d.broke {
		return back, false
	}
	if d.desk == nil {
		desk, err := NewDesk(d.a.Problem, d.a.Schedule)
		if err != nil {
			d.broke = true
			return back, false
		}
		d.desk, d.is = desk, desk.s.totals()
	}
	bl := &d.b.Schedule.Lots[was.lots[0]]
	id := d.b.Problem.Machines[bl.Machine].ID
	// Behind all that it stood behind there, and before the rest.
	ahead := map[string]bool{}
	for _, l := range d.b.Schedule.Queue(bl.Machine) {
		if other := d.b.Problem.Jobs[l.Job].ID; other != j.ID {
			ahead[other] = true
			continue
		}
		break
	}
	sc := d.desk.Schedule()
	lot := slices.IndexFunc(sc.Lots, func(l Lot) bool { return d.a.Problem.Jobs[l.Job].ID == j.ID })
	if lot < 0 {
		return back, false
	}
	place, k := 0, 0
	for _, l := range sc.Queue(d.a.mach[id]) {
		other := d.a.Problem.Jobs[l.Job].ID
		if other == j.ID {
			continue
		}
		if k++; ahead[other] {
			place = k
		}
	}
	back, err := d.desk.comesTo(lot, d.a.mach[id], place)
	return back, err == nil
}

// pushed says what makes most of the change of a job's end that stayed where it
// was: what came before it or went, what takes longer there or shorter, how far
// the machine has come, and, of what none of that explains, its hours and hands.
func (d *diff) pushed(now seen) words.Message {
	last := now.lots[0]
	for _, i := range now.lots {
		if d.a.Schedule.Lots[i].To > d.a.Schedule.Lots[last].To {
			last = i
		}
	}
	l := &d.a.Schedule.Lots[last]
	mach := &d.a.Problem.Machines[l.Machine]
	job := d.a.Problem.Jobs[l.Job].ID
	bm := d.b.mach[mach.ID]
	if pin := d.a.Problem.Jobs[l.Job].Pin; pin != nil && pin.Running && pin.Done > 0 && l.To < minShift && d.b.jobs[job].end.Before(d.a.Problem.Origin) {
		return words.Say("plan-why.unreported", words.Args{"machine": theMachine(mach, l.Machine)})
	}
	type held struct {
		name        string
		work, waits float64
		from        float64 // where its first lot begins
	}
	until := math.Inf(1) // where the first plan had its last lot there
	for _, x := range d.b.Schedule.Queue(bm) {
		if d.b.Problem.Jobs[x.Job].ID == job {
			until = x.From
		}
	}
	prefix := func(v *view, m int) (map[string]held, []string, float64) {
		out, order, end := map[string]held{}, []string{}, 0.0
		for _, x := range v.Schedule.Queue(m) {
			o := &v.Problem.Jobs[x.Job]
			h := out[o.ID]
			if h.name == "" {
				order, h.from = append(order, o.ID), x.SetupFrom
			}
			waits := 0.0 // for its goods, the machine standing open
			if win := v.Problem.Machines[m].Windows; o.Release > 0 && openTime(win, o.Release, x.From) < 1 {
				waits = openTime(win, end, x.From) - x.Setup
			}
			out[o.ID] = held{cmp.Or(o.Name, o.ID), h.work + x.Setup + x.Work, h.waits + max(0, waits), h.from}
			end = x.To
			if o.ID == job && (v == d.b && x.From == until || v == d.a && x.From == l.From) {
				break
			}
		}
		return out, order, end
	}
	before, bOrder, bEnd := prefix(d.b, bm)
	after, aOrder, _ := prefix(d.a, l.Machine)
	shift := l.To - d.a.Problem.Second(d.b.Problem.At(bEnd))
	type part struct {
		by  float64 // s, in the direction of the shift above 0
		say words.Message
	}
	var parts []part
	sign := 1.0
	if shift < 0 {
		sign = -1
	}
	explained := 0.0
	add := func(by float64, say words.Message) {
		explained += by
		parts = append(parts, part{sign * by, say})
	}
	name := theMachine(mach, l.Machine)
	win, sinceThen := d.b.Problem.Machines[bm].Windows, d.b.Problem.Second(d.a.Problem.Origin)
	passed, done := openTime(win, 0, sinceThen), 0.0
	if len(d.b.Schedule.Made) > 0 {
		passed = 0
	}
	for i := range d.b.Schedule.Made {
		m := &d.b.Schedule.Made[i]
		if m.Machine != bm || m.From > until {
			continue
		}
		passed += m.by(win, sinceThen)
		done += m.share(m.Sewn, true)
		was := &d.b.Problem.Jobs[m.Job]
		if by := m.share(m.Gone, m.Gone == m.Quantity); by > 1 && was.ID != job {
			say := words.Say("plan-why.no-longer-before", words.Args{"job": words.Name(cmp.Or(was.Name, was.ID)), "machine": name})
			if _, stays := after[was.ID]; stays {
				say = words.Say("plan-why.before-shorter", words.Args{"job": words.Name(cmp.Or(was.Name, was.ID)), "machine": name, "time": hours(by)})
			}
			add(-by, say)
		}
	}
	for _, id := range bOrder {
		h := before[id]
		x, stays := after[id]
		_, still := d.a.index[id]
		if more := x.waits - h.waits; stays && id != job && math.Abs(more) > 1 {
			by := hours(math.Abs(more))
			say := words.Say("plan-why.waits-less", words.Args{"job": words.Name(h.name), "machine": name, "time": by})
			if more > 0 {
				say = words.Say("plan-why.waits-longer", words.Args{"job": words.Name(h.name), "machine": name, "time": by})
			}
			add(more, say)
		}
		switch {
		case stays && id == job && x.work > h.work+1:
			add(x.work-h.work, words.Say("plan-why.longer", words.Args{"time": hours(x.work - h.work), "machine": name}))
		case stays && x.work > h.work+1:
			add(x.work-h.work, words.Say("plan-why.before-longer", words.Args{"job": words.Name(h.name), "machine": name, "time": hours(x.work - h.work)}))
		case stays && d.sewn(id) && h.from < sinceThen:
			done += h.work - x.work
		case stays && id == job && x.work < h.work-1:
			add(x.work-h.work, words.Say("plan-why.shorter", words.Args{"time": hours(h.work - x.work), "machine": name}))
		case stays && x.work < h.work-1:
			add(x.work-h.work, words.Say("plan-why.before-shorter", words.Args{"job": words.Name(h.name), "machine": name, "time": hours(h.work - x.work)}))
		case !stays && (still || h.from >= sinceThen): // nobody sews before it was to begin, as far as is known
			add(-h.work, words.Say("plan-why.no-longer-before", words.Args{"job": words.Name(h.name), "machine": name}))
		case !stays:
			done += h.work
		}
	}
	for _, id := range aOrder {
		if _, had := before[id]; had {
			continue
		}
		if _, had := d.b.jobs[id]; had {
			add(after[id].work, words.Say("plan-why.now-before", words.Args{"job": words.Name(after[id].name), "machine": name}))
		} else {
			add(after[id].work, words.Say("plan-why.new-before", words.Args{"job": words.Name(after[id].name), "machine": name}))
		}
	}
	switch late := passed - done; {
	case late > 0:
		add(late, words.Say("plan-why.less-sewn", words.Args{"machine": name}))
	case late < 0:
		add(late, words.Say("plan-why.more-sewn", words.Args{"machine": name}))
	}
	lost := lostHours(d.b, d.a, bm, l.Machine, bEnd, l.To)
	if math.Abs(lost) > 1 {
		add(lost, words.Say("plan-why.hours", words.Args{"machine": name}))
	}
	// A night between is no reason of its own: what is left over counts only where it
	// is more than all else explains.
	rest := shift - explained
	slices.SortStableFunc(parts, func(x, y part) int { return cmp.Compare(y.by, x.by) })
	if len(parts) > 0 && parts[0].by > 1 && (sign*rest <= 0 || sign*explained > minShift) {
		return parts[0].say
	}
	if math.Abs(lost) > 1 {
		return words.Say("plan-why.hours", words.Args{"machine": name})
	}
	// A kept plan does not say who was on duty: of two that say it, hands are the reason where they differ.
	short := d.a.Problem.shortOfHands() || d.b.Problem.shortOfHands()
	switch sameHands := len(d.b.Problem.Crew) == 0 || slices.Equal(d.a.Problem.Crew, d.b.Problem.Crew); {
	case !short || sameHands:
		return words.Say("plan-why.before-in-all", words.Args{"machine": name})
	case shift > 0:
		return words.Say("plan-why.fewer-hands", words.Args{"machine": name})
	}
	return words.Say("plan-why.more-hands", words.Args{"machine": name})
}

// shortOfHands reports whether all machines at once ever ask for more operators than are on duty.
func (p *Problem) shortOfHands() bool {
	asked := 0.0
	for m := range p.Machines {
		asked += p.Machines[m].Attention
	}
	return slices.ContainsFunc(p.Crew, func(c Presence) bool { return c.Operators < asked })
}

// theMachine is a machine as a reason names it.
func theMachine(m *Machine, i int) words.Value {
	return words.Say("plan-why.machine", words.Args{"machine": words.Name(cmp.Or(m.Name, m.ID, strconv.Itoa(i+1)))})
}

// sewn reports whether more of a job is done by now than when the first plan was made.
func (d *diff) sewn(id string) bool {
	is, was := &d.a.Problem.Jobs[d.a.index[id]], &d.b.Problem.Jobs[d.b.index[id]]
	return is.Quantity < was.Quantity || is.Pin != nil && is.Pin.Done > 0 && (was.Pin == nil || is.Pin.Done > was.Pin.Done)
}

// lostHours is by how much less a machine is open in the second plan than in the first, from when it was made until the
// later one of two ends, in s; below 0: more.
func lostHours(b, a *view, bm, am int, bEnd, aEnd float64) float64 {
	from := max(0, a.Problem.Second(b.Problem.Origin))
	to := max(aEnd, a.Problem.Second(b.Problem.At(bEnd)))
	shift := b.Problem.Second(a.Problem.Origin)
	bw, aw := b.Problem.Machines[bm].Windows, a.Problem.Machines[am].Windows
	if len(bw) > 0 {
		to = min(to, bw[len(bw)-1].To-shift) // a kept plan has its hours only as far as it goes
	}
	if len(aw) > 0 {
		to = min(to, aw[len(aw)-1].To)
	}
	if len(aw) == 0 && len(bw) == 0 || to <= from {
		return 0
	}
	return openTime(bw, from+shift, to+shift) - openTime(aw, from, to)
}
