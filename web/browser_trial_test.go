package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"golang.org/x/image/bmp"

	"needlepace/ask"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/trial"
)

// The demo's trial by page: a visit is begun, the trial typed in as demo/trial has it,
// what came back is sent in, a slip and a missing run are seen, a photograph is measured,
// a second person grades blind, and the answer is the one that the command line has.
func testTrial(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	e := s.look(tab, 1280, 900)
	e.open("/designs")
	if js[bool](e, `document.body.innerText.includes("Visit")`) {
		t.Error("a shop that advises nobody reads of visits")
	}
	e.open("/visits")
	e.passesAxeHere("/visits")
	e.fill(map[string]string{"name": "Quay, autumn", "client": "Pellsand Quay Stitchery"})
	e.click(`form[action="/visits"] button.main`)
	e.until(`location.pathname.startsWith("/visits/") && document.querySelector(".top nav a[href='/visits']")`)
	e.click(`main a[href$="/plan"]`)
	e.until(`document.querySelector("[name='machine[0].sheet']")`)

	const folder = "../demo/trial"
	text, err := os.ReadFile(filepath.Join(folder, "TRIAL.toml"))
	if err != nil {
		t.Fatal(err)
	}
	f, err := trial.Parse("TRIAL.toml", text)
	if err != nil {
		t.Fatal(err)
	}
	// As people type it; the order of machines and designs is the file's, so the turns are.
	e.typePlan(s, f)
	e.click(`main form[action$="/plan"] button.main`)
	e.until(`location.pathname.endsWith("/trials/autumn") || document.querySelector(".told.bad")`)
	if told := js[string](e, `[...document.querySelectorAll(".told.bad, .field.wrong")].map(x => x.innerText).join("; ")`); told != "" {
		t.Fatalf("the plan is refused: %s", told)
	}
	at := js[string](e, `location.pathname`)
	if says := js[string](e, `document.querySelector(".answer").innerText`); !strings.Contains(says, "36 runs in 2 places, in the order drawn with seed 1911") {
		t.Errorf("the plan says %s", says)
	}

	bad := filepath.Join(t.TempDir(), "hall-2.jpg")
	if err := os.WriteFile(bad, []byte("no photograph"), 0o600); err != nil {
		t.Fatal(err)
	}
	photo := filepath.Join(t.TempDir(), "hall-1.png")
	if err := os.WriteFile(photo, testPNG(t, 400, 300), 0o600); err != nil {
		t.Fatal(err)
	}
	// A photograph as a phone writes it: of a kind that the browser reads and the shop does not, called as
	// the phone calls it. (No browser of the tests reads HEIC; by its bytes this is a BMP.)
	phones := filepath.Join(t.TempDir(), "hall-3.HEIC")
	if err := os.WriteFile(phones, testBMP(t, 40, 30), 0o600); err != nil {
		t.Fatal(err)
	}
	unread := filepath.Join(t.TempDir(), "hall-4.heic")
	if err := os.WriteFile(unread, []byte("nobody reads it"), 0o600); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(folder + "/returns/*.csv")
	if err != nil || len(files) != 4 {
		t.Fatal(files, err)
	}
	for i, f := range files {
		if files[i], err = filepath.Abs(f); err != nil {
			t.Fatal(err)
		}
	}
	e.doOn(chromedp.SetUploadFiles(chromedp.CSS(`form[action$="/returns"] input[type=file]`), append(files, bad, photo, phones, unread)))
	e.click(`form[action$="/returns"] button`)
	e.until(`document.querySelector("[role=alert]")?.innerText.includes("hall-2.jpg is called a photograph")`)
	if refused := js[string](e, `document.querySelector("[role=alert]").innerText`); strings.Contains(refused, "hall-3") {
		t.Errorf("a photograph that the browser reads is refused: %s", refused)
	}
	e.open(at)
	e.passesAxeHere(at)

	var returned []trial.Given
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		returned = append(returned, trial.Given{Name: filepath.Base(f), Bytes: b})
	}
	want, err := ask.Trial(t.Context(), ask.TrialQuestion{Name: "TRIAL.toml", TOML: text, Returned: returned}, demoSources(folder))
	if err != nil {
		t.Fatal(err)
	}
	if !js[bool](e, `[...document.querySelectorAll("#photographs img")].some((i) => i.src.endsWith("hall-3.jpg"))`) {
		t.Error("what the browser made of a phone's photograph is not there")
	}
	page := js[string](e, `document.querySelector("main").innerText`)
	for _, says := range []string{want.Verdict[0].Text(nil), "1 run came back and is kept apart", "1 run did not come back", "was it", "did not come back"} {
		if !strings.Contains(page, says) {
			t.Errorf("the page does not say %q", says)
		}
	}
	rows := js[[]string](e, `[...document.querySelectorAll("#t-ranks tbody tr")].map(r => r.innerText)`)
	if len(rows) != 3 || !strings.HasPrefix(rows[0], want.Ranks[0].Machine) {
		t.Errorf("the ranks are %q, the command line has %+v", rows, want.Ranks)
	}

	// The paper in another language; its HTML form is the accessible one.
	tags := []string{"en", "es", "pt", "tr", "vi"}
	if testing.Short() {
		tags = tags[:2]
	}
	for _, tag := range tags {
		r, err := http.Get(s.url + at + "/paper/trial.html?language=" + tag)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if _, err := b.ReadFrom(r.Body); err != nil || r.Body.Close() != nil || !strings.Contains(b.String(), `<html lang="`+tag+`"`) {
			t.Fatalf("the paper in %s: %d, %v", tag, r.StatusCode, err)
		}
		file := filepath.Join(t.TempDir(), tag+".html")
		if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		e.do(chromedp.Navigate("file://" + file))
		e.passesAxeHere("the paper in " + tag)
	}
	e.open(at)

	// Two presses on the photograph and a length.
	js[bool](e, `(() => { const i = document.querySelector("[data-scale] img"), b = i.getBoundingClientRect();
		for (const x of [.25, .75]) i.dispatchEvent(new MouseEvent("click", {bubbles: true, clientX: b.left + x * b.width, clientY: b.top + b.height / 2})); return true; })()`)
	e.fill(map[string]string{"mm": "100"})
	e.click(`form[action$="/scale"] button`)
	e.until(`document.querySelector("[data-scale] figcaption")?.innerText.includes("200.0\u00a0mm wide")`)

	// A second person grades: nothing on the page says which machine.
	e.fill(map[string]string{"grader": "Nan"})
	e.click(`form[action$="/grade"] button`)
	e.until(`document.querySelector("[name='sample[0].pull']")`)
	for _, m := range f.Machines {
		if js[bool](e, `document.documentElement.outerHTML.includes(`+quoted(m.Name)+`)`) {
			t.Errorf("the page on which one grades blind has %s", m.Name)
		}
	}
	if js[bool](e, `document.documentElement.outerHTML.includes("hall-1")`) {
		t.Error("the photograph's address says where it is from")
	}
	e.passesAxeHere("grades")
	js[bool](e, `(() => { document.querySelector("[name='sample[0].pull']").value = "4"; return true; })()`)
	e.click(`form[action$="/grade"] button.main`)
	e.until(`location.pathname === ` + quoted(at) + ` && document.querySelector("#t-grades")`)
}

