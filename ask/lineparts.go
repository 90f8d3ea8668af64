package ask

import (
	"context"
	"slices"
	"strings"

	"needlepace/book"
)

// lineID names a line of an order in all orders.
type lineID struct {
	order string
	line  int
}

// madeOf are the good pieces that were reported by the colour of their garments.
func madeOf(reports []book.Report) map[lineID]map[string]int {
	out := map[lineID]map[string]int{}
	for i := range reports {
		r := &reports[i]
		if r.Colour == "" {
			continue
		}
		id := lineID{r.OrderID, r.Line}
		if out[id] == nil {
			out[id] = map[string]int{}
		}
		out[id][r.Colour] += r.Good
	}
	return out
}

// leftOf are the parts of a line that are left to sew.
func leftOf(ctx context.Context, from PlanFrom, o *book.Order, l *book.OrderLine) ([]book.Part, error) {
	if len(l.Sizes) == 0 {
		return l.Parts(nil), nil
	}
	reports, err := from.Reports(ctx)
	if err != nil {
		return nil, err
	}
	return l.Parts(madeOf(reports)[lineID{o.ID, l.Line}]), nil
}

// partID is a part's job; a line that is all alike is the job it always was.
func partID(o *book.Order, l *book.OrderLine, p *book.Part) string {
	if len(l.GarmentThreads) == 0 {
		return jobID(o, l)
	}
	return jobID(o, l) + "#" + p.Colour
}

// partName is a part for people.
func partName(o *book.Order, l *book.OrderLine, p *book.Part) string {
	name := book.LineName(o, l.Line) + " " + o.Customer
	if len(l.GarmentThreads) > 0 && p.Colour != "" {
		name += ", " + strings.Join(p.Colours, ", ")
	}
	return name
}

// recones is the time to put other cones on between the garment colours of a line
// whose threads differ, on all heads, in s.
func (st *station) recones(l *book.OrderLine, d *book.Design) float64 {
	if len(l.GarmentThreads) == 0 || st.Sheet.Needles == 1 {
		return 0
	}
	whole := *l
	whole.Good = 0
	on, n := []string{}, 0
	for i, p := range whole.Parts(nil) {
		threads, _ := book.OnNeedles(book.BlockThreads(p.Line, d), st.Sheet.Needles)
		for _, t := range threads {
			if i > 0 && !slices.ContainsFunc(on, func(s string) bool { return strings.EqualFold(s, t) }) {
				n++
			}
		}
		on = threads
	}
	return st.cone() * float64(n)
}

// sizesOf are the garments of a lot: of its part, those that the lots before it
// in the plan leave, as many as it has pieces.
func sizesOf(part *book.Part, before, pieces int) []book.SizeRow {
	_, rest := book.Take(part.Rows, before)
	first, _ := book.Take(rest, pieces)
	return first
}

// PartOf is the part of a line that is left in a garment colour; of none: the
// first that is left.
func PartOf(
	ctx context.Context, from PlanFrom, o *book.Order, l *book.OrderLine, colour string,
) (*book.Part, error) {
	is := func(c string) bool { return strings.EqualFold(c, colour) }
	if colour != "" && !slices.ContainsFunc(l.GarmentColours(), is) {
		return nil, Missing("line %d has no garments in %q", l.Line, colour).At("colour")
	}
	parts, err := leftOf(ctx, from, o, l)
	if err != nil {
		return nil, err
	}
	for i := range parts {
		if colour == "" || slices.ContainsFunc(parts[i].Colours, is) {
			return &parts[i], nil
		}
	}
	if colour == "" {
		return &book.Part{Line: l}, nil
	}
	return nil, Errorf("all pieces of %s in %s are sewn", book.LineName(o, l.Line), colour).At("colour")
}
