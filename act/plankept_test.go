package act_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// Why a kept plan leaves a line out, what a planner should know of another and why a line
// moved is said in the language of whoever reads it, later too; of a plan of an earlier
// version, which kept the text alone, that text is said.
func TestAKeptPlansReasonsAreSaidInEveryLanguage(t *testing.T) {
	b := fresh(t)
	small := []string{"field = [400, 450]", "field = [100, 100]", "field = [500, 350]", "field = [120, 120]", "cap_frame = true", "cap_frame = false"}
	b.workshop(t, small...)
	if _, _, err := b.AddOrder(bg, book.Order{Customer: "Pilots", State: book.Agreed, Weight: 1, Lines: []book.OrderLine{
		{DesignID: b.designs["harbour-jacket-back.dst"], Quantity: 5}, {DesignID: b.designs["gull-cap.dst"], Quantity: 3}}}, ""); err != nil {
		t.Fatal(err)
	}
	late := b.order(t, "whale-line.dst", 40, "2026-03-20", book.Agreed)
	if _, err := b.Start(bg, late.ID, 1, b.m["Gannet"], 0, "", ""); err != nil {
		t.Fatal(err)
	}
	b.plan(t)
	b.workshop(t, append(small, "[thread]", "[[down]]\nmachine = \"Gannet\"\nfrom = \"2026-03-02 06:00\"\nto = \"2026-03-03 12:00\"\n[thread]")...)
	rush := b.order(t, "whale-line.dst", 400, "2026-03-04", book.Agreed)
	rush.Weight = 5
	if _, err := b.Orders.Change(bg, *rush, ""); err != nil {
		t.Fatal(err)
	}
	made := b.plan(t)
	if len(made.Moved) < 2 {
		t.Fatalf("%d lines moved", len(made.Moved))
	}
	kept, err := b.Plans.Last(bg)
	if err != nil || kept == made.Plan || len(kept.Left) != 1 || len(kept.Notes) == 0 {
		t.Fatalf("%+v, %+v, %v", kept.Left, kept.Notes, err)
	}
	table := made.MovedTable()
	why := slices.IndexFunc(table.Columns, func(c ask.Column) bool { return c.Key == "why" })
	for _, l := range words.Languages() {
		w := &words.Writer{Language: l}
		for i, k := range kept.Left {
			if was := &made.Plan.Left[i]; k.Because().Text(w) != was.Because().Text(w) || k.Why != k.Because().Text(nil) {
				t.Errorf("in %s the kept plan says %q, when it was made %q", l.Tag, k.Because().Text(w), was.Because().Text(w))
			}
			if english := strings.Contains(k.Because().Text(w), "no machine can make it"); english != (l == words.English()) {
				t.Errorf("in %s the kept plan says %q", l.Tag, k.Because().Text(w))
			}
		}
		w.Zone = kept.Zone
		until := time.Date(2026, 3, 3, 12, 0, 0, 0, kept.Zone.Location())
		want := words.Say("plan-why.on-down", words.Args{"machine": words.Name("Gannet"), "until": kept.Zone.Near(until, b.at)}).Text(w)
		if !slices.ContainsFunc(kept.Notes, func(n book.LeftOut) bool { return n.Because().Text(w) == want }) {
			t.Errorf("in %s no note of the kept plan says %q: %+v", l.Tag, want, kept.Notes)
		}
		for i, row := range table.Rows {
			if said := row[why].Text(w); said == made.Moved[i].Why != (l == words.English()) || strings.Contains(said, "[") {
				t.Errorf("in %s %s moved because %q", l.Tag, made.Moved[i].Name, said)
			}
		}
	}
	b2, err := json.Marshal(kept)
	if err != nil {
		t.Fatal(err)
	}
	var doc map[string]any
	if err := json.Unmarshal(b2, &doc); err != nil {
		t.Fatal(err)
	}
	for _, list := range []string{"left_out", "notes"} {
		for _, x := range doc[list].([]any) {
			if delete(x.(map[string]any), "say"); x.(map[string]any)["why"] == "" {
				t.Errorf("%s: %v", list, x)
			}
		}
	}
	old := &book.Plan{}
	if b2, err = json.Marshal(doc); err == nil {
		err = json.Unmarshal(b2, old)
	}
	if err != nil {
		t.Fatal(err)
	}
	tr, _ := words.LanguageOf("tr")
	if got := old.Left[0].Because().Text(&words.Writer{Language: tr}); got != kept.Left[0].Why || len(ask.PlanOf(old).Watch) != len(ask.PlanOf(kept).Watch) {
		t.Errorf("a plan of an earlier version says %q", got)
	}
}
