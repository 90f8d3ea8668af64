package act

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
)

// Start says that a line is on a machine now: the plan leaves it there. One
// machine sews one line at a time. quantity 0 is all that is left.
func (s *Shop) Start(ctx context.Context, id string, line int, machineID string, quantity int, by string) (*book.Order, error) {
	o, l, err := s.Orders.Workable(ctx, id, line)
	if err != nil {
		return nil, err
	}
	m, err := s.Machines.Get(ctx, machineID)
	if err != nil {
		return nil, err
	}
	if l.Left() == 0 {
		return nil, shop.Errorf(shop.Invalid, "all %d pieces of %s are sewn", l.Quantity, book.LineName(o, line))
	}
	if quantity < 0 || quantity > l.Left() {
		return nil, shop.Errorf(shop.Invalid, "%d pieces to start of %s; %d are left", quantity, book.LineName(o, line), l.Left())
	}
	if _, err := ask.Expect(ctx, s.Asked(), l, m.ID); err != nil {
		return nil, err
	}
	if on, err := s.Orders.SewingOn(ctx, m.ID); err != nil {
		return nil, err
	} else if on != "" && on != book.LineName(o, line) {
		return nil, shop.Errorf(shop.Conflict, "%s is on %s; record it, or take it off first", on, m.Name)
	}
	l.Holds = slices.DeleteFunc(l.Holds, func(h book.Hold) bool { return h.MachineID == m.ID })
	if quantity == l.Left() {
		quantity = 0
	}
	l.Holds = append(l.Holds, book.Hold{MachineID: m.ID, Quantity: quantity, Running: true})
	o.State = book.Sewing
	return s.Orders.Keep(ctx, o, by, fmt.Sprintf("line %d started on %s", line, m.Name))
}

// HoldLine puts a line on a machine, whatever the plan would find better; at
// is not before when, and then if it can be (zero: any time). It takes the
// place of what the line was held on before.
func (s *Shop) HoldLine(ctx context.Context, id string, line int, machineID string, at time.Time, by string) (*book.Order, error) {
	o, l, err := s.Orders.Workable(ctx, id, line)
	if err != nil {
		return nil, err
	}
	m, err := s.Machines.Get(ctx, machineID)
	if err != nil {
		return nil, err
	}
	if _, err := ask.Expect(ctx, s.Asked(), l, m.ID); err != nil {
		return nil, err
	}
	for _, h := range l.Holds {
		if h.Running && h.MachineID != m.ID {
			return nil, shop.Errorf(shop.Conflict, "%s is on a machine now; take it off first", book.LineName(o, line))
		}
	}
	l.Holds = []book.Hold{{MachineID: m.ID, At: at.UTC()}}
	what := fmt.Sprintf("line %d held on %s", line, m.Name)
	if at.IsZero() {
		l.Holds[0].At = time.Time{}
	} else {
		what += " from " + at.Format("2006-01-02 15:04")
	}
	return s.Orders.Keep(ctx, o, by, what)
}

// Recorded is what came of a report.
type Recorded struct {
	Report    book.Report
	Order     *book.Order
	Real      float64  // s a good or spoilt piece held the machine; 0: not timed
	Predicted float64  // s a piece should have
	Notes     []string // what is odd about it
}

