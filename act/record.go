package act

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

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
	o, l, seen, err := s.workable(ctx, r.OrderID, r.Line)
	if err != nil {
		return nil, err
	}
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	if err := s.checkReport(w, l, &r); err != nil {
		return nil, err
	}
	if r.Colour != "" {
		k := slices.IndexFunc(l.Sizes, func(z book.SizeRow) bool { return strings.EqualFold(z.Colour, r.Colour) })
		if k < 0 {
			return nil, shop.At("colour", shop.Invalidf("line %d has no garments in %q; it has %s", r.Line, r.Colour,
				strings.Join(l.GarmentColours(), ", ")))
		}
		r.Colour = l.Sizes[k].Colour
	}
	want, err := ask.Expect(ctx, s.Asked(), l.InColour(r.Colour), r.MachineID)
	if err != nil {
		return nil, err
	}
	pieces := r.Good + r.Spoilt
	r.ID, r.DesignID, r.By, r.Added, r.Sheet = shop.NewID(), l.DesignID, by, s.now().UTC(), ask.Timing(want.Machine.Sheet)
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
		out.Notes = append(out.Notes, fmt.Sprintf("the time is %.1f times the predicted one: check the hours; "+
			"such a report moves the machine's pace by no more than a factor of %.1f would", r.Seconds/r.Predicted,
			book.MostOff))
	}
	if over := r.Good - l.Left(); over > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("more good pieces than the line asks for: %d", over))
	}
	var runs []shop.Run
	if r.RunTimed > 0 {
		runs = append(runs, shop.Run{
			ID: shop.NewID(), MachineID: want.Machine.ID, DesignID: l.DesignID, Date: r.Day, SetSpeed: r.SetSpeed,
			Seconds: r.RunTimed, Step: 1, Note: "order " + book.LineName(o, l.Line), Added: r.Added,
			Job: l.Kinds().String(),
		})
		if err := s.foretell(ctx, runs); err != nil {
			return nil, err
		}
	}
	l.Good += r.Good
	l.Spoilt += r.Spoilt
	for i := range l.Holds {
		h := &l.Holds[i]
		if h.MachineID == r.MachineID && h.Quantity > 0 && (r.Colour == "" || h.Colour == "" || h.Colour == r.Colour) {
			if h.Quantity -= r.Good; h.Quantity <= 0 {
				h.Quantity = -1 // done
			}
		}
	}
	l.Holds = slices.DeleteFunc(l.Holds, func(h book.Hold) bool {
		return h.Quantity < 0 || l.Left() == 0 || off && h.MachineID == r.MachineID
	})
	what := fmt.Sprintf("line %d: %d good, %d spoilt on %s", l.Line, r.Good, r.Spoilt, want.Machine.Name)
	if r.Colour != "" {
		what += ", in " + r.Colour
	}
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
	out.Report = r
	seen = book.Seen{Workshop: seen.Workshop, Machines: seen.Machines}
	out.Order, err = s.keep(ctx, seen, o, by, what, shop.Keeping{Report: &r, Runs: runs})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// checkReport refuses a report that makes no sense; a day left out is today.
func (s *Shop) checkReport(w *book.Workshop, l *book.OrderLine, r *book.Report) error {
	today := w.Zone.Day(s.now())
	if r.Day.IsZero() {
		r.Day = today
	}
	switch {
	case r.Day.After(today):
		return shop.At("day", shop.Invalidf("the day %s lies ahead: today is %s", r.Day, today))
	case r.Good < 0 || r.Spoilt < 0:
		return shop.At("good", shop.Invalidf("%d good and %d spoilt pieces; give 0 or more of each", r.Good, r.Spoilt))
	case r.Good+r.Spoilt == 0 && r.RunTimed == 0:
		return shop.At("good", shop.Invalidf("no pieces and no timed run: there is nothing to record"))
	case r.Good+r.Spoilt > 10*l.Quantity+1000:
		return shop.Invalidf("%s recorded of a line of %d: is this another order's?",
			words.Count(r.Good+r.Spoilt, "piece").Text(nil), l.Quantity)
	case r.Breaks < -1 || r.Breaks > 100_000:
		return shop.At("breaks", shop.Invalidf("%d thread breaks; give 0 or more, or -1 where nobody counted",
			r.Breaks))
	}
	if err := finite("to", "time", r.Seconds, 31*86400); err != nil {
		return err
	}
	if err := finite("run_min", "timed run", r.RunTimed, 86400); err != nil {
		return err
	}
	if err := finite("speed", "set speed", r.SetSpeed, 3000); err != nil {
		return err
	}
	return shop.At("note", shop.CheckText("note", r.Note, 1000, false))
}

// finite refuses what is no number of seconds, speed and so on.
func finite(key, what string, v, most float64) error {
	if math.IsNaN(v) || v < 0 || v > most {
		return shop.At(key, shop.Invalidf("the %s is %v; give 0 to %v", what, v, most))
	}
	return nil
}
