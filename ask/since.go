package ask

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"needlepace/book"
	"needlepace/plan"
	"needlepace/words"
)

// SinceQuestion asks what changed since the kept plan was made.
type SinceQuestion struct {
	Now time.Time // the time of day
	// Effect asks too what the changes do to the plan, left as it is.
	Effect bool
}

// SinceAnswer is what changed since the kept plan was made, and what that does
// to it.
type SinceAnswer struct {
	Plan    int           `json:"plan" doc:"version of the kept plan"`
	Changes []SinceChange `json:"changes" doc:"what the plan was made from and is another now"`
	// Lines end at another time if the machines go on in the plan's order.
	Lines     []SinceLine     `json:"lines" doc:"lines that end later or sooner if the plan is left as it is; empty where that was not asked"`
	LateWas   int             `json:"late_was" doc:"lines late by the plan"`
	LateIs    int             `json:"late_is" doc:"lines late if it is left as it is, with what is known now"`
	HoursWas  float64         `json:"late_hours_was"`
	HoursIs   float64         `json:"late_hours_is"`
	Verdict   words.Sentences `json:"verdict"`
	Caveats   words.Sentences `json:"caveats"`
	zone      words.Zone
	today     words.Day
	reckoned  bool
	unplanned int
}

// SinceChange is a change in words.
type SinceChange struct {
	book.InputChange
	Say words.Message `json:"say"`
}

// SinceLine is a line that ends at another time than the plan says.
type SinceLine struct {
	Order    int       `json:"order"`
	Name     string    `json:"name"`
	Customer string    `json:"customer"`
	Due      words.Day `json:"due"`
	Was      time.Time `json:"was"` // its end by the plan; zero: it is not in it
	Is       time.Time `json:"is"`  // with what is known now; zero: it cannot be sewn
	LateWas  float64   `json:"late_was_seconds"`
	LateIs   float64   `json:"late_is_seconds"`
}

// Since says what changed since the kept plan was made; nil where there is no
// plan.
func Since(ctx context.Context, from PlanFrom, q SinceQuestion) (*SinceAnswer, error) {
	if q.Now.IsZero() {
		return nil, Errorf("the time of day is missing")
	}
	state, err := from.State(ctx)
	if err != nil {
		return nil, err
	}
	key := fmt.Sprint(state, q.Effect, q.Now.Truncate(sinceFor).Unix())
	return from.Memory().since.get(ctx, mostSince, key, func() (*SinceAnswer, error) {
		kept, err := from.LastPlan(ctx)
		if err != nil || kept == nil {
			return nil, err
		}
		return since(ctx, from, kept, &q)
	})
}

