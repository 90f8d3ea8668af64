package orders

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// Most is how many orders are ever listed at once.
const Most = 100_000

// Orders keeps orders, their history and what the floor reported of them.
type Orders struct {
	store    orderStore
	now      func() time.Time
	zone     func(context.Context) (words.Zone, error) // of the shop's days
	reported shop.Kept[[]book.Report]                  // those that stand
}

// orderStore is what orders need of a store: a line knows its design.
type orderStore interface {
	shop.OrderStore
	Design(ctx context.Context, id string) (*shop.Design, error)
}

// New keeps orders in a store. zone is the time zone of the shop's days.
func New(store orderStore, now func() time.Time, zone func(context.Context) (words.Zone, error)) *Orders {
	return &Orders{store: store, now: now, zone: zone}
}

// Add keeps a new order. Its ID, number, version and made pieces are the
// shop's to give; a State may be Requested (the default) or Agreed.
func (s *Orders) Add(ctx context.Context, o book.Order, by string) (*book.Order, error) {
	c, err := s.begin(ctx, &o, by)
	if err != nil {
		return nil, err
	}
	if err := s.store.AddOrder(ctx, &o, c); err != nil {
		return nil, err
	}
	return s.store.Order(ctx, o.ID)
}

// begin makes a new order of what is asked for, checked, with the first entry of
// its history.
func (s *Orders) begin(ctx context.Context, o *book.Order, by string) (c book.Change, err error) {
	if o.State == "" {
		o.State = book.Requested
	}
	if o.State != book.Requested && o.State != book.Agreed {
		return c, shop.Invalidf("a new order is %s or %s, not %q", book.Requested, book.Agreed, o.State)
	}
	now := s.now().UTC()
	if o.Made.IsZero() || o.Made.After(now) {
		o.Made = now
	}
	o.ID, o.Version, o.Changed = shop.NewID(), 1, now
	o.Lines = slices.Clone(o.Lines)
	for i := range o.Lines {
		l := &o.Lines[i]
		l.Line, l.Good, l.Spoilt, l.Again, l.Delivered, l.Holds = i+1, 0, 0, 0, 0, []book.Hold{}
	}
	if err := s.checkOrder(ctx, o, nil); err != nil {
		return c, err
	}
	for i := range o.Lines {
		if l := &o.Lines[i]; !l.Partner.Back.IsZero() {
			return c, shop.At(fmt.Sprintf("line[%d].partner_back", i+1), shop.Invalidf("line %d: a new order is not back from a "+
				"partner yet: take it in, then say so", l.Line))
		}
	}
	asks := pieces(o.Pieces())
	if len(o.Lines) == 0 {
		asks = o.Roughs[0].What().Text(nil)
	}
	return book.Change{OrderID: o.ID, Version: 1, At: now, By: by,
		What: fmt.Sprintf("taken in as %s: %s, due %s", o.State, asks, orNone(o.Due))}, nil
}

// Begin makes new orders ready to be kept together; errs are what is wrong with
// each, nil where nothing is. Nothing is kept.
func (s *Orders) Begin(ctx context.Context, all []shop.NewOrder, by string) (errs []error, err error) {
	zone, err := s.zone(ctx)
	if err != nil {
		return nil, err
	}
	// The shop's zone and each design are looked up once.
	quick := New(&knownDesigns{orderStore: s.store, known: map[string]*shop.Design{}}, s.now,
		func(context.Context) (words.Zone, error) { return zone, nil })
	errs = make([]error, len(all))
	for i := range all {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		all[i].Change, errs[i] = quick.begin(ctx, all[i].Order, by)
	}
	return errs, nil
}

// knownDesigns is a store that looks each design up once.
type knownDesigns struct {
	orderStore
	known map[string]*shop.Design
}

// Design is the design, as it was when it was looked up first.
func (k *knownDesigns) Design(ctx context.Context, id string) (*shop.Design, error) {
	if d := k.known[id]; d != nil {
		return d, nil
	}
	d, err := k.orderStore.Design(ctx, id)
	if err == nil {
		k.known[id] = d
	}
	return d, err
}

// today is the day it is in the shop.
func (s *Orders) today(ctx context.Context) (words.Day, error) {
	zone, err := s.zone(ctx)
	return zone.Day(s.now()), err
}

// pieces is a number of pieces in words.
func pieces(n int) string { return words.Count(n, "piece").Text(nil) }

func orNone(day words.Day) string {
	if day.IsZero() {
		return "no day"
	}
	return day.Text(nil)
}

