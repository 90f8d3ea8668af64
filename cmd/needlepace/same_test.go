package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zones of the test, on machines without them
)

// asked is one question, put every way it can be put.
type asked struct {
	name string
	of   []string // the functions of package ask that answer it
	// command asks the command line: --json, --csv or nothing is added.
	command []string
	// The API: a path to get, or one to post a body to; work is waited for.
	get, post, body string
	// page shows the answer. Where there is a form, page is where it is sent.
	page string
	form form
	// tables are the page's tables by their IDs, with the command that gives the
	// same as CSV; none: only as text. Every row of them stands in the command's
	// text, figure by figure, as it stands on the page.
	tables map[string][]string
	// lists are tables that the page shows otherwise than as a table: only the CSV
	// is compared.
	lists map[string][]string
	// shown are figures that people read, as they must stand in the command's text
	// and on the page; answer is the command's JSON.
	shown func(answer map[string]any) []string
	// headline is what stands in large figures on the page.
	headline func(answer map[string]any) []string
	// differs are keys of the JSON and columns of CSV that rightly differ: paths,
	// names that the shop gave. "rows.run" is the key run of what is in rows.
	differs []string
	// not says of outlets that do not have this answer why.
	not map[string]string
	// figures are what the command's text has of a row of the page's table; nil: all.
	figures func(table string, row []string) []string
	// more compares what only this question has: papers, workbooks, files.
	more func(t *testing.T, d *demoServed, a *answers)
}

// answers are what came of a question.
type answers struct {
	json map[string]any    // of the command
	text string            // of the command
	page string            // the address of the page
	body string            // of the page
	said map[string]string // by outlet
}

// outlets are where an answer can be had.
var outlets = []string{"json", "csv", "text", "api", "page", "xlsx", "pdf"}

// Why an outlet does not have an answer.
const (
	oneAnswer  = "one answer and no list: what a program needs is in the JSON"
	noWorkbook = "its tables are CSV on the page and the command line; workbooks are of orders and the plan"
	noPaper    = "papers go to the customer and to the machine: quotes and run sheets"
)

// inside are functions of package ask that are parts of other questions.
var inside = map[string]string{
	"PartOf":         "the part of a line that a run sheet and a start are for",
	"CutShort":       "the files of a line that orders, quotes and run sheets warn of",
	"RunOfLine":      "the run time that a quote's page draws; the quote says it too",
	"Expect":         "what the page to record pieces expects, and the order's history",
	"Reported":       "what reports say of the machines: one table on every outlet; act holds what goes by it",
	"FloorReported":  "what a floor's simulation takes from it",
	"BestSpeedOf":    "what a shop knows of a machine, beside the knee: TestTheBestSpeedIsToldOfCountsAtSeveralSpeeds of act puts it",
	"HeardBreaks":    "what a recording that is kept counts for; TestBreaksThatAreHeardCountOnce of act puts it",
	"Law":            "the curve of speeds that the API and a machine's page draw; in figures it is a clock's sweep",
	"NobodyMakes":    "the note under an order, which has it from the plan's own rule",
	"PlanInputs":     "what a plan is made from, which it keeps; Since compares it",
	"AuditMany":      "audits in parts, of a shop in a database: TestWorkInParts holds them to audits one by one",
	"NamesApart":     "how lists tell things of one name apart: TestDesignsOfOneNameAreToldApart",
	"Help":           "what a program makes for another: TestWhatIsMadeElsewhereIsTheSame of act holds it to what that makes itself",
	"WithElsewhere":  "where heavy computations are made; no question",
	"InRoom":         "what they hold meanwhile; no question",
	"Trial":          "TestAVisitGoesTheWholeWay and the browser's way of the demo's trial put it",
	"OpenCall":       "TestAnOpenCallGoesTheWholeWay puts it on the command line, the page and the API",
	"Listen":         "TestARecordingSaysTheSameEverywhere puts it",
	"Follow":         "what a recording under way is followed by; it is on no command",
	"CheckWhatIf":    "what the what-if refuses before it is begun",
	"CheckHindsight": "what the fleet's question refuses before it is begun",
}

// TestTheSameAnswerEverywhere puts every question to the command line (JSON,
// CSV, text), the API and the page of one served shop, and reads workbooks and
// papers back: the same figures, the same sentences. The page is served in one
// zone and the commands run in another, neither of them the shop's.
func TestTheSameAnswerEverywhere(t *testing.T) {
	d := serveDemo(t)
	servedIn(t, "UTC", "Pacific/Kiritimati")
	answered := map[string]bool{}
	for _, questions := range []func(*demoServed) []asked{
		designQuestions, learnQuestions, floorQuestions, planQuestions, orderQuestions,
	} {
		for _, q := range questions(d) {
			for _, f := range q.of {
				answered[f] = true
			}
			t.Run(q.name, func(t *testing.T) {
				d.on(t)
				q.put(t, d)
			})
			d.on(t)
		}
	}
	for _, f := range questionsOfAsk(t) {
		if !answered[f] && inside[f] == "" {
			t.Errorf("ask.%s is not in this test: put it to every outlet", f)
		}
	}
}

