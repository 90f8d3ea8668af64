package act

import (
	"context"
	"io/fs"
	"math"
	"path"
	"regexp"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/demo"
	"needlepace/shop"
	"needlepace/words"
)

// demoOrders puts the demo's hours, prices and week of orders into the shop.
// The week is laid on the working days that come, so that it can be planned
// whenever the demo is opened. Orders that are there already are not added
// again: they are taken in by their order in the file.
func (s *Shop) demoOrders(ctx context.Context) error {
	const file = "orders/WORKSHOP.toml"
	own, err := fs.ReadFile(demo.FS, file)
	if err != nil {
		return err
	}
	w, err := book.ParseWorkshop(file, own)
	if err != nil {
		return err
	}
	today := w.Zone.Day(s.now())
	if _, given, err := s.Setups.Workshop(ctx); err != nil {
		return err
	} else if !given {
		hours, err := demoDays(file, today)
		if err != nil {
			return err
		}
		// Without an address of its own the code on a run sheet opens the page
		// it was made on.
		hours = demoAddress.ReplaceAllString(hours, "")
		if _, err := s.Setups.SaveWorkshop(ctx, "WORKSHOP.toml", hours, 0); err != nil {
			return err
		}
	}
	week, err := demoDays("orders/week.toml", today)
	if err != nil {
		return err
	}
	f, err := book.ParseOrders("week.toml", []byte(week))
	if err != nil {
		return err
	}
	_, there, err := s.store.Orders(ctx, shop.OrderQuery{Limit: 1})
	if err != nil {
		return err
	}
	for i := there; i < len(f.Order); i++ {
		o, err := f.Order[i].AsOrder(func(name string) (string, error) {
			d, err := s.Designs.Find(ctx, path.Base(name))
			if err != nil {
				return "", err
			}
			return d.ID, nil
		})
		if err != nil {
			return err
		}
		if _, _, err := s.AddOrder(ctx, o, ""); err != nil {
			return err
		}
	}
	return nil
}

var (
	demoDay     = regexp.MustCompile(`\b2026-03-\d\d\b`)
	demoAddress = regexp.MustCompile(`(?m)^page = .*\n`)
	// demoMonday is the first day of the demo's week in its files.
	demoMonday = words.NewDay(2026, 3, 2)
)

// demoDays is a file of the demo with its days, all of them working days, laid
// on those after today.
func demoDays(file string, today words.Day) (string, error) {
	b, err := fs.ReadFile(demo.FS, file)
	if err != nil {
		return "", err
	}
	return demoDay.ReplaceAllStringFunc(string(b), func(found string) string {
		day, err := words.ParseDay(found)
		if err != nil {
			return found
		}
		n := 1 // working days after today
		for d := demoMonday; d.Before(day); d = d.Add(1) {
			if weekday(d) {
				n++
			}
		}
		out := today
		for n > 0 {
			if out = out.Add(1); weekday(out) {
				n--
			}
		}
		return out.String()
	}), nil
}

// demoDone puts the demo's finished orders into the shop: quoted, reported and
// delivered, their days laid on the working days before today.
func (s *Shop) demoDone(ctx context.Context) error {
	done, _, err := s.store.Orders(ctx, shop.OrderQuery{States: []book.OrderState{book.Sewn, book.Delivered}, Limit: 1})
	if err != nil || len(done) > 0 {
		return err
	}
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return err
	}
	today := w.Zone.Day(s.now())
	ago := func(n int) words.Day {
		d := today
		for ; n > 0; n-- {
			for d = d.Add(-1); !weekday(d); d = d.Add(-1) {
			}
		}
		return d
	}
	// All are quoted before any is reported: reports change what is expected.
	kept := make([]*book.Order, len(demo.DoneOrders()))
	for i, x := range demo.DoneOrders() {
		design, err := s.Designs.Find(ctx, x.Design)
		if err != nil {
			return err
		}
		o, err := s.Orders.Add(ctx, book.Order{Customer: x.Customer, Weight: 1, Due: ago(x.Came - x.Due),
			Made: w.Zone.At(ago(x.Came), words.TimeOfDay(9*time.Hour)), Lines: []book.OrderLine{{DesignID: design.ID,
				Placement: x.Placement, Garment: x.Garment, Quantity: x.Quantity, LineGoods: book.LineGoods{CapFrame: x.Cap}}}}, "")
		if err != nil {
			return err
		}
		if _, err := s.KeepQuote(ctx, ask.QuoteQuestion{Now: s.now(), Order: o.ID}, nil, ""); err != nil {
			return err
		}
		if kept[i], err = s.Orders.Get(ctx, o.ID); err != nil {
			return err
		}
	}
	for i, x := range demo.DoneOrders() {
		o := kept[i]
		if _, err := s.Orders.Move(ctx, o.ID, o.Version, book.Agreed, "", ""); err != nil {
			return err
		}
		m, err := s.Machines.Find(ctx, x.Machine)
		if err != nil {
			return err
		}
		want, err := ask.Expect(ctx, s.Asked(), &o.Lines[0], m.ID)
		if err != nil {
			return err
		}
		r := book.Report{OrderID: o.ID, Line: 1, MachineID: m.ID, Day: ago(x.Came - x.Sewn), Good: x.Quantity,
			Spoilt: x.Spoilt, Breaks: x.Breaks, Seconds: math.Round(x.Took * want.Seconds(x.Quantity+x.Spoilt, x.Breaks))}
		if _, err := s.Record(ctx, r, Recording{}, ""); err != nil {
			return err
		}
		if !x.Delivered {
			continue
		}
		gone := book.HandOver{OrderID: o.ID, Line: 1, Day: ago(x.Came - max(x.Due, x.Sewn))}
		if _, _, err := s.Deliver(ctx, gone, 0, ""); err != nil {
			return err
		}
	}
	return nil
}

func weekday(d words.Day) bool { return d.Weekday() != time.Saturday && d.Weekday() != time.Sunday }
