package book

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"
)

// Goods is all of a line that a quote's price is made of and that its paper names, as
// one short text: lines that have the same are of one price in the same shop. What does not bear on
// that is not in it: sizes, days, samples, where people have put the line, what is sewn of it.
func (l *OrderLine) Goods() string {
	type garment struct {
		Colour  string
		Threads []string
	}
	x := struct {
		Line, Quantity               int
		Design, Placement, Garment   string
		Threads, Lettering           []string
		Digitize, Alone              bool
		Goods                        LineGoods
		Garments                     []garment
		Colours                      []string // of garments, where threads hang on them
		Names                        []string // their files; in which order they are sewn costs nothing
		Partner, PartnerAsksForPiece string
		PartnerDays                  int
	}{
		Line: l.Line, Quantity: l.Quantity, Design: l.DesignID, Placement: l.Placement, Garment: l.Garment,
		Threads: append([]string{}, l.Threads...), Lettering: append([]string{}, l.NameThreads...), Digitize: l.Digitize,
		Alone: l.NamesAlone, Goods: l.LineGoods, Partner: l.Partner.Name, PartnerDays: l.Partner.Days,
	}
	x.Goods.Job = l.Kinds()
	if l.Partner.Sews() {
		x.PartnerAsksForPiece = l.Partner.Price.String()
	}
	for _, g := range l.GarmentThreads {
		x.Garments = append(x.Garments, garment{g.Colour, append([]string{}, g.Threads...)})
	}
	if len(l.GarmentThreads) > 0 {
		for _, r := range l.Sizes {
			if r.Pieces > 0 && !slices.Contains(x.Colours, r.Colour) {
				x.Colours = append(x.Colours, r.Colour)
			}
		}
	}
	for _, n := range l.Names {
		x.Names = append(x.Names, n.DesignID)
	}
	slices.Sort(x.Names)
	b, err := json.Marshal(x)
	if err != nil {
		panic(err) // texts and numbers
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:12])
}

// IsFor reports whether an order asks for what the quote was made for. A quote that
// an earlier version kept says less of its goods; then what it says must be the same.
func (q *Quote) IsFor(o *Order) bool {
	if len(q.Lines) != len(o.Lines) {
		return false
	}
	for i := range q.Lines {
		k := &q.Lines[i]
		l := o.Line(k.Line)
		switch {
		case l == nil:
			return false
		case k.Goods != "":
			if k.Goods != l.Goods() {
				return false
			}
		case k.Quantity != l.Quantity || k.DesignID != l.DesignID || k.Placement != l.Placement || k.Garment != l.Garment ||
			k.Partner != l.Partner.Name || (k.Names != nil) != l.Named():
			return false
		}
	}
	return true
}
