package ask

import (
	"context"
	"math"

	"needlepace/book"
	"needlepace/money"
	"needlepace/plan"
	"needlepace/words"
)

// weigh gives a problem its goal: one sum in machine hours. An hour of a machine
// counts by what it costs against the average of the shop's machines, as far as
// the workshop has prices; without them all count alike.
func (p *problem) weigh() {
	w := p.w.Weights()
	hour := 3600 / w.HourLate // a machine hour in the search's unit: a second late
	p.Weights = plan.Weights{Lateness: 1, MakeSpan: w.HourDone / w.HourLate, Money: hour, Risk: w.OrderLate * hour,
		Move: w.JobMoved * hour}
	rates, sum, n := make([]float64, len(p.stations)), 0.0, 0
	for m, st := range p.stations {
		if rates[m] = p.hours[st.ID].InexactFloat64(); rates[m] > 0 {
			sum += rates[m]
			n++
		}
	}
	for m := range rates {
		p.Machines[m].Rate = 1.0 / 3600
		if rates[m] > 0 && sum > 0 {
			p.Machines[m].Rate *= rates[m] / (sum / float64(n))
		}
	}
}

// sewingHours are what an hour of each machine costs while it sews, by their IDs; none of
// machines without prices.
func sewingHours(w *book.Workshop) map[string]money.Dec {
	out := map[string]money.Dec{}
	if !w.Priced() {
		return out
	}
	shift, crew := w.Week().ShiftHours(), w.Crew()
	for id, own := range w.Money.Machines {
		if hour, err := w.Money.SewingHour(own, shift, crew); err == nil {
			out[id] = hour
		}
	}
	return out
}

// scatter says how far the ends on each machine may be off: what is not known of
// the machine, as it tells on its largest job, and what happens by chance from lot
// to lot.
func (p *problem) scatter(ctx context.Context, from LineFrom) error {
	type sum struct {
		big                  int // the largest job
		most, varied, worked float64
	}
	sums := make([]sum, len(p.stations))
	for i := range p.Jobs {
		j := &p.Jobs[i]
		for k := range j.Fits {
			f := &j.Fits[k]
			of, work := &sums[f.Machine], f.Work(j.Quantity)
			if work > of.most {
				of.big, of.most = i, work
			}
			of.varied += p.stations[f.Machine].lotVariance(p.jobs[i].on[f.Machine], j.Quantity, work) * work * work
			of.worked += work
		}
	}
	for m := range sums {
		of := &sums[m]
		if of.most == 0 {
			continue
		}
		sd, err := p.unknown(ctx, from, m, of.big)
		if err != nil {
			return err
		}
		p.Machines[m].Spread, p.Machines[m].Scatter = sd, math.Sqrt(of.varied/of.worked)
	}
	return nil
}

// goal are the terms of a plan's goal in machine hours.
func (p *problem) goal(t plan.Totals, out *book.PlanTotals) {
	w, hour := p.Weights, p.Weights.Money
	if hour == 0 {
		return
	}
	out.GoalLate, out.GoalRisk, out.GoalCost = w.Lateness*t.Lateness/hour, w.Risk*t.Risk/hour, t.Money
	out.GoalMoved, out.GoalDone = w.Move*t.Moved/hour, w.MakeSpan*t.MakeSpan/hour
}

// GoalTable is what a plan weighs: every term of its goal, in machine hours. Empty of
// a plan of an earlier version.
func GoalTable(p *book.Plan) *Table {
	t := table("goal", words.Say("goal.table"),
		column("term", "column.what"),
		column("weight", "goal.weight"),
		number("machine_hours", "goal.hours"),
	)
	w := p.Weights
	if w == (book.GoalWeights{}) {
		return t
	}
	each := func(key words.Message, v float64) words.Value {
		return figured{words.Fixed(v, 1), key}
	}
	hours := func(v float64) words.Value { return words.Fixed(v, 1) }
	t.add(words.Say("goal.late"), each(words.Say("goal.hour-late", words.Args{"n": words.Fixed(w.HourLate, 1)}), w.HourLate),
		hours(p.GoalLate))
	t.add(words.Say("goal.risk"), each(words.Say("goal.order-late", words.Args{"n": words.Fixed(w.OrderLate, 1)}), w.OrderLate),
		hours(p.GoalRisk))
	t.add(words.Say("goal.cost"), each(words.Say("goal.by-price"), 1), hours(p.GoalCost))
	t.add(words.Say("goal.moved"), each(words.Say("goal.job-moved", words.Args{"n": words.Fixed(w.JobMoved, 1)}), w.JobMoved),
		hours(p.GoalMoved))
	t.add(words.Say("goal.done"), each(words.Say("goal.hour-done", words.Args{"n": words.Fixed(w.HourDone, 2)}), w.HourDone),
		hours(p.GoalDone))
	t.add(words.Say("goal.sum"), nil, hours(p.GoalHours()))
	return t
}
