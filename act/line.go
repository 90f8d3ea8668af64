package act

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// workable finds a line that the floor may work on, and the state it is in.
func (s *Shop) workable(ctx context.Context, id string, line int) (*book.Order, *book.OrderLine, book.Seen, error) {
	seen, err := s.store.Seen(ctx)
	if err != nil {
		return nil, nil, seen, err
	}
	o, l, err := s.Orders.Workable(ctx, id, line)
	if err == nil && l.Partner.Sews() {
		err = shop.Saying(shop.Invalid, words.Say("refused.partner-sews", words.Args{"line": words.Whole(l.Line),
			"order": words.Name(strconv.Itoa(o.Number)), "partner": words.Name(l.Partner.Name)}))
	}
	return o, l, seen, err
}

// Start says that a line is on a machine now: the plan leaves it there. One
// machine sews one line at a time. quantity 0 is what the plan leaves the machine of a line that several
// sew, else all that is left; colour is of the garments that are meant, where the line's threads differ by it, and may be
// empty.
func (s *Shop) Start(
	ctx context.Context, id string, line int, machineID string, quantity int, colour, by string,
) (*book.Order, error) {
	o, l, seen, err := s.workable(ctx, id, line)
	if err != nil {
		return nil, err
	}
	name := book.LineName(o, line)
	if err := s.goodsCome(ctx, o, l); err != nil {
		return nil, err
	}
	if l.Left() == 0 {
		return nil, shop.Saying(shop.Invalid, words.Say("refused.all-sewn", words.Args{"name": words.Name(name), "n": words.Whole(l.Quantity)}))
	}
	left := l.Left()
	if colour != "" {
		part, err := ask.PartOf(ctx, s.Asked(), o, l, colour)
		if err != nil {
			return nil, err
		}
		left, colour = part.Line.Left(), part.Colour
	}
	if quantity < 0 || quantity > left {
		return nil, shop.Saying(shop.Invalid, words.Say("refused.to-start", words.Args{"n": words.Whole(quantity),
			"name": words.Name(name), "left": words.Whole(left)}))
	}
	if quantity == 0 {
		part, err := s.partPlanned(ctx, o.ID, line, machineID, colour)
		if err != nil {
			return nil, err
		}
		quantity = min(part, left)
	}
	want, err := ask.Expect(ctx, s.Asked(), l, machineID)
	if err != nil {
		return nil, err
	}
	on, err := s.Orders.SewingOn(ctx, machineID)
	if err != nil {
		return nil, err
	}
	if on != "" && on != name {
		return nil, shop.Saying(shop.Conflict, words.Say("refused.on-machine", words.Args{"name": words.Name(on),
			"machine": words.Name(want.Machine.Name)}))
	}
	l.Holds = slices.DeleteFunc(l.Holds, func(h book.Hold) bool { return h.MachineID == machineID })
	if quantity, err = s.shareOut(ctx, l, want, quantity, left, colour); err != nil {
		return nil, err
	}
	if colour != "" && quantity == 0 {
		quantity = left
	}
	if quantity == l.Left() {
		quantity = 0
	}
	l.Holds = append(l.Holds, book.Hold{MachineID: machineID, Quantity: quantity, Running: true, Colour: colour,
		At: s.now().UTC().Truncate(time.Second)})
	o.State = book.Sewing
	// Another line may have come on the machine meanwhile: the planned orders say so.
	seen = book.Seen{Orders: seen.Orders, Workshop: seen.Workshop, Machines: seen.Machines}
	what := fmt.Sprintf("line %d started on %s", line, want.Machine.Name)
	return s.keep(ctx, seen, o, by, what, shop.Keeping{})
}

