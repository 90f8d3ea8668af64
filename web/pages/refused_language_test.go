package pages_test

import (
	"bytes"
	"encoding/json"
	"html"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"needlepace/recordings"
	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/serve"
	"needlepace/web/webtest"
	"needlepace/words"
)

// chooses has a browser ask in a language.
func chooses(t *testing.T, a *webtest.App, tag string) *words.Writer {
	t.Helper()
	at, err := url.Parse(a.URL)
	if err != nil {
		t.Fatal(err)
	}
	a.Client.Jar.SetCookies(at, []*http.Cookie{{Name: serve.LanguageCookie, Value: tag, Path: "/"}})
	l, ok := words.LanguageOf(tag)
	if !ok {
		t.Fatal(tag)
	}
	return &words.Writer{Language: l}
}

// plain reports whether a page has a text, whatever kind its spaces are of.
func plain(page, text string) bool {
	return strings.Contains(strings.ReplaceAll(html.UnescapeString(page), "\u00a0", " "), text)
}

// Why a recording cannot be heard, and what to do while it is recorded, is said in the language
// that was chosen on the phone: by the page, by what its script is answered, and where the work
// has ended.
func TestARecordingIsRefusedInTheReadersLanguage(t *testing.T) {
	a := webtest.New(t, web.Options{})
	d, m := a.DemoDesign("whale-line.dst"), a.Machine("single-15-1200", "Heron")
	for _, l := range words.Languages() {
		w := chooses(t, a, l.Tag.String())
		said := func(m words.Message) string { return words.Sentence(m.Text(w)) }
		st := webtest.Into[recordings.State](a.Send("POST", "/recordings", map[string]string{"design": d.ID, "machine": m}).OK(http.StatusCreated))
		if want := words.Say("hearing.none").Text(w); st.Advice != want {
			t.Errorf("in %s the phone is told %q, want %q", l.Tag, st.Advice, want)
		}
		at := "/recordings/" + st.ID
		for _, c := range []struct {
			file string
			why  words.Message
		}{
			{"design,seconds\n", words.Say("refused.file-unheard", words.Args{"why": words.Say("refused.sound-at", words.Args{"at": words.Whole(0), "why": words.Say("refused.sound-kind")})})},
			{"fLaC", words.Message{}},
			{"", words.Say("refused.file-unheard", words.Args{"why": words.Say("refused.sound-at", words.Args{"at": words.Whole(0), "why": words.Say("refused.sound-empty")})})},
		} {
			var got struct{ Error struct{ Text string } }
			if err := json.Unmarshal(a.Send("PUT", at+"/sound", strings.NewReader(c.file), "Content-Type", "audio/wav").OK(http.StatusUnprocessableEntity).Body, &got); err != nil {
				t.Fatal(err)
			}
			if !c.why.IsZero() && got.Error.Text != c.why.Text(w) {
				t.Errorf("in %s %q is refused with %q, want %q", l.Tag, c.file, got.Error.Text, c.why.Text(w))
			}
			if before, _, _ := strings.Cut(words.Say("refused.file-unheard", words.Args{"why": words.Name("|")}).Text(w), "|"); !strings.HasPrefix(got.Error.Text, before) {
				t.Errorf("in %s %q is refused with %q", l.Tag, c.file, got.Error.Text)
			}
		}
		// Half a second of silence: it is too short for the design.
		a.Send("PUT", at+"/sound?from=0", bytes.NewReader(make([]byte, 16000)), "Content-Type", "application/octet-stream").OK(http.StatusOK)
		status, _ := a.Page(at+"/hear", url.Values{})
		if status != http.StatusSeeOther {
			t.Fatalf("status %d", status)
		}
		work := a.Send("POST", at+"/hear", map[string]any{}).OK(http.StatusAccepted)
		id := webtest.Into[struct{ ID string }](work).ID
		body := ""
		for range 100 {
			if _, body = a.Page(at+"?work="+id, nil); !strings.Contains(body, "data-work=") {
				break
			}
		}
		if want := said(words.Say("refused.recording-short", words.Args{"design": words.Name(d.Name), "length": words.Seconds(0.5)})); !plain(body, want) {
			t.Errorf("in %s the page does not say %q: %s", l.Tag, want, body[strings.Index(body, "<main"):])
		}
		a.Send("DELETE", at, nil).OK(http.StatusNoContent)
		if _, body = a.Page(at, nil); !plain(body, said(words.Say("refused.no-recording"))) {
			t.Errorf("in %s: %s", l.Tag, body)
		}
	}
}

