package pages_test

import (
	"encoding/json"
	"html"
	"regexp"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/web"
	"needlepace/web/webtest"
)

// What changed since the plan was made stands on its page, by name, with what it
// does and the press that plans anew; the API gives the same sentences.
func TestThePlanPageSaysWhatChangedSince(t *testing.T) {
	a := webtest.New(t, web.Options{})
	a.Machine("compact-8", "Whelk")
	d := a.DemoDesign("ostrel-light.dst")
	hours := "[[shift]]\nfrom = \"07:00\"\nto = \"15:00\"\noperators = 1\n[[machine]]\nname = \"Whelk\"\nspeed = 700\n"
	a.Send("PUT", "/api/v1/workshop", map[string]any{"toml": hours}).OK(200)
	a.Send("POST", "/api/v1/orders", map[string]any{"customer": "Ferry", "state": "agreed", "due": "2099-01-05",
		"lines": []map[string]any{{"design": d.ID, "quantity": 120}}}).OK(201)
	a.Finish(a.Send("POST", "/api/v1/plan", map[string]any{}), "")
	if status, body := a.Page("/plan", nil); status != 200 || strings.Contains(body, `id="since"`) {
		t.Fatalf("%d: nothing changed, and the page says so", status)
	}
	a.Send("PUT", "/api/v1/workshop", map[string]any{"base": 1, "toml": strings.Replace(hours, "700", "350", 1)}).OK(200)
	var kept struct{ Since ask.SinceAnswer }
	if err := json.Unmarshal(a.Send("GET", "/api/v1/plan", nil).OK(200).Body, &kept); err != nil {
		t.Fatal(err)
	}
	if len(kept.Since.Changes) != 1 || len(kept.Since.Lines) != 1 {
		t.Fatalf("%+v", kept.Since)
	}
	_, body := a.Page("/plan", nil)
	body = html.UnescapeString(regexp.MustCompile(`(?:<span class="nb">)?<button type="button" class="term"[^>]*>([^<]*)</button>(?:([.,;:)?!])</span>)?`).ReplaceAllString(body, "$1$2"))
	for _, want := range []string{"Whelk: set speed 700 → 350", kept.Since.Verdict.Text(nil), `id="t-since"`,
		"Plan anew"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	a.Finish(a.Send("POST", "/api/v1/plan", map[string]any{}), "")
	if _, body := a.Page("/plan", nil); strings.Contains(body, `id="since"`) {
		t.Error("planned anew, and the page still says that something changed")
	}
}
