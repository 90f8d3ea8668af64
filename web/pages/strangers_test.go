package pages_test

import (
	"archive/zip"
	"bytes"
	"image"
	"image/png"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/internal/readback"
	"needlepace/trial"
	"needlepace/web"
	"needlepace/web/webtest"
)

// Whoever answers an open call is a stranger: the page, why something is refused, the card
// and the sheet are in the language that the browser asks for, or that was chosen.
func TestStrangersReadAnOpenCallInTheirLanguage(t *testing.T) {
	a := webtest.New(t, web.Options{})
	v, err := a.Shop.BeginVisit(t.Context(), "Notes", "", "")
	if err != nil {
		t.Fatal(err)
	}
	d := a.DemoDesign("gull-cap.dst")
	toml := "name = \"One gull\"\nadviser = \"Notes\"\ncloth = \"c\"\nthread = \"t\"\nneedle = \"n\"\n[[design]]\nname = \"gull\"\nfile = \"" + act.OfShop + d.ID + "\"\n"
	if _, err := a.Shop.KeepCall(t.Context(), v.ID, "gull", "", []byte(toml), nil); err != nil {
		t.Fatal(err)
	}
	p, err := a.Shop.Visits.OpenCallPage(t.Context(), v.ID, "gull", 0)
	if err != nil {
		t.Fatal(err)
	}
	get := func(path, accept, cookie string, form url.Values) (int, string) {
		t.Helper()
		method, body := "GET", io.Reader(nil)
		if form != nil {
			method, body = "POST", strings.NewReader(form.Encode())
		}
		req, err := http.NewRequestWithContext(t.Context(), method, a.URL+path, body)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Accept-Language", accept)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Origin", a.URL)
		if cookie != "" {
			req.AddCookie(&http.Cookie{Name: "needlepace-language", Value: cookie})
		}
		r, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		b, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		return r.StatusCode, string(b)
	}
	at := "/call/" + p.Code
	for _, c := range []struct{ accept, cookie, lang, says, refused, none, head string }{
		{"de, tr;q=0.8, en;q=0.5", "", "tr", "Sonra süreyi gönderin", "Süreyi ya da seferin kaydını verin", "Bu kodla açık bir çağrı yok", "süre"},
		{"es-MX", "", "es", "Después, envíe el tiempo", "Dé el tiempo", "No hay llamada abierta", "tiempo"},
		{"es", "vi", "vi", "Sau đó gửi thời gian", "Hãy cho thời gian", "", "thời gian"},
		{"pt-BR", "", "pt", "Depois, envie o tempo", "Dê o tempo", "", "tempo"},
		{"", "", "en", "Then send the time", "Give the time", "", "time"},
	} {
		if status, page := get(at, c.accept, c.cookie, nil); status != 200 || !strings.Contains(page, `<html lang="`+c.lang+`"`) || !strings.Contains(page, c.says) {
			t.Errorf("%s: the page is %d, and not in %s", c.accept, status, c.lang)
		}
		if status, page := get(at, c.accept, c.cookie, url.Values{"class": {"compact-8"}, "rated": {"800"}, "speed": {"800"}}); status != 422 || !strings.Contains(page, c.refused) {
			t.Errorf("%s: an entry without a time is %d, and does not read %q", c.lang, status, c.refused)
		}
		_, pack := get(at+"/pack.zip", c.accept, c.cookie, nil)
		z, err := zip.NewReader(strings.NewReader(pack), int64(len(pack)))
		if err != nil {
			t.Fatal(err)
		}
		file := func(name string) []byte {
			f, err := z.Open(name)
			if err != nil {
				t.Fatal(err)
			}
			b, err := io.ReadAll(f)
			if err != nil {
				t.Fatal(err)
			}
			return b
		}
		if sheet := string(file("entry.csv")); !strings.Contains(sheet, ","+c.head+",") {
			t.Errorf("%s: the sheet begins %q", c.lang, strings.Split(sheet, "\n")[0])
		}
		if card := readback.PDF(t, file("card.pdf")); (c.lang == "en") != strings.Contains(card, "Sending it") {
			t.Errorf("the card in %s reads\n%s", c.lang, card)
		}
		if c.none == "" {
			continue // wrong codes are slowed down
		}
		if status, page := get("/call/AAAAAAAAAA", c.accept, c.cookie, nil); status != 404 || !strings.Contains(strings.ToLower(page), strings.ToLower(c.none)) {
			t.Errorf("%s: a wrong code is %d, and does not read %q", c.lang, status, c.none)
		}
	}
}