// shareOut gives a machine that begins its part of what is left of a line (of a garment colour), and the others that had all of it what
// is left then: pieces where they were said, else each as many as it is fast. One that the line was only held on for later has none of it
// where nobody said how many; the floor has decided.
func (s *Shop) shareOut(
	ctx context.Context, l *book.OrderLine, on *ask.Expected, pieces, left int, colour string,
) (int, error) {
	if pieces == 0 {
		l.Holds = slices.DeleteFunc(l.Holds, func(h book.Hold) bool { return h.Colour == colour && h.Quantity == 0 && !h.Running })
	}
	var open []int // holds of all that is left
	for i, h := range l.Holds {
		switch {
		case h.Colour != colour:
		case h.Quantity > 0:
			left -= h.Quantity
		default:
			open = append(open, i)
		}
	}
	if len(open) == 0 || left < 2 {
		return pieces, nil
	}
	if pieces == 0 {
		pace, all := on.Pace(), on.Pace()
		for _, i := range open {
			other, err := ask.Expect(ctx, s.Asked(), l, l.Holds[i].MachineID)
			if err != nil {
				return 0, err
			}
			all += other.Pace()
		}
		pieces = min(max(1, int(float64(left)*pace/all)), left-1)
	}
	left -= pieces
	for k, i := range open { // as a rule one
		part := left / (len(open) - k)
		left -= part
		if l.Holds[i].Quantity = part; part <= 0 {
			l.Holds[i].Quantity = -1 // it has nothing of it any more
		}
	}
	l.Holds = slices.DeleteFunc(l.Holds, func(h book.Hold) bool { return h.Quantity < 0 })
	return pieces, nil
}

// partPlanned is how many pieces of a line, of a garment colour where one is given, the kept plan still leaves a
// machine; 0 where it leaves none to others.
func (s *Shop) partPlanned(ctx context.Context, order string, line int, machineID, colour string) (pieces int, err error) {
	p, err := s.Plans.Last(ctx)
	if err != nil || p == nil {
		return 0, err
	}
	reports, err := s.Orders.Reports(ctx, order)
	if err != nil {
		return 0, err
	}
	others := 0
	for i, sewn := range p.Sewn(reports) {
		l := &p.Lots[i]
		switch left := l.Quantity - sewn; {
		case l.OrderID != order || l.Line != line || colour != "" && l.Colour != "" && l.Colour != colour:
		case l.MachineID == machineID:
			pieces += left
		default:
			others += left
		}
	}
	if others == 0 {
		return 0, nil
	}
	return pieces, nil
}

// HoldQuestion asks for a line to be put on a machine, whatever the plan would
// find better.
type HoldQuestion struct {
	Order   string // its ID
	Line    int
	Machine string    // ID
	At      time.Time // not before, and then if it can be; zero: any time
	Saw     *book.Seen
}

// HoldLine puts a line on a machine. It takes the place of what the line was held
// on before.
func (s *Shop) HoldLine(ctx context.Context, q HoldQuestion, by string) (*book.Order, error) {
	o, l, seen, err := s.workable(ctx, q.Order, q.Line)
	if err != nil {
		return nil, err
	}
	if err := still(q.Saw, seen); err != nil {
		return nil, err
	}
	want, err := ask.Expect(ctx, s.Asked(), l, q.Machine)
	if err != nil {
		return nil, err
	}
	for _, h := range l.Holds {
		if h.Running && h.MachineID != q.Machine {
			return nil, shop.Errorf(shop.Conflict, "%s is on a machine now; take it off first",
				book.LineName(o, q.Line))
		}
	}
	hold := book.Hold{MachineID: q.Machine}
	what := fmt.Sprintf("line %d held on %s", q.Line, want.Machine.Name)
	if !q.At.IsZero() {
		w, _, err := s.Setups.Workshop(ctx)
		if err != nil {
			return nil, err
		}
		hold.At = q.At.UTC()
		what += " from " + w.Zone.Moment(q.At).Text(&words.Writer{Zone: w.Zone})
	}
	l.Holds = []book.Hold{hold}
	if q.Saw == nil { // nobody looked at what it does to the plan
		seen = book.Seen{Workshop: seen.Workshop, Machines: seen.Machines}
	}
	return s.keep(ctx, seen, o, by, what, shop.Keeping{})
}
