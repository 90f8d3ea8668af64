package pages

import "regexp"

// fresh are the pages that show what others change while they stand open, and the
// kinds of things that they show. Pages to fill in are not among them: what is
// typed there stays as it is, and another's change is told when it is sent.
var fresh = []struct {
	path *regexp.Regexp
	of   string
}{
	{regexp.MustCompile(`^/today(/wall)?$`), "designs machines orders reports plans setups told"},
	{regexp.MustCompile(`^/orders$`), "orders reports plans"},
	{regexp.MustCompile(`^/orders/[0-9a-z]+$`), "orders reports plans"},
	{regexp.MustCompile(`^/plan$`), "orders reports plans machines setups"},
	{regexp.MustCompile(`^/designs$`), "designs machines"},
	{regexp.MustCompile(`^/machines$`), "machines reports"},
}

// notAnOrder are pages beside the orders.
var notAnOrder = regexp.MustCompile(`^/orders/(new|table|rough|after)$`)

// freshOf is which kinds of things the page at a path shows as they change; empty: it stands.
func freshOf(path string) string {
	for _, f := range fresh {
		if f.path.MatchString(path) && !notAnOrder.MatchString(path) {
			return f.of
		}
	}
	return ""
}

// Fresh is which kinds of things the page shows as they change; empty: it stands as it is.
func (p *page) Fresh() string {
	if p.At == "" {
		return ""
	}
	return freshOf(p.Path)
}
