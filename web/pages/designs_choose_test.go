package pages_test

import (
	"bytes"
	"fmt"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// Of more designs than one finds one's own among in a list, one is chosen by its file or its name, typed; the last on the list
// as well as the first. What cannot be told stands at the field, with what was typed.
func TestOneOfManyDesignsIsChosenByItsName(t *testing.T) {
	a := webtest.New(t, web.Options{})
	base := webtest.DemoFile(t, "gull-cap.dst")
	var last *shop.Design
	for i := range 201 {
		content := bytes.Clone(base[:512])
		for bit := range 9 { // stitches of no length: another design each, and the same to sew
			content = append(content, 0x00, 0x00, 0x03)
			if i>>bit&1 == 1 {
				content = append(content, 0x01, 0x00, 0x03, 0x02, 0x00, 0x03)
			}
		}
		added, err := a.Shop.AddFile(t.Context(), fmt.Sprintf("sign-%03d.dst", i), append(content, base[512:]...))
		if err != nil || added[0].Design == nil {
			t.Fatal(added, err)
		}
		last = added[0].Design
	}
	m := a.Machine("compact-8", "Fulmar")
	page := func(path string, form url.Values) string {
		t.Helper()
		status, body := a.Page(path, form)
		if status >= 500 {
			t.Fatalf("%s: %d %.300s", path, status, body)
		}
		if to := regexp.MustCompile(`^<a href="([^"]+)">See Other`).FindStringSubmatch(body); to != nil {
			_, body = a.Page(html.UnescapeString(to[1]), nil)
		}
		return body
	}
	for _, path := range []string{"/time?design=" + last.ID, "/machines/" + m, "/orders/new?design=" + last.ID, "/orders/rough"} {
		body := page(path, nil)
		if strings.Contains(body, "sign-007") || !strings.Contains(body, " data-design ") {
			t.Errorf("%s lists 201 designs, or has no field to type a name", path)
		}
		if strings.Contains(path, "?design=") && !strings.Contains(body, `value="sign-200.dst"`) {
			t.Errorf("%s does not name the design that it was asked with", path)
		}
	}
	if body := page("/time/new?"+url.Values{"design": {"SIGN-200"}, "machine": {m}}.Encode(), nil); !strings.Contains(body, last.Name) {
		t.Errorf("a run of it: %.300s", body)
	}
	if body := page("/time/new?"+url.Values{"design": {"sign-999"}, "machine": {m}}.Encode(), nil); !strings.Contains(body, "no design &#34;sign-999&#34;") {
		t.Errorf("a run of none: %.300s", body)
	}
	order := url.Values{"customer": {"Kelp & Sons"}, "line[0].design": {"sign-200.dst"}, "line[0].quantity": {"7"}}
	page("/orders", order)
	orders, _, err := a.Shop.Orders.List(t.Context(), shop.OrderQuery{Limit: 10})
	if err != nil || len(orders) != 1 || orders[0].Lines[0].DesignID != last.ID {
		t.Fatalf("an order of it: %+v, %v", orders, err)
	}
	order["line[0].design"] = []string{"sign-2"}
	if body := page("/orders", order); !strings.Contains(body, `value="sign-2"`) || !strings.Contains(body, "no design &#34;sign-2&#34;") ||
		!strings.Contains(body, `aria-invalid="true"`) {
		t.Errorf("an order of a part of a name: %s", body[strings.Index(body, "line[0].design")-200:][:600])
	}
	change := page("/orders/"+fmt.Sprint(orders[0].Number)+"/change", nil)
	if !strings.Contains(change, `value="sign-200.dst"`) {
		t.Error("the form of a kept order does not name its design")
	}
	run := url.Values{"date": {"2026-03-02"}, "set_speed": {"800"}, "time": {"5:30"}, "design": {"sign-200"}, "sure": {"1"}}
	page("/machines/"+m+"/runs", run)
	runs, err := a.Shop.Timings.Runs(t.Context(), m)
	if err != nil || len(runs) != 1 || runs[0].DesignID != last.ID {
		t.Errorf("a run that was timed: %+v, %v", runs, err)
	}
	run.Set("design", "sign-x")
	if body := page("/machines/"+m+"/runs", run); !strings.Contains(body, "no design &#34;sign-x&#34;") || !strings.Contains(body, `value="sign-x"`) {
		t.Error("a run of none is not refused at its field")
	}
	for path, field := range map[string]string{"/compare": "add_design", "/floor": "add_job"} {
		form := url.Values{"labour": {"20"}, "shifts": {"230"}, "price[" + m + "]": {"900"}, "life[" + m + "]": {"5"}}
		page(path, form)
		kept := regexp.MustCompile(`href="(` + path + `/[a-z0-9]+)"`).FindStringSubmatch(page(path, nil))
		if kept == nil {
			t.Errorf("%s: nothing is kept", path)
			continue
		}
		body := page(kept[1], nil)
		if !strings.Contains(body, `name="`+field+`"`) || !strings.Contains(body, " data-once ") || strings.Contains(body, ">sign-007<") {
			t.Errorf("%s: no field to add a design by its name: %.200s", path, body)
		}
	}
	// Where a file's name is another design's too, the design is named by its ID.
	added, err := a.Shop.AddFile(t.Context(), "sign-200.dst", append(bytes.Clone(base[:512]), append([]byte{0, 0, 3, 0, 0, 3, 0, 0, 3}, base[512:]...)...))
	if err != nil || added[0].Design == nil || added[0].Design.ID == last.ID {
		t.Fatal(added, err)
	}
	if body := page("/time?design="+last.ID, nil); !strings.Contains(body, `value="`+last.ID+`"`) {
		t.Error("one of two designs with one name is not named by its ID")
	}
	// What is added changes nothing on a machine's page, which names none of so many.
	look := func() (made int64) { // as one who has just changed nothing
		t.Helper()
		res, err := http.Get(a.URL + "/machines/" + m)
		if err != nil || res.StatusCode != http.StatusOK {
			t.Fatal(res, err)
		}
		res.Body.Close() //nolint:errcheck // only asked for
		return a.Server.Kept().Made.Load()
	}
	look()
	made := look()
	if added, err = a.Shop.AddFile(t.Context(), "one-more.dst", append(bytes.Clone(base[:512]), append([]byte{0, 0, 3, 0, 0, 3}, base[512:]...)...)); err != nil || added[0].Design == nil {
		t.Fatal(added, err)
	}
	if anew := look(); anew != made || made == 0 {
		t.Errorf("a machine's page was written %d times, and for one more of many designs %d", made, anew)
	}
}
