package plan

import (
	"strings"
	"testing"
	"time"
)

// What of a plan was to be sewn by now, with its set-up, is held against what was sewn; and of a job with two lots on a
// machine all that stands before the last of them counts. Work is 100 s a piece, the plan goes from 0.
func TestWhyAJobMovedSinceItsPlanWasMade(t *testing.T) {
	at := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	problem := func(origin time.Time, jobs ...string) *Problem {
		p := &Problem{Origin: origin, Machines: []Machine{{ID: "a", Name: "a"}}}
		for _, id := range jobs {
			p.Jobs = append(p.Jobs, Job{ID: id, Name: id, Quantity: 10, Due: 1e5, Weight: 1, Design: id, Fits: []Fit{{0, 100, 1, 0}}})
		}
		return p
	}
	lot := func(job, pieces int, from, setup, work float64) Lot {
		return Lot{Job: job, Quantity: pieces, SetupFrom: from, From: from + setup, To: from + setup + work, Setup: setup, Work: work}
	}
	made := func(sewn ...int) func(lots []Lot) (all []Made) {
		return func(lots []Lot) (all []Made) {
			for i, l := range lots {
				all = append(all, Made{Lot: l, Sewn: sewn[i]})
			}
			return all
		}
	}
	for _, c := range []struct {
		what      string
		jobs      []string
		was       []Lot
		sewn      []int
		later     time.Duration
		left      []Lot // of the first plan
		is        []Lot
		job, want string
	}{
		{"nothing of what takes 1,000 s with its set-up is sewn, and 800 s are new", []string{"A", "B", "N"},
			[]Lot{lot(0, 7, 0, 300, 700), lot(1, 10, 1000, 0, 1000)}, []int{0, 0}, 1000 * time.Second,
			[]Lot{lot(0, 7, 0, 300, 700), lot(1, 10, 1000, 0, 1000)},
			[]Lot{lot(2, 8, 0, 0, 800), lot(0, 7, 800, 300, 700), lot(1, 10, 1800, 0, 1000)}, "B", "less is sewn on machine a"},
		{"all of it is sewn, and 800 s are new", []string{"A", "B", "N"},
			[]Lot{lot(0, 7, 0, 300, 700), lot(1, 10, 1000, 0, 1000)}, []int{7, 0}, 1000 * time.Second,
			[]Lot{lot(1, 10, 1000, 0, 1000)},
			[]Lot{lot(2, 8, 0, 0, 800), lot(1, 10, 800, 0, 1000)}, "B", "N, which is new, comes before it"},
		{"what stands between its two lots takes longer", []string{"B", "D"},
			[]Lot{lot(0, 5, 0, 0, 500), lot(1, 10, 500, 0, 1000), lot(0, 5, 1500, 0, 500)}, []int{0, 0, 0}, 0,
			[]Lot{lot(0, 5, 0, 0, 500), lot(1, 10, 500, 0, 1000), lot(0, 5, 1500, 0, 500)},
			[]Lot{lot(0, 5, 0, 0, 500), lot(1, 10, 500, 0, 1600), lot(0, 5, 2100, 0, 500)}, "B", "D before it on machine a takes 10 min longer"},
	} {
		before := Plan{problem(at, c.jobs[:2]...), &Schedule{Lots: c.left, Made: made(c.sewn...)(c.was)}}
		after := Plan{problem(at.Add(c.later), c.jobs...), &Schedule{Lots: c.is}}
		said := ""
		for _, x := range Diff(before, after) {
			if x.Job == c.job {
				said += x.Why.Text(nil)
			}
		}
		if !strings.HasPrefix(said, c.want) {
			t.Errorf("%s: %s moved, %q; want %q", c.what, c.job, said, c.want)
		}
	}
}

// A job that was begun where it was planned ends later because too little of it is sewn, not because it runs; one that was begun
// on another machine moved because it was begun.
func TestABegunJobEndsLaterByWhatHoldsItsMachine(t *testing.T) {
	at := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	problem := func(origin time.Time, pin *Pin, pieces int) *Problem {
		return &Problem{Origin: origin, Machines: []Machine{{ID: "a", Name: "a"}, {ID: "b", Name: "b"}},
			Jobs: []Job{{ID: "A", Name: "A", Quantity: pieces, Due: 1e5, Weight: 1, Design: "A", Pin: pin, Fits: []Fit{{0, 100, 1, 0}, {1, 100, 1, 0}}}}}
	}
	was := Lot{Quantity: 20, To: 2000, Work: 2000}
	for _, c := range []struct {
		on   int
		want string
	}{{0, "less is sewn on machine a by now than was planned"}, {1, "it is running"}} {
		left := Lot{Quantity: 15, From: 500, SetupFrom: 500, To: 2000, Work: 1500}
		before := Plan{problem(at, nil, 15), &Schedule{Lots: []Lot{left}, Made: []Made{{Lot: was, Sewn: 5}}}}
		after := Plan{problem(at.Add(1000*time.Second), &Pin{Machine: c.on, Running: true}, 15),
			&Schedule{Lots: []Lot{{Machine: c.on, Quantity: 15, To: 1500, Work: 1500, Running: true}}}}
		moved := Diff(before, after)
		if len(moved) != 1 || moved[0].Why.Text(nil) != c.want {
			t.Errorf("begun on machine %d: %+v, want %q", c.on, moved, c.want)
		}
	}
}

