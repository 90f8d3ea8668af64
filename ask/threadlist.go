package ask

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/words"
)

// ThreadQuestion asks which thread the kept plan will use, day by day.
type ThreadQuestion struct {
	Now  time.Time // what is sewn by now is left out; zero: nothing is
	Days int       // days from today on; 0: all of the plan
}

// ThreadListAnswer is the thread that the kept plan will use, to buy from: by the same
// figures as clock, quotes and run sheets. What is in stock it does not know.
type ThreadListAnswer struct {
	Plan    int             `json:"plan" doc:"its version"`
	Days    []ThreadDay     `json:"days" doc:"days on which something is sewn"`
	Threads []ThreadWanted  `json:"threads" doc:"all days together, by name"`
	Bobbin  float64         `json:"bobbin_metres" doc:"of bobbin thread"`
	Bobbins int             `json:"bobbins" doc:"full ones that it fills"`
	Verdict words.Sentences `json:"verdict"`
	Caveats words.Sentences `json:"caveats"`
}

// ThreadDay is the thread of a day.
type ThreadDay struct {
	Day     words.Day      `json:"day"`
	Threads []ThreadWanted `json:"threads"`
	Bobbin  float64        `json:"bobbin_metres"`
	Bobbins int            `json:"bobbins" doc:"full ones that are begun on it, over all days so far"`
}

// ThreadWanted is an amount of one thread.
type ThreadWanted struct {
	Thread string  `json:"thread"`
	Colour string  `json:"colour" doc:"#rrggbb; empty: not known"`
	Metres float64 `json:"metres"`
	Cones  float64 `json:"cones" doc:"cones' worth of it"`
}

// mostThreadDays is how many days can be asked for.
const mostThreadDays = 3650

// ThreadList is the thread that the kept plan will use. The thread of a lot that is
// sewn on several days is spread over them as the hours that its machine works.
func ThreadList(ctx context.Context, from PlanFrom, q ThreadQuestion) (*ThreadListAnswer, error) {
	if q.Days < 0 || q.Days > mostThreadDays {
		return nil, refusing(words.Say("refused.thread-days", words.Args{"n": words.Whole(q.Days), "most": words.Whole(mostThreadDays)})).At("days")
	}
	p, err := from.LastPlan(ctx)
	if err != nil {
		return nil, err
	}
	if p == nil {
		return nil, unfound(words.Say("refused.no-plan"))
	}
	reports, err := from.Reports(ctx)
	if err != nil {
		return nil, err
	}
	p = p.Rest(reports)
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	all, err := stations(ctx, from, w)
	if err != nil {
		return nil, err
	}
	t := &threadTally{days: map[words.Day]*dayTally{}, p: p, from: p.From}
	if q.Now.After(p.From) {
		t.from = q.Now
	}
	if !q.Now.IsZero() {
		if t.stale, err = stale(ctx, from, q.Now); err != nil {
			return nil, err
		}
	}
	t.until = p.Zone.Day(t.from).Add(q.Days)
	if q.Days == 0 {
		t.until = words.Day{}
	}
	for i := range p.Lots {
		lot := &p.Lots[i]
		if lot.Quantity == 0 {
			continue
		}
		m := slices.IndexFunc(all, func(st *station) bool { return st.ID == lot.MachineID })
		o, err := from.Order(ctx, lot.OrderID)
		if err != nil {
			return nil, err
		}
		l := o.Line(lot.Line)
		if m < 0 || l == nil {
			t.gone++ // the plan is older than the orders or the machines
			continue
		}
		if err := t.lot(ctx, from, w, lot, l.InColour(lot.Colour), all[m]); err != nil {
			return nil, err
		}
	}
	return t.answer(w), nil
}

// dayTally is what a day uses.
type dayTally struct {
	metres map[string]float64 // by thread, in small letters
	bobbin float64            // m
	full   float64            // bobbins' worth
}

// threadTally adds lots up.
type threadTally struct {
	p      *book.Plan
	from   time.Time // what was to be sewn before is sewn then
	stale  words.Message
	until  words.Day // the first day that is not asked for; zero: none
	days   map[words.Day]*dayTally
	names  map[string]string // thread as it was first written
	colour map[string]string
	gone   int
}

func (t *threadTally) lot(
	ctx context.Context, from LineFrom, w *book.Workshop, lot *book.PlanLot, l *book.OrderLine, st *station,
) error {
	d, err := from.Design(ctx, l.DesignID)
	if err != nil {
		return err
	}
	n, _, err := need(ctx, from, w, l, d, st, lot.Quantity)
	if err != nil {
		return err
	}
	names, colours := book.BlockThreads(l, d), book.BlockColours(l, d)
	for day, share := range t.shares(lot) {
		if !t.until.IsZero() && !day.Before(t.until) {
			continue
		}
		x := t.days[day]
		if x == nil {
			x = &dayTally{metres: map[string]float64{}}
			t.days[day] = x
		}
		for _, c := range n.Colours {
			key := strings.ToLower(c.Name)
			x.metres[key] += share * c.Order
			if t.names == nil {
				t.names, t.colour = map[string]string{}, map[string]string{}
			}
			if t.names[key] == "" {
				t.names[key] = c.Name
			}
			if k := slices.Index(names, c.Name); k >= 0 && t.colour[key] == "" {
				t.colour[key] = colours[k]
			}
		}
		x.bobbin += share * n.Bobbin
		x.full += share * n.Bobbin / w.Supply(st.work).Bobbin
	}
	return nil
}

