package pages_test

import (
	"bytes"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"needlepace/web"
	"needlepace/web/webtest"
)

// The page looks at a table first, then takes it in, whether it is a file or pasted, with
// what was chosen of its columns.
func TestATableOfOrdersIsLookedAtThenTakenIn(t *testing.T) {
	a := webtest.New(t, web.Options{})
	a.DemoDesign("gull-cap.dst")
	send := func(fields map[string]string, file string) string {
		t.Helper()
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		for k, v := range fields {
			if err := w.WriteField(k, v); err != nil {
				t.Fatal(err)
			}
		}
		if file != "" {
			f, err := w.CreateFormFile("file", "orders.csv")
			if err != nil {
				t.Fatal(err)
			}
			if _, err := f.Write([]byte(file)); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		res, err := a.Client.Post(a.URL+"/orders/table", w.FormDataContentType(), &b)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		if to := res.Header.Get("Location"); res.StatusCode == http.StatusSeeOther {
			_, page := a.Page(to, nil)
			return html.UnescapeString(page)
		}
		if err != nil || res.StatusCode != http.StatusOK {
			t.Fatalf("%d, %v: %.500s", res.StatusCode, err, body)
		}
		return html.UnescapeString(string(body))
	}
	table := "who;design;qty\nTable Cafe;gull-cap.dst;12\nTable Club;moon.dst;5\n"
	page := send(nil, table)
	if !strings.Contains(page, "No column is the customer") {
		t.Errorf("without a customer's column: %.2000s", page)
	}
	if !strings.Contains(page, `<option value="qty" selected>`) {
		t.Error("what was found is not chosen, where another column is missing")
	}
	text := "who\tdesign\tqty\nTable Cafe\tgull-cap.dst\t12\nTable Club\tmoon.dst\t5\n"
	page = send(map[string]string{"text": text, "column.customer": "who"}, "")
	for _, want := range []string{"Table Cafe", "moon.dst", "1 cell in 1 order", "leave out the orders"} {
		if !strings.Contains(page, want) {
			t.Errorf("the look has no %q", want)
		}
	}
	page = send(map[string]string{"text": text, "column.customer": "who", "keep": "1"}, "")
	if strings.Contains(page, "Taken in") {
		t.Error("taken in with a bad row, and nobody asked for the good ones alone")
	}
	page = send(map[string]string{"text": text, "column.customer": "who", "keep": "1", "good_only": "1"}, "")
	if !strings.Contains(page, "Taken in: 1 order") || !strings.Contains(page, "Left out") {
		t.Errorf("the good one alone: %.2000s", page)
	}
	across := "who\tdesign\tcolour\tS\tXL\nTable Crew\tgull-cap.dst\tnavy\t3\t4\n"
	page = send(map[string]string{"text": across, "column.customer": "who"}, "")
	if !strings.Contains(page, `<option value="S, XL" selected>S, XL</option>`) {
		t.Error("sizes with a column each are not shown as chosen")
	}
	send(map[string]string{"text": across, "column.customer": "who", "column.size": "S, XL", "column.quantity": "", "keep": "1"}, "")
	if _, page = a.Page("/orders/1002", nil); !strings.Contains(html.UnescapeString(page), "<span>navy S 3</span><span>navy XL 4</span>") {
		t.Errorf("the order has no sizes: %s", page[strings.Index(page, "<main"):])
	}
	// A file goes on as it came, whatever its letters and what is not read of it.
	odd := "Sheet of M\xe4rz\n\nCustomer;Design;Qty\nCaf\xe9 Nord;gull-cap.dst;4\nTotal;;4\n"
	page = send(nil, odd)
	given := regexp.MustCompile(`name="given" value="([^"]*)"`).FindStringSubmatch(page)
	if len(given) == 0 || !strings.Contains(page, "Café Nord") || !strings.Contains(page, "windows-1252") || !strings.Contains(page, "It stands above the headings") && !strings.Contains(page, "it stands above the headings") {
		t.Fatalf("a file of Windows' letters: %.3000s", page)
	}
	page = send(map[string]string{"given": given[1], "name": "orders.csv", "letters": "macintosh", "looked": "/windows-1252", "column.customer": "Moon"}, "")
	if !strings.Contains(page, "CafÈ Nord") {
		t.Errorf("by other letters: %.3000s", page)
	}
	page = send(map[string]string{"given": given[1], "name": "orders.csv", "letters": "windows-1252", "looked": "/windows-1252", "keep": "1"}, "")
	if _, list := a.Page("/orders/1003", nil); !strings.Contains(page, "Taken in: 1 order") || !strings.Contains(html.UnescapeString(list), "Café Nord") {
		t.Errorf("taken in: %.2000s", page)
	}
	if page = send(map[string]string{"text": "  "}, ""); !strings.Contains(page, "Choose a table") {
		t.Error("nothing was given, and nothing is said")
	}
}
