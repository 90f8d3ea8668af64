package orders

import (
	"fmt"

	"needlepace/book"
	"needlepace/shop"
)

// atPartner counts what partners made: a line that is back is sewn, all of it. It says
// what that does to the order's state, for the history.
func atPartner(o, was *book.Order) (what string, err error) {
	back, again := false, false
	for i := range o.Lines {
		l := &o.Lines[i]
		k := was.Line(l.Line)
		made := k != nil && !k.Partner.Back.IsZero()
		at := func(key, format string, a ...any) error {
			return shop.At(fmt.Sprintf("line[%d].%s", i+1, key), shop.Invalidf("line %d: "+format, append([]any{l.Line}, a...)...))
		}
		switch is := !l.Partner.Back.IsZero(); {
		case l.Partner.Sews() && !made && l.Good+l.Spoilt > 0:
			return "", at("partner", "sewn here already: %s; make a line of its own of what the partner is to make",
				pieces(l.Good+l.Spoilt))
		case is && !o.State.Planned() && o.State != book.Sewn:
			return "", at("partner_back", "the order is %s: it is back from a partner when it is %s first", o.State, book.Agreed)
		case is:
			back = back || !made
			l.Good = l.Quantity
		case made && l.Delivered > 0:
			return "", at("partner_back", "delivered of it already: %s; take that back first", pieces(l.Delivered))
		case made:
			again = true
			l.Good = 0
		}
		if l.Partner.Sews() {
			l.Holds = []book.Hold{}
		}
	}
	to := o.State
	switch {
	case back && o.Left() == 0:
		to = book.Sewn
	case back && o.State == book.Agreed, again && o.State == book.Sewn:
		to = book.Sewing
	}
	if to == o.State {
		return "", nil
	}
	what = fmt.Sprintf("; the order is %s (was %s)", to, o.State)
	o.State = to
	return what, nil
}
