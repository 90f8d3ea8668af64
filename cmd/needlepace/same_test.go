package main

import (
	"encoding/csv"
	"encoding/json"
	"html"
	"io"
	"net/http"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zones of the test, on machines without them
)

// asked is one question, put every way it can be put. What is left empty is not
// tried.
type asked struct {
	name    string
	command []string // --json, --csv or nothing is added
	// The API: a path to get, or one to post a body to; work is waited for.
	get, post, body string
	page            string // the page that shows the answer
	// tables are the page's CSVs by the flags that give the same of the command.
	tables  map[string][]string
	differs []string // keys of JSON and columns of CSV that rightly differ: paths, names that the shop gave
}

// TestTheSameAnswerEverywhere puts every question to the command line (JSON,
// CSV and text), the API and the page, in two zones of the process: the same
// figures, the same sentences.
func TestTheSameAnswerEverywhere(t *testing.T) {
	before, dir := map[string]string{}, t.TempDir()
	for _, zone := range []string{"UTC", "Pacific/Kiritimati"} {
		t.Run(zone, func(t *testing.T) {
			loc, err := time.LoadLocation(zone)
			if err != nil {
				t.Fatal(err)
			}
			local := time.Local
			time.Local = loc
			t.Cleanup(func() { time.Local = local })
			d := serveDemo(t)
			d.dir = dir
			for _, questions := range []func(*demoServed) []asked{clockQuestions, auditQuestions, floorQuestions} {
				for _, q := range questions(d) {
					for what, text := range q.put(t, d) {
						what = q.name + " " + what
						if was, ok := before[what]; ok && was != text {
							t.Errorf("%s differs between the zones:\n%.600s\n%.600s", what, was, text)
						}
						before[what] = text
					}
				}
			}
		})
	}
}

func clockQuestions(d *demoServed) (all []asked) {
	for _, c := range []struct {
		design, machine, query string
		flags                  []string
	}{
		{"ostrel-light.dst", "compact-8", "", nil},
		{"gull-cap.dst", "single-15-light", "&cap_frame=1&heavy=0.8&needles=3,1,4,2",
			[]string{"--cap-frame", "--heavy", "0.8", "--needles", "3,1,4,2"}},
		{"harbour-jacket-back.dst", "multi-12", "&speed=750", []string{"--speed", "750"}},
		{"crew-names.dst", "../../demo/shop/gannet.toml", "", nil},
	} {
		path := "/designs/" + d.design(c.design)
		query := "?machine=" + d.machine(c.machine) + c.query
		command := slices.Concat([]string{"clock", "-m", c.machine, "--by", "block", "../../demo/designs/" + c.design}, c.flags)
		all = append(all, asked{
			name: "clock " + c.design, command: slices.Concat(command, []string{"--sweep", "--why"}), get: path + "/clock" + query, page: path + query,
			tables:  map[string][]string{"blocks": slices.Concat(command, []string{"--csv"})},
			differs: []string{"design", "label", "file"},
		})
	}
	return all
}

