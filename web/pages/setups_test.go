package pages_test

import (
	"net/url"
	"regexp"
	"strings"
	"testing"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// demoSetup is the demo shop with the address of its kept shift or mix.
func demoSetup(t *testing.T, kind shop.SetupKind, at string) (*webtest.App, string) {
	t.Helper()
	a := webtest.New(t, web.Options{})
	if err := a.Shop.LoadDemo(t.Context(), func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	all, err := a.Shop.Setups.List(t.Context(), kind)
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	return a, at + all[0].ID
}

// filled is the form of a page as it stands there.
var (
	inputTag  = regexp.MustCompile(`<input [^>]*>`)
	selectTag = regexp.MustCompile(`(?s)<select name="([^"]+)"[^>]*>(.*?)</select>`)
	chosen    = regexp.MustCompile(`<option value="([^"]*)" selected>`)
	attr      = regexp.MustCompile(`(name|value|type)="([^"]*)"`)
)

func filled(body string) url.Values {
	form := url.Values{}
	_, body, _ = strings.Cut(body, `<form class="body"`)
	body, _, _ = strings.Cut(body, "</form>")
	for _, tag := range inputTag.FindAllString(body, -1) {
		at := map[string]string{}
		for _, m := range attr.FindAllStringSubmatch(tag, -1) {
			at[m[1]] = m[2]
		}
		if at["type"] == "checkbox" && !strings.Contains(tag, " checked") || at["value"] == "" {
			continue
		}
		form.Set(at["name"], at["value"])
	}
	for _, m := range selectTag.FindAllStringSubmatch(body, -1) {
		if v := chosen.FindStringSubmatch(m[2]); v != nil && v[1] != "" {
			form.Set(m[1], v[1])
		}
	}
	return form
}

var bigFigure = regexp.MustCompile(`<p class="big">([^<]*)`)

func figure(t *testing.T, body string) string {
	t.Helper()
	m := bigFigure.FindStringSubmatch(body)
	if m == nil {
		t.Fatalf("no figure on the page: %.600s", mainOf(body))
	}
	return m[1]
}

func TestAShiftFollowsItsForm(t *testing.T) {
	a, at := demoSetup(t, shop.FloorSetup, "/floor/")
	_, page := a.Page(at, nil)
	was := figure(t, page)
	form := filled(page)
	if _, same := a.Page(at+"?"+form.Encode(), nil); figure(t, same) != was || !strings.Contains(same, "Not kept yet") {
		t.Errorf("the form as it stands gives %s pieces, the page %s; %s", figure(t, same), was, form.Encode())
	}
	form.Set("shift.hours", "10")
	if _, longer := a.Page(at+"?"+form.Encode(), nil); figure(t, longer) == was {
		t.Errorf("a shift of 10 hours yields as much as one of 8: %s; %.900s", was, mainOf(longer))
	}
	for field, typed := range map[string]string{"shift.hours": "-5", "machine[1].speed": "fast", "work.breaks_per_1000": "5000", "shift.walk_seconds": "soon"} {
		form := filled(page)
		form.Set(field, typed)
		for _, sent := range []url.Values{nil, form} {
			path := at
			if sent == nil {
				path += "?" + form.Encode()
			}
			status, body := a.Page(path, sent)
			if status == 303 {
				t.Fatalf("%s = %s was kept", field, typed)
			}
			if want := map[bool]int{true: 200, false: 422}[sent == nil]; status != want || !strings.Contains(body, `name="`+field+`" value="`+typed+`"`) || !strings.Contains(body, `aria-invalid="true"`) {
				t.Errorf("%s = %s: status %d, want %d, the field marked with what was typed", field, typed, status, want)
			}
			if figure(t, body) != was {
				t.Errorf("%s = %s changed the answer", field, typed)
			}
		}
	}
	if _, still := a.Page(at, nil); figure(t, still) != was {
		t.Errorf("what was refused was kept: %s, was %s", figure(t, still), was)
	}
	form = filled(page)
	form.Set("shift.hours", "6")
	if status, body := a.Page(at, form); status != 303 {
		t.Fatalf("keeping it: status %d, %.400s", status, body)
	}
	if _, kept := a.Page(at, nil); figure(t, kept) == was || filled(kept).Get("shift.hours") != "6" {
		t.Errorf("kept for 6 hours: %s pieces, %s h", figure(t, kept), filled(kept).Get("shift.hours"))
	}
}

func TestAMixFollowsItsForm(t *testing.T) {
	a, at := demoSetup(t, shop.MixSetup, "/compare/")
	_, page := a.Page(at, nil)
	was := figure(t, page)
	form := filled(page)
	if _, same := a.Page(at+"?"+form.Encode(), nil); figure(t, same) != was {
		t.Errorf("the form as it stands gives %s, the page %s", figure(t, same), was)
	}
	form.Set("money.labour_per_hour", "43")
	if _, dearer := a.Page(at+"?"+form.Encode(), nil); figure(t, dearer) == was {
		t.Error("an hour that costs more changes nothing")
	}
	for field, typed := range map[string]string{"machine[1].price": "-5", "money.labour_per_hour": "much", "week.shifts": "2.5", "design[0].weekly": "-1"} {
		form := filled(page)
		form.Set(field, typed)
		status, body := a.Page(at, form)
		if status != 422 || !strings.Contains(body, `name="`+field+`" value="`+typed+`"`) || !strings.Contains(body, `aria-invalid="true"`) || figure(t, body) != was {
			t.Errorf("%s = %s: status %d; it must be refused at its field, and what was typed be kept", field, typed, status)
		}
	}
	form = filled(page)
	form.Del("machine[1].price") // emptied
	if status, body := a.Page(at, form); status == 303 {
		kept, err := a.Shop.Setups.Get(t.Context(), strings.TrimPrefix(at, "/compare/"))
		if err != nil || strings.Contains(kept.TOML, "price = '0'") || strings.Contains(kept.TOML, "price = 0\n") {
			t.Errorf("an emptied price was kept as 0: %v\n%s", err, kept.TOML)
		}
	} else if !strings.Contains(body, "price") {
		t.Errorf("an emptied price: status %d without a word of it", status)
	}
}

// A kept shift means the machine it was made with: another that is called the
// same later does not take its place.
func TestAMachineOfTheSameNameTakesNoPlace(t *testing.T) {
	a, at := demoSetup(t, shop.FloorSetup, "/floor/")
	_, page := a.Page(at, nil)
	was := figure(t, page)
	for _, name := range []string{"Gannet", "Skipper", "Six Sisters"} {
		if _, err := a.Shop.Machines.AddOfClass(t.Context(), "compact-8", name, ""); err != nil {
			t.Logf("the shop does not take a second %s: %v", name, err)
		}
	}
	_, page = a.Page(at, nil)
	if figure(t, page) != was {
		t.Errorf("with second machines of the same names the shift yields %s, before %s", figure(t, page), was)
	}
	form := filled(page)
	if status, body := a.Page(at, form); status != 303 {
		t.Fatalf("keeping the form as it stands: status %d, %.600s", status, mainOf(body))
	}
	if _, page = a.Page(at, nil); figure(t, page) != was {
		t.Errorf("kept from the form, the shift yields %s, before %s", figure(t, page), was)
	}
}