// servedIn puts the process into another zone while a page is asked for than at
// all other times.
func servedIn(t *testing.T, page, commands string) {
	t.Helper()
	var zones [2]*time.Location
	for i, name := range []string{page, commands} {
		loc, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		zones[i] = loc
	}
	local, transport := time.Local, http.DefaultTransport
	t.Cleanup(func() { time.Local, http.DefaultTransport = local, transport })
	time.Local = zones[1]
	http.DefaultTransport = roundTrip(func(req *http.Request) (*http.Response, error) {
		time.Local = zones[0]
		defer func() { time.Local = zones[1] }()
		res, err := transport.RoundTrip(req)
		if err != nil {
			return nil, err
		}
		b, err := io.ReadAll(res.Body)
		if err != nil {
			return nil, err
		}
		res.Body = io.NopCloser(bytes.NewReader(b))
		return res, nil
	})
}

// roundTrip is a function as a transport.
type roundTrip func(*http.Request) (*http.Response, error)

// RoundTrip is the function.
func (f roundTrip) RoundTrip(req *http.Request) (*http.Response, error) { return f(req) }

// questionsOfAsk are the exported functions of package ask that answer
// something: those that take a context.
func questionsOfAsk(t *testing.T) (all []string) {
	t.Helper()
	files, err := filepath.Glob("../../ask/*.go")
	if err != nil || len(files) == 0 {
		t.Fatalf("package ask is not there: %v", err)
	}
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, decl := range f.Decls {
			fn, ok := decl.(*ast.FuncDecl)
			if !ok || fn.Recv != nil || !fn.Name.IsExported() || len(fn.Type.Params.List) == 0 {
				continue
			}
			if sel, ok := fn.Type.Params.List[0].Type.(*ast.SelectorExpr); ok && sel.Sel.Name == "Context" {
				all = append(all, fn.Name.Name)
			}
		}
	}
	return all
}

// put puts the question and compares.
func (q *asked) put(t *testing.T, d *demoServed) {
	t.Helper()
	a := &answers{said: map[string]string{}}
	sentences := q.toMachines(t, d, a)
	out, errs, code := invoke(t, q.command...)
	if code != exitOK {
		t.Fatalf("%v: status %d, %s", q.command, code, errs)
	}
	a.text, a.said["text"] = out, out
	for _, s := range sentences {
		if !says(out, s) {
			t.Errorf("%s: the command's text does not say %q", q.name, s)
		}
	}
	if q.page != "" {
		q.onPage(t, d, a, sentences)
	}
	if q.more != nil {
		q.more(t, d, a)
	}
	q.offered(t, a.said)
}

// toMachines puts the question to the command line for other programs and to
// the API. It gives what people must be told: verdict, caveats and figures.
func (q *asked) toMachines(t *testing.T, d *demoServed, a *answers) (sentences []string) {
	t.Helper()
	a.json = commandJSON(t, append(slices.Clone(q.command), "--json")...)
	a.said["json"] = text(t, without(a.json, q.differs))
	switch {
	case q.get != "":
		a.said["api"] = q.sameJSON(t, a.json, d.get(q.get))
	case q.post != "":
		got := d.post(q.post, q.body)
		if _, work := got["state"]; work {
			got = d.result(got)
		}
		a.said["api"] = q.sameJSON(t, a.json, got)
	}
	var answer struct{ Verdict, Caveats []struct{ Text string } }
	into(t, a.json, &answer)
	for _, m := range append(answer.Verdict, answer.Caveats...) {
		sentences = append(sentences, m.Text)
	}
	if q.shown != nil {
		sentences = append(sentences, q.shown(a.json)...)
	}
	if len(sentences) == 0 {
		t.Errorf("%s: no verdict", q.name)
	}
	return sentences
}

// says reports whether a text says something, whatever stands at the beginnings
// of its sentences.
func says(text, what string) bool {
	return strings.Contains(strings.ToLower(oneLine(text)), strings.ToLower(oneLine(what)))
}

