package pages_test

import (
	"html"
	"net/url"
	"strings"
	"testing"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// Two people have the hours and prices open: the second one to keep is told, what
// was typed stays, and nothing of the first one's is lost. The API answers 409.
func TestTwoPeopleChangeTheHours(t *testing.T) {
	a := webtest.New(t, web.Options{})
	a.Machine("compact-8", "Whelk")
	hours := "[[shift]]\nfrom = \"07:00\"\nto = \"15:00\"\noperators = 1\n"
	a.Send("PUT", "/workshop", map[string]any{"toml": hours}).OK(200)
	type kept struct {
		TOML    string
		Version int
	}
	now := func() kept { return webtest.Into[kept](a.Send("GET", "/workshop", nil).OK(200)) }
	first := strings.Replace(hours, "15:00", "16:00", 1)
	second := strings.Replace(hours, "operators = 1", "operators = 3", 1)
	a.Send("PUT", "/workshop", map[string]any{"toml": first, "base": 1}).OK(200)
	a.Send("PUT", "/workshop", map[string]any{"toml": second, "base": 1}).Fails(409, shop.Conflict, "version 2")
	a.Send("PUT", "/workshop", map[string]any{"toml": second}).Fails(409, shop.Conflict, "version 2")
	if k := now(); k.TOML != first || k.Version != 2 {
		t.Fatalf("%+v: the first one's are lost", k)
	}
	status, body := a.Page("/plan/hours", url.Values{"toml": {second}, "version": {"1"}})
	said := html.UnescapeString(body)
	for _, want := range []string{"meanwhile", "operators = 3", "the operators of Monday: 1 → 3",
		"the hours of Monday: 07:00 to 16:00 → 07:00 to 15:00", `name="version" value="2"`} {
		if !strings.Contains(strings.ToLower(said), strings.ToLower(want)) {
			t.Errorf("%d: the page does not say %q", status, want)
		}
	}
	if k := now(); k.TOML != first {
		t.Fatal("the page kept it all the same")
	}
	if status, body := a.Page("/plan/hours", url.Values{"toml": {second}, "version": {"2"}}); status != 303 ||
		strings.Contains(body, `id="differs"`) || !strings.Contains(now().TOML, "operators = 3") {
		t.Errorf("%d: the second press does not keep it: %+v", status, now())
	}
}

// By the form, what only one of two people changes is kept, of each; what both change is shown side by side, and a second press
// has the second one's, and leaves what else the first one changed.
func TestTwoPeopleFillInTheHours(t *testing.T) {
	a := webtest.New(t, web.Options{})
	m := a.Machine("compact-8", "Whelk")
	a.Send("PUT", "/workshop", map[string]any{"toml": "holidays = [\"2026-12-25\"]\nready_by = \"16:00\"\n[[shift]]\nfrom = \"07:00\"\nto = \"15:00\"\noperators = 1\n" +
		"[money]\ncurrency = \"CLP\"\nshifts_per_year = 250\nmargin_percent = 30\nlabour_per_hour = 20\n"}).OK(200)
	_, body := a.Page("/plan/hours", nil)
	form := func() url.Values { return typedInto(t, body, "/plan/hours") }
	first, second, third := form(), form(), form()
	send := func(v url.Values, want int) string {
		t.Helper()
		status, body := a.Page("/plan/hours", v)
		if status != want {
			t.Fatalf("status %d, %s", status, mainOf(body))
		}
		return html.UnescapeString(body)
	}
	holds := func(want ...string) {
		t.Helper()
		file := webtest.Into[struct{ TOML string }](a.Send("GET", "/workshop", nil).OK(200)).TOML
		for _, w := range want {
			if !strings.Contains(strings.NewReplacer("'", "", `"`, "").Replace(file), w) {
				t.Errorf("%q is not in\n%s", w, file)
			}
		}
	}
	first.Set("money.margin_percent", "35")
	first.Set("shift[0].to", "15:30")
	first.Set("own["+m+"].price", "9000")
	first.Set("own["+m+"].life_years", "9")
	first["shift[1].days"], first["shift[1].from"], first["shift[1].to"] = []string{"sat"}, []string{"08:00"}, []string{"12:00"}
	first.Set("shift[1].operators", "1")
	send(first, 303)
	second.Set("money.labour_per_hour", "22")
	second.Set("shift[0].operators", "2")
	second["shift[1].days"], second["shift[1].from"], second["shift[1].to"] = []string{"sun"}, []string{"09:00"}, []string{"11:00"}
	second.Set("shift[1].operators", "1")
	second.Set("own["+m+"].kilowatts", "1.5")
	send(second, 303)
	holds("margin_percent = 35", "labour_per_hour = 22", "to = 15:30", "operators = 2", "days = [sat]", "days = [sun]", "price = 9000",
		"kilowatts = 1.5", "2026-12-25")
	third.Set("money.margin_percent", "32")
	third.Set("ready_by", "17:00")
	third.Set("holidays", "2026-12-24, 2026-12-25")
	body = send(third, 422)
	if !strings.Contains(body, "You both changed") || !strings.Contains(body, "Somebody else has kept meanwhile: 35") || strings.Count(body, "Somebody else has") != 1 {
		t.Fatalf("the third: %s", mainOf(body))
	}
	holds("margin_percent = 35", "ready_by = 16:00")
	send(form(), 303)
	holds("margin_percent = 32", "labour_per_hour = 22", "to = 15:30", "operators = 2", "days = [sat]", "days = [sun]", "ready_by = 17:00", "2026-12-24",
		"price = 9000")
}

// A form that somebody else overtook and that has a slip in it, too: once the slip is mended, what the other one changed stays.
func TestASlipInAFormForgetsNobodysChange(t *testing.T) {
	a := webtest.New(t, web.Options{})
	m, d := a.Machine("compact-8", "Whelk"), a.DemoDesign("ostrel-light.dst")
	hours := "ready_by = \"16:00\"\n[[shift]]\nfrom = \"07:00\"\nto = \"15:00\"\noperators = 1\n"
	a.Send("PUT", "/workshop", map[string]any{"toml": hours}).OK(200)
	kept := func() string {
		return webtest.Into[struct{ TOML string }](a.Send("GET", "/workshop", nil).OK(200)).TOML
	}
	_, body := a.Page("/plan/hours", nil)
	mine := typedInto(t, body, "/plan/hours")
	a.Send("PUT", "/workshop", map[string]any{"toml": strings.Replace(hours, "15:00", "15:30", 1), "base": 1}).OK(200)
	mine.Set("ready_by", "17:00")
	mine.Set("promise_percent", "many")
	if status, body := a.Page("/plan/hours", mine); status != 422 {
		t.Fatalf("%d", status)
	} else if mine = typedInto(t, body, "/plan/hours"); mine.Get("shift[0].to") != "15:00" {
		t.Fatalf("%v", mine)
	}
	mine.Set("promise_percent", "92")
	if status, body := a.Page("/plan/hours", mine); status != 303 || !strings.Contains(kept(), "15:30") || !strings.Contains(kept(), "17:00") {
		t.Errorf("status %d, kept\n%s\n%s", status, kept(), mainOf(body))
	}
	// A whole file.
	file := url.Values{"toml": {"[[shift]\n"}, "version": {"1"}}
	_, body = a.Page("/plan/hours", file)
	_, part, _ := strings.Cut(body, `id="file"`)
	again := typedInto(t, part, "/plan/hours")
	again.Set("toml", hours)
	if status, _ := a.Page("/plan/hours", again); status == 303 || !strings.Contains(kept(), "15:30") {
		t.Errorf("status %d: the file put the other's change back unsaid\n%s", status, kept())
	}
	// A kept shift.
	toml := "[shift]\nhours = 8\n[[machine]]\nname = \"one\"\nsheet = \"" + m + "\"\n[[operator]]\nname = \"Ada\"\n[[job]]\ndesign = \"" + d.ID + "\"\nquantity = 40\n"
	s := webtest.Into[shop.Setup](a.Send("POST", "/setups", map[string]any{"kind": "floor", "name": "Day", "toml": toml}).OK(201))
	_, body = a.Page("/floor/"+s.ID, nil)
	shift := typedInto(t, body, "/floor/"+s.ID)
	a.Send("PUT", "/setups/"+s.ID, map[string]any{"kind": "floor", "name": "Day", "toml": strings.Replace(toml, "quantity = 40", "quantity = 44", 1), "base": s.Version}).OK(200)
	shift.Set("shift.hours", "long")
	_, body = a.Page("/floor/"+s.ID, shift)
	shift = typedInto(t, body, "/floor/"+s.ID)
	shift.Set("shift.hours", "7")
	a.Page("/floor/"+s.ID, shift)
	if k := webtest.Into[shop.Setup](a.Send("GET", "/setups/"+s.ID, nil).OK(200)); !strings.Contains(k.TOML, "quantity = 44") {
		t.Errorf("the shift put the other's change back unsaid: %s", k.TOML)
	}
}

// The same with a kept shift and a kept mix.
func TestTwoPeopleChangeAShift(t *testing.T) {
	a := webtest.New(t, web.Options{})
	m, d := a.Machine("compact-8", "Whelk"), a.DemoDesign("ostrel-light.dst")
	toml := "[shift]\nhours = 8\n[[machine]]\nname = \"one\"\nsheet = \"" + m + "\"\n[[operator]]\nname = \"Ada\"\n[[job]]\ndesign = \"" + d.ID +
		"\"\nquantity = 40\n"
	s := webtest.Into[shop.Setup](a.Send("POST", "/setups", map[string]any{"kind": "floor", "name": "Day", "toml": toml}).OK(201))
	put := func(base int, name string) *webtest.Answer {
		return a.Send("PUT", "/setups/"+s.ID, map[string]any{"kind": "floor", "name": name, "toml": toml, "base": base})
	}
	put(s.Version, "Early").OK(200)
	put(s.Version, "Late").Fails(409, shop.Conflict, "version 2")
	put(0, "Late").Fails(409, shop.Conflict, "version 2")
	file := strings.Replace(toml, "quantity = 40", "quantity = 77", 1)
	_, body := a.Page("/floor/"+s.ID, url.Values{"whole_file": {file}, "version": {"1"}})
	if said := html.UnescapeString(body); !strings.Contains(said, "meanwhile") || !strings.Contains(said, "quantity = 77") ||
		!strings.Contains(said, `name="version" value="2"`) {
		t.Errorf("the page does not say that somebody changed it, or lost what was typed")
	}
	if k := webtest.Into[shop.Setup](a.Send("GET", "/setups/"+s.ID, nil).OK(200)); k.Name != "Early" || strings.Contains(k.TOML, "quantity = 77") {
		t.Errorf("%+v: the first one's is lost", k)
	}
	a.Page("/floor/"+s.ID, url.Values{"whole_file": {file}, "version": {"2"}})
	if k := webtest.Into[shop.Setup](a.Send("GET", "/setups/"+s.ID, nil).OK(200)); !strings.Contains(k.TOML, "quantity = 77") {
		t.Errorf("%+v: the second press does not keep it", k)
	}
}
