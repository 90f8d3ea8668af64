package main

import (
	"slices"
	"testing"

	"needlepace/ask"
)

// floorQuestions are a shift, a comparison and a cost of the demo shop.
func floorQuestions(d *demoServed) []asked {
	shift, mix := d.setup("floor"), d.setup("mix")
	none := map[string]string{"xlsx": noWorkbook, "pdf": noPaper}
	cost := []string{"cost", "--shop", "../../demo/floor/SHOP.toml", "-m", "Skipper",
		"../../demo/designs/ostrel-light.dst"}
	return []asked{{
		name: "floor", of: []string{"Shift"}, command: []string{"floor", "../../demo/floor/SHOP.toml"},
		post: "/floor", body: `{"setup":"` + shift + `","what_if":true}`, page: "/floor/" + shift + "?more=1",
		tables:  map[string][]string{"machines": {"floor", "../../demo/floor/SHOP.toml", "--no-what-if", "--csv"}},
		differs: []string{"file"}, not: none,
	}, {
		name: "compare", of: []string{"Compare"}, command: []string{"compare", "../../demo/floor/MIX.toml"},
		post: "/compare", body: `{"setup":"` + mix + `"}`, page: "/compare/" + mix,
		lists:   map[string][]string{"designs": {"compare", "../../demo/floor/MIX.toml", "--csv"}},
		differs: []string{"file"}, not: none,
	}, {
		name: "cost", of: []string{"Cost"}, command: cost,
		not: map[string]string{
			"xlsx": noWorkbook, "pdf": noPaper, "page": "the same",
			"api": "what a piece costs is in the shop's quotes and comparisons; of a file alone the command line says it",
		},
		more: func(t *testing.T, _ *demoServed, a *answers) { costCSV(t, a, append(slices.Clone(cost), "--csv")) },
	}}
}

// costCSV holds the CSV of a cost against its JSON and its text.
func costCSV(t *testing.T, a *answers, command []string) {
	t.Helper()
	out, errs, code := invoke(t, command...)
	if code != exitOK {
		t.Fatalf("status %d, %s", code, errs)
	}
	a.said["csv"] = out
	var answer ask.CostAnswer
	into(t, a.json, &answer)
	columns := columnsOf(t, out, nil)
	if len(answer.Steps) == 0 || len(columns["price"]) != len(answer.Steps) {
		t.Fatalf("%d prices in CSV, %d in JSON", len(columns["price"]), len(answer.Steps))
	}
	for i, p := range answer.Steps {
		if got := columns["price"][i]; got != p.Price || !says(a.text, got) {
			t.Errorf("the price of %d pieces is %s in CSV, %s in JSON, or not in the text", p.Quantity, got, p.Price)
		}
	}
}
