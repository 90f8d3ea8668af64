package pages_test

import (
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/wordstest"
	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/serve"
	"needlepace/web/webtest"
	"needlepace/words"
)

// TestAnotherLanguageReachesEveryWord shows what an operator reads in a language
// that nobody speaks: a Latin letter that is no name was said elsewhere than in
// package words.
func TestAnotherLanguageReachesEveryWord(t *testing.T) {
	foreign := wordstest.Foreign(t, "../../words/en.toml")
	d := webtest.Door(t)
	a := webtest.New(t, web.Options{Language: foreign, Door: d})
	onPhone := a.Phone(d)
	phone, err := a.Shop.Phones.Ask(t.Context(), &shop.Account{Role: shop.Owner}, "Bay 2", shop.Operator)
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Shop.LoadDemo(t.Context(), func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Shop.MakePlan(t.Context(), ask.PlanQuestion{Now: a.Shop.Now(), Seed: 1, NoBound: true, Moves: 1000}, ""); err != nil {
		t.Fatal(err)
	}
	authority, err := d.Authority()
	if err != nil {
		t.Fatal(err)
	}
	data := append(a.Names(), d.Origin("http", "127.0.0.1")+"/trust", d.Origin("https", "127.0.0.1")+"/phone", onPhone.URL, "Bay 2")
	for part := range slices.Chunk([]byte(a.Shop.Phones.Code(phone)), 4) {
		data = append(data, string(part))
	}
	data = append(data, strings.Fields(authority.Fingerprint())...)
	for _, l := range words.Languages() {
		data = append(data, l.Name)
	}
	machines, err := a.Shop.Machines.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	design, err := a.Shop.Designs.Find(t.Context(), "gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	at := "machine=" + machines[0].ID
	for _, path := range []string{
		"/orders/1001/runsheet?" + at, "/orders/1001/record", "/orders/1001/record?" + at,
		"/time", "/time?design=" + design.ID + "&" + at, "/time/anew?speed=700&design=" + design.ID + "&" + at,
		"/machines/" + machines[0].ID + "/testpiece", "/designs/" + design.ID + "/listen?" + at,
		"/phone", "/sign-in", "/trust", "/settings/phones", "/settings/phones/" + phone.ID,
	} {
		from := a
		if path == "/phone" || path == "/sign-in" {
			from = onPhone
		}
		status, body := from.Page(path, nil)
		if status != 200 {
			t.Errorf("%s: status %d", path, status)
			continue
		}
		if !strings.Contains(body, `lang="qaa"`) {
			t.Errorf("%s does not say its language", path)
		}
		if strings.Contains(path, "/record?") && strings.Contains(body, `name="here"`) {
			t.Errorf("%s asks for goods that nobody said were to come", path)
		}
		for _, said := range wordstest.Readable(t, body) {
			if left := wordstest.Unsaid(said, data...); len(left) > 0 {
				t.Errorf("%s: %q is not in the language of the page: %q", path, left, said)
			}
		}
	}
	byName := map[string]string{}
	for _, m := range machines {
		byName[m.Name] = m.ID
	}
	six, skipper := byName["Six Sisters"], byName["Skipper"]
	for number, change := range map[string]func(*book.Order){
		"1004": func(o *book.Order) { o.Lines[0].Partner = book.Partner{Name: "Pier", Days: 3} },
		"1002": func(o *book.Order) { o.Goods = o.Due },
		"1005": func(o *book.Order) { o.Lines[0].Approval.Due = o.Due },
	} {
		o, err := a.Shop.Orders.Get(t.Context(), number)
		if err != nil {
			t.Fatal(err)
		}
		change(o)
		if _, _, err := a.Shop.ChangeOrder(t.Context(), *o, ""); err != nil {
			t.Fatal(number, err)
		}
	}
	data = append(data, "Pier")
	// What an operator may get wrong is said in it as well.
	for _, wrong := range []struct {
		path string
		form url.Values
	}{
		{"/orders/9999/record", nil}, {"/orders/qx7/record", nil}, {"/orders/1001/record?line=77", nil}, {"/orders/1001/runsheet?line=77", nil},
		{"/orders/1001/runsheet?machine=qx7", nil}, {"/orders/1001/runsheet.pdf?line=77", nil}, {"/orders/1001/record?correct=77", nil},
		{"/time/anew?speed=700&design=qx7&" + at, nil}, {"/time/anew?speed=700&machine=qx7&design=" + design.ID, nil}, {"/qx7", nil},
		{"/orders/1001/record", url.Values{"good": {"x"}, "spoilt": {"-1"}, "from": {"7"}, "day": {"9.9"}, "run_min": {"x"}}},
		{"/orders/1001/record", url.Values{"machine": {"qx7"}, "good": {"1"}}},
		{"/orders/1001/record", url.Values{"machine": {machines[0].ID}, "good": {"1"}, "note": {strings.Repeat("9", 1001)}}},
		{"/orders/1001/record", url.Values{"machine": {machines[0].ID}, "good": {"1"}, "speed": {"5"}, "run_min": {"5"}}},
		{"/orders/1001/record/77/undo", url.Values{}},
		{"/orders/1001/start", url.Values{"line": {"1"}, "machine": {"qx7"}}},
		// What a machine cannot make: caps without a cap frame, a back wider than its field.
		{"/orders/1003/runsheet?line=1&machine=" + six, nil}, {"/orders/1003/runsheet.pdf?line=1&machine=" + six, nil},
		{"/orders/1003/record", url.Values{"line": {"1"}, "machine": {six}, "good": {"1"}}},
		{"/orders/1003/start", url.Values{"line": {"1"}, "machine": {six}}},
		{"/orders/1005/runsheet?machine=" + skipper, nil},
		// What is not to be begun yet, or not by the shop.
		{"/orders/1002/start", url.Values{"line": {"1"}, "machine": {six}}}, {"/orders/1004/start", url.Values{"line": {"1"}, "machine": {six}}},
		{"/orders/1005/start", url.Values{"line": {"1"}, "machine": {six}}}, {"/orders/1003/runsheet?quantity=999999999", nil},
		// What cannot be planned, asked of a plan or moved in it.
		{"/plan/hold", url.Values{"lot": {"9/1@qx7"}}}, {"/plan/try", url.Values{"priority": {"1"}}}, {"/plan/try", url.Values{"due": {"2030-01-01"}}},
		{"/plan/try", url.Values{"down": {six}}}, {"/plan/try", url.Values{"rush": {"1002"}, "priority": {"9999"}}}, {"/plan/try", url.Values{"rush": {"9999"}}},
		{"/plan/try", url.Values{"operators": {"x"}}}, {"/plan", url.Values{"freeze": {"x"}}},
	} {
		status, body := a.Page(wrong.path, wrong.form)
		if status < 400 {
			t.Errorf("%s %v: status %d", wrong.path, wrong.form, status)
		}
		for _, said := range wordstest.Readable(t, strings.NewReplacer("<noscript>", "", "</noscript>", "").Replace(body)) { // one is no markup
			if left := wordstest.Unsaid(said, append(data, "qx7", "PDF")...); len(left) > 0 {
				t.Errorf("%s %v: %q is not in the language of the page: %q", wrong.path, wrong.form, left, said)
			}
		}
	}
	for _, path := range []string{"/orders/1001/runsheet?" + at, "/orders/1001/record?" + at, "/time?design=" + design.ID + "&" + at,
		"/time/anew?speed=700&design=" + design.ID + "&" + at, "/today/wall",
	} {
		english := wordstest.Readable(t, inLanguage(t, a, path, "en"))
		for _, l := range words.Languages()[1:] {
			body := inLanguage(t, a, path, l.Tag.String())
			if !strings.Contains(body, `<html lang="`+l.Tag.String()+`"`) {
				t.Errorf("%s does not say that it is in %s", path, l.Tag)
			}
			for _, said := range wordstest.Readable(t, body) {
				if left := wordstest.Unsaid(said, append(data, alike...)...); len(left) > 0 && slices.Contains(english, said) {
					t.Errorf("%s in %s says in English %q", path, l.Tag, said)
				}
			}
		}
	}
	for _, l := range words.Languages() { // a paper has all letters of its language
		said := onPaper(t, inLanguage(t, a, "/orders/1001/runsheet.pdf?"+at, l.Tag.String()))
		caution := words.Say("caution.moving").Text(&words.Writer{Language: l})
		if begin := strings.Fields(caution)[:5]; strings.Contains(said, "□") || !strings.Contains(said, strings.Join(begin, " ")) {
			t.Errorf("the run sheet in %s does not say %q: %s", l.Tag, begin, said)
		}
	}
	order, err := a.Shop.Orders.Get(t.Context(), "1001")
	if err != nil {
		t.Fatal(err)
	}
	quote, err := a.Shop.KeepQuote(t.Context(), ask.QuoteQuestion{Now: a.Shop.Now(), Order: order.ID}, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	data = append(data, quote.ShopName, quote.Currency)
	data = append(append(data, quote.Address...), quote.Terms...)
	for _, path := range []string{
		"/orders/1001/runsheet.pdf?" + at, "/orders/1001/quotes/" + quote.ID + "/quote.pdf",
	} {
		status, pdf := a.Page(path, nil)
		if status != 200 {
			t.Fatalf("%s: status %d", path, status)
		}
		said := onPaper(t, pdf)
		if left := wordstest.Unsaid(said, data...); len(left) > 0 {
			t.Errorf("%s: %q is not in the language of the page: %s", path, left, said)
		}
	}
	piece, err := a.Shop.TestPiece(t.Context(), ask.TestPieceQuestion{Machine: machines[0].ID})
	if err != nil {
		t.Fatal(err)
	}
	files, err := serve.PieceOf(piece, &words.Writer{Language: foreign})
	if err != nil {
		t.Fatal(err)
	}
	base := "testpiece-" + serve.FileWord(machines[0].Name)
	data = append(data, base+"-runs.csv", base+".dst")
	for _, said := range wordstest.Readable(t, string(files.Contents["card.svg"].Content)) {
		if left := wordstest.Unsaid(said, data...); len(left) > 0 {
			t.Errorf("the card of a test piece: %q is not in the language: %q", left, said)
		}
	}
}

// alike is what some language writes as English does.
var alike = []string{"Español", "Português", "Türkçe", "Tiếng Việt", "English", "Plan", "min", "s", "h", "mm", "Cone", "Cones"}

// inLanguage is a page as a browser gets it in which a language was chosen.
func inLanguage(t *testing.T, a *webtest.App, path, tag string) string {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, a.URL+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	req.AddCookie(&http.Cookie{Name: serve.LanguageCookie, Value: tag})
	res, err := a.Client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close() //nolint:errcheck // only read
	b, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatalf("%s in %s: %s %v", path, tag, res.Status, err)
	}
	return string(b)
}

// onPaper is what stands on a PDF, by a reader that is not ours.
func onPaper(t *testing.T, pdf string) string {
	t.Helper()
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext (poppler) is not installed")
	}
	cmd := exec.Command(tool, "-layout", "-", "-")
	cmd.Stdin = strings.NewReader(pdf)
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(string(out)), " ")
}

