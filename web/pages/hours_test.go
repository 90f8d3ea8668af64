package pages_test

import (
	"html"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/shop/setups"
	"needlepace/web"
	"needlepace/web/webtest"
)

// typedInto is what a page's form would send as it stands: every field with its value.
func typedInto(t *testing.T, body, action string) url.Values {
	t.Helper()
	_, form, ok := strings.Cut(body, `action="`+action+`"`)
	if !ok {
		t.Fatalf("no form to %s in\n%.600s", action, body)
	}
	form, _, _ = strings.Cut(form, "</form>")
	out := url.Values{}
	attr := func(tag, name string) (string, bool) {
		m := regexp.MustCompile(`\b` + name + `(?:="([^"]*)")?(?:[\s>])`).FindStringSubmatch(tag)
		if m == nil {
			return "", false
		}
		return html.UnescapeString(m[1]), true
	}
	for _, tag := range regexp.MustCompile(`<input [^>]*>`).FindAllString(form, -1) {
		name, _ := attr(tag, "name")
		value, _ := attr(tag, "value")
		kind, _ := attr(tag, "type")
		if _, on := attr(tag, "checked"); (kind == "checkbox" || kind == "radio") && !on {
			continue
		}
		out.Add(name, value)
	}
	for _, m := range regexp.MustCompile(`(?s)<textarea [^>]*name="([^"]*)"[^>]*>(.*?)</textarea>`).FindAllStringSubmatch(form, -1) {
		out.Add(html.UnescapeString(m[1]), html.UnescapeString(m[2]))
	}
	for _, m := range regexp.MustCompile(`(?s)<select [^>]*name="([^"]*)"[^>]*>(.*?)</select>`).FindAllStringSubmatch(form, -1) {
		chosen := regexp.MustCompile(`<option value="([^"]*)" selected`).FindStringSubmatch(m[2])
		if chosen == nil {
			chosen = []string{"", ""}
		}
		out.Add(html.UnescapeString(m[1]), html.UnescapeString(chosen[1]))
	}
	return out
}

const hoursFile = `
time_zone = "Europe/Lisbon"
holidays = ["2026-12-25"]
split_hours = 5
[[shift]]
days = ["mon", "tue"]
from = "07:00"
to = "15:30"
operators = 2
[[machine]]
name = "Whelk"
field = [360, 300]
[money]
currency = "EUR"
labour_per_hour = 21.50
shifts_per_year = 230
price_step = 0.05
[money.machines.Whelk]
price = 7000
life_years = 6
`

func shopWithHours(t *testing.T, toml string) (*webtest.App, string) {
	t.Helper()
	a := webtest.New(t, web.Options{})
	id := a.Machine("compact-8", "Whelk")
	if toml != "" {
		if _, err := a.Shop.Setups.SaveWorkshop(t.Context(), setups.OnPage, toml, 0); err != nil {
			t.Fatal(err)
		}
	}
	return a, id
}

