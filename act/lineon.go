package act

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// LineOn is the line of an order that is meant where somebody names only a machine: the only line, else the
// only one that is on the machine, else the only one with pieces left that the plan has there, else the only one with
// pieces left. Where that does not tell, it is an error that names them.
func (s *Shop) LineOn(ctx context.Context, o *book.Order, machineID string) (int, error) {
	if len(o.Lines) == 1 {
		return o.Lines[0].Line, nil
	}
	var running, planned, left []int
	for i := range o.Lines {
		l := &o.Lines[i]
		if slices.ContainsFunc(l.Holds, func(h book.Hold) bool { return h.Running && h.MachineID == machineID }) {
			running = append(running, l.Line)
		}
		if l.Left() > 0 {
			left = append(left, l.Line)
		}
	}
	p, err := s.Plans.Last(ctx)
	if err != nil {
		return 0, err
	}
	if p != nil {
		for _, lot := range p.Lots {
			if lot.OrderID == o.ID && lot.MachineID == machineID && slices.Contains(left, lot.Line) && !slices.Contains(planned, lot.Line) {
				planned = append(planned, lot.Line)
			}
		}
	}
	for _, is := range [][]int{running, planned, left} {
		if len(is) == 1 {
			return is[0], nil
		}
	}
	var all words.List
	for i := range o.Lines {
		l := &o.Lines[i]
		line, left, quantity := words.Whole(l.Line), words.Whole(l.Left()), words.Whole(l.Quantity)
		if what := strings.Join(slices.DeleteFunc([]string{l.Garment, l.Placement}, func(t string) bool { return t == "" }), ", "); what != "" {
			all.Say("refused.line-left", words.Args{"line": line, "what": words.Name(what), "left": left, "all": quantity})
		} else {
			all.Say("refused.line-left-plain", words.Args{"line": line, "left": left, "all": quantity})
		}
	}
	return 0, shop.At("line", shop.Saying(shop.Invalid, words.Say("refused.which-line", words.Args{
		"order": words.Name(strconv.Itoa(o.Number)), "lines": all})))
}
