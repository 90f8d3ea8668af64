package act

import (
	"context"
	"fmt"
	"regexp"
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

	machine string // its name
}

// Recording is how a report is taken.
type Recording struct {
	Off  bool // the line comes off the machine though pieces are left
	Over bool // more good pieces than the line asks for are meant
	Saw  int  // version of the order that was looked at; 0: whatever it is
	Sure bool // the timed run is right, however far it is from what was predicted
	// Key names the report (20 of a to z and 2 to 7, made up at random by who sends
	// it): sent again under it, nothing is made twice. Empty: each sending is a report.
	Key string
}

var keyForm = regexp.MustCompile(`^[a-z2-7]{20}$`)

// kept is the report that was kept under a key before; nil for none yet.
func (s *Shop) kept(ctx context.Context, order string, line int, how Recording) (*Recorded, error) {
	if how.Key == "" {
		return nil, nil
	}
	if !keyForm.MatchString(how.Key) {
		return nil, shop.At("key", shop.Invalidf("a report's key is 20 letters a to z and digits 2 to 7"))
	}
	all, err := s.store.Reports(ctx, order)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(all, func(r book.Report) bool { return r.ID == how.Key })
	if i < 0 {
		return nil, nil
	}
	r := all[i]
	if line != 0 && r.Line != line {
		return nil, shop.At("key", shop.Invalidf("another line's report has this key: send each under a key of its own"))
	}
	o, err := s.Orders.Get(ctx, order)
	if err != nil {
		return nil, err
	}
	out := &Recorded{Report: r, Order: o, Notes: []string{}}
	out.each()
	return out, nil
}

// each is what a piece of the report took and should have taken.
func (r *Recorded) each() {
	if pieces := float64(r.Report.Good + r.Report.Spoilt); pieces > 0 {
		r.Predicted, r.Real = r.Report.Predicted/pieces, r.Report.Seconds/pieces
	}
}

// Record keeps what the floor says about pieces: how many, how long, how many
// breaks. The order goes on to Sewing and, when all is sewn, to Sewn. A run
// timed by the watch goes to the machine's runs, from which it learns. Of r,
// what is not the floor's to say (ID, number, prediction, …) is the shop's to
// give; Day empty is today. More good pieces than are left are refused at
// "over" where they are not meant. Reports that come at once are all kept, one after another.
func (s *Shop) Record(ctx context.Context, r book.Report, how Recording, by string) (*Recorded, error) {
	return again(reportTries, func() (*Recorded, error) { return s.record(ctx, r, how, by) })
}

func (s *Shop) record(ctx context.Context, r book.Report, how Recording, by string) (*Recorded, error) {
	if was, err := s.kept(ctx, r.OrderID, r.Line, how); was != nil || err != nil {
		return was, err
	}
	o, l, seen, err := s.workable(ctx, r.OrderID, r.Line)
	if err != nil {
		return nil, err
	}
	if err := at(o, how.Saw); err != nil {
		return nil, err
	}
	out, k, err := s.take(ctx, o, l, &r, how, by)
	if err != nil {
		return nil, err
	}
	what := fmt.Sprintf("line %d: %s on %s%s", l.Line, reportWords(&r), out.machine, inColour(&r))
	if r.Good+r.Spoilt > 0 && o.State == book.Agreed {
		o.State = book.Sewing
	}
	if o.Left() == 0 && o.State != book.Sewn {
		o.State = book.Sewn
		what += "; all is sewn"
	}
	if n := strings.TrimSpace(r.Note); n != "" {
		what += ": " + n
	}
	seen = book.Seen{Workshop: seen.Workshop, Machines: seen.Machines}
	if out.Order, err = s.keep(ctx, seen, o, by, what, k); err != nil {
		return nil, err
	}
	out.Report = r
	return out, nil
}

// reportWords are a report's pieces in words.
func reportWords(r *book.Report) string {
	what := fmt.Sprintf("%d good, %d spoilt", r.Good, r.Spoilt)
	if r.Again > 0 {
		what += fmt.Sprintf(" (%d to be sewn again on their garments)", r.Again)
	}
	return what
}

