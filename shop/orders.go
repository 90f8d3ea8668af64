package shop

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"needlepace/book"
	"needlepace/floor"
)

// AddOrder keeps a new order. Its ID, number, version and made pieces are the
// shop's to give; a State may be Requested (the default) or Agreed. notes are
// what a planner should know: pieces no machine can make, a day that cannot
// be met whatever the plan.
func (s *Shop) AddOrder(ctx context.Context, o Order, by string) (kept *Order, notes []string, err error) {
	if o.State == "" {
		o.State = Requested
	}
	if o.State != Requested && o.State != Agreed {
		return nil, nil, Errorf(Invalid, "a new order is %s or %s, not %q", Requested, Agreed, o.State)
	}
	now := s.now().UTC()
	o.ID, o.Version, o.Made, o.Changed = newID(), 1, now, now
	o.Lines = slices.Clone(o.Lines)
	for i := range o.Lines {
		l := &o.Lines[i]
		l.Line, l.Good, l.Spoilt, l.Holds = i+1, 0, 0, []Hold{}
	}
	if err := s.checkOrder(ctx, &o, nil); err != nil {
		return nil, nil, err
	}
	c := Change{OrderID: o.ID, Version: 1, At: now, By: by, What: fmt.Sprintf("taken in as %s: %d pieces, due %s", o.State, o.Pieces(), orNone(o.Due))}
	defer s.hand.changes.Add(1)
	if err := s.store.AddOrder(ctx, &o, c); err != nil {
		return nil, nil, err
	}
	if kept, err = s.store.Order(ctx, o.ID); err != nil {
		return nil, nil, err
	}
	notes, err = s.OrderNotes(ctx, kept)
	return kept, notes, err
}

func orNone(day string) string {
	if day == "" {
		return "no day"
	}
	return day
}

const (
	mostLinesOfOrder = 200
	mostWeight       = 1000.0
)

// checkOrder checks an order against what it was (nil: new) and tidies it.
func (s *Shop) checkOrder(ctx context.Context, o, was *Order) error {
	o.Customer, o.Note = strings.TrimSpace(o.Customer), strings.TrimSpace(o.Note)
	if err := checkText("customer", o.Customer, 200, true); err != nil {
		return err
	}
	if err := checkText("note", o.Note, 4000, false); err != nil {
		return err
	}
	if !(o.Weight >= 0 && o.Weight <= mostWeight) {
		return Errorf(Invalid, "the priority is %v; give 0 to %v, 1 for an ordinary order", o.Weight, mostWeight)
	}
	w, _, err := s.Workshop(ctx)
	if err != nil {
		return err
	}
	today := Day(s.now().In(w.Location()))
	for _, d := range []struct{ what, day, before string }{
		{"due day", o.Due, wasDay(was, func(o *Order) string { return o.Due })},
		{"day the goods come", o.Goods, wasDay(was, func(o *Order) string { return o.Goods })},
		{"promised day", o.Promised, wasDay(was, func(o *Order) string { return o.Promised })},
	} {
		if d.day == "" {
			continue
		}
		if _, err := DayTime(d.day, w.Location()); err != nil {
			return Errorf(Invalid, "the %s: %w", d.what, err)
		}
		// Days that were kept may pass; new ones must lie ahead.
		if d.day < today && d.day != d.before && d.what != "day the goods come" {
			return Errorf(Invalid, "the %s %s has passed: today is %s", d.what, d.day, today)
		}
	}
	if o.Due != "" && o.Goods > o.Due {
		return Errorf(Invalid, "the goods come on %s, after the due day %s", o.Goods, o.Due)
	}
	switch n := len(o.Lines); {
	case n == 0:
		return Errorf(Invalid, "the order has no design: give at least one with a quantity")
	case n > mostLinesOfOrder:
		return Errorf(Invalid, "the order has %d lines; at most %d are kept", n, mostLinesOfOrder)
	}
	for i := range o.Lines {
		if err := s.checkLine(ctx, o, &o.Lines[i], was); err != nil {
			return err
		}
	}
	return nil
}

func wasDay(was *Order, of func(*Order) string) string {
	if was == nil {
		return ""
	}
	return of(was)
}

