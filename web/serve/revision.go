package serve

import (
	"fmt"
	"strings"

	"needlepace/shop"
)

const revisionForm = "%d-%d-%d-%d-%d-%d-%d-%d-%d-%d"

// RevisionText is a state of the shop in one word, for pages that stand open.
func RevisionText(r shop.Revision) string {
	return fmt.Sprintf(revisionForm, r.Added, r.Designs, r.Machines, r.Orders, r.Reports, r.Plans, r.Setups, r.Told, r.Rest, r.Visits)
}

// ParseRevision reads what RevisionText wrote.
func ParseRevision(s string) (r shop.Revision, err error) {
	n, err := fmt.Sscanf(s, revisionForm, &r.Added, &r.Designs, &r.Machines, &r.Orders, &r.Reports, &r.Plans, &r.Setups, &r.Told, &r.Rest, &r.Visits)
	if err != nil || n != 10 || RevisionText(r) != s || strings.HasPrefix(s, "-") || strings.Contains(s, "--") {
		return r, shop.Invalidf("since is %q, which says nothing of a state of the shop; leave it out", s)
	}
	return r, nil
}
