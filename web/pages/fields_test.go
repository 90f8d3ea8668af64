package pages_test

import (
	"net/url"
	"regexp"
	"strings"
	"testing"

	"needlepace/demo"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// What is wrong with a form stands at its field, with what was typed, and
// nothing is kept of it.
func TestWhatIsWrongStandsAtItsField(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	machines, err := a.Shop.Machines.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	design, err := a.Shop.Designs.Find(t.Context(), "gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	m := machines[0].ID
	order := "customer=A&line[0].design=" + design.ID + "&line[0].quantity=3&line[1].design=&line[2].quantity=&line[2].design="
	record, run, display := "line=1&good=5&machine="+m, "set_speed=800&time=18:45&design="+design.ID, "kind=display&set_speed=800&length=4"
	prices := "labour=20&shifts=230"
	for _, x := range machines {
		prices += "&price[" + x.ID + "]=900&life[" + x.ID + "]=5"
	}
	for _, c := range []struct{ path, form, field, typed, words string }{
		{"/orders", order, "customer", "", "missing"},
		{"/orders", order, "due", "2020-02-02", "has passed"},
		{"/orders", order, "goods", "soon", "no day"},
		{"/orders", order, "weight", "-1", "0 or more"},
		{"/orders", order, "weight", "5000", "priority"},
		{"/orders", order, "line[0].quantity", "three", "whole number"},
		{"/orders", order, "line[0].quantity", "0", "1 or more"},
		{"/orders", "customer=A&line[0].design=&line[1].design=" + design.ID, "line[1].quantity", "0", "1 or more"},
		{"/orders", order, "line[0].speed", "9000", "line"},
		{"/orders", order, "line[2].quantity", "4", "choose its design"},
		{"/orders", order, "line[0].design", "", "choose its design"},
		{"/orders/1001", order + "&version=1", "promised", "x", "no day"},
		{"/orders/1001/record", record, "breaks", "x", "whole number"},
		{"/orders/1001/record", record, "good", "-5", "0 or more"},
		{"/orders/1001/record", record, "speed", "5000", "set speed"},
		{"/orders/1001/record", record + "&to=09:00", "from", "", "one of the times"},
		{"/orders/1001/record", record + "&from=09:00&to=09:10", "pauses", "30", "leaves no time"},
		{"/orders/1001/record", record, "from", "9 h", "07:30"},
		{"/orders/1006/quote", "", "chance", "150", "50 to 99.5"},
		{"/orders/1006/quote", "", "steps", "some", "whole numbers"},
		{"/plan/try", "operators=1", "priority", "x", "a number"},
		{"/plan/try", "rush=1001", "due", "soon", "no day"},
		{"/plan/try", "", "operators", "many", "a number"},
		{"/plan/try", "down=" + m + "&to=2027-03-04T10:00", "from", "", "from when"},
		{"/designs/" + design.ID, "customer=x", "name", "", "missing"},
		{"/plan/hours", "", "toml", "shift = 3", "shift"},
		{"/settings", "length=mm&hours=24&paper=A4", "currency", "Euro", "three capital letters"},
		{"/settings/accounts", "password=a+long+enough+one&role=owner", "name", " ", "missing"},
		{"/settings/accounts", "name=Ada&role=owner", "password", "short", "characters"},
		{"/machines", "class=compact-8", "name", strings.Repeat("x", 101), "101 characters"},
		{"/machines", "class=compact-8", "name", strings.Repeat("x", 3000), "3,000 characters"},
		{"/machines", "name=x", "class", "none", "no machine class"},
		{"/machines/" + m + "/sheet", "base=1", "note", strings.Repeat("x", 3000), "3,000 characters"},
		{"/orders/1031/state", "to=delivered", "note", strings.Repeat("x", 3000), "3,000 characters"},
		{"/orders/1031/deliveries", "line=1", "pieces", "-5", "0 or more"},
		{"/orders/1031/deliveries", "line=1", "pieces", "some", "whole number"},
		{"/orders/1031/deliveries", "line=1&pieces=1", "day", "soon", "no day"},
		{"/orders/1031/deliveries", "line=1&pieces=1", "note", strings.Repeat("x", 3000), "3,000 characters"},
		{"/machines/" + m + "/testpiece", "x=100", "y", "wide", "a number"},
		{"/machines/" + m + "/runs", run, "time", "18 or so", ""},
		{"/machines/" + m + "/runs", run, "set_speed", "5", "between 10 and 3000"},
		{"/machines/" + m + "/runs", run, "block", "1.5", "whole number"},
		{"/machines/" + m + "/runs", run, "block", "99", "colour blocks"},
		{"/machines/" + m + "/runs", run, "date", "soon", "no day"},
		{"/machines/" + m + "/runs", display, "shown", "fast", "a number"},
		{"/machines/" + m + "/runs", display + "&shown=700", "length", "0", "between"},
		{"/machines/" + m + "/sheet", "base=1", "value[max_speed]", "fast", "a number"},
		{"/machines/" + m + "/sheet", "base=1", "value[max_speed]", "1", "max_speed"},
		{"/machines/" + m + "/sheet", "base=1", "value[shaft.accel_up]", "x", "a number"},
		{"/machines/" + m + "/sheet", "base=1", "value[heads]", "1.5", "whole number"},
		{"/machines/" + m + "/sheet", "base=1", "value[field.height]", "450", "or neither"},
		{"/machines/" + m + "/sheet", "base=1", "spread[max_speed]", "500", "spread"},
		{"/machines/" + m + "/sheet", "base=1", "ladder_length", "2 x", "numbers"},
		{"/compare", prices, "labour", "", "labour"},
		{"/compare", prices, "shifts", "x", "whole number"},
		{"/compare", prices, "price[" + m + "]", "-5", "0 or more"},
		{"/compare", prices, "price[" + m + "]", "", "price"},
		{"/compare", prices, "life[" + m + "]", "", ""},
		{"/compare", prices, "price[offer]", "700", ""},
	} {
		form, err := url.ParseQuery(c.form)
		if err != nil {
			t.Fatal(err)
		}
		form.Set(c.field, c.typed)
		status, body := a.Page(c.path, form)
		body = mainOf(body)
		marks := regexp.MustCompile(`(?s)<label class="field[^"]* wrong">(.*?)</label>|<input[^>]*aria-invalid[^>]*>.*?<em[^>]*>(.*?)</em>`).FindAllString(body, -1)
		if status != 422 || len(marks) != 1 || !strings.Contains(strings.ToLower(marks[0]), strings.ToLower(c.words)) {
			t.Errorf("%s, %s = %q: status %d, marked %q, want %q at one field; %.300s", c.path, c.field, c.typed, status, marks, c.words, body)
			continue
		}
		at := c.field
		switch c.field { // where it is another that is missing
		case "line[2].quantity":
			at = "line[2].design"
		case "price[offer]":
			at = "offer"
		}
		if !strings.Contains(marks[0], `name="`+at) {
			t.Errorf("%s, %s = %q: marked is %q", c.path, c.field, c.typed, marks[0])
		}
		if c.typed = strings.TrimSpace(c.typed); c.typed != "" && c.field != "password" && !strings.Contains(body, c.typed) {
			t.Errorf("%s, %s = %q: what was typed is gone", c.path, c.field, c.typed)
		}
	}
	all, _, err := a.Shop.Orders.List(t.Context(), shop.OrderQuery{Limit: 100})
	if err != nil || len(all) != 6+len(demo.DoneOrders()) {
		t.Errorf("%d orders after nothing but wrong forms: %v", len(all), err)
	}
}

// A sheet's form that is sent as it stands changes nothing of the sheet, and one
// number changes that number.
func TestASheetFollowsItsForm(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	machines, err := a.Shop.Machines.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	send := func(change map[string]string) *shop.Machine {
		t.Helper()
		_, page := a.Page("/machines/"+machines[0].ID, nil)
		_, page, _ = strings.Cut(page, `class="sheet">`)
		form := filled(`<form class="body">` + page)
		for k, v := range change {
			form.Set(k, v)
		}
		if status, body := a.Page("/machines/"+machines[0].ID+"/sheet", form); status != 303 {
			t.Fatalf("status %d, %.600s", status, mainOf(body))
		}
		m, err := a.Shop.Machines.Get(t.Context(), machines[0].ID)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	// The machine was learned: only a constant that changes times drops its fit.
	learned := machines[0].Sheet.Clone()
	learned.Fit = &machine.Fit{Runs: 9, ModelVersion: machine.ModelVersion, Residual: 0.01}
	was, err := a.Shop.Machines.ChangeSheet(t.Context(), machines[0].ID, machines[0].Version, string(learned.TOML()), "", "")
	if err != nil {
		t.Fatal(err)
	}
	if is := send(nil); is.Version != was.Version+1 || string(is.Sheet.TOML()) != string(was.Sheet.TOML()) {
		t.Errorf("version %d after %d, and the sheet is\n%s\nbefore\n%s", is.Version, was.Version, is.Sheet.TOML(), was.Sheet.TOML())
	}
	is := send(map[string]string{"value[field.width]": "360", "value[field.height]": "450"})
	if is.Sheet.Field != (machine.Field{Width: 360, Height: 450}) || is.Sheet.Fit == nil {
		t.Errorf("the field is %+v, the record of the fit %v after %v", is.Sheet.Field, is.Sheet.Fit, was.Sheet.Fit)
	}
	is = send(map[string]string{"value[shaft.accel_up]": "7,25", "spread[shaft.accel_up]": "11", "name": "Renamed"})
	if is.Sheet.Shaft.AccelUp != 7.25 || is.Sheet.SD["shaft.accel_up"] != .11 || is.Name != "Renamed" || is.Sheet.MaxSpeed != was.Sheet.MaxSpeed ||
		is.Sheet.Fit != nil {
		t.Errorf("%s: %v ± %v", is.Name, is.Sheet.Shaft.AccelUp, is.Sheet.SD["shaft.accel_up"])
	}
}

// Times to choose from read as a clock's maker writes them: no seconds that nobody chose.
func TestHowOftenThePlanIsLookedAtReadsWhole(t *testing.T) {
	a := webtest.New(t, web.Options{})
	_, body := a.Page("/settings", nil)
	for _, want := range []string{`value="5">every 5 min<`, `value="15" selected>every 15 min<`, `value="60">every 1 h<`, `value="240">every 4 h<`, `value="0">never<`} {
		if !strings.Contains(body, want) {
			t.Errorf("no %s in\n%s", want, body)
		}
	}
}