// What a script would say in words of its own: a literal of several words, or
// one that is shown as it is. Literals that begin with a dot, or have a bracket,
// are selectors.
var (
	scriptComment = regexp.MustCompile(`(?s)/\*.*?\*/|//[^\n]*`)
	scriptLiteral = regexp.MustCompile("(?:className = )?(?:\"[^\"\n]*\"|`[^`]*`)")
	scriptWords   = regexp.MustCompile(`^["` + "`" + `][^.#\[]*[A-Za-z]{2,} [a-z]{2,}[^\[]*$`)
	scriptShown   = regexp.MustCompile("(?:textContent|ariaLabel|title|placeholder) = [\"`][^\"`]*[A-Za-z]{2}")
)

// TestScriptsSpeakByKeyOnly finds a sentence that is written out in a script.
func TestScriptsSpeakByKeyOnly(t *testing.T) {
	files, err := filepath.Glob("../assets/js/*.js")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d scripts, %v", len(files), err)
	}
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		code := scriptComment.ReplaceAllString(string(b), "")
		said := scriptShown.FindAllString(code, -1)
		for _, s := range scriptLiteral.FindAllString(code, -1) {
			if scriptWords.MatchString(s) {
				said = append(said, s)
			}
		}
		if len(said) > 0 {
			t.Errorf("%s says in words of its own: %q", file, said)
		}
	}
}