func (s *Shop) checkLine(ctx context.Context, o *Order, l *OrderLine, was *Order) error {
	at := fmt.Sprintf("line %d", l.Line)
	switch {
	case l.Quantity < 1:
		return Errorf(Invalid, "%s: the quantity is %d; give 1 or more pieces", at, l.Quantity)
	case l.Quantity > floor.MaxQuantity:
		return Errorf(Invalid, "%s: the quantity is %d; at most %d can be planned", at, l.Quantity, floor.MaxQuantity)
	case l.MostMachines < 0:
		return Errorf(Invalid, "%s: it may be split over %d machines; give 0 (as the plan finds best) or more", at, l.MostMachines)
	}
	for _, c := range []struct {
		what, text string
		most       int
	}{{"placement", l.Placement, 200}, {"garment", l.Garment, 200}} {
		if err := checkText(c.what, c.text, c.most, false); err != nil {
			return Errorf(Invalid, "%s: %w", at, err)
		}
	}
	if len(l.Threads) > 200 {
		return Errorf(Invalid, "%s: %d thread colours; at most 200 are kept", at, len(l.Threads))
	}
	l.Threads = append([]string{}, l.Threads...)
	for i, t := range l.Threads {
		l.Threads[i] = strings.TrimSpace(t)
		if err := checkText("thread colour", t, 200, false); err != nil {
			return Errorf(Invalid, "%s: %w", at, err)
		}
	}
	if err := l.Floor().Clock(0).Validate(); err != nil {
		return Errorf(Invalid, "%s: %w", at, err)
	}
	if l.Holds == nil {
		l.Holds = []Hold{}
	}
	d, err := s.store.Design(ctx, l.DesignID)
	if CodeOf(err) == NotFound {
		return Errorf(NotFound, "%s: there is no design %q in the shop; add its file first", at, l.DesignID)
	}
	if err != nil {
		return err
	}
	kept := was != nil && was.Line(l.Line) != nil && was.Line(l.Line).DesignID == l.DesignID
	if d.Removed && !kept {
		return Errorf(Invalid, "%s: the design %q was taken off the list of designs; put it back first", at, d.Name)
	}
	return nil
}

// OrderNotes is what a planner should know about an order: lines that no
// machine can make, designs taken off the list, a due day that has passed.
func (s *Shop) OrderNotes(ctx context.Context, o *Order) ([]string, error) {
	notes := []string{}
	w, _, err := s.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	if o.State.Open() && o.Due != "" && o.Due < Day(s.now().In(w.Location())) {
		notes = append(notes, fmt.Sprintf("the due day %s has passed", o.Due))
	}
	stations, err := s.stations(ctx, w)
	if err != nil {
		return nil, err
	}
	for i := range o.Lines {
		l := &o.Lines[i]
		d, err := s.store.Design(ctx, l.DesignID)
		if err != nil {
			return nil, err
		}
		if d.Removed {
			notes = append(notes, fmt.Sprintf("line %d: its design %q was taken off the list of designs; the order keeps it, the plan leaves the line out until the design is put back", l.Line, d.Name))
			continue
		}
		var whys []string
		for _, st := range stations {
			threads, _ := book.OnNeedles(book.BlockThreads(l, d.Book()), st.Sheet.Needles)
			if why := st.unfit(l, d, threads); why != "" {
				whys = append(whys, st.Name+": "+why)
			}
		}
		if len(stations) > 0 && len(whys) == len(stations) {
			notes = append(notes, fmt.Sprintf("line %d: no machine can make %s: %s", l.Line, d.Name, strings.Join(whys, "; ")))
		}
		if n := len(l.Threads); n > d.ColourStops+1 {
			notes = append(notes, fmt.Sprintf("line %d: %d thread colours for %d colour blocks; the last ones are not used", l.Line, n, d.ColourStops+1))
		}
	}
	return notes, nil
}

// Orders is a page of the list of orders, and how many there are in all.
func (s *Shop) Orders(ctx context.Context, q OrderQuery) ([]*Order, int, error) {
	if !oneOf(q.Sort, []string{"", "due", "number", "customer"}) {
		return nil, 0, Errorf(Invalid, "sort is %q; it must be due, number or customer", q.Sort)
	}
	if q.Limit == 0 {
		q.Limit = 50
	}
	if q.Limit < 1 || q.Limit > 5000 || q.Offset < 0 {
		return nil, 0, Errorf(Invalid, "limit must lie between 1 and 5000, offset must not be negative")
	}
	for _, st := range q.States {
		if !slices.Contains(OrderStates, st) {
			return nil, 0, Errorf(Invalid, "there is no state %q; the states are %s", st, stateList())
		}
	}
	if err := checkText("search", q.Search, 200, false); err != nil {
		return nil, 0, err
	}
	return s.store.Orders(ctx, q)
}

func stateList() string {
	var out []string
	for _, st := range OrderStates {
		out = append(out, string(st))
	}
	return strings.Join(out, ", ")
}

// Order finds an order by its ID or its number.
func (s *Shop) Order(ctx context.Context, ref string) (*Order, error) {
	if n, err := strconv.Atoi(ref); err == nil && len(ref) < 12 {
		o, err := s.store.OrderNumbered(ctx, n)
		if CodeOf(err) == NotFound {
			return nil, Errorf(NotFound, "there is no order %d", n)
		}
		return o, err
	}
	o, err := s.store.Order(ctx, ref)
	if CodeOf(err) == NotFound {
		return nil, Errorf(NotFound, "there is no order %q", ref)
	}
	return o, err
}

