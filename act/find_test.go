package act_test

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/store/sqlite"
)

// One search finds things of every kind by the beginnings of words, without case
// and accents, as they are called now; what was taken off its list is not found.
func TestFind(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 40, "", book.Agreed)
	gull := b.designs["gull-cap.dst"]
	_, err := b.Designs.Describe(bg, gull, shop.Description{Name: "Mouette Émeraude", Customer: "Café Łódź & Søn"})
	must(t, err)
	found := func(search string) string {
		t.Helper()
		all, err := b.Find(bg, search)
		must(t, err)
		var out []string
		for _, f := range all {
			out = append(out, f.Kind+" "+f.Name)
		}
		slices.Sort(out)
		return strings.Join(out, ", ")
	}
	for search, want := range map[string]string{
		"emer":             "design Mouette Émeraude",
		"ÉMERAUDE mou":     "design Mouette Émeraude",
		"gull-c":           "customer Customer of gull-cap.dst, design Mouette Émeraude, order Customer of gull-cap.dst",
		"cafe":             "customer Café Łódź & Søn, design Mouette Émeraude",
		"meraude":          "",
		"gan":              "machine Gannet",
		`"' OR * NEAR(":-`: "",
		"":                 "",
		"  ":               "",
	} {
		if got := found(search); got != want {
			t.Errorf("%q finds %q, want %q", search, got, want)
		}
	}
	if got := found(fmt.Sprint(o.Number)); !strings.Contains(got, "order "+o.Customer) {
		t.Errorf("the order's number finds %q", got)
	}
	_, err = b.Designs.Describe(bg, gull, shop.Description{Name: "Heron"})
	must(t, err)
	if got := found("emer"); got != "" {
		t.Errorf("by its old name it is found as %q", got)
	}
	if got := found("cafe"); got != "" {
		t.Errorf("a customer of nothing is found: %q", got)
	}
	must(t, b.Designs.Remove(bg, gull))
	if got := found("heron"); got != "" {
		t.Errorf("a removed design is found: %q", got)
	}
}

func addOnly(store shop.Store, d *shop.Design) error {
	_, err := store.AddDesign(bg, d, []byte{1}, shop.Thumbs{Light: []byte{1}, Dark: []byte{1}})
	return err
}

// BenchmarkFind is one search over 10,000 designs.
func BenchmarkFind(b *testing.B) {
	store, err := sqlite.Open(bg, filepath.Join(b.TempDir(), "shop.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { store.Close() }) //nolint:errcheck // it goes with its folder
	s := act.New(store, act.Options{})
	for i := range 10_000 {
		d := &shop.Design{ID: shop.Digest([]byte(fmt.Sprint(i))), Name: fmt.Sprintf("Crest %d, left chest", i), File: fmt.Sprintf("crest-%d.dst", i),
			Customer: fmt.Sprintf("Club %d", i%300), Added: time.Now(), Threads: []book.Thread{}, Warnings: []string{}}
		if err := addOnly(store, d); err != nil {
			b.Fatal(err)
		}
	}
	for _, q := range []string{"c", "crest", "crest 99", "club 12"} {
		b.Run(q, func(b *testing.B) {
			for b.Loop() {
				if _, err := s.Find(bg, q); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
