package main

import (
	"encoding/csv"
	"fmt"
	"html"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/book"
	"needlepace/internal/readback"
	"needlepace/web"
	"needlepace/web/webtest"
)

// The demo shop is served where the day is another one than in both zones of
// the process: Sunday evening there, Monday in the other two.
const shopsZone = "America/St_Johns"

var shopsNow = time.Date(2026, 3, 2, 0, 40, 0, 0, time.UTC)

// demoServed is the demo shop, served.
type demoServed struct {
	*served
	app      *webtest.App
	data     string            // its file
	dir      string            // for files that commands write
	machines map[string]string // IDs by name
	evidence []string          // IDs of learned sheets of other shops
	quote    book.Quote        // that is kept
	anyDay   string            // an order that is wanted on no day: its promise hangs on the chance
}

// form is what is sent to a page.
type form map[string]string

// serveDemo serves the demo shop with a clock that stands still.
func serveDemo(t *testing.T) *demoServed {
	t.Helper()
	d := &demoServed{dir: t.TempDir(), machines: map[string]string{}}
	d.data = filepath.Join(d.dir, "shop.db")
	d.app = webtest.Open(t, d.data, web.Options{Now: func() time.Time { return shopsNow }})
	d.served = &served{t: t, url: d.app.URL}
	d.result(d.post("/demo", ""))
	for _, m := range d.get("/machines")["machines"].([]any) {
		m := m.(map[string]any)
		d.machines[m["name"].(string)] = m["id"].(string)
	}
	hours := strings.Replace(d.get("/workshop")["toml"].(string), `time_zone = "UTC"`,
		`time_zone = "`+shopsZone+"\"\npage = \"http://quay.example:8237\"", 1)
	d.app.Send("PUT", "/workshop", map[string]any{"toml": hours, "base": d.get("/workshop")["version"]}).OK(http.StatusOK)
	d.timed()
	order := d.post("/orders", `{"customer":"Anyday","lines":[{"design":"`+d.design("wheel-badge.dst")+`","quantity":40}]}`)
	d.anyDay = fmt.Sprint(order["order"].(map[string]any)["number"])
	// An order that is planned on a dearer machine than it was quoted on.
	for _, args := range [][]string{{"quote", "1005", "-m", "Six Sisters"}, {"plan", "hold", "1005", "Gannet"}} {
		if _, errs, code := invoke(t, d.shop(args...)...); code != exitOK {
			t.Fatalf("%v: status %d, %s", args, code, errs)
		}
	}
	d.result(d.post("/plan", "{}"))
	d.quoted() // by the plan as it is from now on: what is tried later is held against it
	return d
}

// on has a test answer for what goes wrong from now on.
func (d *demoServed) on(t *testing.T) { d.t, d.app.T = t, t }

// shop is a command about the served shop, at its time.
func (d *demoServed) shop(args ...string) []string {
	zone, err := time.LoadLocation(shopsZone)
	if err != nil {
		d.t.Fatal(err)
	}
	return append(args, "--data", d.data, "--now", shopsNow.In(zone).Format("2006-01-02T15:04"))
}

// wrote is what a command wrote to files of these names, by --xlsx and the like,
// and what it printed.
func (d *demoServed) wrote(command []string, names ...string) (files map[string][]byte, out string) {
	d.t.Helper()
	command, files = slices.Clone(command), map[string][]byte{}
	dir := d.t.TempDir()
	for _, name := range names {
		flag := map[string]string{".xlsx": "--xlsx", ".pdf": "--pdf", ".ics": "--ical"}[filepath.Ext(name)]
		command = append(command, flag, filepath.Join(dir, name))
	}
	out, errs, code := invoke(d.t, command...)
	if code != exitOK {
		d.t.Fatalf("%v: status %d, %s", command, code, errs)
	}
	for _, name := range names {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			d.t.Fatal(err)
		}
		files[name] = b
	}
	return files, out
}

// sameFiles compares files that a command wrote with those of the same names at
// an address, read back by tools that are not ours; as puts right what rightly
// differs.
func (d *demoServed) sameFiles(files map[string][]byte, at string, as *strings.Replacer) {
	d.t.Helper()
	read := func(name string, b []byte) string {
		switch filepath.Ext(name) {
		case ".pdf":
			return readback.PDF(d.t, b)
		case ".xlsx":
			return fmt.Sprint(readback.XLSX(d.t, b))
		}
		return string(b)
	}
	for name, b := range files {
		got, want := as.Replace(read(name, b)), read(name, d.file(at+name))
		if got != want || want == "" {
			d.t.Errorf("%s of the command says\n%s\nat %s it says\n%s", name, got, at, want)
		}
	}
}

// design is the ID of a design by its file.
func (d *demoServed) design(file string) string {
	d.t.Helper()
	page := d.get("/designs?search=" + file)["designs"].([]any)
	return page[0].(map[string]any)["id"].(string)
}