// inColour says which garments a report is about.
func inColour(r *book.Report) string {
	if r.Colour == "" {
		return ""
	}
	return ", in " + r.Colour
}

// take checks a report, holds it against what was to be expected and counts its
// pieces on the line.
func (s *Shop) take(
	ctx context.Context, o *book.Order, l *book.OrderLine, r *book.Report, how Recording, by string,
) (*Recorded, shop.Keeping, error) {
	k := shop.Keeping{Report: r}
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return nil, k, err
	}
	if err := s.checkReport(w, o, l, r); err != nil {
		return nil, k, err
	}
	if over := r.Good - l.Left(); over > 0 && !how.Over {
		return nil, k, shop.At("over", shop.Saying(shop.Invalid, words.Say("refused.over", words.Args{"line": words.Whole(l.Line),
			"left": words.Whole(l.Left()), "all": words.Whole(l.Quantity), "good": words.Whole(r.Good), "over": words.Whole(over)})))
	}
	if r.Colour != "" {
		k := slices.IndexFunc(l.Sizes, func(z book.SizeRow) bool { return strings.EqualFold(z.Colour, r.Colour) })
		if k < 0 {
			return nil, shop.Keeping{}, shop.At("colour", shop.Saying(shop.Invalid, words.Say("refused.colour", words.Args{
				"line": words.Whole(r.Line), "colour": words.Name(r.Colour), "colours": words.Name(strings.Join(l.GarmentColours(), ", "))})))
		}
		r.Colour = l.Sizes[k].Colour
	}
	want, err := ask.Expect(ctx, s.Asked(), l.InColour(r.Colour), r.MachineID)
	if err != nil {
		return nil, k, err
	}
	pieces := r.Good + r.Spoilt
	r.ID = how.Key
	if r.ID == "" {
		r.ID = shop.NewID()
	}
	r.DesignID, r.By, r.Added, r.Sheet = l.DesignID, by, s.now().UTC(), ask.Timing(want.Machine.Sheet)
	r.Stitches = float64(pieces) * float64(want.Stitches)
	r.Predicted, r.Usual = want.Seconds(pieces, r.Breaks), want.Usual(pieces)
	if r.SetSpeed == 0 {
		r.SetSpeed = want.SetSpeed
	} else if r.SetSpeed != want.SetSpeed {
		set := *l.InColour(r.Colour)
		set.Speed = r.SetSpeed
		atSpeed, err := ask.Expect(ctx, s.Asked(), &set, r.MachineID)
		if err != nil {
			return nil, k, err
		}
		r.Usual.AtSpeed = atSpeed.Usual(pieces).Sewing
	}
	out := &Recorded{Report: *r, Notes: []string{}, machine: want.Machine.Name}
	out.each()
	if r.Seconds > 0 && pieces > 0 && (r.Seconds > 3*r.Predicted || r.Seconds < r.Predicted/3) {
		out.Notes = append(out.Notes, fmt.Sprintf("the time is %.1f times the predicted one: check the hours; "+
			"such a report moves the machine's pace by no more than a factor of %.1f would", r.Seconds/r.Predicted,
			book.MostOff))
	}
	if over := r.Good - l.Left(); over > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("more good pieces than the line asks for: %d", over))
	}
	if r.RunTimed > 0 && l.Named() {
		return nil, k, shop.At("run_min", shop.Saying(shop.Invalid, words.Say("refused.named", words.Args{"line": words.Whole(l.Line)})))
	}
	if r.RunTimed > 0 {
		k.Runs = append(k.Runs, shop.Run{
			ID: r.ID, MachineID: want.Machine.ID, DesignID: l.DesignID, Date: r.Day, SetSpeed: r.SetSpeed,
			Seconds: r.RunTimed, Step: 1, Note: "order " + book.LineName(o, l.Line), Added: r.Added,
			Job: l.Kinds().String(), Sure: how.Sure,
		})
		if err := s.foretell(ctx, k.Runs); err != nil {
			return nil, k, err
		}
		if err := k.Runs[0].Unlikely(); err != nil {
			return nil, k, err
		}
	}
	l.Good += r.Good
	l.Spoilt += r.Spoilt
	l.Again += r.Again
	if n := l.Rework(); n > 0 && r.Spoilt > 0 {
		say := fmt.Sprintf("%s to be made again", words.Count(n, "piece").Text(nil))
		if g := l.Garments(); g > 0 {
			say += fmt.Sprintf("; new garments needed: %d", g)
		}
		out.Notes = append(out.Notes, say)
	}
	before := slices.Clone(l.Holds)
	for i := range l.Holds {
		h := &l.Holds[i]
		if h.MachineID == r.MachineID && h.Quantity > 0 && (r.Colour == "" || h.Colour == "" || h.Colour == r.Colour) {
			if h.Quantity -= r.Good; h.Quantity <= 0 {
				h.Quantity = -1 // done
			}
		}
	}
	l.Holds = slices.DeleteFunc(l.Holds, func(h book.Hold) bool {
		return h.Quantity < 0 || l.Left() == 0 || how.Off && h.MachineID == r.MachineID
	})
	for _, h := range before {
		if h.Running && !onMachine(l, h.MachineID) {
			r.Ended = append(r.Ended, h)
		}
	}
	return out, k, nil
}

