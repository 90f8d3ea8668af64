package main

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"
)

// TestAQuoteAddsUpInEveryCurrency reads a quote as people do: in the command's
// text, on the page, on paper and in the workbook. Everywhere the amounts have
// the decimals that ISO 4217 gives the currency, pieces × price is the line, and
// the lines, the fee and the tax add up to the total.
func TestAQuoteAddsUpInEveryCurrency(t *testing.T) {
	demo, err := filepath.Abs("../../demo")
	if err != nil {
		t.Fatal(err)
	}
	workshop, err := os.ReadFile("../../demo/orders/WORKSHOP.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		currency, step, fee, hour string
		places                    int
	}{
		{"JPY", "", "4500.4", "2950", 0}, // the step left out: one yen
		{"EUR", "0.007", "45.125", "19.50", 2},
		{"BHD", "", "18.0625", "4.750", 3},
	} {
		t.Run(c.currency, func(t *testing.T) {
			dir := t.TempDir()
			data := filepath.Join(dir, "shop.db")
			toml := string(workshop)
			for _, r := range [][2]string{
				{`currency = "EUR"`, fmt.Sprintf("currency = %q", c.currency)},
				{"price_step = 0.05\n", map[bool]string{true: "price_step = " + c.step + "\n"}[c.step != ""]},
				{"digitizing_fee = 45\n", "digitizing_fee = " + c.fee + "\n"},
				{"labour_per_hour = 19.50", "labour_per_hour = " + c.hour},
				{"sales_tax_percent = 20", "sales_tax_percent = 7.7"},
			} {
				if !strings.Contains(toml, r[0]) {
					t.Fatalf("the workshop has no %q", r[0])
				}
				toml = strings.Replace(toml, r[0], r[1], 1)
			}
			file := filepath.Join(dir, "WORKSHOP.toml")
			if err := os.WriteFile(file, []byte(strings.ReplaceAll(toml, `"../`, `"`+demo+"/")), 0o600); err != nil {
				t.Fatal(err)
			}
			must := func(args ...string) string {
				t.Helper()
				out, errs, code := invoke(t, append(args, "--data", data)...)
				if code != exitOK {
					t.Fatalf("%v: status %d, %s", args, code, errs)
				}
				return out
			}
			must("plan", "setup", file, "--new")
			order := filepath.Join(dir, "order.toml")
			if err := os.WriteFile(order, []byte(fmt.Sprintf("[[order]]\ncustomer = \"Cadets\"\n[[order.line]]\ndesign = %q\n"+
				"quantity = 37\ndigitize = true\n", filepath.Join(demo, "designs/wheel-badge.dst"))), 0o600); err != nil {
				t.Fatal(err)
			}
			must("order", "add", order, "--now", "2026-03-02T07:00")
			pdf, xlsx := filepath.Join(dir, "q.pdf"), filepath.Join(dir, "q.xlsx")
			text := must("quote", "1001", "-n", "37", "--now", "2026-03-02T07:00", "--pdf", pdf, "--xlsx", xlsx)

			// The amount at the end of the line that begins with a word.
			number := `(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.(\d+))?`
			figure := func(where, said, pattern string) decimal.Decimal {
				t.Helper()
				m := regexp.MustCompile(`(?m)` + strings.ReplaceAll(pattern, "#", "("+number+")")).FindStringSubmatch(said)
				if m == nil {
					t.Fatalf("%s has no %s:\n%s", where, pattern, said)
				}
				if len(m[2]) != c.places {
					t.Errorf("%s: %q has not %d decimals", where, m[1], c.places)
				}
				return decimal.RequireFromString(strings.ReplaceAll(m[1], ",", ""))
			}
			adds := func(where string, each, line, fee, net, tax, total decimal.Decimal) {
				t.Helper()
				if want := net.Mul(decimal.RequireFromString("0.077")).Round(int32(c.places)); !tax.Equal(want) {
					t.Errorf("%s: 7.7 %% of %s are %s, not %s", where, net, want, tax)
				}
				if !each.IsPositive() || !each.Mul(decimal.NewFromInt(37)).Equal(line) || !line.Add(fee).Equal(net) || !net.Add(tax).Equal(total) {
					t.Errorf("%s: 37 at %s are %s, with %s once %s, with %s of tax %s", where, each, line, fee, net, tax, total)
				}
			}
			find := func(where, said string, patterns [6]string) {
				t.Helper()
				var v [6]decimal.Decimal
				for i, p := range patterns {
					v[i] = figure(where, said, p)
				}
				adds(where, v[0], v[1], v[2], v[3], v[4], v[5])
			}
			find("the text", text, [6]string{`^ *37 +# .*this order`, `^37 × wheel-badge at [\d.,]+ +#$`, `^Digitizing: wheel-badge, once +#$`,
				`^Without tax +#$`, `^Tax, 7.7 % +#$`, `^Together, with tax +#$`})

			s := serve(t, data)
			quotes := s.get("/orders/1001/quotes")["quotes"].([]any)
			res, err := http.Get(s.url + "/orders/1001/quotes/" + quotes[0].(map[string]any)["id"].(string))
			if err != nil {
				t.Fatal(err)
			}
			page, err := io.ReadAll(res.Body)
			res.Body.Close()
			if err != nil || res.StatusCode != http.StatusOK {
				t.Fatalf("the page: %s, %v", res.Status, err)
			}
			said := strings.Join(strings.Fields(html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(string(page), " "))), " ")
			find("the page", said, [6]string{`37 × wheel-badge at #`, `37 × wheel-badge at [\d.,]+ #`, `Digitizing: wheel-badge, once #`,
				`Without tax #`, `Tax, 7.7 % #`, `Together, with tax #`})

			if tool, err := exec.LookPath("pdftotext"); err != nil {
				t.Log("pdftotext (poppler) is not installed: the paper is not read")
			} else {
				out, err := exec.Command(tool, "-layout", pdf, "-").Output()
				if err != nil {
					t.Fatal(err)
				}
				find("the paper", string(out), [6]string{`^ *Embroidery.* 37 +#`, `^ *Embroidery.* 37 +[\d.,]+ +#$`, `^ *Digitizing: wheel-badge, once +#$`,
					`^ *Without tax +#$`, `^ *Tax, 7.7 % +#$`, `^ *Together, with tax +#$`})
			}

			b, err := os.ReadFile(xlsx)
			if err != nil {
				t.Fatal(err)
			}
			book, err := excelize.OpenReader(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			defer book.Close()
			// Cells as a spreadsheet shows them, in their number formats.
			cell := func(sheet string, row, column int) string {
				t.Helper()
				rows, err := book.GetRows(sheet)
				if err != nil || row >= len(rows) || column >= len(rows[row]) {
					t.Fatalf("%s has no row %d, column %d: %v", sheet, row, column, err)
				}
				return rows[row][column]
			}
			prices, err := book.GetRows("Quote 1001-1")
			if err != nil {
				t.Fatal(err)
			}
			each := ""
			for _, r := range prices {
				if r[7] == "37" {
					each = r[8]
				}
			}
			v := [6]decimal.Decimal{figure("the workbook", each, `^#$`)}
			for i := range 5 {
				v[i+1] = figure("the workbook", cell("Together", i+1, 1), `^#$`)
			}
			adds("the workbook", v[0], v[1], v[2], v[3], v[4], v[5])
		})
	}
}