// OrderHistory is all that was done to an order, oldest first.
func (s *Shop) OrderHistory(ctx context.Context, id string) ([]Change, error) {
	return s.store.OrderHistory(ctx, id)
}

// ChangeOrder changes what an order asks for. o.Version is the version it was
// made from: where the order has another by now it is a Conflict. State, holds
// and made pieces are changed by other verbs and stay as they are. Lines are
// known by their number; one with number 0 is new.
func (s *Shop) ChangeOrder(ctx context.Context, o Order, by string) (*Order, []string, error) {
	was, err := s.store.Order(ctx, o.ID)
	if err != nil {
		return nil, nil, err
	}
	if was.Version != o.Version {
		return nil, nil, Errorf(Conflict, "order %d was changed meanwhile: it is at version %d, not %d; look at it and do it again", was.Number, was.Version, o.Version)
	}
	if !was.State.Open() {
		return nil, nil, Errorf(Invalid, "order %d is %s: take it back first", was.Number, was.State)
	}
	o.Number, o.State, o.Made = was.Number, was.State, was.Made
	o.Lines = slices.Clone(o.Lines)
	high := 0
	for _, l := range was.Lines {
		high = max(high, l.Line)
	}
	seen := map[int]bool{}
	for i := range o.Lines {
		l := &o.Lines[i]
		if l.Line == 0 {
			high++
			l.Line = high
			l.Holds, l.Good, l.Spoilt = []Hold{}, 0, 0
		}
		if seen[l.Line] {
			return nil, nil, Errorf(Invalid, "line %d is there twice", l.Line)
		}
		seen[l.Line] = true
		if k := was.Line(l.Line); k != nil {
			l.Holds, l.Good, l.Spoilt = k.Holds, k.Good, k.Spoilt
			if l.Quantity > 0 && l.Quantity < k.Good {
				return nil, nil, Errorf(Invalid, "line %d: the quantity is %d, but %d pieces are sewn already", l.Line, l.Quantity, k.Good)
			}
			if l.DesignID != k.DesignID && k.Good+k.Spoilt > 0 {
				return nil, nil, Errorf(Invalid, "line %d: %d pieces are sewn already with its design; add another line for the other design", l.Line, k.Good+k.Spoilt)
			}
		}
	}
	for _, k := range was.Lines {
		if !seen[k.Line] && k.Good+k.Spoilt > 0 {
			return nil, nil, Errorf(Invalid, "line %d has %d sewn pieces and cannot be taken out; change its quantity instead", k.Line, k.Good+k.Spoilt)
		}
	}
	if err := s.checkOrder(ctx, &o, was); err != nil {
		return nil, nil, err
	}
	what := differences(was, &o)
	if what == "" {
		notes, err := s.OrderNotes(ctx, was)
		return was, notes, err
	}
	kept, err := s.keep(ctx, &o, by, what)
	if err != nil {
		return nil, nil, err
	}
	notes, err := s.OrderNotes(ctx, kept)
	return kept, notes, err
}

// keep writes an order that was changed in place, under the next version.
func (s *Shop) keep(ctx context.Context, o *Order, by, what string) (*Order, error) {
	o.Version++
	o.Changed = s.now().UTC()
	c := Change{OrderID: o.ID, Version: o.Version, At: o.Changed, By: by, What: what}
	defer s.hand.changes.Add(1)
	if err := s.store.ChangeOrder(ctx, o, c); err != nil {
		return nil, err
	}
	return s.store.Order(ctx, o.ID)
}

// differences says what was changed, for the history.
func differences(a, b *Order) string {
	var out []string
	say := func(what string, was, is any) {
		if w, i := fmt.Sprint(was), fmt.Sprint(is); w != i {
			out = append(out, fmt.Sprintf("%s %s (was %s)", what, quoteEmpty(i), quoteEmpty(w)))
		}
	}
	say("customer", a.Customer, b.Customer)
	say("due", orNone(a.Due), orNone(b.Due))
	say("goods come", orNone(a.Goods), orNone(b.Goods))
	say("promised", orNone(a.Promised), orNone(b.Promised))
	say("priority", a.Weight, b.Weight)
	if a.Note != b.Note {
		out = append(out, "note changed")
	}
	for i := range b.Lines {
		l := &b.Lines[i]
		k := a.Line(l.Line)
		at := fmt.Sprintf("line %d: ", l.Line)
		if k == nil {
			out = append(out, fmt.Sprintf("%s%d pieces added", at, l.Quantity))
			continue
		}
		say(at+"pieces", k.Quantity, l.Quantity)
		say(at+"placement", k.Placement, l.Placement)
		say(at+"garment", k.Garment, l.Garment)
		say(at+"threads", strings.Join(k.Threads, ", "), strings.Join(l.Threads, ", "))
		say(at+"most machines", k.MostMachines, l.MostMachines)
		say(at+"digitizing fee", k.Digitize, l.Digitize)
		if k.LineGoods != l.LineGoods {
			out = append(out, at+"what the goods ask of the machine")
		}
		if k.DesignID != l.DesignID {
			out = append(out, fmt.Sprintf("%sdesign %s (was %s)", at, l.DesignID, k.DesignID))
		}
	}
	for _, k := range a.Lines {
		if b.Line(k.Line) == nil {
			out = append(out, fmt.Sprintf("line %d taken out (%d pieces)", k.Line, k.Quantity))
		}
	}
	return strings.Join(out, "; ")
}

