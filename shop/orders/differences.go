package orders

import (
	"fmt"
	"slices"
	"strings"

	"needlepace/book"
	"needlepace/words"
)

// Differences says what one state of an order has otherwise than another, as the history has it: "pieces 50 (was 48)";
// empty: nothing.
func Differences(a, b *book.Order) string {
	var out []string
	say := func(what string, was, is any) {
		if w, i := fmt.Sprint(was), fmt.Sprint(is); w != i {
			out = append(out, fmt.Sprintf("%s %s (was %s)", what, quoteEmpty(i), quoteEmpty(w)))
		}
	}
	say("customer", a.Customer, b.Customer)
	say("address", strings.Join(a.CustomerAddress, ", "), strings.Join(b.CustomerAddress, ", "))
	say("purchase order", a.PurchaseOrder, b.PurchaseOrder)
	say("due", orNone(a.Due), orNone(b.Due))
	say("latest day", orNone(a.Latest), orNone(b.Latest))
	say("goods come", orNone(a.Goods), orNone(b.Goods))
	say("promised", orNone(a.Promised), orNone(b.Promised))
	say("priority", a.Weight, b.Weight)
	say("in one delivery", yesNo(a.Together), yesNo(b.Together))
	if a.Note != b.Note {
		out = append(out, "note changed")
	}
	for i := range b.Lines {
		l := &b.Lines[i]
		k := a.Line(l.Line)
		at := fmt.Sprintf("line %d: ", l.Line)
		if k == nil {
			out = append(out, fmt.Sprintf("%s%s added", at, pieces(l.Quantity)))
			continue
		}
		say(at+"pieces", k.Quantity, l.Quantity)
		say(at+"placement", k.Placement, l.Placement)
		say(at+"garment", k.Garment, l.Garment)
		say(at+"threads", strings.Join(k.Threads, ", "), strings.Join(l.Threads, ", "))
		say(at+"sizes", inLine(book.SizesText(k.Sizes)), inLine(book.SizesText(l.Sizes)))
		if !slices.Equal(k.Names, l.Names) || k.NamesAlone != l.NamesAlone {
			out = append(out, at+"names changed: "+quoteEmpty(namesIn(l)))
		}
		say(at+"threads of the names", strings.Join(k.NameThreads, ", "), strings.Join(l.NameThreads, ", "))
		say(at+"garments come", deliveries(k.Deliveries), deliveries(l.Deliveries))
		say(at+"approval expected", orNone(k.Approval.Due), orNone(l.Approval.Due))
		say(at+"sample sent", orNone(k.Approval.Sent), orNone(l.Approval.Sent))
		say(at+"approved", orNone(k.Approval.Given), orNone(l.Approval.Given))
		say(at+"made by", k.Partner.Name, l.Partner.Name)
		say(at+"days at the partner", k.Partner.Days, l.Partner.Days)
		if !k.Partner.Price.Equal(l.Partner.Price.Dec) { // a history tells no prices
			out = append(out, at+"the partner's price changed")
		}
		say(at+"sent to the partner", orNone(k.Partner.Sent), orNone(l.Partner.Sent))
		say(at+"back from the partner", orNone(k.Partner.Back), orNone(l.Partner.Back))
		say(at+"threads by garment colour", inLine(book.ThreadsText(k.GarmentThreads)),
			inLine(book.ThreadsText(l.GarmentThreads)))
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
			out = append(out, fmt.Sprintf("line %d taken out (%s)", k.Line, pieces(k.Quantity)))
		}
	}
	return strings.Join(out, "; ")
}

// deliveries are those of garments in words.
func deliveries(all []book.Delivery) string {
	var out []string
	for _, d := range all {
		s := fmt.Sprintf("%d on %s", d.Pieces, d.Day.Text(nil))
		if !d.Came.IsZero() {
			s += fmt.Sprintf(" (came %s)", d.Came.Text(nil))
		}
		out = append(out, s)
	}
	return strings.Join(out, "; ")
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// inLine is a list that stands on several lines in one.
func inLine(s string) string { return strings.ReplaceAll(s, "\n", "; ") }

func quoteEmpty(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

// namesIn are the names of a line for the history: how many, and the first of them.
func namesIn(l *book.OrderLine) string {
	var out []string
	for i, n := range l.Names {
		if i == 12 {
			out = append(out, "…")
			break
		}
		out = append(out, n.Name)
	}
	if len(out) == 0 {
		return ""
	}
	return words.Count(len(l.Names), "name").Text(nil) + map[bool]string{true: " alone"}[l.NamesAlone] + ": " + strings.Join(out, ", ")
}
