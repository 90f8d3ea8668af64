package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// Shops of 30 orders on four machines are planned, one thing of each is changed, and each is planned anew: every reason why an order
// moved is held against what was changed and against the two plans, by reckoning of the test's own (slowCost; none of why.go).
func TestEveryReasonWhyAJobMovedIsTrue(t *testing.T) {
	type shopOf struct {
		was, is   *Problem
		old, now  *Schedule
		job, what string // the job that was changed, and how
		machine   int    // that was; −1: none
	}
	seeds := uint64(6)
	if testing.Short() {
		seeds = 2
	}
	said := map[string]int{}
	for _, what := range []string{"rush", "gone", "more", "fewer", "goods later", "goods sooner", "down", "more hours", "due sooner", "due later", "weight", "slower", "faster", "pinned", "cannot"} {
		for seed := range seeds {
			rng := rand.New(rand.NewPCG(151, seed))
			p := shop(rng, 30, 4, .9+.1*float64(seed%3))
			if seed%2 == 1 {
				p = weighed(p)
			}
			p.LotSeconds = []float64{-1, 6 * 3600}[seed/2%2]
			x := shopOf{was: p, machine: -1, what: what}
			var err error
			if x.old, err = Solve(ctx, p, Options{Moves: 40_000, Seed: seed, NoBound: true}); err != nil {
				t.Fatal(err)
			}
			q := *p
			q.Jobs, q.Machines = slices.Clone(p.Jobs), slices.Clone(p.Machines)
			// Of a job that begins early something is changed; its lot, not to be blind, is one of the first third.
			l := x.old.Lots[rng.IntN(len(x.old.Lots))]
			for l.From > x.old.MakeSpan/3 {
				l = x.old.Lots[rng.IntN(len(x.old.Lots))]
			}
			j := &q.Jobs[l.Job]
			x.job = j.ID
			switch what {
			case "rush":
				r := *j
				r.ID, r.Due, r.Release, r.Weight = "rush", 20_000, 0, 5
				q.Jobs, x.job = append(q.Jobs, r), "rush"
			case "gone":
				q.Jobs = slices.Delete(q.Jobs, l.Job, l.Job+1)
			case "more":
				j.Quantity *= 3
			case "fewer":
				j.Quantity = (j.Quantity + 2) / 3
			case "goods later":
				j.Release = l.To + 86400
			case "goods sooner":
				for k := range q.Jobs { // the one that waits longest
					if q.Jobs[k].Release > q.Jobs[l.Job].Release {
						l.Job = k
					}
				}
				q.Jobs[l.Job].Release, x.job = 0, q.Jobs[l.Job].ID
			case "down":
				q, x.job, x.machine = *withDown(&q, l.Machine, 0, 2*86400, 0), "", l.Machine
			case "more hours":
				q.Machines[l.Machine].Windows = []Window{{0, q.Machines[l.Machine].Windows[len(q.Machines[l.Machine].Windows)-1].To, 1}}
				x.job, x.machine = "", l.Machine
			case "due sooner":
				j.Due = l.To / 2
			case "due later":
				j.Due += 5 * 86400
			case "weight":
				j.Weight *= 6
			case "slower", "faster":
				x.job, x.machine = "", l.Machine
				for k := range q.Jobs {
					q.Jobs[k].Fits = slices.Clone(q.Jobs[k].Fits)
					for f := range q.Jobs[k].Fits {
						if q.Jobs[k].Fits[f].Machine == l.Machine {
							q.Jobs[k].Fits[f].Run *= map[string]float64{"slower": 1.4, "faster": .6}[what]
						}
					}
				}
			case "pinned":
				j.Pin = &Pin{Machine: j.Fits[(slices.IndexFunc(j.Fits, func(f Fit) bool { return f.Machine == l.Machine })+1)%len(j.Fits)].Machine, Start: -1}
			case "cannot":
				j.Fits = slices.DeleteFunc(slices.Clone(j.Fits), func(f Fit) bool { return f.Machine == l.Machine })
				x.machine = l.Machine
			}
			x.is = &q
			if x.now, err = Replan(ctx, Plan{p, x.old}, x.is, Options{Moves: 40_000, Seed: seed}); err != nil {
				t.Fatal(err)
			}
			lots := func(p *Problem, s *Schedule, id string) (out []Lot) {
				for _, l := range s.Lots {
					if p.Jobs[l.Job].ID == id {
						out = append(out, l)
					}
				}
				return out
			}
			at := func(p *Problem, id string) *Job {
				if i := slices.IndexFunc(p.Jobs, func(j Job) bool { return j.ID == id }); i >= 0 {
					return &p.Jobs[i]
				}
				return nil
			}
			// before are the seconds that each job holds a machine before and with the last lot of one.
			before := func(p *Problem, s *Schedule, m int, id string) map[string]float64 {
				out, sum := map[string]float64{}, map[string]float64{}
				for _, l := range s.Queue(m) {
					sum[p.Jobs[l.Job].ID] += l.Setup + l.Work
					if p.Jobs[l.Job].ID == id {
						out = map[string]float64{}
						for k, v := range sum {
							out[k] = v
						}
					}
				}
				return out
			}
			queues := func(s *Schedule) [][]part {
				out := make([][]part, len(x.is.Machines))
				for m := range out {
					for _, l := range s.Queue(m) {
						out[m] = append(out[m], part{job: l.Job, quantity: l.Quantity})
					}
				}
				return out
			}
			for _, c := range Diff(Plan{p, x.old}, Plan{x.is, x.now}) {
				wrong := func(why string, args ...any) {
					t.Errorf("%s, seed %d: %s %s from %v to %v, end %v to %v: %q, but %s", what, seed, c.Job, c.Kind, c.From, c.To, c.Before.Format("2 15:04"), c.After.Format("2 15:04"),
						c.Why.Text(nil), fmt.Sprintf(why, args...))
				}
				key, _ := strings.CutPrefix(c.Why.Key, "plan-why.")
				said[key]++
				was, is := at(p, c.Job), at(x.is, c.Job)
				named := ""
				if c.Why.Args["job"] != nil {
					named = c.Why.Args["job"].Text(nil)
				}
				time := 0.0 // that is said, in s, to half of its last digit
				if m := c.Why.Args["time"]; m != nil {
					unit := ""
					if _, err := fmt.Sscan(m.Text(nil), &time, &unit); err != nil {
						t.Fatal(err)
					}
					time *= map[string]float64{"h": 3600, "min": 60}[unit]
				}
				about := func(s float64) bool { return math.Abs(s-time) <= map[bool]float64{true: 181, false: 31}[time >= 3600] }
				mine := c.Job == x.job
				olds, news := lots(p, x.old, c.Job), lots(x.is, x.now, c.Job)
				later := c.After.After(c.Before)
				// The machine that its last lot is on, and what stands before it there.
				var a, b map[string]float64
				m := -1
				if len(news) > 0 {
					last := slices.MaxFunc(news, func(x, y Lot) int { return int(math.Copysign(1, x.To-y.To)) })
					m = last.Machine
					a, b = before(x.is, x.now, m, c.Job), before(p, x.old, m, c.Job)
				}
				more := a[named] - b[named]
				_, aheadNow := a[named]
				_, aheadThen := b[named]
				switch key {
				case "new":
					if was != nil || c.Kind != Added {
						wrong("it is not new")
					}
				case "gone":
					if is != nil {
						wrong("it is still there")
					}
				case "quantity":
					if !mine || was.Quantity == is.Quantity || c.Why.Args["was"].Text(nil) != fmt.Sprint(was.Quantity) || c.Why.Args["is"].Text(nil) != fmt.Sprint(is.Quantity) {
						wrong("it was %d and is %d", was.Quantity, is.Quantity)
					}
				case "goods", "goods-here":
					if !mine || !strings.HasPrefix(what, "goods") || later != (what == "goods later") {
						wrong("no goods of it come then")
					}
				case "due":
					if !mine || was.Due == is.Due {
						wrong("its day did not change")
					}
				case "weight":
					if !mine || was.Weight == is.Weight {
						wrong("its weight did not change")
					}
				case "pinned":
					if !mine || is.Pin == nil {
						wrong("nobody held it")
					}
				case "machine-cannot":
					if !mine || what != "cannot" {
						wrong("its machines can make it")
					}
				case "takes":
					if what != "slower" && what != "faster" || !slices.ContainsFunc(olds, func(l Lot) bool { return l.Machine == x.machine }) {
						wrong("it takes as long there as before")
					}
				case "closed":
					open := func(p *Problem, l Lot) (sum float64) {
						for _, w := range p.Machines[l.Machine].Windows {
							sum += max(0, min(w.To, l.To)-max(w.From, l.SetupFrom))
						}
						return sum
					}
					if what != "down" || !slices.ContainsFunc(olds, func(l Lot) bool { return l.Machine == x.machine && about(open(p, l)-open(x.is, l)) }) {
						wrong("its machine is as open then as before")
					}
				case "less-late", "surer", "cheaper", "sooner", "together-gains":
					if len(olds) != 1 || len(news) != 1 {
						wrong("it has lots %d and %d", len(olds), len(news))
						break
					}
					// Put back behind the last of those that it stood behind.
					back, ahead := queues(x.now), map[string]bool{}
					for _, l := range x.old.Queue(olds[0].Machine) {
						if p.Jobs[l.Job].ID == c.Job {
							break
						}
						ahead[p.Jobs[l.Job].ID] = true
					}
					var it part
					for m := range back {
						back[m] = slices.DeleteFunc(back[m], func(y part) bool {
							if x.is.Jobs[y.job].ID == c.Job {
								it = y
								return true
							}
							return false
						})
					}
					place := 0
					for k, y := range back[olds[0].Machine] {
						if ahead[x.is.Jobs[y.job].ID] {
							place = k + 1
						}
					}
					back[olds[0].Machine] = slices.Insert(back[olds[0].Machine], place, it)
					u, v, w := slowCost(x.is, back), slowCost(x.is, queues(x.now)), x.is.Weights.orDefault()
					terms := map[string]float64{"less-late": w.Lateness * (u.Lateness - v.Lateness), "surer": w.Risk * (u.Risk - v.Risk), "sooner": w.MakeSpan * (u.MakeSpan - v.MakeSpan),
						"cheaper": w.Money*(u.Money-v.Money) + w.Setup*(u.Setup-v.Setup) + w.Work*(u.Work-v.Work)}
					for k, term := range terms {
						if key == "together-gains" && term > .01 || key != "together-gains" && term > terms[key]+.01+1e-6*math.Abs(terms[key]) {
							wrong("put back, %s would be worse by %v of the goal: %v", k, term, terms)
						}
					}
					if key == "less-late" && !about(u.Lateness-v.Lateness) {
						wrong("put back all is later by %.2f h", (u.Lateness-v.Lateness)/3600)
					}
				case "together":
					if len(olds) == 1 && len(news) == 1 && at(x.is, c.Job).fit(olds[0].Machine) != nil {
						wrong("it could go back alone")
					}
				case "now-before", "new-before":
					if !aheadNow || aheadThen || (at(p, named) == nil) != (key == "new-before") || !later {
						wrong("%s stood before it then: %v, now: %v", named, aheadThen, aheadNow)
					}
				case "no-longer-before":
					if aheadNow || !aheadThen || later {
						wrong("%s stood before it then: %v, now: %v", named, aheadThen, aheadNow)
					}
				case "before-longer", "before-shorter", "longer", "shorter":
					if !strings.HasPrefix(key, "before") {
						more = a[c.Job] - b[c.Job]
						aheadNow, aheadThen = true, true
					}
					longer := strings.HasSuffix(key, "longer")
					if !aheadNow || !aheadThen || longer != (more > 0) || !about(math.Abs(more)) || longer != later {
						wrong("it takes %.2f h more", more/3600)
					}
				case "waits-longer", "waits-less":
					longer := key == "waits-longer"
					if !aheadNow || at(x.is, named).Release <= 0 && at(p, named).Release <= 0 || longer != later {
						wrong("%s waits for nothing, or the other way", named)
					}
				case "hours":
					if m != x.machine || what != "down" && what != "more hours" || later != (what == "down") {
						wrong("the hours of machine %d did not change, or the other way", m)
					}
				case "before-in-all":
				default:
					wrong("nothing of that kind was changed")
				}
				// Of what is told of a job before it, none makes more of the difference.
				if slices.Contains([]string{"now-before", "new-before", "no-longer-before", "before-longer", "before-shorter"}, key) {
					for id := range a {
						if d := a[id] - b[id]; math.Abs(d) > math.Abs(more)+60 && (d > 0) == later && id != named {
							wrong("%s makes %.2f h of it, it %.2f", id, d/3600, more/3600)
						}
					}
					for id := range b {
						if _, still := a[id]; !still && !later && b[id] > math.Abs(more)+60 && id != named {
							wrong("%s makes %.2f h of it, it %.2f", id, -b[id]/3600, more/3600)
						}
					}
				}
			}
		}
	}
	if len(said) < 10 {
		t.Errorf("only these are said: %v", said)
	}
	t.Log(said)
}