func quoted(s string) string {
	b, _ := json.Marshal(s)
	return string(b)
}

// demoSources reads what the demo's trial names.
func demoSources(folder string) floor.Sources {
	return floor.Sources{
		Design: func(ref string) (*stitch.Design, error) {
			b, err := os.ReadFile(filepath.Join(folder, ref))
			if err != nil {
				return nil, err
			}
			return stitchfile.Decode(b, ref)
		},
		Sheet: func(ref string) (*machine.Sheet, error) {
			s, _ := machine.Class(ref)
			return s, nil
		},
	}
}

// fill types into fields by their names.
func (e *eyes) fill(values map[string]string) {
	e.t.Helper()
	if missing := js[[]string](e, `(() => { const v = `+quotedMap(values)+`; const missing = [];
		for (const [n, x] of Object.entries(v)) { const f = [...document.getElementsByName(n)].find(f => f.checkVisibility()); if (!f) { missing.push(n); continue; } if (f.type === "checkbox") f.checked = x === "1"; else f.value = x; if (f.value !== x && f.type !== "checkbox") missing.push(n + "=" + x); }
		return missing; })()`); len(missing) > 0 {
		e.t.Fatalf("these fields are not there, or have no such choice: %v", missing)
	}
}

func quotedMap(v map[string]string) string {
	b, _ := json.Marshal(v)
	return string(b)
}

