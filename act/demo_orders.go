package act

import (
	"context"
	"io/fs"
	"path"
	"regexp"
	"time"

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

func weekday(d words.Day) bool { return d.Weekday() != time.Saturday && d.Weekday() != time.Sunday }