// text is a value as JSON.
func text(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// into reads a value of JSON as one of Go.
func into(t *testing.T, from, v any) {
	t.Helper()
	if err := json.Unmarshal([]byte(text(t, from)), v); err != nil {
		t.Fatal(err)
	}
}

// sameJSON holds the command's answer against the API's.
func (q *asked) sameJSON(t *testing.T, command, api map[string]any) string {
	t.Helper()
	want, got := without(command, q.differs).(map[string]any), without(api, q.differs).(map[string]any)
	for _, all := range []map[string]any{want, got} {
		for k := range all {
			if !reflect.DeepEqual(got[k], want[k]) {
				t.Errorf("%s: %s is %.400s on the API, %.400s on the command line",
					q.name, k, fmt.Sprint(got[k]), fmt.Sprint(want[k]))
			}
		}
	}
	return text(t, got)
}

var gap = regexp.MustCompile(` {2,}`)

// isColumn reports whether a row is a column of a table that was turned.
func isColumn(lines, row []string) bool {
	cell := func(line string, k int) string {
		if all := gap.Split(strings.TrimSpace(line), -1); k < len(all) {
			return all[k]
		}
		return ""
	}
	for i := range lines {
		for k := 1; cell(lines[i], k) != ""; k++ {
			left := row
			for _, line := range lines[i:] {
				if line == "" {
					break
				}
				if len(left) > 0 && cell(line, k) == left[0] {
					left = left[1:]
				}
			}
			if len(left) == 0 {
				return true
			}
		}
	}
	return false
}

// onPage compares the page with the command's text and CSV.
func (q *asked) onPage(t *testing.T, d *demoServed, a *answers, sentences []string) {
	t.Helper()
	a.page, a.body = d.shown(q.page, q.form)
	page := pageText(a.body)
	a.said["page"] = pageText(mainOf(a.body))
	for _, s := range sentences {
		if !says(page, s) {
			t.Errorf("%s: the page does not say %q", q.name, s)
		}
	}
	if q.headline != nil {
		var got []string
		for _, big := range headlines.FindAllStringSubmatch(a.body, -1) {
			got = append(got, pageText(big[1]))
		}
		if want := q.headline(a.json); !slices.Equal(got, want) {
			t.Errorf("%s: large on the page stands %q, want %q", q.name, got, want)
		}
	}
	lines := strings.Split(a.text, "\n")
	for _, id := range slices.Sorted(maps.Keys(q.tables)) {
		flags, rows := q.tables[id], rowsOf(a.body, id)
		if len(rows) == 0 {
			t.Errorf("%s: the page has no table %s", q.name, id)
		}
		for _, row := range rows {
			if q.figures != nil {
				row = q.figures(id, row)
			}
			if !slices.ContainsFunc(lines, func(line string) bool { return inOrder(oneLine(line), row) }) && !isColumn(lines, row) {
				t.Errorf("%s: table %s of the page has the row %q, which the command's text does not have", q.name, id, row)
			}
		}
		if flags != nil {
			a.said["csv"] += q.sameCSV(t, d, a.page, id, flags)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(q.lists)) {
		a.said["csv"] += q.sameCSV(t, d, a.page, id, q.lists[id])
	}
}

// sameCSV holds a table of the page against the command's, as files.
func (q *asked) sameCSV(t *testing.T, d *demoServed, at, id string, flags []string) string {
	t.Helper()
	out, errs, code := invoke(t, flags...)
	if code != exitOK {
		t.Fatalf("%v: status %d, %s", flags, code, errs)
	}
	sep := "?"
	if strings.Contains(at, "?") {
		sep = "&"
	}
	got, want := columnsOf(t, string(d.file(at+sep+"csv="+id)), q.differs), columnsOf(t, out, q.differs)
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%s: table %s is on the page\n%.600v\nand on the command line\n%.600v", q.name, id, got, want)
	}
	return out
}

// offered checks that each outlet either was asked or is said not to have the
// answer, and that this is true of the command's flags.
func (q *asked) offered(t *testing.T, said map[string]string) {
	t.Helper()
	for _, outlet := range outlets {
		_, asked := said[outlet]
		why := q.not[outlet]
		if outlet == "xlsx" || outlet == "pdf" {
			asked = why == "" && q.more != nil
		}
		if asked == (why != "") {
			t.Errorf("%s: %s was asked: %v; it is said not to have the answer: %q", q.name, outlet, asked, why)
		}
		if why == "" || outlet == "api" || outlet == "page" {
			continue
		}
		flag := "--" + outlet
		if outlet != "csv" {
			flag += "=" + filepath.Join(t.TempDir(), "x."+outlet)
		}
		if _, errs, code := invoke(t, append(slices.Clone(q.command), flag)...); code != exitUsage ||
			!strings.Contains(errs, "unknown flag") && !strings.Contains(errs, "for many designs") {
			t.Errorf("%s: %s is offered, status %d: %s", q.name, flag, code, errs)
		}
	}
}

// without is a value of JSON without some of its keys.
func without(v any, keys []string) any {
	switch v := v.(type) {
	case map[string]any:
		out := map[string]any{}
		for k, of := range v {
			if slices.Contains(keys, k) {
				continue
			}
			var below []string
			for _, key := range keys {
				if rest, ok := strings.CutPrefix(key, k+"."); ok {
					below = append(below, rest)
				}
			}
			out[k] = without(of, below)
		}
		return out
	case []any:
		out := make([]any, len(v))
		for i := range v {
			out[i] = without(v[i], keys)
		}
		return out
	}
	return v
}

// sameFile compares a file that a command wrote with another.
func sameFile(t *testing.T, what, path string, other []byte) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if len(b) == 0 || !bytes.Equal(b, other) {
		t.Errorf("%s: the command wrote %d bytes, the page gives %d others", what, len(b), len(other))
	}
}
