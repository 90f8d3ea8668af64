package orders

import (
	"fmt"
	"slices"
	"strings"

	"needlepace/book"
	"needlepace/shop"
)

// keyed is what is wrong with a key of a line.
type keyed struct {
	key string
	error
}

// checkPieces checks and tidies what the pieces of a line are.
func checkPieces(l *book.OrderLine) *keyed {
	l.Sizes, l.GarmentThreads = slices.Clone(l.Sizes), slices.Clone(l.GarmentThreads)
	for i := range l.Sizes {
		r := &l.Sizes[i]
		r.Colour, r.Size = strings.TrimSpace(r.Colour), strings.TrimSpace(r.Size)
		for _, s := range []string{r.Colour, r.Size} {
			if err := shop.CheckText("size or colour", s, 60, false); err != nil {
				return &keyed{"sizes", err}
			}
		}
		for _, k := range l.Sizes[:i] { // one colour is written one way
			if strings.EqualFold(k.Colour, r.Colour) {
				r.Colour = k.Colour
			}
		}
	}
	if err := checkNames(l); err != nil {
		return &keyed{"names", err}
	}
	if err := book.CheckSizes(l.Sizes, l.Quantity); err != nil {
		return &keyed{"sizes", err}
	}
	l.Deliveries = slices.Clone(l.Deliveries)
	if err := book.CheckDeliveries(l); err != nil {
		return &keyed{"deliveries", err}
	}
	if err := l.Approval.Check(); err != nil {
		return &keyed{"approval_due", err}
	}
	if err := l.Partner.Check(); err != nil {
		return &keyed{"partner", err}
	}
	if err := shop.CheckText("partner", l.Partner.Name, 200, false); err != nil {
		return &keyed{"partner", err}
	}
	colours := l.GarmentColours()
	for i := range l.GarmentThreads {
		g := &l.GarmentThreads[i]
		is := func(c string) bool { return strings.EqualFold(c, strings.TrimSpace(g.Colour)) }
		k := slices.IndexFunc(colours, is)
		if k < 0 {
			return &keyed{"garment_threads", fmt.Errorf("there are threads for garments in %q, and no such colour "+
				"in the table of sizes", g.Colour)}
		}
		g.Colour = colours[k]
		if slices.ContainsFunc(l.GarmentThreads[:i], func(x book.GarmentThreads) bool { return x.Colour == g.Colour }) {
			return &keyed{"garment_threads", fmt.Errorf("the threads on %s stand there twice", g.Colour)}
		}
		if len(g.Threads) == 0 || len(g.Threads) > 200 {
			return &keyed{"garment_threads", fmt.Errorf("there are %d threads on %s; give 1 to 200",
				len(g.Threads), g.Colour)}
		}
		g.Threads = slices.Clone(g.Threads)
		for k, t := range g.Threads {
			g.Threads[k] = strings.TrimSpace(t)
			if err := shop.CheckText("thread colour", t, 200, false); err != nil {
				return &keyed{"garment_threads", err}
			}
		}
	}
	return nil
}

// checkNames checks and tidies the names of a line. What they say of their garments
// is its table of sizes.
func checkNames(l *book.OrderLine) error {
	l.Names, l.NameThreads = slices.Clone(l.Names), slices.Clone(l.NameThreads)
	for i := range l.Names {
		n := &l.Names[i]
		n.Name, n.Colour, n.Size = strings.TrimSpace(n.Name), strings.TrimSpace(n.Colour), strings.TrimSpace(n.Size)
		if err := shop.CheckText("name", n.Name, 100, true); err != nil {
			return fmt.Errorf("name %d: %w", i+1, err)
		}
		for _, s := range []string{n.Colour, n.Size} {
			if err := shop.CheckText("size or colour", s, 60, false); err != nil {
				return fmt.Errorf("name %d: %w", i+1, err)
			}
		}
		for _, k := range l.Names[:i] { // one colour is written one way
			if strings.EqualFold(k.Colour, n.Colour) {
				n.Colour = k.Colour
				break
			}
		}
	}
	for i, t := range l.NameThreads {
		l.NameThreads[i] = strings.TrimSpace(t)
		if err := shop.CheckText("thread colour", t, 200, false); err != nil {
			return err
		}
	}
	if err := book.CheckNames(l); err != nil {
		return err
	}
	l.OrderNames()
	return nil
}