func since(ctx context.Context, from PlanFrom, kept *book.Plan, q *SinceQuestion) (*SinceAnswer, error) {
	a := &SinceAnswer{Plan: kept.Version, Changes: []SinceChange{}, Lines: []SinceLine{}, LateWas: kept.Late,
		HoursWas: kept.LateHours, LateIs: kept.Late, HoursIs: kept.LateHours, Verdict: words.Sentences{},
		Caveats: words.Sentences{}, zone: kept.Zone, today: kept.Zone.Day(q.Now)}
	if kept.Inputs == nil {
		a.Caveats.Say("since.not-kept")
		return a, nil
	}
	now, err := PlanInputs(ctx, from)
	if err != nil {
		return nil, err
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	said := newSaying(kept, now, a.today)
	for _, c := range book.ChangedInputs(kept.Inputs, now) {
		if c.Past(w, q.Now) {
			continue
		}
		if say := said.change(&c); !say.IsZero() {
			a.Changes = append(a.Changes, SinceChange{c, say})
		}
	}
	if q.Effect && len(a.Changes) > 0 {
		if err := a.effect(ctx, from, kept, q.Now); err != nil {
			if _, ours := asOurs(err); !ours {
				return nil, err
			}
			a.Caveats.Say("since.no-effect", words.Args{"why": words.Name(err.Error())})
		}
	}
	a.say()
	return a, nil
}

// sinceFor is how long an answer to Since is remembered where nothing changes.
const sinceFor = 10 * time.Minute

// designInput is a design as a plan's input.
func designInput(d *book.Design) book.Input {
	in := book.Input{Kind: book.DesignInput, ID: d.ID, Name: d.Name,
		Facts: map[string]string{"threads": fmt.Sprint(d.Threads)}}
	if d.Removed {
		in.Facts["removed"] = "yes"
	}
	return in
}

// effect reckons the kept plan with what is known now: every machine goes on in
// the plan's order, what is new is put where it costs least.
func (a *SinceAnswer) effect(ctx context.Context, from PlanFrom, kept *book.Plan, now time.Time) error {
	q := PlanQuestion{Now: now, At: kept.From, NoBound: true}
	p, err := problemOf(ctx, from, &q)
	if err != nil {
		return err
	}
	sc := &plan.Schedule{Complete: true}
	if len(p.Jobs) > 0 {
		as := p.written(p.goOn(kept))
		p.goOnFrom(as, now)
		desk, err := plan.NewDesk(p.Problem, as)
		if err != nil {
			return wrong(err)
		}
		sc = desk.Schedule()
	}
	is := write(p, sc, &q)
	a.reckoned, a.LateIs, a.HoursIs = true, is.Late, is.LateHours
	type line struct {
		order string
		line  int
	}
	was := map[line]*book.LineEnd{}
	for i := range kept.Ends {
		e := &kept.Ends[i]
		was[line{e.OrderID, e.Line}] = e
	}
	there := map[line]bool{}
	for i := range is.Ends {
		e := &is.Ends[i]
		k := line{e.OrderID, e.Line}
		there[k] = true
		l := SinceLine{Order: e.Number, Name: e.Name, Customer: e.Customer, Due: e.DueDay, Is: e.End, LateIs: e.Late}
		old := was[k]
		switch {
		case old == nil:
			a.unplanned++
		case old.End.Sub(e.End).Abs() < worthTelling && (old.Late > 0) == (e.Late > 0):
			continue
		default:
			l.Was, l.LateWas = old.End, old.Late
		}
		a.Lines = append(a.Lines, l)
	}
	for i := range is.Left {
		k := line{is.Left[i].OrderID, is.Left[i].Line}
		if old := was[k]; old != nil && !there[k] {
			a.Lines = append(a.Lines, SinceLine{Order: old.Number, Name: old.Name, Customer: old.Customer,
				Due: old.DueDay, Was: old.End, LateWas: old.Late})
		}
	}
	return nil
}

// PlanInputs are what a plan of now would be made from.
func PlanInputs(ctx context.Context, from PlanFrom) ([]book.Input, error) {
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	machines, err := from.Machines(ctx)
	if err != nil {
		return nil, err
	}
	out := []book.Input{}
	orders, err := from.Planned(ctx)
	if err != nil {
		return nil, err
	}
	var designs []*book.Design
	known := map[string]bool{}
	for _, o := range orders {
		out = append(out, o.Input())
		for i := range o.Lines {
			id := o.Lines[i].DesignID
			if known[id] {
				continue
			}
			known[id] = true
			d, err := from.Design(ctx, id)
			if err != nil {
				return nil, err
			}
			designs = append(designs, d)
		}
	}
	for _, in := range w.Inputs() {
		if in.Kind == book.PricesInput { // whoever may see a plan need not be one who may see money
			in.Facts = sealed(in.Facts)
		}
		out = append(out, in)
	}
	for _, m := range machines {
		out = append(out, book.Input{Kind: book.SheetInput, ID: m.ID, Name: m.Name,
			Facts: map[string]string{"sheet": m.Digest}})
	}
	reports, err := from.Reports(ctx)
	if err != nil {
		return nil, err
	}
	for _, m := range machines {
		if in := reportsInput(m, reports); in.Facts != nil {
			out = append(out, in)
		}
	}
	for _, d := range designs {
		out = append(out, designInput(d))
	}
	return out, nil
}

// sealed is facts as one digest of all of them: it says that they changed, and
// neither which nor what they are.
func sealed(facts map[string]string) map[string]string {
	if len(facts) == 0 {
		return nil
	}
	sum := sha256.New()
	for _, key := range slices.Sorted(maps.Keys(facts)) {
		fmt.Fprintf(sum, "%q %q\n", key, facts[key])
	}
	return map[string]string{"sum": hex.EncodeToString(sum.Sum(nil)[:8])}
}

// reportsInput is what the floor reported of a machine: how many, and a digest
// of them, by which a corrected one shows.
func reportsInput(m Machine, reports []book.Report) book.Input {
	in := book.Input{Kind: book.ReportsInput, ID: m.ID, Name: m.Name}
	n, sum := 0, sha256.New()
	for i := range reports {
		if r := &reports[i]; r.MachineID == m.ID {
			n++
			fmt.Fprintln(sum, r.ID, r.Line, r.Good, r.Spoilt, r.Breaks, r.Seconds, r.RunTimed)
		}
	}
	if n > 0 {
		in.Facts = map[string]string{"reports": strconv.Itoa(n), "sum": hex.EncodeToString(sum.Sum(nil)[:8])}
	}
	return in
}
