package dbstore

import "needlepace/shop"

const designParts = shop.AddedPart | shop.DesignsPart

// parts are the parts of the shop that tables hold, as triggers of the database count them.
var parts = map[string]shop.Parts{
	"designs":          designParts,
	"contents":         0, // never another for a design that is there
	"thumbs":           designParts,
	"run_times":        0, // reckoned from what its key says
	"find_rows":        designParts | shop.MachinesPart | shop.OrdersPart,
	"find_words":       designParts | shop.MachinesPart | shop.OrdersPart,
	"machines":         shop.MachinesPart,
	"sheet_versions":   shop.MachinesPart,
	"orders":           shop.OrdersPart,
	"order_lines":      shop.OrdersPart,
	"order_reports":    shop.ReportsPart,
	"heard":            shop.ReportsPart,
	"plans":            shop.PlansPart,
	"setups":           shop.SetupsPart,
	"told_events":      shop.ToldPart,
	"rounds":           shop.ToldPart,
	"settings":         shop.RestPart,
	"quotes":           shop.RestPart,
	"order_deliveries": shop.RestPart,
	"order_changes":    shop.RestPart,
	"lists":            shop.RestPart,
	"runs":             shop.RestPart,
	"timings":          shop.RestPart,
	"visits":           shop.VisitsPart,
	"visit_files":      shop.VisitsPart,
	"visit_contents":   0, // of a file, by its digest
	"call_pages":       shop.VisitsPart,
	"revisions":        shop.AllParts,

	"accounts": shop.Uncounted, "sessions": shop.Uncounted, "devices": shop.Uncounted, "tokens": shop.Uncounted, "phones": shop.Uncounted,
	"changes": shop.Uncounted, "trail": shop.Uncounted, "order_keys": shop.Uncounted, "order_tables": shop.Uncounted,
	"told_apart": shop.Uncounted,
	"members":    shop.Uncounted, "entries": shop.Uncounted, "tickets": shop.Uncounted,
	"call_seen": shop.Uncounted,
}

// PartOf is the part of the shop that a table holds; known is false for one that nobody has thought of.
func PartOf(table string) (p shop.Parts, known bool) {
	p, known = parts[table]
	return p, known
}

// PartsOf are the parts of a shop that a query may read: those of every table whose name stands anywhere in it. It is
// rather one too many than one too few: what is read from and unknown is uncounted.
func PartsOf(query string) (all shop.Parts) {
	table := false // the next word names one
	for i := 0; i < len(query); {
		j := i
		for j < len(query) && wordy(query[j]) {
			j++
		}
		if j == i {
			table = table && query[i] != '(' // else a query of its own, which says its tables
			i++
			continue
		}
		word := query[i:j]
		i = j
		p, known := parts[word]
		switch {
		case word == "FROM" || word == "JOIN":
			table = true
		case known:
			all, table = all|p, false
		case table:
			all, table = all|shop.Uncounted, false
		}
	}
	return all
}

func wordy(c byte) bool {
	return c == '_' || 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9'
}