// Somebody grades, and photographs come meanwhile, which change what is graded and in which
// order: each grade goes to the sew-out that it was given to, and what the same person gave others
// before stays.
func TestGradesGoToWhatWasGraded(t *testing.T) {
	a := webtest.New(t, web.Options{})
	v, err := a.Shop.BeginVisit(t.Context(), "Quay", "", "")
	if err != nil {
		t.Fatal(err)
	}
	gull, ferry := a.DemoDesign("gull-cap.dst"), a.DemoDesign("larkess-ferry.dst")
	toml := "name = \"T\"\nrepeats = 2\nseed = 5\ncloth = \"c\"\nthread = \"t\"\nneedle = \"n\"\n[[place]]\nname = \"hall\"\n[[design]]\nname = \"gull\"\nfile = \"" + act.OfShop + gull.ID +
		"\"\n[[design]]\nname = \"ferry\"\nfile = \"" + act.OfShop + ferry.ID + "\"\n[[machine]]\nname = \"Old\"\nsheet = \"compact-8\"\nplace = \"hall\"\nspeed = 700\n" +
		"[[machine]]\nname = \"New\"\nsheet = \"single-15-1200\"\nplace = \"hall\"\nspeed = 900\n"
	if _, err := a.Shop.KeepTrial(t.Context(), v.ID, "autumn", "", []byte(toml), nil); err != nil {
		t.Fatal(err)
	}
	at := "/visits/" + v.ID + "/trials/autumn/grade"
	fields := regexp.MustCompile(`name="(sample\[\d+\])\.of" value="([0-9a-f]+)"`)
	_, page := a.Page(at+"?grader=Nan", nil)
	all := fields.FindAllStringSubmatch(page, -1)
	if len(all) != 4 {
		t.Fatalf("%d sew-outs are graded: %s", len(all), page)
	}
	if strings.Contains(page, "New") || strings.Contains(page, "Old") {
		t.Error("the page says which machine")
	}
	sent := url.Values{"grader": {"Nan"}}
	for i, x := range all {
		sent.Set(x[1]+".of", x[2])
		sent.Set(x[1]+".pull", []string{"1", "2", "4", "5"}[i])
	}
	if status, body := a.Page(at, sent); status != 303 {
		t.Fatalf("%d: %s", status, body)
	}
	grades := func() map[string]int {
		x, err := a.Shop.Trial(t.Context(), v.ID, "autumn")
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]int{}
		for _, g := range x.Grades {
			out[g.Design+" "+g.Machine] = g.By[trial.Pull]
		}
		return out
	}
	first := grades()
	var photo bytes.Buffer
	if err := png.Encode(&photo, image.NewNRGBA(image.Rect(0, 0, 60, 40))); err != nil {
		t.Fatal(err)
	}
	said, err := a.Shop.TakeReturns(t.Context(), v.ID, "autumn", "", []trial.Given{{Name: "hall-2.png", Bytes: photo.Bytes()}})
	if err != nil || len(said) > 0 {
		t.Fatal(said, err)
	}
	if status, _ := a.Page(at, sent); status != 303 { // as it was typed before the photograph came
		t.Fatal(status)
	}
	if now := grades(); len(first) != 4 || len(now) != 4 || !same(first, now) {
		t.Errorf("the grades are %v, and were given as %v", now, first)
	}
	_, page = a.Page(at+"?grader=Nan", nil)
	one := fields.FindAllStringSubmatch(page, -1)
	if len(one) != 4 { // one photograph takes none from those that have none
		t.Fatalf("%d sew-outs to grade, 4 are right", len(one))
	}
	if status, _ := a.Page(at, url.Values{"grader": {"Nan"}, one[0][1] + ".of": {one[0][2]}, one[0][1] + ".pull": {"3"}}); status != 303 {
		t.Fatal(status)
	}
	if now := grades(); len(now) != 4 || same(first, now) {
		t.Errorf("graded anew, one of four: %v, before %v", now, first)
	}
	if status, body := a.Page(at, url.Values{"grader": {"Nan"}, "sample[0].of": {"0123456789abcdef"}, "sample[0].pull": {"3"}}); status != 422 || !strings.Contains(body, "planned anew") {
		t.Errorf("of no sew-out there is: %d", status)
	}
}

func same(a, b map[string]int) bool {
	for k, v := range a {
		if b[k] != v {
			return false
		}
	}
	return true
}

// A shop that advises nobody reads nothing of visits and trials, until it says that it does.
func TestAShopThatAdvisesNobodyReadsNothingOfIt(t *testing.T) {
	a := webtest.New(t, web.Options{})
	word := regexp.MustCompile(`(?i)\b(visits?|trials?|open calls?)\b`)
	tags := regexp.MustCompile(`(?s)<script.*?</script>|<[^>]*>`)
	pages := []string{"/settings", "/designs", "/find?q=quay", "/help", "/help?find=visits", "/help/keeping-the-shop", "/help/first-steps", "/changes", "/language"}
	for _, at := range pages {
		_, page := a.Page(at, nil)
		if found := word.FindString(tags.ReplaceAllString(strings.ReplaceAll(page, `value="visits"`, ""), " ")); found != "" {
			t.Errorf("%s reads %q", at, found)
		}
	}
	if _, err := a.Shop.BeginVisit(t.Context(), "Quay", "", ""); err != nil {
		t.Fatal(err)
	}
	if _, page := a.Page("/help?find=visits", nil); !strings.Contains(page, "/help/trials") {
		t.Error("who advises does not find the help")
	}
}
