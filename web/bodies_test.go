package web_test

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"testing"

	"needlepace/shop"
)

// told are words that tell of a field without its name.
var told = []string{"at version", "which version they were made from", "taken back", "no sheet to pool", "nothing would be left of order",
	"the order has no design", "give this one another name"}

// A body without one of its fields, or with null, another kind of value or nothing in it, is taken or refused; then the
// answer names the field.
func TestWhatIsWrongWithABodyIsNamed(t *testing.T) {
	s := fillShop(t)
	a, _ := s.open(t, shop.Owner)
	work := begin(a, peopleOf[shop.Owner]).ID
	tried, refused := 0, 0
	for _, rt := range a.Server.Routes() {
		how := howAsked[rt.Pattern()]
		if !strings.HasPrefix(how.json, "{") || !strings.HasPrefix(rt.Path, "/api/") {
			continue
		}
		body := how.json
		for k, v := range s.ids {
			body = strings.ReplaceAll(body, "{"+k+"}", v)
		}
		var fields map[string]json.RawMessage
		if err := json.Unmarshal([]byte(body), &fields); err != nil {
			continue // a body in the body, which is filled in when it is asked
		}
		for _, name := range slices.Sorted(maps.Keys(fields)) {
			is := fields[name]
			wrong := []string{"", `{"x":1}`}
			if !testing.Short() {
				wrong = append(wrong, "null")
			}
			switch is[0] {
			case '"':
				wrong = append(wrong, `""`)
			case '[':
				wrong = append(wrong, `[]`)
			}
			for _, w := range wrong {
				sent := maps.Clone(fields)
				if delete(sent, name); w != "" {
					sent[name] = json.RawMessage(w)
				}
				b, err := json.Marshal(sent)
				if err != nil {
					t.Fatal(err)
				}
				how.json = string(b)
				r := s.askWith(a, rt, work, how)
				tried++
				if r.Status < 400 {
					continue
				}
				refused++
				text := string(r.Body)
				if r.Status >= 500 || !strings.Contains(text, name) && !slices.ContainsFunc(told, func(s string) bool { return strings.Contains(text, s) }) {
					t.Errorf("%s, %s as %q: status %d, %.250s", rt.Pattern(), name, w, r.Status, text)
				}
			}
		}
	}
	if tried < 240 || refused < 160 {
		t.Errorf("%d bodies were tried, %d refused", tried, refused)
	}
}
