package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/http"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// TestOrdersAreAnsweredTheSameEverywhere puts plan, quote and run sheet to the
// command line (JSON, CSV, text), the API and the page of one shop that is
// served meanwhile, and reads workbook and calendar back: the same figures, the
// same sentences, in two zones of the process, neither of them the shop's.
func TestOrdersAreAnsweredTheSameEverywhere(t *testing.T) {
	for _, name := range []string{"UTC", "Pacific/Kiritimati"} {
		t.Run(name, func(t *testing.T) {
			zone, err := time.LoadLocation(name)
			if err != nil {
				t.Fatal(err)
			}
			local := time.Local
			time.Local = zone
			t.Cleanup(func() { time.Local = local })
			s := &ordersServed{t: t, dir: t.TempDir()}
			s.data = filepath.Join(s.dir, "shop.db")
			s.demoServed = &demoServed{served: serve(t, s.data)}
			s.result(s.post("/demo", ""))
			s.result(s.post("/plan", "{}"))
			s.plan()
			s.quote("1006")
			s.promise("1006")
			s.runSheet("1001")
		})
	}
}

type ordersServed struct {
	*demoServed
	t         *testing.T
	dir, data string
}

// command is what a command prints of the served shop.
func (s *ordersServed) command(args ...string) string {
	s.t.Helper()
	out, errs, code := invoke(s.t, append(args, "--data", s.data)...)
	if code != exitOK {
		s.t.Fatalf("%v: status %d, %s", args, code, errs)
	}
	return out
}

func (s *ordersServed) json(v any, args ...string) {
	s.t.Helper()
	if err := json.Unmarshal([]byte(s.command(append(args, "--json")...)), v); err != nil {
		s.t.Fatalf("%v: %v", args, err)
	}
}

// into reads an answer of the API into v.
func (s *ordersServed) into(answer any, v any) {
	s.t.Helper()
	b, err := json.Marshal(answer)
	if err == nil {
		err = json.Unmarshal(b, v)
	}
	if err != nil {
		s.t.Fatal(err)
	}
}

// says checks that texts say something.
func (s *ordersServed) says(what string, texts ...string) {
	s.t.Helper()
	for i, text := range texts {
		if !strings.Contains(oneLine(text), oneLine(what)) {
			s.t.Errorf("text %d does not say %q: %.600s", i, what, text)
		}
	}
}

// workbook is the first sheet of a workbook.
func (s *ordersServed) workbook(path string) [][]string {
	s.t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		s.t.Fatal(err)
	}
	defer f.Close() //nolint:errcheck // only read
	rows, err := f.GetRows(f.GetSheetName(0), excelize.Options{RawCellValue: true})
	if err != nil {
		s.t.Fatal(err)
	}
	return rows
}

func (s *ordersServed) plan() {
	t := s.t
	type told struct {
		Plan    book.Plan
		Verdict []struct{ Text string }
		Caveats []struct{ Text string }
		Watch   []struct {
			Number int
			Say    struct{ Text string }
		}
	}
	var command, api told
	s.json(&command, "plan")
	s.into(s.get("/plan"), &api)
	if !reflect.DeepEqual(command, api) || len(api.Plan.Lots) == 0 || len(api.Verdict) == 0 {
		t.Errorf("the command's plan and the API's differ:\n%.800v\n%.800v", command, api)
	}
	text, page := s.command("plan"), pageText(s.page("/plan"))
	for _, m := range append(command.Verdict, command.Caveats...) {
		s.says(m.Text, text, page)
	}
	for _, w := range command.Watch {
		s.says(w.Say.Text, text, page)
	}
	workbook, ics := filepath.Join(s.dir, "plan.xlsx"), filepath.Join(s.dir, "plan.ics")
	table := s.command("plan", "--csv", "--xlsx", workbook, "--ical", ics)
	if page := s.page("/plan/plan.csv"); page != table {
		t.Errorf("plan.csv of the page and of the command differ:\n%.600s\n%.600s", page, table)
	}
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	zone := api.Plan.Zone.Location()
	calendar := s.page("/plan/plan.ics")
	column := func(rows [][]string, name string, row int) string {
		t.Helper()
		k := slices.Index(rows[0], name)
		if k < 0 {
			t.Fatalf("there is no column %s in %v", name, rows[0])
		}
		if k >= len(rows[row]) {
			return ""
		}
		return rows[row][k]
	}
	sheet := s.workbook(workbook)
	for i, l := range api.Plan.Lots {
		for _, rows := range [][][]string{rows, sheet} {
			if got, want := column(rows, "pieces", i+1), strconv.Itoa(l.Quantity); got != want {
				t.Errorf("lot %d has %s pieces, want %s", i, got, want)
			}
			if got, want := column(rows, "customer", i+1), l.Customer; got != want {
				t.Errorf("lot %d is for %s, want %s", i, got, want)
			}
		}
		// The workbook has the shop's clocks, as days since 30 December 1899.
		days, err := strconv.ParseFloat(column(sheet, "from", i+1), 64)
		if err != nil {
			t.Fatal(err)
		}
		wall := l.From.In(zone)
		want := time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), wall.Second(), 0, time.UTC)
		got := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).Add(time.Duration(days * 24 * float64(time.Hour)))
		if d := got.Sub(want).Abs(); d > time.Second {
			t.Errorf("lot %d begins at %v in the workbook, want %v", i, got, want)
		}
		s.says("DTSTART:"+l.SetupFrom.UTC().Format("20060102T150405Z"), calendar)
		s.says(wall.Format("15:04"), text, page)
	}
}