// List is a page of the list of orders, and how many there are in all.
func (s *Orders) List(ctx context.Context, q shop.OrderQuery) ([]*book.Order, int, error) {
	if q.Sort != "" && !slices.Contains(shop.OrderSorts, q.Sort) {
		return nil, 0, shop.Invalidf("sort is %q; it must be one of %s", q.Sort, strings.Join(shop.OrderSorts, ", "))
	}
	if q.Limit == 0 {
		q.Limit = 50
	}
	if q.Limit < 1 || q.Limit > 5000 || q.Offset < 0 {
		return nil, 0, shop.Invalidf("limit must lie between 1 and 5000, offset must not be negative")
	}
	for _, st := range q.States {
		if !slices.Contains(book.OrderStates, st) {
			return nil, 0, shop.Invalidf("there is no state %q; the states are %s", st, stateList())
		}
	}
	if err := shop.CheckText("search", q.Search, 200, false); err != nil {
		return nil, 0, err
	}
	return s.store.Orders(ctx, q)
}

func stateList() string {
	var out []string
	for _, st := range book.OrderStates {
		out = append(out, string(st))
	}
	return strings.Join(out, ", ")
}

// Get finds an order by its ID or its number.
func (s *Orders) Get(ctx context.Context, ref string) (*book.Order, error) {
	if n, err := strconv.Atoi(ref); err == nil && len(ref) < 12 {
		o, err := s.store.OrderNumbered(ctx, n)
		if shop.CodeOf(err) == shop.NotFound {
			return nil, shop.Saying(shop.NotFound, words.Say("refused.no-order", words.Args{"order": words.Name(strconv.Itoa(n))}))
		}
		return o, err
	}
	o, err := s.store.Order(ctx, ref)
	if shop.CodeOf(err) == shop.NotFound {
		return nil, shop.Saying(shop.NotFound, words.Say("refused.no-order", words.Args{"order": words.Name(ref)}))
	}
	return o, err
}

// pricedChange is how earlier versions kept a quote in the history: with its
// sum, which operators are not to read.
var pricedChange = regexp.MustCompile(`^(quote \S+): .* without tax(, day to promise .*)$`)

func unpriced(what string) string { return pricedChange.ReplaceAllString(what, "$1$2") }

// History is all that was done to an order, oldest first. It tells no
// prices: those stand in the quotes.
func (s *Orders) History(ctx context.Context, id string) ([]book.Change, error) {
	all, err := s.store.OrderHistory(ctx, id)
	for i := range all {
		all[i].What = unpriced(all[i].What)
	}
	return all, err
}

// Change changes what an order asks for. o.Version is the version it was
// made from: where the order has another by now it is a Conflict. State, holds
// and made pieces are changed by other verbs and stay as they are. Lines are
// known by their number; one with number 0 is new.
func (s *Orders) Change(ctx context.Context, o book.Order, by string) (*book.Order, error) {
	was, err := s.store.Order(ctx, o.ID)
	if err != nil {
		return nil, err
	}
	if was.Version != o.Version {
		return nil, changed(was, o.Version)
	}
	if !was.State.Open() {
		return nil, shop.Invalidf("order %d is %s: take it back first", was.Number, was.State)
	}
	o.Number, o.State, o.Made, o.Roughs = was.Number, was.State, was.Made, was.Roughs
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
			l.Holds, l.Good, l.Spoilt, l.Again, l.Delivered = []book.Hold{}, 0, 0, 0, 0
		}
		if seen[l.Line] {
			return nil, shop.Invalidf("line %d is there twice", l.Line)
		}
		seen[l.Line] = true
		l.Foretold = nil
		if k := was.Line(l.Line); k != nil {
			l.Foretold = k.Foretold
			l.Holds, l.Good, l.Spoilt, l.Again, l.Delivered = k.Holds, k.Good, k.Spoilt, k.Again, k.Delivered
			if l.Quantity > 0 && l.Quantity == k.Good { // nothing is left for a machine
				l.Holds = []book.Hold{}
			}
			if l.Quantity > 0 && l.Quantity < k.Good {
				return nil, shop.Invalidf("line %d: the quantity is %d, and sewn already: %s", l.Line, l.Quantity,
					pieces(k.Good))
			}
			if l.DesignID != k.DesignID && k.Good+k.Spoilt > 0 {
				return nil,
					shop.Invalidf("line %d: sewn already with its design: %s; add another line for the other design",
						l.Line, pieces(k.Good+k.Spoilt))
			}
		}
	}
	for _, k := range was.Lines {
		if !seen[k.Line] && k.Good+k.Spoilt > 0 {
			return nil, shop.Invalidf("line %d has %d sewn pieces and cannot be taken out; change its quantity instead",
				k.Line, k.Good+k.Spoilt)
		}
	}
	if err := s.checkOrder(ctx, &o, was); err != nil {
		return nil, err
	}
	moved, err := atPartner(&o, was)
	if err != nil {
		return nil, err
	}
	what := Differences(was, &o)
	if what == "" {
		return was, nil
	}
	return s.keep(ctx, &o, by, what+moved)
}