// Record keeps what the floor says about pieces: how many, how long, how many
// breaks. The order goes on to Sewing and, when all is sewn, to Sewn. A run
// timed by the watch goes to the machine's runs, from which it learns. Of r,
// ID, DesignID, Predicted, Sheet, Stitches, By and Added are the shop's to
// give; Day empty is today. off takes the line off the machine though pieces
// are left.
func (s *Shop) Record(ctx context.Context, r book.Report, off bool, by string) (*Recorded, error) {
	o, l, err := s.Orders.Workable(ctx, r.OrderID, r.Line)
	if err != nil {
		return nil, err
	}
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	now := s.now()
	today := book.Day(now.In(w.Location()))
	if r.Day == "" {
		r.Day = today
	}
	if _, err := book.DayTime(r.Day, w.Location()); err != nil {
		return nil, shop.AsInvalid(err)
	}
	switch {
	case r.Day > today:
		return nil, shop.Errorf(shop.Invalid, "the day %s lies ahead: today is %s", r.Day, today)
	case r.Good < 0 || r.Spoilt < 0:
		return nil, shop.Errorf(shop.Invalid, "%d good and %d spoilt pieces; give 0 or more of each", r.Good, r.Spoilt)
	case r.Good+r.Spoilt == 0 && r.RunTimed == 0:
		return nil, shop.Errorf(shop.Invalid, "no pieces and no timed run: there is nothing to record")
	case r.Good+r.Spoilt > 10*l.Quantity+1000:
		return nil, shop.Errorf(shop.Invalid, "%d pieces recorded of a line of %d: is this another order's?", r.Good+r.Spoilt, l.Quantity)
	case r.Breaks < -1 || r.Breaks > 100_000:
		return nil, shop.Errorf(shop.Invalid, "%d thread breaks; give 0 or more, or -1 where nobody counted", r.Breaks)
	}
	if err := finite("time", r.Seconds, 31*86400); err != nil {
		return nil, err
	}
	if err := finite("timed run", r.RunTimed, 86400); err != nil {
		return nil, err
	}
	if err := finite("set speed", r.SetSpeed, 3000); err != nil {
		return nil, err
	}
	if err := shop.CheckText("note", r.Note, 1000, false); err != nil {
		return nil, err
	}
	want, err := ask.Expect(ctx, s.Asked(), l, r.MachineID)
	if err != nil {
		return nil, err
	}
	pieces := r.Good + r.Spoilt
	r.ID, r.DesignID, r.By, r.Added, r.Sheet = shop.NewID(), l.DesignID, by, now.UTC(), want.Machine.Digest
	r.Stitches = float64(pieces) * float64(want.Stitches)
	if r.SetSpeed == 0 {
		r.SetSpeed = want.SetSpeed
	}
	r.Predicted = want.Seconds(pieces, r.Breaks)
	out := &Recorded{Notes: []string{}}
	if pieces > 0 {
		out.Predicted = r.Predicted / float64(pieces)
		out.Real = r.Seconds / float64(pieces)
	}
	if r.Seconds > 0 && pieces > 0 && (r.Seconds > 3*r.Predicted || r.Seconds < r.Predicted/3) {
		out.Notes = append(out.Notes, fmt.Sprintf("the time is %.1f times the predicted one: check the hours; such a report moves the machine's pace by no more than a factor of %.1f would", r.Seconds/r.Predicted, book.MostOff))
	}
	if over := r.Good - l.Left(); over > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("%d good pieces more than the line asks for", over))
	}
	var runsTimed []shop.Run
	if r.RunTimed > 0 {
		runsTimed = append(runsTimed, shop.Run{ID: shop.NewID(), MachineID: want.Machine.ID, DesignID: l.DesignID, Date: r.Day, SetSpeed: r.SetSpeed, Seconds: r.RunTimed, Step: 1,
			Note: "order " + book.LineName(o, l.Line), Added: r.Added})
	}
	l.Good += r.Good
	l.Spoilt += r.Spoilt
	for i := range l.Holds {
		h := &l.Holds[i]
		if h.MachineID == r.MachineID && h.Quantity > 0 {
			if h.Quantity -= r.Good; h.Quantity <= 0 {
				h.Quantity = -1 // done
			}
		}
	}
	l.Holds = slices.DeleteFunc(l.Holds, func(h book.Hold) bool {
		return h.Quantity < 0 || l.Left() == 0 || off && h.MachineID == r.MachineID
	})
	what := fmt.Sprintf("line %d: %d good, %d spoilt on %s", l.Line, r.Good, r.Spoilt, want.Machine.Name)
	if pieces > 0 && o.State == book.Agreed {
		o.State = book.Sewing
	}
	if o.Left() == 0 && o.State != book.Sewn {
		o.State = book.Sewn
		what += "; all is sewn"
	}
	if n := strings.TrimSpace(r.Note); n != "" {
		what += ": " + n
	}
	o.Version++
	o.Changed = r.Added
	if err := s.store.AddReport(ctx, &r, runsTimed, o, book.Change{OrderID: o.ID, Version: o.Version, At: r.Added, By: by, What: what}); err != nil {
		return nil, err
	}
	out.Report = r
	out.Order, err = s.store.Order(ctx, o.ID)
	return out, err
}

// finite refuses what is no number of seconds, speed and so on.
func finite(what string, v, hi float64) error {
	if math.IsNaN(v) || v < 0 || v > hi {
		return shop.Errorf(shop.Invalid, "the %s is %v; give 0 to %v", what, v, hi)
	}
	return nil
}