func (s *ordersServed) quote(number string) {
	t := s.t
	var command, api book.Quote
	s.json(&command, "quote", number, "--try")
	s.into(s.post("/orders/"+number+"/quotes", "{}"), &api)
	api.Made = command.Made // each is made when it is asked for
	if !reflect.DeepEqual(command, api) || !api.Net.IsPositive() {
		t.Errorf("the command's quote and the API's differ:\n%.900v\n%.900v", command, api)
	}
	file := filepath.Join(s.dir, "quote.xlsx")
	text := s.command("quote", number, "--try", "--costs", "--xlsx", file)
	table := s.command("quote", number, "--try", "--csv")
	page := pageText(s.page("/orders/" + number + "/quote"))
	plain := regexp.MustCompile(`[^0-9.]`)
	for _, amount := range []string{api.Net.StringFixed(2), api.Gross.StringFixed(2), api.Lines[0].Price.StringFixed(2)} {
		s.says(amount, plain.ReplaceAllString(text, " "), plain.ReplaceAllString(page, " "))
	}
	caveats := ask.QuoteCaveats(&api)
	if len(caveats) == 0 {
		t.Error("the demo's prices are an example's, and the quote does not say so")
	}
	said := append(ask.QuoteDay(&api), ask.QuoteTimes(&api.Lines[0]), ask.QuoteCost(&api))
	if api.Promise.IsZero() || len(said) < 4 {
		t.Errorf("quote %s says no day: %s", api.Serial, said.Text(nil))
	}
	for _, m := range slices.Concat(caveats, said) {
		s.says(m.Text(nil), text, page)
	}
	sum, shown := ask.QuoteSum(&api), oneLine(text)
	for _, row := range sum.Rows {
		s.says(row[0].Text(nil)+" "+row[1].Text(nil), shown, page)
	}
	rows := s.workbook(file)
	k := slices.Index(rows[0], "price")
	for i, step := range api.Lines[0].Steps {
		want := step.Price.String()
		if got := rows[i+1][k]; got != want {
			t.Errorf("price %d of the workbook is %s, want %s", i, got, want)
		}
		if got := columnsOf(t, table, nil)["price"][i]; got != want {
			t.Errorf("price %d of the CSV is %s, want %s", i, got, want)
		}
	}
}

// promise asks for the day by the command and the API, and as the quote has it.
func (s *ordersServed) promise(number string) {
	t := s.t
	var command, api struct {
		Earliest, Promise, Due string
		Hours                  float64 `json:"machine_hours"`
		OnTime                 float64 `json:"on_time"`
		Chance                 float64
		Verdict, Caveats       words.Sentences
	}
	s.json(&command, "order", "promise", number, "--try", "--chance", "95")
	s.into(s.get("/orders/"+number+"/promise?chance=0.95"), &api)
	if !reflect.DeepEqual(command, api) || api.Chance != .95 || api.Promise == "" || api.Hours <= 0 || len(api.Verdict) == 0 {
		t.Errorf("the day by the command and by the API:\n%+v\n%+v", command, api)
	}
	var quote book.Quote
	s.json(&quote, "quote", number, "--try", "--chance", "95")
	if quote.Promise.String() != api.Promise || quote.Earliest.String() != api.Earliest || quote.OnTime != api.OnTime {
		t.Errorf("the quote promises %s, earliest %s, %v; asked for the day alone: %+v",
			quote.Promise, quote.Earliest, quote.OnTime, api)
	}
	text := s.command("order", "promise", number, "--try", "--chance", "95")
	for _, m := range api.Verdict {
		s.says(m.Text(nil), text)
	}
}

func (s *ordersServed) runSheet(number string) {
	t := s.t
	var sheet book.RunSheet
	s.json(&sheet, "runsheet", number)
	text := s.command("runsheet", number)
	page := pageText(s.page(fmt.Sprintf("/orders/%s/runsheet?line=%d&machine=%s", number, sheet.Line, sheet.MachineID)))
	for _, what := range []string{sheet.Machine, sheet.Design, sheet.Blocks[0].Thread, sheet.SpeedWhy.Text(nil)} {
		s.says(what, text, page)
	}
	for _, c := range sheet.Cautions {
		s.says(c.Text(nil), text, page)
	}
	blocks := s.page(fmt.Sprintf("/orders/%s/runsheet?line=%d&machine=%s&csv=colours", number, sheet.Line, sheet.MachineID))
	got := columnsOf(t, blocks, nil)
	for i, b := range sheet.Blocks {
		if got["needle"][i] != strconv.Itoa(b.Needle) || got["stitches"][i] != strconv.Itoa(b.Stitches) || got["cone"][i] != b.Cone.Text(nil) {
			t.Errorf("block %d on the page: needle %s, %s stitches, %s; the command has %+v",
				i, got["needle"][i], got["stitches"][i], got["cone"][i], b)
		}
	}
	res, err := http.Get(s.url + fmt.Sprintf("/orders/%s/runsheet.pdf?line=%d", number, sheet.Line))
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatalf("the paper: %v, %v", res, err)
	}
	res.Body.Close() //nolint:errcheck // only read
}