// typePlan types a trial into its form. Designs are the demo shop's own.
func (e *eyes) typePlan(s *testShop, f *trial.File) {
	v := map[string]string{"short": "autumn", "name": f.Name, "client": f.Client, "adviser": f.Adviser, "address": f.Address, "cloth": f.Cloth,
		"backing": f.Backing, "thread": f.Thread, "needle": f.Needle, "note": f.Note, "repeats": "3", "difference": "5", "seed": "1911",
		"spread.run_percent": "1", "spread.lead_percent": "4", "money.currency": f.Money.Currency, "money.source": f.Money.Source,
		"money.labour_per_hour": f.Money.Labour.String(), "money.machines_per_person": "2", "money.interest_percent": f.Money.Interest.String(),
		"money.hours_per_year": "1700", "money.handling_seconds": "75"}
	for i, d := range f.Designs {
		at := "design[" + string(rune('0'+i)) + "]."
		v[at+"name"], v[at+"file"], v[at+"year"] = d.Name, "shop:"+s.design(filepath.Base(d.File)).ID, plainNumber(d.Year)
	}
	for i, p := range f.Places {
		at := "place[" + string(rune('0'+i)) + "]."
		v[at+"name"], v[at+"called"], v[at+"people"] = p.Name, p.Called, strings.Join(p.People, "\n")
	}
	for i, m := range f.Machines {
		at := "machine[" + string(rune('0'+i)) + "]."
		v[at+"name"], v[at+"sheet"], v[at+"place"], v[at+"speed"], v[at+"format"] = m.Name, m.Sheet, m.Place, plainNumber(m.Speed), m.Format
		v[at+"price"], v[at+"upkeep_per_year"] = m.Price.String(), m.Upkeep.String()
		if m.Owned {
			v[at+"owned"] = "1"
		}
	}
	e.fill(v)
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func testPNG(t *testing.T, w, h int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewNRGBA(image.Rect(0, 0, w, h))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func testBMP(t *testing.T, w, h int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := bmp.Encode(&b, image.NewNRGBA(image.Rect(0, 0, w, h))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// An open call as anybody meets it: shut until it is opened, sent to with a time and a
// photograph, its results shown only as the adviser has looked at them, what is doubtful kept
// apart with why and never shown.
func testOpenCall(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	v, err := s.shop.BeginVisit(t.Context(), "Notes", "", "")
	if err != nil {
		t.Fatal(err)
	}
	e := s.look(tab, 390, 800)
	at := "/visits/" + v.ID
	e.open(at)
	e.click(`main a[href$="/call"]`)
	e.until(`document.querySelector("[name='design[0].file']")`)
	e.fill(map[string]string{"short": "gull", "name": "One gull", "adviser": "Halyard notes", "cloth": "twill", "thread": "polyester 40", "needle": "75/11",
		"design[0].name": "gull", "design[0].file": "shop:" + s.design("gull-cap.dst").ID})
	e.click(`main form[action$="/call"] button.main`)
	e.until(`location.pathname.endsWith("/calls/gull")`)
	if page, err := s.shop.Visits.CallPage(t.Context(), v.ID, "gull"); err != nil || page != nil && page.Open {
		t.Fatalf("a call begins with its page open: %+v, %v", page, err)
	}
	e.passesAxeHere("the adviser's page")
	e.click(`form[action$="/open"] button`)
	e.until(`document.querySelector("#page b.mono")`)
	public := "/call/" + e.text("#page b.mono")

	expected, err := s.shop.OpenCall(t.Context(), v.ID, "gull")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "from my yard.png")
	if err := os.WriteFile(file, testPNG(t, 300, 200), 0o600); err != nil {
		t.Fatal(err)
	}
	e.open(public)
	e.passesAxeHere("the call's page")
	if asked := js[[]string](e, `[...document.querySelectorAll("main form [name]")].map(f => f.name)`); slices.ContainsFunc(asked, func(name string) bool {
		return strings.Contains(name, "maker") || strings.Contains(name, "note") || strings.Contains(name, "name")
	}) {
		t.Errorf("the page asks for %v", asked)
	}
	send := func(class, time string, photo bool) {
		t.Helper()
		e.open(public)
		e.fill(map[string]string{"class": class, "rated": "1000", "speed": "900", "time": time})
		if photo {
			e.doOn(chromedp.SetUploadFiles(chromedp.CSS(`input[type=file][accept*="jpeg"]`), []string{file}))
		}
		e.click(`main form[method=post] button.main`)
		e.until(`document.querySelector("[role=status]")?.innerText.includes("Thank you")`)
	}
	least := float64(expected.Stitches) / 900 * 60
	took := func(times float64) string {
		return strconv.Itoa(int(least*times)/60) + ":" + fmt.Sprintf("%02d", int(least*times)%60)
	}
	send("single-15-light", took(1.4), true)
	send("single-15-light", took(1.5), false)
	send("single-15-light", took(1.6), false)
	send("single-15-light", took(0.5), false) // faster than the stitches at the set speed
	send("single-15-light", took(1.5), false) // the same once more
	if js[bool](e, `!!document.querySelector("main table")`) {
		t.Error("results are shown that nobody looked at")
	}
	e.open(at + "/calls/gull")
	says := js[string](e, `document.querySelector("main").innerText`)
	for _, why := range []string{"at the set speed alone", "it counts once", "3 entries of 1 class count"} {
		if !strings.Contains(says, why) {
			t.Errorf("the adviser does not read %q: %s", why, says)
		}
	}
	e.open(public)
	if says := js[string](e, `document.querySelector("main table").innerText`); !strings.Contains(says, "3") || strings.Contains(says, "at the set speed alone") {
		t.Errorf("the page's results are %s", says)
	}
	files, err := s.shop.Visits.Files(t.Context(), v.ID)
	if err != nil {
		t.Fatal(err)
	}
	photos := 0
	for _, f := range files {
		if strings.HasSuffix(f.Name, ".jpg") {
			photos++
		}
		if strings.Contains(f.Name, "yard") {
			t.Errorf("what somebody called a file stands in %s", f.Name)
		}
	}
	if photos != 1 {
		t.Errorf("%d photographs are kept", photos)
	}
	e.open(at + "/calls/gull")
	e.click(`form[action$="/shut"] button`)
	e.until(`document.querySelector("form[action$='/open']")`)
	if r, err := http.Get(s.url + public); err != nil || r.Body.Close() != nil || r.StatusCode != http.StatusNotFound {
		t.Errorf("a page that is shut again answers %v, %v", r, err)
	}
}