// What an adviser gets wrong in a visit is told in their language, at its field where it has one.
func TestAVisitIsRefusedInTheReadersLanguage(t *testing.T) {
	a := webtest.New(t, web.Options{})
	v, err := a.Shop.BeginVisit(t.Context(), "Harbour", "Quay", "")
	if err != nil {
		t.Fatal(err)
	}
	away, err := a.Shop.BeginVisit(t.Context(), "Mole", "", "")
	if err == nil {
		err = a.Shop.Visits.PutAway(t.Context(), away.ID, true)
	}
	if err != nil {
		t.Fatal(err)
	}
	at := "/visits/" + v.ID
	for _, l := range words.Languages() {
		w := chooses(t, a, l.Tag.String())
		for _, c := range []struct {
			path string
			form url.Values
			why  words.Message
		}{
			{"/visits", url.Values{"name": {" "}}, words.Say("refused.missing")},
			{"/visits/qx7", nil, words.Say("refused.no-such-visit")},
			{at, url.Values{"name": {"Harbour"}, "version": {"9"}}, words.Say("refused.visit-changed")},
			{at + "/drop", url.Values{"name": {"notes/none.txt"}}, words.Say("refused.no-visit-file", words.Args{"file": words.Name("notes/none.txt")})},
			{at + "/trials/none", nil, words.Say("refused.no-trial", words.Args{"name": words.Name("none")})},
			{at + "/calls/none", nil, words.Say("refused.no-call", words.Args{"name": words.Name("none")})},
			{at + "/plan", url.Values{"short": {"Not so"}, "name": {"x"}}, words.Say("refused.trial-short", words.Args{"name": words.Name("Not so")})},
			{at + "/call", url.Values{"short": {"Not so"}, "name": {"x"}}, words.Say("refused.call-short", words.Args{"name": words.Name("Not so")})},
			{"/visits/" + away.ID + "/plan", url.Values{"short": {"bay"}, "name": {"x"}, "cloth": {"x"}, "thread": {"x"}, "needle": {"75"}}, words.Message{}},
		} {
			status, body := a.Page(c.path, c.form)
			if status < 400 || !plain(strings.ToLower(body), strings.ToLower(c.why.Text(w))) {
				t.Errorf("in %s %s %v: status %d does not say %q: %s", l.Tag, c.path, c.form, status, c.why.Text(w), body[strings.Index(body, "<main"):])
			}
		}
		if _, err := a.Shop.Visits.OpenCallPage(t.Context(), away.ID, "x", 0); shop.ErrorOf(err).In(w) != words.Say("refused.visit-away").Text(w) {
			t.Errorf("in %s: %v", l.Tag, err)
		}
		// So is what is wrong in the file that a plan becomes, at its field.
		if status, body := a.Page(at+"/plan", url.Values{"short": {"bay"}, "name": {"x"}, "cloth": {"x"}, "thread": {"x"}, "needle": {"75"}, "repeats": {"99"}}); status < 400 ||
			!plain(strings.ToLower(body), strings.ToLower(strings.TrimPrefix(words.Say("trial-file.repeats", words.Args{"given": words.Name("99"), "most": words.Whole(20)}).Text(w), "is "))) {
			t.Errorf("in %s a plan of 99 repeats: status %d", l.Tag, status)
		}
		// What may be taken back is said in it too.
		status, _ := a.Page(at, url.Values{"name": {"Harbour"}, "client": {"Quay " + l.Tag.String()}, "version": {strconv.Itoa(v.Version)}})
		if status != http.StatusSeeOther {
			t.Fatalf("status %d", status)
		}
		v.Version++
		if _, body := a.Page(at, nil); !plain(body, words.Say("change.visit-described", words.Args{"name": words.Name("Harbour")}).Text(w)) {
			t.Errorf("in %s the page does not say what may be taken back: %s", l.Tag, body[strings.Index(body, "<main"):])
		}
	}
}

// What an address asks for and cannot be read, and why an order cannot go on, is said in the
// language of the page, which is not marked as English.
func TestAnAddressAndAnOrderAreRefusedInTheReadersLanguage(t *testing.T) {
	a := webtest.Open(t, webtest.Sample(t), web.Options{})
	for _, l := range words.Languages()[1:] {
		w := chooses(t, a, l.Tag.String())
		for typed, why := range map[string]words.Message{"-9": words.Say("refused.below-zero"), "x": words.Say("refused.whole")} {
			at := "/plan/thread?days=" + typed
			_, page := a.Page(at, nil)
			if want := words.Sentence(words.Say("refused.typed", words.Args{"field": words.Say("threadlist.days"), "typed": words.Name(typed), "why": why}).Text(w)); !plain(page, want) || strings.Contains(page, `role="alert" lang="en"`) {
				t.Errorf("in %s %s does not say %q", l.Tag, at, want)
			}
		}
		_, page := a.Page("/orders/1001/state", url.Values{"to": {"delivered"}})
		may := words.List{words.Say("state.requested"), words.Say("state.quoted"), words.Say("state.sewing"), words.Say("state.withdrawn")}
		before, _, _ := strings.Cut(words.Say("refused.no-way", words.Args{"order": words.Name("1001"), "state": words.Say("state.agreed"),
			"to": words.Say("state.delivered"), "may": may}).Text(w), words.Say("state.requested").Text(w))
		if !plain(page, words.Sentence(before)[:len(before)/2]) {
			t.Errorf("in %s an order that cannot be delivered does not say %q", l.Tag, before)
		}
	}
}