// keep writes an order that was changed in place, under the next version.
func (s *Orders) keep(ctx context.Context, o *book.Order, by, what string) (*book.Order, error) {
	o.Version++
	o.Changed = s.now().UTC()
	c := book.Change{OrderID: o.ID, Version: o.Version, At: o.Changed, By: by, What: what}
	if err := s.store.ChangeOrder(ctx, o, c); err != nil {
		return nil, err
	}
	return s.store.Order(ctx, o.ID)
}

// Move takes an order to another state. note is why, and may be empty.
// version is the version the caller saw; 0: whatever it is.
func (s *Orders) Move(ctx context.Context, id string, version int, to book.OrderState, note, by string) (
	*book.Order, error,
) {
	o, err := s.orderAt(ctx, id, version)
	if err != nil {
		return nil, err
	}
	if o.State == to {
		return o, nil
	}
	if !slices.Contains(o.State.Next(), to) {
		var become words.Value = words.Name(to)
		if slices.Contains(book.OrderStates, to) {
			become = to.Name()
		}
		var may words.List
		for _, st := range o.State.Next() {
			may = append(may, st.Name())
		}
		return nil, shop.Saying(shop.Invalid, words.Say("refused.no-way", words.Args{"order": number(o), "state": o.State.Name(),
			"to": become, "may": may}))
	}
	if to != book.Requested && to != book.Withdrawn && len(o.Roughs) > 0 {
		return nil, noFile(o)
	}
	if to == book.Delivered && o.Left() > 0 {
		return nil, shop.Saying(shop.Invalid, words.Say("refused.to-sew", words.Args{"order": number(o), "pieces": words.Count(o.Left(), "piece")}))
	}
	if err := shop.At("note", shop.CheckText("note", note, 1000, false)); err != nil {
		return nil, err
	}
	what := fmt.Sprintf("%s (was %s)", to, o.State)
	if note = strings.TrimSpace(note); note != "" {
		what += ": " + note
	}
	if to == book.Withdrawn || to == book.Requested || to == book.Sewn { // off the machines
		for i := range o.Lines {
			o.Lines[i].Holds = []book.Hold{}
		}
	}
	o.State = to
	return s.keep(ctx, o, by, what)
}

// noFile says that an order asks for designs that have no file yet.
func noFile(o *book.Order) error {
	return shop.Saying(shop.Invalid, words.Say("refused.no-file", words.Args{"order": number(o), "what": o.Roughs[0].What()}))
}

// number is an order's, in a sentence.
func number(o *book.Order) words.Value { return words.Name(strconv.Itoa(o.Number)) }

// changed refuses what was made from a version that an order has no more.
func changed(o *book.Order, saw int) error {
	return shop.Saying(shop.Conflict, words.Say("refused.changed", words.Args{"order": number(o), "now": words.Whole(o.Version), "saw": words.Whole(saw)}))
}

// orderAt finds an order and checks that it is still at the version seen.
func (s *Orders) orderAt(ctx context.Context, id string, version int) (*book.Order, error) {
	o, err := s.store.Order(ctx, id)
	if err != nil {
		return nil, err
	}
	if version != 0 && o.Version != version {
		return nil, changed(o, version)
	}
	return o, nil
}

// Workable finds a line that the floor may work on.
func (s *Orders) Workable(ctx context.Context, id string, line int) (*book.Order, *book.OrderLine, error) {
	o, err := s.store.Order(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	l := o.Line(line)
	switch {
	case l == nil:
		return nil, nil, shop.Saying(shop.NotFound, words.Say("refused.no-line", words.Args{
			"order": words.Name(strconv.Itoa(o.Number)), "line": words.Whole(line)}))
	case !o.State.Planned() && o.State != book.Sewn:
		return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.not-sewn", words.Args{
			"order": words.Name(strconv.Itoa(o.Number)), "state": words.Say("order-state." + string(o.State))}))
	}
	return o, l, nil
}

// SewingOn names the line that is on a machine now, "" for none.
func (s *Orders) SewingOn(ctx context.Context, machineID string) (string, error) {
	all, _, err := s.store.Orders(ctx, shop.OrderQuery{States: []book.OrderState{book.Sewing}, Limit: Most})
	if err != nil {
		return "", err
	}
	for _, o := range all {
		for i := range o.Lines {
			for _, h := range o.Lines[i].Holds {
				if h.Running && h.MachineID == machineID {
					return book.LineName(o, o.Lines[i].Line), nil
				}
			}
		}
	}
	return "", nil
}

// Release lets the plan place a line freely; a line on a machine is taken
// off it.
func (s *Orders) Release(ctx context.Context, id string, line int, by string) (*book.Order, error) {
	o, l, err := s.Workable(ctx, id, line)
	if err != nil {
		return nil, err
	}
	if len(l.Holds) == 0 {
		return o, nil
	}
	l.Holds = []book.Hold{}
	return s.keep(ctx, o, by, fmt.Sprintf("line %d released", line))
}
