package designs

import (
	"context"
	"fmt"
	"path"
	"strings"

	"needlepace/shop"
)

// Find finds a design on the list as people write it: by its ID, the name
// of its file, or its own name, whatever their case. Where one name means
// several, it is refused with all of them named.
func (s *Designs) Find(ctx context.Context, ref string) (*shop.Design, error) {
	d, err := s.store.Design(ctx, ref)
	if err == nil || shop.CodeOf(err) != shop.NotFound {
		return d, err
	}
	if ref = strings.TrimSpace(ref); ref == "" {
		return nil, shop.Errorf(shop.NotFound, "no design is named")
	}
	ref = shop.CleanFile(ref)
	page, _, err := s.store.Designs(ctx, shop.DesignQuery{Search: ref, Limit: 500})
	if err != nil {
		return nil, err
	}
	// A name as it is written counts before one in other letters.
	for _, is := range []func(name string) bool{
		func(name string) bool { return name == ref },
		func(name string) bool { return strings.EqualFold(name, ref) },
	} {
		var found []*shop.Design
		for _, d := range page {
			if is(d.File) || is(d.Name) || is(strings.TrimSuffix(d.File, path.Ext(d.File))) {
				found = append(found, d)
			}
		}
		if len(found) == 1 {
			return found[0], nil
		}
		if len(found) > 1 {
			var all []string
			for _, d := range found[:min(len(found), mostNamed)] {
				all = append(all, fmt.Sprintf("%s (%s, %d stitches, ID %s)", d.File, orNoName(d.Label), d.Stitches,
					d.ID))
			}
			if more := len(found) - len(all); more > 0 {
				all = append(all, fmt.Sprintf("and %d more", more))
			}
			return nil, shop.Invalidf("%d designs are called %q: %s; name it by its ID", len(found), ref,
				strings.Join(all, "; "))
		}
	}
	return nil, shop.Errorf(shop.NotFound, "the shop has no design %q", ref)
}

// mostNamed is how many designs of one name are told apart in a refusal.
const mostNamed = 5

func orNoName(label string) string {
	if label == "" {
		return "no name inside"
	}
	return fmt.Sprintf("%q inside", label)
}