// longBefore is how many days before its order was entered pieces may have been sewn: an
// order may be entered late, but a day more than a year off is a slip of the year.
const longBefore = 366

// checkReport refuses a report that makes no sense; a day left out is today.
func (s *Shop) checkReport(w *book.Workshop, o *book.Order, l *book.OrderLine, r *book.Report) error {
	today := w.Zone.Day(s.now())
	if r.Day.IsZero() {
		r.Day = today
	}
	switch {
	case r.Day.After(today):
		return shop.At("day", shop.Saying(shop.Invalid, words.Say("refused.ahead", words.Args{"day": r.Day, "today": today})))
	case r.Day.Before(w.Zone.Day(o.Made).Add(-longBefore)):
		return shop.At("day", shop.Saying(shop.Invalid, words.Say("refused.long-ago", words.Args{"day": r.Day, "made": w.Zone.Day(o.Made)})))
	case r.Good < 0 || r.Spoilt < 0:
		return shop.At("good", shop.Saying(shop.Invalid, words.Say("refused.negative", words.Args{"good": words.Whole(r.Good),
			"spoilt": words.Whole(r.Spoilt)})))
	case r.Again < 0 || r.Again > r.Spoilt:
		return shop.At("again", shop.Saying(shop.Invalid, words.Say("refused.again", words.Args{"again": words.Whole(r.Again),
			"spoilt": words.Whole(r.Spoilt)})))
	case r.Good+r.Spoilt == 0 && r.RunTimed == 0:
		return shop.At("good", shop.Saying(shop.Invalid, words.Say("refused.nothing")))
	case r.Good+r.Spoilt > 10*l.Quantity+1000:
		return shop.Saying(shop.Invalid, words.Say("refused.many", words.Args{"pieces": words.Whole(r.Good + r.Spoilt),
			"all": words.Whole(l.Quantity)}))
	case r.Breaks < -1 || r.Breaks > 100_000:
		return shop.At("breaks", shop.Saying(shop.Invalid, words.Say("refused.breaks", words.Args{"breaks": words.Whole(r.Breaks)})))
	}
	switch {
	case !(r.Seconds >= 0 && r.Seconds <= 31*86400):
		return shop.At("to", shop.Saying(shop.Invalid, words.Say("refused.time", words.Args{"most": words.Whole(31)})))
	case !(r.RunTimed >= 0 && r.RunTimed <= 86400):
		return shop.At("run_min", shop.Saying(shop.Invalid, words.Say("refused.run", words.Args{"most": words.Whole(24)})))
	case r.SetSpeed != 0 && !(r.SetSpeed >= 10 && r.SetSpeed <= 3000):
		return shop.At("speed", shop.Saying(shop.Invalid, words.Say("refused.speed",
			words.Args{"least": words.Whole(10), "most": words.Whole(3000)})))
	}
	return shop.At("note", shop.CheckText("note", r.Note, 1000, false))
}