// machine is how the shop calls a machine that the command line knows by its
// sheet; a class is its own name.
func (d *demoServed) machine(arg string) string {
	d.t.Helper()
	base, ok := strings.CutSuffix(filepath.Base(arg), ".toml")
	if !ok {
		return arg
	}
	for name, id := range d.machines {
		if strings.EqualFold(strings.ReplaceAll(name, " ", "-"), base) {
			return id
		}
	}
	d.t.Fatalf("the demo shop has no machine %s", arg)
	return ""
}

// setup is the ID of the first kept set-up of a kind: floor or mix.
func (d *demoServed) setup(kind string) string {
	d.t.Helper()
	return d.get("/setups?kind=" + kind)["setups"].([]any)[0].(map[string]any)["id"].(string)
}

// file is what is at an address.
func (d *demoServed) file(path string) []byte {
	d.t.Helper()
	res, err := http.Get(d.url + path)
	if err != nil {
		d.t.Fatal(err)
	}
	return d.body(res)
}

func (d *demoServed) body(res *http.Response) []byte {
	d.t.Helper()
	defer res.Body.Close() //nolint:errcheck // only read
	b, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		d.t.Fatalf("%s: status %d, %v, %.600s", res.Request.URL, res.StatusCode, err, b)
	}
	return b
}

// shown is a page as the browser gets it, and its address: after a form that is
// sent to path, where there is one, and the work that it began.
func (d *demoServed) shown(path string, sent form) (at, body string) {
	d.t.Helper()
	var res *http.Response
	var err error
	if sent == nil {
		res, err = http.Get(d.url + path)
	} else {
		values := url.Values{}
		for k, v := range sent {
			values[k] = strings.Split(v, "\n")
		}
		res, err = http.PostForm(d.url+path, values)
	}
	for range 600 {
		if err != nil {
			d.t.Fatal(err)
		}
		at, body = res.Request.URL.RequestURI(), string(d.body(res))
		if !strings.Contains(body, "data-work=") {
			break
		}
		res, err = http.Get(d.url + at)
	}
	return at, body
}

var (
	tags      = regexp.MustCompile(`(?s)<script.*?</script>|<style.*?</style>|<[^>]*>`)
	headlines = regexp.MustCompile(`(?s)<p class="big">(.*?)</p>`)
	drawings  = regexp.MustCompile(`(?s)<svg.*?</svg>`)
	bodies    = regexp.MustCompile(`(?s)<tbody>(.*?)</tbody>(?:\s*<tfoot>(.*?)</tfoot>)?`)
	rows      = regexp.MustCompile(`(?s)<tr.*?</tr>`)
	cellsOf   = regexp.MustCompile(`(?s)<t[dh][^>]*>(.*?)</t[dh]>`)
)

// terms are words of a sentence whose meaning opens: no space is around them
// that the sentence does not have.
var terms = regexp.MustCompile(`(?:<span class="nb">)?<button type="button" class="term"[^>]*>([^<]*)</button>(?:([.,;:)?!])</span>)?`)

// pageText is what a page says, in one line.
func pageText(page string) string {
	page = terms.ReplaceAllString(page, "$1$2")
	return oneLine(html.UnescapeString(tags.ReplaceAllString(page, " ")))
}

// mainOf is a page without what differs each time it is asked for: its drawings,
// links and forms.
func mainOf(page string) string {
	_, page, _ = strings.Cut(page, "<main")
	return drawings.ReplaceAllString(page, "")
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// rowsOf are the rows of a page's table as people read them.
func rowsOf(page, id string) (all [][]string) {
	_, table, ok := strings.Cut(page, `<table id="t-`+id+`"`)
	if !ok {
		return nil
	}
	table, _, _ = strings.Cut(table, "</table>")
	body := bodies.FindStringSubmatch(table)
	for _, row := range rows.FindAllString(body[1]+body[2], -1) {
		var cells []string
		for _, c := range cellsOf.FindAllStringSubmatch(row, -1) {
			if text := pageText(drawings.ReplaceAllString(c[1], "")); text != "" {
				cells = append(cells, text)
			}
		}
		all = append(all, cells)
	}
	return all
}

// inOrder reports whether texts stand in a line one after another.
func inOrder(line string, texts []string) bool {
	for _, s := range texts {
		_, rest, ok := strings.Cut(line, s)
		if !ok {
			return false
		}
		line = rest
	}
	return true
}

// columnsOf is a CSV file by its columns, without some.
func columnsOf(t *testing.T, text string, but []string) map[string][]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) == 0 {
		t.Fatalf("no CSV: %v\n%.300s", err, text)
	}
	out := map[string][]string{}
	for i, name := range rows[0] {
		if slices.Contains(but, name) {
			continue
		}
		for _, r := range rows[1:] {
			out[name] = append(out[name], r[i])
		}
	}
	return out
}