// A job that is on its machine, of which nobody spoke while its time went by, ends now at the earliest: it is told that nobody reported it, be
// there ever so few operators for all machines; these are a reason only where both plans say who is on duty, and it is not the same.
func TestAnUnreportedJobIsToldAsSuch(t *testing.T) {
	at := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	few := []Presence{{0, 1e6, 1}}
	problem := func(origin time.Time, crew []Presence, done float64) *Problem {
		p := &Problem{Origin: origin, Crew: crew, Machines: []Machine{{ID: "a", Name: "a", Attention: .9}, {ID: "b", Name: "b", Attention: .9}},
			Jobs: []Job{{ID: "A", Name: "A", Quantity: 20, Due: 1e5, Weight: 1, Design: "A", Fits: []Fit{{0, 100, 1, 0}}}}}
		if done > 0 {
			p.Jobs[0].Pin = &Pin{Running: true, Done: done}
		}
		return p
	}
	lot := func(to float64) *Schedule {
		return &Schedule{Lots: []Lot{{Quantity: 20, To: to, Work: to, Running: true}}}
	}
	for _, c := range []struct {
		what          string
		before, after []Presence
		later         time.Duration
		was, done, is float64
		want          string
	}{
		{"its time is over", nil, few, 9000 * time.Second, 2000, 2000, 0, "its time on machine a is over, and nobody has reported it as sewn"},
		{"longer, of a kept plan", nil, few, 0, 2000, 0, 2030 + 60, "it takes"},
		{"fewer hands", []Presence{{0, 1e6, 2}}, few, 0, 2000, 0, 2000, "machine a has less of the operators"},
		{"as many hands", few, few, 0, 2000, 0, 2000, "what is before it on machine a takes another time in all"},
		{"a kept plan, which does not say them", nil, few, 0, 2000, 0, 2000, "what is before it on machine a takes another time in all"},
	} {
		b := Plan{problem(at, c.before, c.done), lot(c.was)}
		a := Plan{problem(at.Add(c.later), c.after, c.done), lot(c.is)}
		if c.done == 0 && c.is == c.was { // as much work, an end that nothing of it explains
			a.Schedule.Lots[0].To += 600
		}
		moved := Diff(b, a)
		if len(moved) != 1 || !strings.HasPrefix(moved[0].Why.Text(nil), c.want) {
			t.Errorf("%s: %+v, want %q", c.what, moved, c.want)
		}
	}
}

// A day on which goods come that is put off is a reason only where the job was to begin before it: one that stands behind
// others until after that day moves by what comes before it.
func TestGoodsThatComeLaterButInTimeMoveNothing(t *testing.T) {
	at := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	problem := func(release float64, jobs ...string) *Problem {
		p := &Problem{Origin: at, Machines: []Machine{{ID: "a", Name: "a"}}}
		for _, id := range jobs {
			p.Jobs = append(p.Jobs, Job{ID: id, Name: id, Quantity: 10, Due: 1e5, Weight: 1, Design: id, Fits: []Fit{{0, 100, 1, 0}}})
		}
		p.Jobs[1].Release = release
		return p
	}
	lot := func(job int, from float64) Lot {
		return Lot{Job: job, Quantity: 10, SetupFrom: from, From: from, To: from + 1000, Work: 1000}
	}
	for _, c := range []struct {
		release, begins float64
		is              []Lot
		want            string
	}{
		{900, 2000, []Lot{lot(0, 0), lot(2, 1000), lot(1, 2000)}, "N, which is new, comes before it on machine a"},
		{1500, 1500, []Lot{lot(0, 0), lot(1, 1500)}, "the day its goods come changed"},
	} {
		before := Plan{problem(500, "A", "B"), &Schedule{Lots: []Lot{lot(0, 0), lot(1, 1000)}}}
		after := Plan{problem(c.release, "A", "B", "N"), &Schedule{Lots: c.is}}
		said := ""
		for _, x := range Diff(before, after) {
			if x.Job == "B" {
				said += x.Why.Text(nil)
			}
		}
		if said != c.want {
			t.Errorf("goods put off from 500 s to %v s, begun at %v s and not 1,000: %q; want %q", c.release, c.begins, said, c.want)
		}
	}
}

// A job that moved is told to take longer where that is by a twentieth or more: reports move every pace a little. A lot that was over before the
// later plan begins was closed out of nothing.
func TestALittleSlowerIsNoReason(t *testing.T) {
	at := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	problem := func(origin time.Time, run float64, win []Window) *Problem {
		return &Problem{Origin: origin, Machines: []Machine{{ID: "a", Name: "a", Windows: win}, {ID: "b", Name: "b"}},
			Jobs: []Job{{ID: "A", Name: "A", Quantity: 10, Due: 1e5, Weight: 1, Fits: []Fit{{0, run, 1, 0}, {1, 50, 1, 0}}}}}
	}
	was := Plan{problem(at, 100, nil), &Schedule{Lots: []Lot{{Quantity: 10, Runs: 10, To: 1000, Work: 1000}}}}
	hours := Plan{problem(at, 100, []Window{{0, 1e6, 1}}), was.Schedule}
	for _, c := range []struct {
		was   Plan
		later time.Duration
		run   float64
		takes bool
	}{{was, 0, 104, false}, {was, 0, 106, true}, {was, 0, 96, false}, {was, 0, 94, true}, {hours, time.Hour, 100, false}} {
		moved := Diff(c.was, Plan{problem(at.Add(c.later), c.run, nil), &Schedule{Lots: []Lot{{Machine: 1, Quantity: 10, Runs: 10, To: 500, Work: 500}}}})
		if len(moved) != 1 || strings.HasPrefix(moved[0].Why.Text(nil), "it takes") != c.takes || strings.Contains(moved[0].Why.Text(nil), "closed") {
			t.Errorf("a run of %v s instead of 100, %v later: %+v", c.run, c.later, moved)
		}
	}
}
