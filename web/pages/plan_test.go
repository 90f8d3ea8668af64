package pages_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/store/sqlite"
	"needlepace/web"
	"needlepace/web/pages"
	"needlepace/words"
)

// largePlan is a shop of n machines and m agreed orders on the demo designs,
// planned, behind the app's own handler.
func largePlan(t testing.TB, machines, orders int) (http.Handler, *book.Plan) {
	t.Helper()
	ctx := t.Context()
	store, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	s := act.New(store, act.Options{Now: func() time.Time { return now }})
	classes := machine.Classes()
	for i := range machines {
		c := *classes[i%len(classes)]
		c.Name = fmt.Sprint("Bay ", i+1)
		if _, err := s.Machines.Add(ctx, string(c.TOML()), "", ""); err != nil {
			t.Fatal(err)
		}
	}
	var designs []string
	for _, d := range demo.Designs() {
		content, err := d.Read()
		if err != nil {
			t.Fatal(err)
		}
		added, err := s.AddFile(ctx, d.File, content)
		if err != nil {
			t.Fatal(err)
		}
		designs = append(designs, added[0].Design.ID)
	}
	for i := range orders {
		o := &book.Order{ID: fmt.Sprint("o", i), Customer: fmt.Sprint("Customer ", i), State: book.Agreed, Due: words.Zone{}.Day(now).Add(1 + i%40), Weight: 1 + float64(i%3), Made: now, Changed: now, Version: 1,
			Lines: []book.OrderLine{{Line: 1, DesignID: designs[i%len(designs)], Quantity: 12 + i%60, Threads: []string{}, Holds: []book.Hold{}}}}
		if err := store.AddOrder(ctx, o, book.Change{OrderID: o.ID, Version: 1, At: now}); err != nil {
			t.Fatal(err)
		}
	}
	a, err := s.MakePlan(ctx, ask.PlanQuestion{Now: s.Now(), Seed: 1, NoBound: true, Moves: 1000}, "")
	if err != nil {
		t.Fatal(err)
	}
	server := web.New(s, web.Options{})
	t.Cleanup(func() { server.Close(); store.Close() }) //nolint:errcheck // the test is over
	return server.Handler(), a.Plan
}

// moveAddress is the plan's page as the form asks it for what a move costs.
func moveAddress(l *book.PlanLot, place int) string {
	return "/plan?" + url.Values{"lot": {pages.LotValue(l)}, "to": {l.MachineID}, "place": {fmt.Sprint(place)}}.Encode()
}

func answerOf(t testing.TB, h http.Handler, address string, header ...string) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest("GET", "http://localhost"+address, nil)
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		t.Fatalf("%s: %d %.300s", address, w.Code, w.Body)
	}
	return w
}

// BenchmarkPlanPage2000 is the page's answer with 2,000 orders on 40 machines:
// the whole page, what a move by hand costs with all of the page sent again, and
// as the page asks for it, with what it has left out.
func BenchmarkPlanPage2000(b *testing.B) {
	h, p := largePlan(b, 40, 2000)
	move := moveAddress(&p.Lots[len(p.Lots)/2], 1)
	has := strings.Join(partsOf(answerOf(b, h, "/plan").Body.String()), " ")
	for _, c := range []struct{ name, address, has string }{{"whole page", "/plan", ""}, {"move, all sent again", move, ""}, {"move", move, has}} {
		b.Run(c.name, func(b *testing.B) {
			var size int
			for b.Loop() {
				size = answerOf(b, h, c.address, pages.HasHeader, c.has).Body.Len()
			}
			b.ReportMetric(float64(size), "bytes")
		})
	}
}

var partName = regexp.MustCompile(`data-part="([^"]*)"`)

// partsOf are the names of a page's parts.
func partsOf(page string) (all []string) {
	for _, m := range partName.FindAllStringSubmatch(page, -1) {
		all = append(all, m[1])
	}
	return all
}

