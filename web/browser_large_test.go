package web_test

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/machine"
	"needlepace/store/sqlite"
	"needlepace/web"
)

// filledShop is a shop of n designs on three machines; the designs are one
// file of the demo shop under n names.
func filledShop(t testing.TB, n int) (url string) {
	t.Helper()
	ctx := context.Background()
	store, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "large.db"))
	if err != nil {
		t.Fatal(err)
	}
	content, err := os.ReadFile("../demo/designs/gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	s := act.New(store, act.Options{Build: "test"})
	for _, class := range []string{"single-15-light", "compact-8", "multi-6"} {
		if _, ok := machine.Class(class); !ok {
			t.Fatalf("no class %s", class)
		}
		if _, err := s.Machines.AddOfClass(ctx, class, "my "+class, ""); err != nil {
			t.Fatal(err)
		}
	}
	first, err := s.AddFile(ctx, "gull-cap.dst", content)
	if err != nil || len(first) != 1 || first[0].Design == nil {
		t.Fatal(first, err)
	}
	thumbs, err := s.Designs.Thumbs(ctx, first[0].Design.ID)
	if err != nil {
		t.Fatal(err)
	}
	for i := range n - 1 {
		d := *first[0].Design
		d.Digest = fmt.Sprintf("%064x", i+1)
		d.ID, d.Name, d.Added = fmt.Sprintf("%032x", i+1), fmt.Sprintf("Cap %d", i+1), time.Unix(int64(1_700_000_000+i), 0).UTC()
		if _, err := store.AddDesign(ctx, &d, content, thumbs); err != nil {
			t.Fatal(err)
		}
	}
	app := web.New(s, web.Options{})
	srv := httptest.NewServer(app.Handler())
	t.Cleanup(func() { app.EndEvents(); srv.Close(); app.Close(); store.Close() })
	return srv.URL
}

func get(t testing.TB, url string) string {
	t.Helper()
	r, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil || r.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s %v\n%.300s", url, r.Status, err, b)
	}
	return string(b)
}

// A list of many designs is sent a page at a time: its size does not grow with
// the shop.
func TestLongListIsSentInPages(t *testing.T) {
	url := filledShop(t, 120)
	page := get(t, url+"/designs")
	if len(page) > 400<<10 {
		t.Errorf("the page of 50 designs has %d bytes", len(page))
	}
	for _, c := range []struct {
		query string
		rows  int
	}{{"", 50}, {"?from=100", 20}, {"?search=Cap+7", 12}} { // 7, 17 … are not words that begin with 7, but hold it
		page := get(t, url+"/designs"+c.query)
		rows := 0
		for i := 0; i+len(`class="thumb"`) < len(page); i++ {
			if page[i:i+len(`class="thumb"`)] == `class="thumb"` {
				rows++
			}
		}
		if c.query == "?search=Cap+7" {
			if rows < 11 || rows > 50 {
				t.Errorf("%s: %d designs", c.query, rows)
			}
			continue
		}
		if rows != c.rows {
			t.Errorf("%s: %d designs, want %d", c.query, rows, c.rows)
		}
	}
}

// BenchmarkListOf5000 is the list of a shop of 5,000 designs on three machines,
// run times kept: the first page, one from the middle, a search.
func BenchmarkListOf5000(b *testing.B) {
	url := filledShop(b, 5000)
	for _, c := range []struct{ name, query string }{{"first page", ""}, {"middle", "?from=2500"}, {"search", "?search=4999"}} {
		b.Run(c.name, func(b *testing.B) {
			get(b, url+"/designs"+c.query) // run times are computed once
			for b.Loop() {
				get(b, url+"/designs"+c.query)
			}
		})
	}
}
