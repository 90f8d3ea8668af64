package book

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"needlepace/words"
)

// Delivery is a number of a line's garments that come on a day.
type Delivery struct {
	Day    words.Day `json:"day" toml:"day"` // they are to come
	Pieces int       `json:"pieces" toml:"pieces"`
	Came   words.Day `json:"came,omitzero" toml:"came"` // they came; zero: not yet
}

// Batch is some of the pieces that are left of a line, by when they can be begun.
type Batch struct {
	N      int // of the delivery, from 1; 0: what does not come in deliveries
	Pieces int
	From   words.Day // first day; zero: any time
	Late   words.Day // the day on which they were to be here and are not; zero: none passed
}

// Batches are the pieces that are left by when they can be sewn, as seen on a day:
// their garments are there, and the customer has approved the sample.
func (l *OrderLine) Batches(goods, today words.Day) []Batch {
	all := l.GarmentBatches(goods, today)
	from, _ := l.Approval.From(today)
	for i := range all {
		if from.After(all[i].From) {
			all[i].From = from
		}
	}
	return all
}

// GarmentBatches are the pieces that are left by when their garments come, as seen
// on a day: first those of no delivery, which come with the order's goods, then the
// deliveries that are here, then the others by their days. Garments that were to
// come and are not here come on the next day at the earliest. What is sewn
// already was of the first.
func (l *OrderLine) GarmentBatches(goods, today words.Day) []Batch {
	all := []Batch{{Pieces: l.Quantity, From: goods}}
	for i, d := range l.Deliveries {
		b := Batch{N: i + 1, Pieces: d.Pieces}
		switch {
		case !d.Came.IsZero():
		case d.Day.Before(today):
			b.From, b.Late = today.Add(1), d.Day
		default:
			b.From = d.Day
		}
		all[0].Pieces -= d.Pieces
		all = append(all, b)
	}
	slices.SortStableFunc(all, func(a, b Batch) int { return a.From.Compare(b.From) })
	sewn := l.Good
	for i := range all {
		n := max(0, min(sewn, all[i].Pieces))
		all[i].Pieces -= n
		sewn -= n
	}
	return slices.DeleteFunc(all, func(b Batch) bool { return b.Pieces <= 0 })
}

// DeliveriesText writes deliveries as people may type them, one a line:
// "2026-03-10: 40, came 2026-03-11".
func DeliveriesText(all []Delivery) string {
	var out []string
	for _, d := range all {
		s := d.Day.String() + ": " + strconv.Itoa(d.Pieces)
		if !d.Came.IsZero() {
			s += ", came " + d.Came.String()
		}
		out = append(out, s)
	}
	return strings.Join(out, "\n")
}

var oneDelivery = regexp.MustCompile(`^([0-9-]+)[\s:=]+([0-9]+)(?:[\s,]+came\s+([0-9-]+))?$`)

// ParseDeliveries reads what DeliveriesText writes; a semicolon does as a new
// line.
func ParseDeliveries(s string) (out []Delivery, err error) {
	for line := range strings.FieldsFuncSeq(s, func(c rune) bool { return c == '\n' || c == ';' || c == '\r' }) {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		m := oneDelivery.FindStringSubmatch(line)
		if m == nil {
			return nil, fmt.Errorf("%q is no delivery of garments; write: 2026-03-10: 40", line)
		}
		var d Delivery
		if d.Day, err = words.ParseDay(m[1]); err != nil {
			return nil, err
		}
		if d.Came, err = words.ParseDay(m[3]); err != nil {
			return nil, err
		}
		if d.Pieces, err = strconv.Atoi(m[2]); err != nil {
			return nil, fmt.Errorf("%q is no number of garments", m[2])
		}
		out = append(out, d)
	}
	return out, nil
}

// mostDeliveries is how many deliveries of garments a line may have.
const mostDeliveries = 100

// CheckDeliveries says what is wrong with the deliveries of a line.
func CheckDeliveries(l *OrderLine) error {
	if n := len(l.Deliveries); n > mostDeliveries {
		return fmt.Errorf("it has %d deliveries of garments; at most %d are kept", n, mostDeliveries)
	}
	sum := 0
	for i, d := range l.Deliveries {
		switch {
		case d.Day.IsZero():
			return fmt.Errorf("a delivery of %d garments has no day", d.Pieces)
		case d.Pieces < 1:
			return fmt.Errorf("the delivery of %s has %d garments; give 1 or more", d.Day.Text(nil), d.Pieces)
		case slices.ContainsFunc(l.Deliveries[:i], func(x Delivery) bool { return x.Day == d.Day }):
			return fmt.Errorf("two deliveries are to come on %s; put them together", d.Day.Text(nil))
		}
		sum += d.Pieces
	}
	if sum > l.Quantity {
		return fmt.Errorf("%d garments are to come in deliveries; the line has %s", sum,
			words.Count(l.Quantity, "piece").Text(nil))
	}
	return nil
}