func TestLiveAnswersLeaveOutWhatThePageHas(t *testing.T) {
	h, p := largePlan(t, 3, 12)
	l := &p.Lots[len(p.Lots)/2]
	whole := answerOf(t, h, "/plan").Body.String()
	parts := partsOf(whole)
	if len(parts) != 6 || strings.Contains(whole, "data-same") {
		t.Fatalf("the whole page has the parts %q", parts)
	}
	has := strings.Join(parts, " ")
	live := answerOf(t, h, moveAddress(l, 1), pages.HasHeader, has).Body.String()
	// All but the menu of what can be taken away, which has what the move costs besides.
	if got := partsOf(live); !slices.Equal(got[1:], parts[1:]) || strings.Count(live, "data-same") != len(parts)-1 {
		t.Errorf("the answer has the parts %q, %d of them left out", got, strings.Count(live, "data-same"))
	}
	for _, what := range []string{"csv=lots", "csv=days", "csv=goal", "csv=cost", "picture=plan.svg"} {
		if !strings.Contains(live, what) || strings.Contains(whole, what) == (what == "csv=cost") {
			t.Errorf("%s cannot be taken away any more, or could before", what)
		}
	}
	if again := answerOf(t, h, "/plan", pages.HasHeader, has).Body.String(); strings.Count(again, "data-same") != len(parts) || !strings.Contains(again, `<details class="takeaway noprint" data-fold data-part="take-`) {
		t.Error("the same page again does not leave its menu out, or has no place for it")
	}
	for _, c := range []struct {
		what, text string
		sent       bool
	}{
		{"list of jobs", `<option value="` + pages.LotValue(l) + `"`, false}, {"table of machines", "t-lots", false}, {"table of days", "t-days", false},
		{"what it costs", "Put it there and hold it", true}, {"the places", `value="1" selected`, true},
	} {
		if strings.Contains(live, c.text) != c.sent {
			t.Errorf("%s: sent is not %v", c.what, c.sent)
		}
		if !c.sent && !strings.Contains(whole, c.text) {
			t.Errorf("%s: the whole page does not have it: this test sees nothing", c.what)
		}
	}
	if strings.Contains(live, "np-lot") || !strings.Contains(whole, "np-lot") {
		t.Error("the strips of the picture are sent again, or are not there at all")
	}
	// Names of another plan are not believed.
	if other := answerOf(t, h, moveAddress(l, 1), pages.HasHeader, "picture-0 jobs-0 days-"+strings.Repeat("0", 24)).Body.String(); strings.Contains(other, "data-same") {
		t.Error("a part was left out that the page does not have")
	}
	// A job that is gone: the list comes again, with none chosen in it.
	gone := answerOf(t, h, "/plan?lot=9999/1@nowhere", pages.HasHeader, has).Body.String()
	if !strings.Contains(gone, `<option value="">none`) || strings.Count(gone, "data-same") != len(parts)-2 || !strings.Contains(gone, "not where it was") {
		t.Error("the list of jobs was left out though the chosen one is gone")
	}
}

// A page names the first of what to watch and says how many it leaves out; a table has its first rows.
func TestThePlansPageNamesTheFirstToWatch(t *testing.T) {
	h, p := largePlan(t, 4, 160)
	all := len(ask.PlanOf(p).Watch)
	if all <= 24 || len(p.Lots) <= 100 {
		t.Fatalf("%d to watch of %d lots: this test sees nothing", all, len(p.Lots))
	}
	page := answerOf(t, h, "/plan").Body.String()
	_, watch, _ := strings.Cut(page, "To watch")
	watch, _, _ = strings.Cut(watch, "</section>")
	if n := strings.Count(watch, "<li>"); n != 24 || !strings.Contains(watch, fmt.Sprintf("And %d more", all-24)) {
		t.Errorf("%d of %d to watch are named: %s", n, all, watch[max(0, len(watch)-300):])
	}
	_, lots, _ := strings.Cut(page, `id="t-lots"`)
	lots, _, _ = strings.Cut(lots, "</table>")
	if n := strings.Count(lots, "<tr>"); n != 101 || !strings.Contains(lots, fmt.Sprintf("the first 100 of %d", len(p.Lots))) {
		t.Errorf("%d rows of %d lots stand on the page", n-1, len(p.Lots))
	}
	if csv := answerOf(t, h, "/plan?csv=lots").Body.String(); strings.Count(csv, "\n") != len(p.Lots)+1 {
		t.Errorf("the CSV has %d lines of %d lots", strings.Count(csv, "\n"), len(p.Lots))
	}
}
