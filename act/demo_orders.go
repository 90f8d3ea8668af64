package act

import (
	"context"
	"fmt"
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
	hours, err := s.demoDays("orders/WORKSHOP.toml")
	if err != nil {
		return err
	}
	if _, given, err := s.Setups.Workshop(ctx); err != nil {
		return err
	} else if !given {
		// Without an address of its own the code on a run sheet opens the page
		// it was made on.
		hours = demoAddress.ReplaceAllString(hours, "")
		if _, err := s.Setups.SaveWorkshop(ctx, "WORKSHOP.toml", hours); err != nil {
			return fmt.Errorf("shop: demo: %w", err)
		}
	}
	week, err := s.demoDays("orders/week.toml")
	if err != nil {
		return err
	}
	f, err := book.ParseOrders("week.toml", []byte(week))
	if err != nil {
		return fmt.Errorf("shop: demo: %w", err)
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
			return fmt.Errorf("shop: demo: %w", err)
		}
		if _, _, err := s.AddOrder(ctx, o, ""); err != nil {
			return fmt.Errorf("shop: demo: %w", err)
		}
	}
	return nil
}

var (
	demoDay     = regexp.MustCompile(`\b2026-03-\d\d\b`)
	demoAddress = regexp.MustCompile(`(?m)^page = .*\n`)
	// demoMonday is the first day of the demo's week in its files.
	demoMonday = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
)

// demoDays is a file of the demo with its days, all of them working days, laid
// on those after today.
func (s *Shop) demoDays(file string) (string, error) {
	b, err := fs.ReadFile(demo.FS, file)
	if err != nil {
		return "", err
	}
	today := s.now().UTC()
	return demoDay.ReplaceAllStringFunc(string(b), func(day string) string {
		t, err := time.Parse(time.DateOnly, day)
		if err != nil {
			return day
		}
		n := 1 // working days after today
		for d := demoMonday; d.Before(t); d = d.AddDate(0, 0, 1) {
			if weekday(d) {
				n++
			}
		}
		out := today
		for n > 0 {
			if out = out.AddDate(0, 0, 1); weekday(out) {
				n--
			}
		}
		return words.NewDay(out.Date()).String()
	}), nil
}

func weekday(t time.Time) bool { return t.Weekday() != time.Saturday && t.Weekday() != time.Sunday }
