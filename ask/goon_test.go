package ask

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/book"
	"needlepace/plan"
)

// Each case is what a kept plan has, what the floor reported since, which jobs there are now, and what each is left where.
func TestAKeptPlanGoesOnByTheJobsThatThereAreNow(t *testing.T) {
	at := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	order := &book.Order{ID: "o", Lines: []book.OrderLine{{Line: 1}, {Line: 2}}}
	pinned := func(m int) *plan.Pin { return &plan.Pin{Machine: m, Start: -1} }
	type job struct {
		id     string
		pieces int
		pin    *plan.Pin
		again  bool
	}
	for _, c := range []struct {
		what string
		lots string // "job machine pieces", by machine and in their order
		sewn string // "line machine pieces"
		jobs []job
		want string
	}{
		{"nothing changed", "o/1 A 20, o/2 A 5, o/1 B 30", "", []job{{id: "o/1", pieces: 50}, {id: "o/2", pieces: 5}},
			"o/1 A 20, o/2 A 5, o/1 B 30"},
		{"a part is started on its machine", "o/1 A 20, o/2 A 5, o/1 B 30", "",
			[]job{{"o/1@A", 20, pinned(0), false}, {id: "o/1", pieces: 30}, {id: "o/2", pieces: 5}}, "o/1@A A 20, o/2 A 5, o/1 B 30"},
		{"half of a machine's part is started", "o/1 A 20, o/1 B 30", "",
			[]job{{"o/1@A", 8, pinned(0), false}, {id: "o/1", pieces: 42}}, "o/1@A A 8, o/1 A 12, o/1 B 30"},
		{"more than a machine's part is started", "o/1 A 20, o/1 B 30", "",
			[]job{{"o/1@A", 26, pinned(0), false}, {id: "o/1", pieces: 24}}, "o/1@A A 20, o/1 B 24, o/1@A B 6"},
		{"a part is held elsewhere", "o/1 A 20, o/1 B 30", "",
			[]job{{"o/1@C", 10, pinned(2), false}, {id: "o/1", pieces: 40}}, "o/1 A 20, o/1 B 20, o/1@C B 10"},
		{"all of it is held elsewhere", "o/1 A 20, o/1 B 30", "", []job{{"o/1", 50, pinned(2), false}}, "o/1 A 20, o/1 B 30"},
		{"both are started", "o/1 A 20, o/1 B 30", "",
			[]job{{"o/1@A", 20, pinned(0), false}, {"o/1@B", 30, pinned(1), false}}, "o/1@A A 20, o/1@B B 30"},
		{"a part is let go", "o/1@A A 20, o/1 B 30", "", []job{{id: "o/1", pieces: 50}}, "o/1 A 20, o/1 B 30"},
		{"sewn on the second machine", "o/1 A 20, o/1 B 30", "1 B 12", []job{{id: "o/1", pieces: 38}}, "o/1 A 20, o/1 B 18"},
		{"all of a part is sewn", "o/1@A A 20, o/1 B 30", "1 A 20", []job{{id: "o/1", pieces: 30}}, "o/1 B 30"},
		{"one is spoilt and sewn again", "o/1 A 20, o/1 B 30", "1 A 5",
			[]job{{id: "o/1", pieces: 44}, {"o/1~again", 1, nil, true}}, "o/1 A 15, o/1 B 29"},
		{"the garments of the second delivery came", "o/1 A 20, o/1+1 B 30", "", []job{{id: "o/1", pieces: 50}}, "o/1 A 20, o/1 B 30"},
		{"a part of them came", "o/1 A 20, o/1+1 B 30", "", []job{{id: "o/1", pieces: 35}, {id: "o/1+1", pieces: 15}},
			"o/1 A 20, o/1+1 B 15, o/1 B 15"},
		{"another line's pieces are nobody's", "o/1 A 20", "", []job{{id: "o/2", pieces: 20}}, ""},
		{"the machine sews what was started of a later lot", "o/1 A 20, o/1@A A 6", "",
			[]job{{"o/1@A", 10, pinned(0), false}, {id: "o/1", pieces: 16}}, "o/1@A A 4, o/1 A 16, o/1@A A 6"},
	} {
		kept := &book.Plan{Made: at}
		had := map[string]int{}
		for k, s := range strings.Split(c.lots, ", ") {
			l := book.PlanLot{OrderID: "o", From: at.Add(time.Duration(k) * time.Hour), SetupFrom: at.Add(time.Duration(k) * time.Hour),
				To: at.Add(time.Duration(k+1) * time.Hour), Setup: 240, Work: 3360}
			if _, err := fmt.Sscan(s, &l.Job, &l.MachineID, &l.Quantity); err != nil {
				t.Fatal(err)
			}
			l.Line = int(l.Job[2] - '0')
			kept.Lots = append(kept.Lots, l)
			if had[l.Job] == 0 {
				kept.Jobs = append(kept.Jobs, book.PlannedJob{ID: l.Job})
			}
			had[l.Job] += l.Quantity
		}
		for i := range kept.Jobs {
			kept.Jobs[i].Quantity = had[kept.Jobs[i].ID]
		}
		var reports []book.Report
		if c.sewn != "" {
			r := book.Report{OrderID: "o", Added: at.Add(time.Hour)}
			if _, err := fmt.Sscan(c.sewn, &r.Line, &r.MachineID, &r.Good); err != nil {
				t.Fatal(err)
			}
			reports = append(reports, r)
		}
		p := &problem{Problem: &plan.Problem{Machines: []plan.Machine{{ID: "A"}, {ID: "B"}, {ID: "C"}}}}
		for _, j := range c.jobs {
			p.add(plan.Job{ID: j.id, Quantity: j.pieces, Pin: j.pin},
				jobOf{order: order, line: order.Line(int(j.id[2] - '0')), part: &book.Part{}, again: j.again})
		}
		got := p.inherit(kept, reports)
		var is []string
		has := map[string]bool{}
		for _, l := range got.Lots {
			is = append(is, fmt.Sprint(l.Job, " ", l.MachineID, " ", l.Quantity))
			has[l.Job] = true
			if l.To.Before(l.From) || l.SetupFrom.After(l.From) {
				t.Errorf("%s: %+v ends before it begins", c.what, l)
			}
		}
		if s := strings.Join(is, ", "); s != c.want {
			t.Errorf("%s: %s; want %s", c.what, s, c.want)
		}
		for _, j := range got.Jobs {
			if k := slices.IndexFunc(c.jobs, func(x job) bool { return x.id == j.ID }); k >= 0 && j.Quantity != c.jobs[k].pieces {
				t.Errorf("%s: %s is said to have had %d pieces and has %d", c.what, j.ID, j.Quantity, c.jobs[k].pieces)
			}
		}
		for id := range has {
			if !slices.ContainsFunc(got.Jobs, func(j book.PlannedJob) bool { return j.ID == id }) {
				t.Errorf("%s: nothing is known of %s", c.what, id)
			}
		}
	}
}
