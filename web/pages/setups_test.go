package pages_test

import (
	"encoding/json"
	"fmt"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// demoSetup is the demo shop with the address of its kept shift or mix.
func demoSetup(t *testing.T, kind shop.SetupKind, at string) (*webtest.App, string) {
	t.Helper()
	a := webtest.NewSample(t, web.Options{})
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
			if bigFigure.MatchString(body) || !strings.Contains(body, "Not worked out") {
				t.Errorf("%s = %s has an answer beside it, to other numbers", field, typed)
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
		if status != 422 || !strings.Contains(body, `name="`+field+`" value="`+typed+`"`) || !strings.Contains(body, `aria-invalid="true"`) || bigFigure.MatchString(body) {
			t.Errorf("%s = %s: status %d; it must be refused at its field, what was typed be kept, and no answer stand beside it", field, typed, status)
		}
	}
	form = filled(page)
	form.Set("machine[1].price", "") // emptied
	for _, sent := range []url.Values{nil, form} {
		path := at
		if sent == nil {
			path += "?" + form.Encode()
		}
		status, body := a.Page(path, sent)
		_, field, _ := strings.Cut(body, `name="machine[1].price"`)
		field, _, _ = strings.Cut(field, "</label>")
		if status == 303 || !strings.Contains(field, "Missing") || bigFigure.MatchString(body) {
			t.Errorf("an emptied price: status %d; at the field %q", status, field)
		}
	}
	// A machine that is added is in the form at once, and asks for its price there; with it
	// the answer has one machine more.
	form = filled(page)
	rows := strings.Count(page, `.sheet"`)
	form.Set("add_machine", "compact-8")
	_, body := a.Page(at+"?"+form.Encode(), nil)
	_, field, _ := strings.Cut(body, fmt.Sprintf(`name="machine[%d].price"`, rows))
	field, _, _ = strings.Cut(field, "</label>")
	if n := strings.Count(body, `.sheet"`); n != rows+1 || !strings.Contains(field, "Missing") || bigFigure.MatchString(body) {
		t.Fatalf("%d machines in the form after one was added to %d; at its price %q", n, rows, field)
	}
	form = filled(body)
	if form.Has("add_machine") || form.Get(fmt.Sprintf("machine[%d].sheet", rows)) != "compact-8" {
		t.Errorf("the form with the machine: %v", form)
	}
	form.Set(fmt.Sprintf("machine[%d].price", rows), "3900")
	form.Set(fmt.Sprintf("machine[%d].life_years", rows), "5")
	_, body = a.Page(at+"?"+form.Encode(), nil)
	if !bigFigure.MatchString(body) || !strings.Contains(body, "Not kept yet") || !strings.Contains(mainOf(body), "offer "+strconv.Itoa(rows+1)) {
		t.Errorf("with its price: %.900s", mainOf(body))
	}
}

// What is kept means the machines it was made with: others that come to have
// their names do not take their places, and the answer stays, byte for byte.
func TestAMachineOfTheSameNameTakesNoPlace(t *testing.T) {
	for _, x := range []struct {
		kind             shop.SetupKind
		page, api, asked string
	}{{shop.FloorSetup, "/floor/", "/floor", `"precision":0.05`}, {shop.MixSetup, "/compare/", "/compare", `"weeks":20`}} {
		t.Run(string(x.kind), func(t *testing.T) {
			a, at := demoSetup(t, x.kind, x.page)
			ctx := t.Context()
			body := json.RawMessage(`{"setup":"` + strings.TrimPrefix(at, x.page) + `",` + x.asked + `}`)
			answer := func() string {
				var w struct{ Result json.RawMessage }
				r := a.Finish(a.Send("POST", x.api, body), "")
				if err := json.Unmarshal(r.Body, &w); err != nil || len(w.Result) < 500 {
					t.Fatalf("no answer: %v, %.300s", err, r.Body)
				}
				return string(w.Result)
			}
			was := answer()
			same := func(after string) {
				t.Helper()
				if is := answer(); is != was {
					t.Errorf("after %s the answer is another:\n%.300s\nbefore\n%.300s", after, is, was)
				}
			}
			kept, err := a.Shop.Machines.List(ctx)
			if err != nil || len(kept) != 3 {
				t.Fatal(len(kept), err)
			}
			var second []*shop.Machine
			for _, m := range kept {
				other, err := a.Shop.Machines.AddOfClass(ctx, "compact-8", m.Name, "")
				if err != nil || other.ID == m.ID || other.Name != m.Name {
					t.Fatal("a second machine of the same name is not there", err)
				}
				second = append(second, other)
			}
			same("adding second machines of the same names")
			_, page := a.Page(at, nil)
			if status, body := a.Page(at, filled(page)); status != 303 {
				t.Fatalf("keeping the form as it stands: status %d, %.600s", status, mainOf(body))
			}
			same("keeping its form")
			third, err := a.Shop.Machines.AddOfClass(ctx, "compact-8", "Bay 9", "")
			if err != nil {
				t.Fatal(err)
			}
			toml := strings.Replace(string(third.Sheet.TOML()), "Bay 9", kept[0].Name, 1)
			if m, err := a.Shop.Machines.ChangeSheet(ctx, third.ID, third.Version, toml, "", ""); err != nil || m.Name != kept[0].Name {
				t.Fatal("a machine does not take the name", err)
			}
			same("another machine took the name of " + kept[0].Name)
			for _, m := range second {
				if err := a.Shop.Machines.Remove(ctx, m.ID); err != nil {
					t.Fatal(err)
				}
			}
			same("taking the second machines off the list")
			if err := a.Shop.Machines.Remove(ctx, kept[0].ID); err != nil {
				t.Fatal(err)
			}
			if status, body := a.Page(at, nil); bigFigure.MatchString(body) || !strings.Contains(body, kept[0].Name+" was taken off the list") {
				t.Errorf("without its machine, with another of the name: status %d, %.300s", status, mainOf(body))
			}
			if err := a.Shop.Machines.Restore(ctx, kept[0].ID); err != nil {
				t.Fatal(err)
			}
			same("putting the machine back")
		})
	}
}

// A kept shift or mix that names a machine taken off the list opens with its form, so
// that it can be mended there: nothing that is kept is out of reach.
func TestWhatIsKeptAndCannotBeWorkedOutCanBeMended(t *testing.T) {
	for kind, at := range map[shop.SetupKind]string{shop.FloorSetup: "/floor/", shop.MixSetup: "/compare/"} {
		a, at := demoSetup(t, kind, at)
		gone, err := a.Shop.Machines.Find(t.Context(), "Gannet")
		if err != nil {
			t.Fatal(err)
		}
		other, err := a.Shop.Machines.Find(t.Context(), "Skipper")
		if err != nil {
			t.Fatal(err)
		}
		if kind == shop.MixSetup { // the demo's mix weighs classes
			s, err := a.Shop.Setups.Get(t.Context(), strings.TrimPrefix(at, "/compare/"))
			if err != nil {
				t.Fatal(err)
			}
			class := regexp.MustCompile(`(?m)^sheet = "[^"]*"`).FindString(s.TOML)
			s.TOML = strings.Replace(s.TOML, class, `sheet = "`+gone.ID+`"`, 1)
			if _, err := a.Shop.Setups.Save(t.Context(), *s); err != nil {
				t.Fatal(err)
			}
		}
		if err := a.Shop.Machines.Remove(t.Context(), gone.ID); err != nil {
			t.Fatal(err)
		}
		status, body := a.Page(at, nil)
		marks := regexp.MustCompile(`(?s)<label class="field[^"]* wrong">(.*?)</label>`).FindAllString(body, -1)
		if status != 200 || len(marks) != 1 || !strings.Contains(marks[0], "Gannet was taken off the list") || !strings.Contains(marks[0], ".sheet") {
			t.Fatalf("%s: status %d, marked %q; %.900s", at, status, marks, mainOf(body))
		}
		form := filled(body)
		if form.Get("setup_name") == "" || len(form) < 10 {
			t.Errorf("%s: the form shows %v", at, form)
		}
		sheet := regexp.MustCompile(`name="([^"]*\.sheet)"`).FindStringSubmatch(marks[0])[1]
		form.Set(sheet, other.ID)
		if status, body := a.Page(at, form); status != 303 {
			t.Fatalf("%s mended: status %d; %.900s", at, status, mainOf(body))
		}
		if _, body := a.Page(at, nil); bigFigure.FindString(body) == "" {
			t.Errorf("%s mended: %.900s", at, mainOf(body))
		}
	}
}