// put puts the question and compares; it gives what was said, by who said it.
func (q *asked) put(t *testing.T, d *demoServed) map[string]string {
	t.Helper()
	said := map[string]string{}
	var answer struct {
		Verdict []struct{ Text string } `json:"verdict"`
		Caveats []struct{ Text string } `json:"caveats"`
	}
	if q.command != nil {
		command := commandJSON(t, append(slices.Clone(q.command), "--json")...)
		b, err := json.Marshal(command)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(b, &answer); err != nil {
			t.Fatal(err)
		}
		said["JSON"] = string(b)
		switch {
		case q.get != "":
			same(t, q.name, command, d.get(q.get), q.differs...)
		case q.post != "":
			same(t, q.name, command, d.result(d.post(q.post, q.body)), q.differs...)
		}
		out, errs, code := invoke(t, q.command...)
		if code != exitOK {
			t.Fatalf("%v: status %d, %s", q.command, code, errs)
		}
		said["text"] = out
		for _, m := range append(answer.Verdict, answer.Caveats...) {
			if !strings.Contains(oneLine(out), oneLine(m.Text)) {
				t.Errorf("%s: the command's text does not say %q", q.name, m.Text)
			}
		}
		if len(answer.Verdict) == 0 {
			t.Errorf("%s: no verdict", q.name)
		}
	}
	if q.page == "" {
		return said
	}
	page := pageText(d.page(q.page))
	for _, m := range append(answer.Verdict, answer.Caveats...) {
		if !strings.Contains(page, oneLine(m.Text)) {
			t.Errorf("%s: the page does not say %q", q.name, m.Text)
		}
	}
	for id, flags := range q.tables {
		out, errs, code := invoke(t, flags...)
		if code != exitOK {
			t.Fatalf("%v: status %d, %s", flags, code, errs)
		}
		at := q.page + "?csv=" + id
		if strings.Contains(q.page, "?") {
			at = q.page + "&csv=" + id
		}
		onPage := d.page(at)
		said["CSV "+id] = onPage
		if got, want := columnsOf(t, onPage, q.differs), columnsOf(t, out, q.differs); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: table %s is on the page\n%.600v\nand on the command line\n%.600v", q.name, id, got, want)
		}
	}
	return said
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

var tags = regexp.MustCompile(`(?s)<script.*?</script>|<style.*?</style>|<[^>]*>`)

// pageText is what a page says, in one line.
func pageText(page string) string {
	return oneLine(html.UnescapeString(tags.ReplaceAllString(page, " ")))
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// demoServed is the demo shop, served.
type demoServed struct {
	*served
	machines map[string]string // IDs by name
	dir      string            // for files that commands write
}

func serveDemo(t *testing.T) *demoServed {
	t.Helper()
	d := &demoServed{served: serve(t, filepath.Join(t.TempDir(), "shop.db")), machines: map[string]string{}}
	d.result(d.post("/demo", ""))
	for _, m := range d.get("/machines")["machines"].([]any) {
		m := m.(map[string]any)
		d.machines[m["name"].(string)] = m["id"].(string)
	}
	return d
}

// design is the ID of a design by its file.
func (d *demoServed) design(file string) string {
	page := d.get("/designs?search=" + file)["designs"].([]any)
	return page[0].(map[string]any)["id"].(string)
}

// machine is how the shop calls a machine that the command line knows by its
// sheet; a class is its own name.
func (d *demoServed) machine(arg string) string {
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
	return d.get("/setups?kind=" + kind)["setups"].([]any)[0].(map[string]any)["id"].(string)
}

// page is a page as the browser gets it.
func (d *demoServed) page(path string) string {
	d.t.Helper()
	res, err := http.Get(d.url + path)
	if err != nil {
		d.t.Fatal(err)
	}
	defer res.Body.Close() //nolint:errcheck // only read
	b, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		d.t.Fatalf("%s: status %d, %v", path, res.StatusCode, err)
	}
	return string(b)
}

func auditQuestions(d *demoServed) []asked {
	path, file := "/designs/"+d.design("larkess-ferry.dst"), "../../demo/designs/larkess-ferry.dst"
	audit := []string{"audit", "-m", "compact-8", "--pieces", "48", "--hoop", "60x50", file}
	mend := []string{"mend", "-m", "compact-8", "--overwrite", "-o", filepath.Join(d.dir, "ferry.dst"), file}
	return []asked{{
		name: "audit", command: audit, post: path + "/audit", body: `{"machine":"compact-8","pieces":48,"hoop_x":60,"hoop_y":50}`,
		page:    path + "/audit?machine=compact-8&pieces=48&hoop_x=60&hoop_y=50",
		tables:  map[string][]string{"findings": append(slices.Clone(audit), "--csv")},
		differs: []string{"design", "label", "file"},
	}, {
		name: "mend", command: mend, post: path + "/mend", body: `{"machine":"compact-8"}`,
		differs: []string{"design", "file", "out", "written"},
	}}
}
