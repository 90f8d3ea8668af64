package web_test

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/store/sqlite"
	"needlepace/web"
	"needlepace/words"
)

// busy is a shop as large as many readers are measured in.
type busy struct {
	shop     *act.Shop
	store    *sqlite.Store
	app      *web.Server
	designs  []string // IDs
	machines []string
	orders   []string
}

// busyShop is the demo's shop with ten machines and so many more designs and agreed orders,
// planned. All of it is invented.
func busyShop(t testing.TB, designs, orders int) *busy {
	t.Helper()
	b := openBusy(t, filepath.Join(t.TempDir(), "shop.db"))
	b.fill(t, designs, orders)
	return b
}

// openBusy opens a shop where it is kept, or makes it.
func openBusy(t testing.TB, path string) *busy {
	t.Helper()
	store, err := sqlite.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	b := &busy{shop: act.New(store, act.Options{Build: "test"}), store: store}
	b.app = web.New(b.shop, web.Options{})
	t.Cleanup(b.shut)
	return b
}

// shut closes the shop; to be shut twice is no fault.
func (b *busy) shut() {
	b.app.Close()
	b.store.Close() //nolint:errcheck // the test is over
}

func (b *busy) fill(t testing.TB, designs, orders int) {
	t.Helper()
	ctx, s := context.Background(), b.shop
	if err := s.LoadDemo(ctx, func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	have, err := s.Machines.List(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range have {
		b.machines = append(b.machines, m.ID)
	}
	classes := machine.Classes()
	for i := len(have); i < 10; i++ {
		c := *classes[i%len(classes)]
		c.Name = fmt.Sprint("Bay ", i+1)
		m, err := s.Machines.Add(ctx, string(c.TOML()), "", "")
		if err != nil {
			t.Fatal(err)
		}
		b.machines = append(b.machines, m.ID)
	}
	all := demo.Designs()
	for i := 0; len(b.designs) < designs; i++ {
		d := all[i%len(all)]
		if filepath.Ext(d.File) != ".dst" {
			continue
		}
		content, err := d.Read()
		if err != nil {
			t.Fatal(err)
		}
		added, err := s.AddFile(ctx, fmt.Sprintf("%d %s", i, d.File), slower(content, i))
		if err != nil || added[0].Design == nil {
			t.Fatal(added, err)
		}
		b.designs = append(b.designs, added[0].Design.ID)
	}
	now := s.Now().UTC().Truncate(time.Second)
	for i := range orders {
		o := &book.Order{ID: fmt.Sprint("o", i), Customer: fmt.Sprint("Customer ", i), State: book.Agreed,
			Due: words.Zone{}.Day(now).Add(1 + i%40), Weight: 1 + float64(i%3), Made: now, Changed: now, Version: 1,
			Lines: []book.OrderLine{{Line: 1, DesignID: b.designs[i%len(b.designs)], Quantity: 12 + i%60,
				Threads: []string{}, Holds: []book.Hold{}}}}
		if err := b.store.AddOrder(ctx, o, book.Change{OrderID: o.ID, Version: 1, At: now}); err != nil {
			t.Fatal(err)
		}
		b.orders = append(b.orders, o.ID)
	}
	if _, err := s.MakePlan(ctx, ask.PlanQuestion{Now: now, Seed: 1, NoBound: true, Moves: 1000}, ""); err != nil {
		t.Fatal(err)
	}
}

// slower is a .dst with stitches of no length more at its start: another design,
// and yet the same to sew.
func slower(b []byte, n int) []byte {
	out := bytes.Clone(b[:512])
	for bit := n + 1; bit > 0; bit >>= 1 { // 0.1 mm to and fro for a 1, on the spot for a 0
		if bit&1 == 1 {
			out = append(out, 0x01, 0x00, 0x03, 0x02, 0x00, 0x03)
		} else {
			out = append(out, 0x00, 0x00, 0x03, 0x00, 0x00, 0x03)
		}
	}
	return append(out, b[512:]...)
}

// kinds are the pages that are asked for most, by what each shows.
func (b *busy) kinds() []struct {
	name string
	at   func(n int) string
} {
	one := func(all []string, n int) string { return all[n%len(all)] }
	return []struct {
		name string
		at   func(n int) string
	}{
		{"first page", func(int) string { return "/" }},
		{"designs", func(n int) string { return fmt.Sprint("/designs?from=", 50*(n%10)) }},
		{"search", func(n int) string { return fmt.Sprint("/designs?search=", n%500) }},
		{"design", func(n int) string { return "/designs/" + one(b.designs, n) }},
		{"machines", func(int) string { return "/machines" }},
		{"machine", func(n int) string { return "/machines/" + one(b.machines, n) }},
		{"orders", func(n int) string { return fmt.Sprint("/orders?from=", 50*(n%40)) }},
		{"order", func(n int) string { return "/orders/" + one(b.orders, n) }},
		{"quote", func(n int) string { return "/orders/" + one(b.orders, n) + "/quote" }},
		{"run sheet", func(n int) string { return "/orders/" + one(b.orders, n) + "/runsheet" }},
		{"record", func(n int) string { return "/orders/" + one(b.orders, n) + "/record" }},
		{"plan", func(int) string { return "/plan" }},
		{"settings", func(int) string { return "/settings" }},
	}
}

// BenchmarkPages is what one answer costs, page by page, in a shop of 500 designs
// and 2,000 orders where nothing changed: of one thing that was shown before
// ("again") and of things that differ ("other").
func BenchmarkPages(b *testing.B) {
	s := busyShop(b, 500, 2000)
	h := s.app.Handler()
	answer := func(b *testing.B, at string) int {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest("GET", "http://localhost"+at, nil))
		if w.Code >= http.StatusBadRequest { // the first page may be another's
			b.Fatalf("%s: %d %.300s", at, w.Code, w.Body)
		}
		return w.Body.Len()
	}
	for _, k := range s.kinds() {
		b.Run(k.name+"/again", func(b *testing.B) {
			size := answer(b, k.at(7))
			for b.Loop() {
				answer(b, k.at(7))
			}
			b.ReportMetric(float64(size), "bytes")
		})
		b.Run(k.name+"/other", func(b *testing.B) {
			n := 0
			for b.Loop() {
				n++
				answer(b, k.at(n*7))
			}
		})
	}
}
