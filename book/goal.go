package book

// GoalKeys is [plan]: what a plan weighs against an hour of machine time. The
// machine is the shop's average one; a machine whose hour costs twice as much
// counts twice.
type GoalKeys struct {
	HourLate  *float64 `toml:"hour_late"`  // machine hours that an ordinary order counts for every hour late; default 20
	OrderLate *float64 `toml:"order_late"` // machine hours that one counts that is surely late, a chance its part; default 40
	JobMoved  *float64 `toml:"job_moved"`  // machine hours for moving a job that would begin now, later ones less; default 2
	HourDone  *float64 `toml:"hour_done"`  // machine hours for every hour until all is sewn; default 0.02: it settles what nothing else does
}

// GoalWeights are the weights of a plan's goal, in machine hours.
type GoalWeights struct {
	HourLate  float64 `json:"hour_late"`
	OrderLate float64 `json:"order_late"`
	JobMoved  float64 `json:"job_moved"`
	HourDone  float64 `json:"hour_done"`
}

// Weights are the workshop's weights of the goal.
func (w *Workshop) Weights() GoalWeights {
	out := GoalWeights{HourLate: 20, OrderLate: 40, JobMoved: 2, HourDone: .02}
	for _, k := range []struct {
		set *float64
		to  *float64
	}{{w.Goal.HourLate, &out.HourLate}, {w.Goal.OrderLate, &out.OrderLate}, {w.Goal.JobMoved, &out.JobMoved}, {w.Goal.HourDone, &out.HourDone}} {
		if k.set != nil {
			*k.to = *k.set
		}
	}
	return out
}

// mostWeight is the most that a weight of the goal can be, in machine hours.
const mostWeight = 1e6

func (w *Workshop) checkGoal() error {
	for _, k := range []struct {
		key   string
		v     *float64
		least float64
	}{{"hour_late", w.Goal.HourLate, .1}, {"order_late", w.Goal.OrderLate, 0}, {"job_moved", w.Goal.JobMoved, 0},
		{"hour_done", w.Goal.HourDone, 0}} {
		if k.v != nil && !(*k.v >= k.least && *k.v <= mostWeight) {
			return w.Errorf("plan."+k.key, "is %v machine hours; give %v to %v", *k.v, k.least, mostWeight)
		}
	}
	return nil
}
