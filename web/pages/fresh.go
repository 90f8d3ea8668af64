package pages

import (
	"regexp"
	"strings"

	"needlepace/jobs"
	"needlepace/shop"
)

// fresh are the pages that show what others change while they stand open, and the
// kinds of things that they show. Pages to fill in are not among them but for Record, whose
// form is kept as it stands (data-keep) under a count that others change: what is
// typed there stays as it is, and another's change is told when it is sent.
var fresh = []struct {
	path *regexp.Regexp
	of   string
}{
	{regexp.MustCompile(`^/today(/wall)?$`), "added designs machines orders reports plans setups told"},
	{regexp.MustCompile(`^/history$`), "added designs machines orders reports plans setups told rest visits"},
	{regexp.MustCompile(`^/orders$`), "designs machines orders reports plans setups rest"},
	{regexp.MustCompile(`^/orders/[0-9a-z]+$`), "designs machines orders reports plans setups rest"},
	{regexp.MustCompile(`^/orders/[0-9a-z]+/quote$`), "designs machines orders reports plans setups rest"},
	{regexp.MustCompile(`^/orders/[0-9a-z]+/runsheet$`), "designs machines orders reports plans setups rest"},
	{regexp.MustCompile(`^/orders/[0-9a-z]+/record$`), "designs machines orders reports"},
	{regexp.MustCompile(`^/plan(/thread|/costs)?$`), "designs machines orders reports plans setups"},
	{regexp.MustCompile(`^/designs$`), "added designs machines rest"},
	{regexp.MustCompile(`^/designs/[0-9a-z]+$`), "designs machines"},
	{regexp.MustCompile(`^/machines$`), "machines reports setups"},
	{regexp.MustCompile(`^/machines/[0-9a-z]+$`), "designs machines reports rest"},
	{regexp.MustCompile(`^/(compare|floor)$`), "machines setups"},
	{regexp.MustCompile(`^/compare/[0-9a-z]+$`), "designs machines setups"},
	{regexp.MustCompile(`^/floor/[0-9a-z]+$`), "designs machines reports setups"},
	{regexp.MustCompile(`^/visits$`), "visits"},
	{regexp.MustCompile(`^/visits/[^/]+(/(trials|calls)/[^/]+)?$`), "visits"},
}

// notOne are pages beside the orders and beside the designs, and none of one of them.
var notOne = regexp.MustCompile(`^/(orders/(new|table|rough|after)|designs/mend(ed)?)$`)

// freshOf is which kinds of things the page at a path shows as they change; empty: it stands.
func freshOf(path string) string {
	for _, f := range fresh {
		if f.path.MatchString(path) && !notOne.MatchString(path) {
			return f.of
		}
	}
	return ""
}

// partsOf are the parts of the shop that kinds of things are.
func partsOf(kinds string) (all shop.Parts) {
	for k := range strings.FieldsSeq(kinds) {
		all |= map[string]shop.Parts{"added": shop.AddedPart, "designs": shop.DesignsPart, "machines": shop.MachinesPart, "orders": shop.OrdersPart,
			"reports": shop.ReportsPart, "plans": shop.PlansPart, "setups": shop.SetupsPart, "told": shop.ToldPart, "rest": shop.RestPart, "visits": shop.VisitsPart}[k]
	}
	return all
}

// Fresh is which kinds of things the page shows as they change; empty: it stands as it is. The page of work stands: it
// would become its result where that changes the shop, without the scripts of the result's page, and be loaded anew by
// its own when somebody is at it already.
func (p *page) Fresh() string {
	if _, working := p.Data.(jobs.Work); working || p.At == "" {
		return ""
	}
	return freshOf(p.Path)
}