// shares is which share of a lot is sewn on each day: as the hours that its
// machine works between its beginning, or now, and its end; what was to be sewn by now and is not reported, today.
func (t *threadTally) shares(lot *book.PlanLot) map[words.Day]float64 {
	out, sum := map[words.Day]float64{}, 0.0
	add := func(from, to time.Time) {
		for from.Before(to) {
			day := t.p.Zone.Day(from)
			end := t.p.Zone.At(day.Add(1), 0)
			if end.After(to) || !end.After(from) {
				end = to
			}
			out[day] += end.Sub(from).Seconds()
			sum += end.Sub(from).Seconds()
			from = end
		}
	}
	for _, m := range t.p.Machines {
		if m.ID != lot.MachineID {
			continue
		}
		for _, s := range m.Open {
			from, to := s.From, s.To
			if from.Before(lot.From) {
				from = lot.From
			}
			if from.Before(t.from) {
				from = t.from
			}
			if to.After(lot.To) {
				to = lot.To
			}
			add(from, to)
		}
	}
	if sum == 0 {
		if lot.From.Before(t.from) {
			return map[words.Day]float64{t.p.Zone.Day(t.from): 1}
		}
		return map[words.Day]float64{t.p.Zone.Day(lot.From): 1}
	}
	for d := range out {
		out[d] /= sum
	}
	return out
}

func (t *threadTally) answer(w *book.Workshop) *ThreadListAnswer {
	a := &ThreadListAnswer{Plan: t.p.Version, Days: []ThreadDay{}, Threads: []ThreadWanted{}}
	cone := w.Supply(w.Work).Cone
	wanted := func(metres map[string]float64) []ThreadWanted {
		out := []ThreadWanted{}
		for key, m := range metres {
			out = append(out, ThreadWanted{Thread: t.names[key], Colour: t.colour[key], Metres: m, Cones: m / cone})
		}
		slices.SortFunc(out, func(a, b ThreadWanted) int { return strings.Compare(a.Thread, b.Thread) })
		return out
	}
	var days []words.Day
	for d := range t.days {
		days = append(days, d)
	}
	slices.SortFunc(days, words.Day.Compare)
	all, full, begun := map[string]float64{}, 0.0, 0
	for _, d := range days {
		x := t.days[d]
		for k, m := range x.metres {
			all[k] += m
		}
		a.Bobbin += x.bobbin
		full += x.full
		so := int(math.Ceil(full - 1e-9))
		a.Days = append(a.Days, ThreadDay{Day: d, Threads: wanted(x.metres), Bobbin: x.bobbin, Bobbins: so - begun})
		begun = so
	}
	a.Threads, a.Bobbins = wanted(all), begun
	a.say(t, cone)
	return a
}

// Top is the upper thread of all colours together.
func (a *ThreadListAnswer) Top() words.Metres {
	top := 0.0
	for _, x := range a.Threads {
		top += x.Metres
	}
	return words.Metres(top)
}

func (a *ThreadListAnswer) say(t *threadTally, cone float64) {
	a.Verdict, a.Caveats = words.Sentences{}, words.Sentences{}
	if len(a.Days) == 0 {
		a.Verdict.Say("threadlist.nothing")
	} else {
		a.Verdict.Say("threadlist.all", words.Args{
			"colours": words.Count(len(a.Threads), "colour"), "metres": a.Top(),
			"bobbins": words.Count(a.Bobbins, "bobbin"), "days": words.Count(len(a.Days), "day"),
		})
	}
	if !t.stale.IsZero() {
		a.Caveats = append(a.Caveats, t.stale)
	}
	a.Caveats.Say("threadlist.no-stock", words.Args{"cone": words.Metres(cone)})
	if n := len(t.p.Left); n > 0 {
		a.Caveats.Say("threadlist.left-out", words.Args{"lines": words.Count(n, "line")})
	}
	if t.gone > 0 {
		a.Caveats.Say("threadlist.gone", words.Args{"lots": words.Count(t.gone, "lot")})
	}
}

// DayTable is the thread by day, each day's bobbin thread under it.
func (a *ThreadListAnswer) DayTable() *Table {
	t := table("thread-days", words.Say("threadlist.by-day"),
		column("day", "column.day"), column("thread", "runsheet.thread"), number("metres", "runsheet.metres"),
		number("cones", "threadlist.cones"), number("bobbins", "threadlist.bobbins"))
	for _, d := range a.Days {
		for _, x := range d.Threads {
			t.add(d.Day, words.Name(x.Thread), words.Fixed(x.Metres, 0), words.Fixed(x.Cones, 2), words.None{})
		}
		t.add(d.Day, words.Say("threadlist.bobbin"), words.Fixed(d.Bobbin, 0), words.None{}, words.Whole(d.Bobbins))
	}
	return t
}

// ThreadTable is all of it by thread.
func (a *ThreadListAnswer) ThreadTable() *Table {
	t := table("thread-all", words.Say("threadlist.together"),
		column("thread", "runsheet.thread"), number("metres", "runsheet.metres"), number("cones", "threadlist.cones"),
		number("bobbins", "threadlist.bobbins"))
	for _, x := range a.Threads {
		t.add(words.Name(x.Thread), words.Fixed(x.Metres, 0), words.Fixed(x.Cones, 2), words.None{})
	}
	t.add(words.Say("threadlist.bobbin"), words.Fixed(a.Bobbin, 0), words.None{}, words.Whole(a.Bobbins))
	return t
}
