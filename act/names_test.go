package act_test

import (
	"bytes"
	"strings"
	"testing"

	"needlepace/shop"
)

// labelled is a demo design (DST) with another label in its header.
func labelled(t *testing.T, name, label string) []byte {
	t.Helper()
	b := bytes.Clone(demoBytes(t, name))
	if !bytes.HasPrefix(b, []byte("LA:")) {
		t.Fatalf("%s does not begin with its label", name)
	}
	copy(b[3:19], label+strings.Repeat(" ", 16))
	return b
}

func TestDesignsOfOneLabelAreToldApartByTheirFiles(t *testing.T) {
	s, store := newShop(t)
	ctx := t.Context()
	var ids []string
	for _, file := range []string{"gull-cap.dst", "crew-names.dst"} {
		added, err := s.AddFile(ctx, file, labelled(t, file, "Untitled"))
		must(t, err)
		d := added[0].Design
		if want := strings.TrimSuffix(file, ".dst"); d.Name != want || d.Label != "Untitled" || d.Beside() != "Untitled" {
			t.Errorf("%s is called %q, with %q and %q beside it", file, d.Name, d.Label, d.Beside())
		}
		ids = append(ids, d.ID)
		if found, err := s.Designs.Find(ctx, strings.ToUpper(file)); err != nil || found.ID != d.ID {
			t.Errorf("by its file's name: %v, %v", found, err)
		}
	}
	// As an older version kept them.
	for i, name := range []string{"Untitled", "the cook's own"} {
		must(t, store.DescribeDesign(ctx, ids[i], shop.Description{Name: name, Customer: "Ada"}, nil))
	}
	_, err := s.Designs.Find(ctx, "Untitled")
	must(t, err)
	for range 2 {
		must(t, s.Migrate(ctx))
		for i, want := range []string{"gull-cap", "the cook's own"} {
			d, err := s.Designs.Get(ctx, ids[i])
			must(t, err)
			if d.Name != want || d.Customer != "Ada" {
				t.Errorf("after the migration it is called %q (of %q), want %q", d.Name, d.Customer, want)
			}
		}
	}
	must(t, store.DescribeDesign(ctx, ids[0], shop.Description{Name: "the cook's own"}, nil))
	if _, err = s.Designs.Find(ctx, "the cook's own"); shop.CodeOf(err) != shop.Invalid ||
		!strings.Contains(err.Error(), "gull-cap.dst") || !strings.Contains(err.Error(), "crew-names.dst") {
		t.Errorf("a name that two designs have: %v", err)
	}
}
