package pages_test

import (
	"html"
	"net/url"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// A new comparison asks for the prices that it needs and makes none up.
func TestAComparisonAsksForPricesAndInventsNone(t *testing.T) {
	a := webtest.New(t, web.Options{})
	bay := a.Machine("compact-8", "Bay")
	a.DemoDesign("gull-cap.dst")
	if _, body := a.Page("/compare", nil); !strings.Contains(body, `name="price[`+bay+`]"`) || !strings.Contains(body, `name="labour"`) {
		t.Errorf("the page does not ask for the price of Bay and an operator's hour: %.600s", mainOf(body))
	}
	form := url.Values{"labour": {"23.5"}, "shifts": {"230"}, "life[" + bay + "]": {"6"}}
	if status, body := a.Page("/compare", form); status != 422 || !strings.Contains(body, "Missing: give what the machine costs") {
		t.Errorf("without a price: status %d, %.600s", status, mainOf(body))
	}
	form.Set("price["+bay+"]", "-5")
	if status, body := a.Page("/compare", form); status != 422 || !strings.Contains(body, "-5") {
		t.Errorf("with a price of −5: status %d, %.600s", status, mainOf(body))
	}
	form.Set("price["+bay+"]", "4321")
	if status, body := a.Page("/compare", form); status >= 400 {
		t.Fatalf("status %d, %.600s", status, mainOf(body))
	}
	kept, err := a.Shop.Setups.List(t.Context(), shop.MixSetup)
	if err != nil || len(kept) != 1 {
		t.Fatalf("%d mixes are kept, %v", len(kept), err)
	}
	toml := kept[0].TOML
	for _, want := range []string{"price = '4321'", "labour_per_hour = '23.5'", "shifts_per_year = 230", "life_years = 6"} {
		if !strings.Contains(toml, want) {
			t.Errorf("the mix has no %s:\n%s", want, toml)
		}
	}
	if strings.Contains(toml, "energy_per_kwh") || strings.Count(toml, "[[machine]]") != 1 {
		t.Errorf("the mix has a price or machine that nobody gave:\n%s", toml)
	}
	status, body := a.Page("/compare/"+kept[0].ID, nil)
	if status != 200 || !strings.Contains(body, "Missing, and counted as 0") || !strings.Contains(body, "energy per kWh") {
		t.Errorf("status %d; the page does not say which prices are missing: %.900s", status, mainOf(body))
	}
	// A form that is sent on keeps what is missing missing.
	_, body = a.Page("/compare/"+kept[0].ID+"?"+filled(body).Encode(), nil)
	if !strings.Contains(body, "energy per kWh") {
		t.Errorf("after a form with an empty price the page no longer says that it is missing: %.900s", mainOf(body))
	}
}

// The page simulates as well as everybody else: a shift whose yield is hard to
// know takes more shifts, and as many as the command and the API make.
func TestTheFloorPageIsAsPreciseAsTheQuestion(t *testing.T) {
	a := webtest.New(t, web.Options{})
	bay := a.Machine("compact-8", "Bay")
	d := a.DemoDesign("gull-cap.dst")
	kept, err := a.Shop.Setups.Save(t.Context(), shop.Setup{Kind: shop.FloorSetup, Name: "An hour", TOML: "name = \"An hour\"\n[shift]\nhours = 1\n" +
		"[work]\nbreaks_per_1000 = 0.2\n[[machine]]\nsheet = \"" + bay + "\"\n[[operator]]\n[[job]]\ndesign = \"" + d.ID + "\"\n"})
	if err != nil {
		t.Fatal(err)
	}
	want, err := act.Answer(t.Context(), a.Shop, ask.Shift, ask.ShiftQuestion{TOML: []byte(kept.TOML)})
	if err != nil {
		t.Fatal(err)
	}
	if want.Replications < 400 {
		t.Fatalf("%d shifts are simulated: the test needs a yield that is harder to know", want.Replications)
	}
	_, body := a.Page("/floor/"+kept.ID, nil)
	if !strings.Contains(html.UnescapeString(body), want.Verdict.Raw()) {
		t.Errorf("the page does not say %q: %.900s", want.Verdict.Raw(), mainOf(body))
	}
}