func workshop(t *testing.T, a *webtest.App) *book.Workshop {
	t.Helper()
	w, _, err := a.Shop.Setups.Workshop(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func TestHoursAndPricesFollowTheirForm(t *testing.T) {
	a, id := shopWithHours(t, hoursFile)
	_, body := a.Page("/plan/hours", nil)
	sent := typedInto(t, body, "/plan/hours")
	// As it stands it changes nothing.
	if status, body := a.Page("/plan/hours", sent); status != 303 {
		t.Fatalf("the form as it stands: status %d, %s", status, mainOf(body))
	}
	w := workshop(t, a)
	if w.Zone.String() != "Europe/Lisbon" || len(w.Shift) != 1 || !slices.Equal(w.Shift[0].Days, []string{"mon", "tue"}) || w.Shift[0].Operators != 2 ||
		w.Split != 5 || len(w.Machine) != 1 || len(w.Machine[0].Field) != 2 || w.Money.Labour.String() != "21.5" || w.Money.PriceStep.String() != "0.05" ||
		len(w.Money.Machines) != 1 || len(w.Holidays) != 1 {
		t.Fatalf("the form as it stands made another workshop of it: %+v", w)
	}
	_, body = a.Page("/plan/hours", nil)
	sent = typedInto(t, body, "/plan/hours")
	sent["shift[0].days"] = []string{"mon", "wed", "sat"}
	sent.Set("shift[0].to", "16:00")
	sent["shift[1].days"] = []string{"sun"}
	sent.Set("shift[1].from", "22:00")
	sent.Set("shift[1].to", "02:00")
	sent.Set("shift[1].operators", "1")
	sent.Set("holidays", "2027-01-01, 2026-12-25")
	sent.Set("money.labour_per_hour", "23,75")
	sent.Set("money.overhead_per_year", "0")
	sent.Set("own["+id+"].upkeep_per_year", "300")
	sent.Set("terms", "Ex works\n\n30 days\n")
	sent.Set("plan.hour_late", "35")
	sent.Set("plan.hour_done", "0")
	if status, body := a.Page("/plan/hours", sent); status != 303 {
		t.Fatalf("status %d, %s", status, mainOf(body))
	}
	w = workshop(t, a)
	if len(w.Shift) != 2 || !slices.Equal(w.Shift[0].Days, []string{"mon", "wed", "sat"}) || w.Shift[1].From != "22:00" || len(w.Holidays) != 2 ||
		w.Money.Labour.String() != "23.75" || !w.Money.Overhead.Given() || !slices.Equal(w.Terms, []string{"Ex works", "30 days"}) || w.Split != 5 {
		t.Errorf("kept: %+v", w)
	}
	if g := w.Weights(); g != (book.GoalWeights{HourLate: 35, OrderLate: 40, JobMoved: 2}) {
		t.Errorf("what a plan weighs: %+v", g)
	}
	for _, own := range w.Money.Machines {
		if own.Upkeep.String() != "300" || own.Life != 6 {
			t.Errorf("what the machine costs: %+v", own)
		}
	}
	// A cleared rate is missing, and not what it was; a shift is taken away.
	_, body = a.Page("/plan/hours", nil)
	sent = typedInto(t, body, "/plan/hours")
	sent.Set("money.overhead_per_year", "")
	sent.Set("plan.hour_late", "")
	sent.Set("plan.hour_done", "")
	sent.Set("shift[0].drop", "1")
	if status, body := a.Page("/plan/hours", sent); status != 303 {
		t.Fatalf("status %d, %s", status, mainOf(body))
	}
	if w = workshop(t, a); w.Weights() != (&book.Workshop{}).Weights() {
		t.Errorf("weights that were cleared are %+v", w.Weights())
	}
	if w.Money.Overhead.Given() || len(w.Shift) != 1 || w.Shift[0].From != "22:00" {
		t.Errorf("kept: %+v", w)
	}
	if status, file := a.Page("/plan/hours.toml", nil); status != 200 || !strings.Contains(file, "split_hours") {
		t.Errorf("the file: status %d, %.300s", status, file)
	} else if _, err := book.ParseWorkshop("it", []byte(file)); err != nil {
		t.Error(err)
	}
}

// A machine that is down is written on the page: the last row is for one more, a row is taken away, the others stay as they are.
func TestAMachineIsDownByTheForm(t *testing.T) {
	a, _ := shopWithHours(t, hoursFile+"\n[[down]]\nfrom = \"2027-05-03\"\nto = \"2027-05-04 12:30\"\n")
	name := ""
	if all, err := a.Shop.Machines.List(t.Context()); err != nil || len(all) == 0 {
		t.Fatal(err)
	} else {
		name = all[0].Name
	}
	post := func(set map[string]string) *book.Workshop {
		t.Helper()
		_, body := a.Page("/plan/hours", nil)
		sent := typedInto(t, body, "/plan/hours")
		for k, v := range set {
			sent.Set(k, v)
		}
		if status, body := a.Page("/plan/hours", sent); status != 303 {
			t.Fatalf("status %d, %s", status, mainOf(body))
		}
		return workshop(t, a)
	}
	w := post(map[string]string{"down[1].machine": name, "down[1].from": "2027-06-01T10:00", "down[1].to": "2027-06-02T09:15", "down[1].why": "hook timing"})
	if len(w.Down) != 2 || w.Down[0].Machine != "" || w.Down[0].From != "2027-05-03 00:00" || w.Down[0].To != "2027-05-04 12:30" || w.Down[1].Machine != name ||
		w.Down[1].From != "2027-06-01 10:00" || w.Down[1].To != "2027-06-02 09:15" || w.Down[1].Why != "hook timing" {
		t.Fatalf("kept: %+v", w.Down)
	}
	if w = post(map[string]string{"down[0].drop": "1"}); len(w.Down) != 1 || w.Down[0].Machine != name {
		t.Errorf("the first is taken away, kept: %+v", w.Down)
	}
	if w = post(map[string]string{"down[0].machine": ""}); len(w.Down) != 1 || w.Down[0].Machine != "" {
		t.Errorf("all machines, kept: %+v", w.Down)
	}
}

func TestNonsenseInHoursStandsAtItsField(t *testing.T) {
	a, id := shopWithHours(t, hoursFile)
	_, body := a.Page("/plan/hours", nil)
	for _, c := range []struct{ field, typed, says string }{
		{"money.labour_per_hour", "-5", "give 0 or more"},
		{"money.labour_per_hour", "", "missing"},
		{"plan.hour_late", "0", "give 0.1 to"},
		{"money.labour_per_hour", "much", "write an amount"},
		{"money.currency", "", "missing"},
		{"money.currency", strings.Repeat("x", 3000), "3000 characters"},
		{"shift[0].operators", "0", "above 0"},
		{"shift[0].from", "25:00", "time of day"},
		{"shift[0].days", "", "tick the days"},
		{"down[0].to", "2027-06-01T08:00", "not after"},
		{"time_zone", "Middle of nowhere", "no time zone"},
		{"holidays", "Christmas", "is no day"},
		{"promise_percent", "20", "give 50"},
		{"own[" + id + "].life_years", "", "give 1 to 50"},
		{"own[" + id + "].price", "-1", "give 0 or more"},
	} {
		sent := typedInto(t, body, "/plan/hours")
		if c.field == "down[0].to" {
			sent.Set("down[0].from", "2027-06-01T10:00")
		}
		if sent.Set(c.field, c.typed); c.field == "shift[0].days" {
			sent.Del(c.field)
		}
		status, page := a.Page("/plan/hours", sent)
		said := html.UnescapeString(page)
		_, after, ok := strings.Cut(said, `name="`+c.field+`"`)
		told, _, _ := strings.Cut(after, "</label>")
		if c.field == "shift[0].days" {
			told, _, _ = strings.Cut(after, "</fieldset>")
		}
		if status != 422 || !ok || !strings.Contains(strings.ToLower(told), c.says) || !strings.Contains(told, `role="alert"`) ||
			c.typed != "" && !strings.Contains(told, `value="`+c.typed+`"`) {
			t.Errorf("%s = %q: status %d; at the field: %.300s\n%s", c.field, c.typed, status, told, mainOf(page)[:min(600, len(mainOf(page)))])
		}
		if w := workshop(t, a); w.Money.Labour.String() != "21.5" || w.Shift[0].Operators != 2 {
			t.Fatalf("%s = %q was kept", c.field, c.typed)
		}
	}
	// Made from an older version: what was typed stays, and what differs is told.
	sent := typedInto(t, body, "/plan/hours")
	sent.Set("money.labour_per_hour", "29")
	a.Page("/plan/hours", sent)
	sent.Set("money.labour_per_hour", "30")
	status, page := a.Page("/plan/hours", sent)
	if status != 422 || !strings.Contains(page, "meanwhile") || !strings.Contains(page, `value="30"`) || !strings.Contains(page, `name="version" value="2"`) {
		t.Errorf("from an older version: status %d, %s", status, mainOf(page)[:900])
	}
}

// Nobody has said the hours: the form has an example with the zone and the currency of
// the browser, and its prices are kept as the examples they are.
func TestTheFirstHoursAreProposedAndMarked(t *testing.T) {
	a, _ := shopWithHours(t, "")
	for language, currency := range map[string]string{"ja-JP,en;q=0.5": "JPY", "en": "EUR", "pt-PT": "EUR", "de-CH": "CHF"} {
		req, err := http.NewRequestWithContext(t.Context(), "GET", a.URL+"/plan/hours", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Accept-Language", language)
		res, err := a.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		page, err := io.ReadAll(res.Body)
		res.Body.Close() //nolint:errcheck // read
		if err != nil || !strings.Contains(string(page), `name="money.currency" value="`+currency+`"`) {
			t.Errorf("to a browser that speaks %s the currency proposed is not %s (ISO 4217 by region, CLDR)", language, currency)
		}
	}
	_, body := a.Page("/plan/hours", nil)
	if !strings.Contains(body, `data-zone="take"`) {
		t.Error("the browser's zone is not proposed")
	}
	if status, page := a.Page("/plan/hours", typedInto(t, body, "/plan/hours")); status != 303 {
		t.Fatalf("the example as it stands: status %d, %s", status, mainOf(page))
	}
	if w := workshop(t, a); !w.Money.Placeholder || !w.Priced() {
		t.Errorf("kept: %+v", w.Money)
	}
	if _, page := a.Page("/plan/hours", nil); !strings.Contains(page, "The prices are examples") {
		t.Error("the page does not say that the prices are examples")
	}
}

// Keeping hours that nobody changed changes nothing: comments stay, and there is nothing to take back. Pressed twice,
// what was changed is changed once, and the second press is not told that somebody else was quicker.
func TestHoursThatStandSoAreNoChange(t *testing.T) {
	a := webtest.Open(t, webtest.Sample(t), web.Options{})
	kept := func() (toml string, changes int) {
		w, err := a.Shop.Setups.Get(t.Context(), shop.WorkshopID)
		if err != nil {
			t.Fatal(err)
		}
		_, changes, err = a.Shop.Changes.List(t.Context(), shop.Owner, shop.ChangeQuery{Limit: 1})
		if err != nil {
			t.Fatal(err)
		}
		return w.TOML, changes
	}
	was, before := kept()
	_, body := a.Page("/plan/hours", nil)
	form := typedInto(t, body, "/plan/hours")
	if status, _ := a.Page("/plan/hours", form); status != 303 {
		t.Fatalf("status %d", status)
	}
	if is, after := kept(); is != was || !strings.Contains(is, "# mm: the largest design") || after != before {
		t.Errorf("%d changes are %d: %s", before, after, is)
	}
	form.Set("money.labour_per_hour", "31.5")
	for range 2 {
		if status, body := a.Page("/plan/hours", form); status != 303 {
			t.Fatalf("status %d: %s", status, mainOf(body))
		}
	}
	if is, after := kept(); !strings.Contains(is, "31.5") || after != before+1 {
		t.Errorf("%d changes are %d: %s", before, after, is)
	}
	form.Set("money.labour_per_hour", "32.5") // made from what was there before
	if status, body := a.Page("/plan/hours", form); status != 409 && status != 422 || !strings.Contains(body, "Somebody else has kept meanwhile: 31.5") {
		t.Errorf("status %d: %s", status, mainOf(body))
	}
}