func quoteEmpty(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

// MoveOrder takes an order to another state. note is why, and may be empty.
// version is the version the caller saw; 0: whatever it is.
func (s *Shop) MoveOrder(ctx context.Context, id string, version int, to OrderState, note, by string) (*Order, error) {
	o, err := s.orderAt(ctx, id, version)
	if err != nil {
		return nil, err
	}
	if o.State == to {
		return o, nil
	}
	if !slices.Contains(o.State.Next(), to) {
		var may []string
		for _, st := range o.State.Next() {
			may = append(may, string(st))
		}
		return nil, Errorf(Invalid, "order %d is %s and cannot become %s; it can become %s", o.Number, o.State, to, strings.Join(may, ", "))
	}
	if to == Delivered && o.Left() > 0 {
		return nil, Errorf(Invalid, "order %d has %d pieces still to sew; record them, or change the quantity", o.Number, o.Left())
	}
	if err := checkText("note", note, 1000, false); err != nil {
		return nil, err
	}
	what := fmt.Sprintf("%s (was %s)", to, o.State)
	if note = strings.TrimSpace(note); note != "" {
		what += ": " + note
	}
	if to == Withdrawn || to == Requested || to == Sewn { // off the machines
		for i := range o.Lines {
			o.Lines[i].Holds = []Hold{}
		}
	}
	o.State = to
	return s.keep(ctx, o, by, what)
}

// orderAt finds an order and checks that it is still at the version seen.
func (s *Shop) orderAt(ctx context.Context, id string, version int) (*Order, error) {
	o, err := s.store.Order(ctx, id)
	if err != nil {
		return nil, err
	}
	if version != 0 && o.Version != version {
		return nil, Errorf(Conflict, "order %d was changed meanwhile: it is at version %d, not %d; look at it and do it again", o.Number, o.Version, version)
	}
	return o, nil
}

// PromiseOrder notes the day the customer was told.
func (s *Shop) PromiseOrder(ctx context.Context, id, day, by string) (*Order, error) {
	o, err := s.orderAt(ctx, id, 0)
	if err != nil {
		return nil, err
	}
	o.Promised = day
	o2, _, err := s.ChangeOrder(ctx, *o, by)
	return o2, err
}

// FindMachine finds a machine of the shop by its ID or name.
func (s *Shop) FindMachine(ctx context.Context, ref string) (*Machine, error) {
	all, err := s.Machines(ctx)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, m := range all {
		if m.ID == ref || strings.EqualFold(m.Name, strings.TrimSpace(ref)) {
			return m, nil
		}
		names = append(names, m.Name)
	}
	return nil, Errorf(NotFound, "the shop has no machine %q; it has %s", ref, listOr(names, "none yet"))
}

// FindDesign finds a design of the shop by its ID, the name of its file or its
// own name.
func (s *Shop) FindDesign(ctx context.Context, ref string) (*Design, error) {
	d, err := s.store.Design(ctx, ref)
	if err == nil || CodeOf(err) != NotFound {
		return d, err
	}
	page, _, err := s.store.Designs(ctx, DesignQuery{Search: ref, Limit: 500})
	if err != nil {
		return nil, err
	}
	var found []*Design
	for _, d := range page {
		if strings.EqualFold(d.Name, ref) || strings.EqualFold(d.File, ref) {
			found = append(found, d)
		}
	}
	switch len(found) {
	case 0:
		return nil, Errorf(NotFound, "the shop has no design %q", ref)
	case 1:
		return found[0], nil
	}
	return nil, Errorf(Invalid, "%d designs are called %q; name it by its ID", len(found), ref)
}

// finite refuses what is no number of seconds, speed and so on.
func finite(what string, v, hi float64) error {
	if math.IsNaN(v) || v < 0 || v > hi {
		return Errorf(Invalid, "the %s is %v; give 0 to %v", what, v, hi)
	}
	return nil
}
