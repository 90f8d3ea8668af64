package web_test

import (
	"fmt"
	"net/http/httptest"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"needlepace/web/browser"
)

// noticed is put into every page before its own scripts: what the browser itself says of
// when its largest part was painted (Largest Contentful Paint) and how long each press took
// to the next paint (Event Timing, of which Interaction to Next Paint is the longest; both W3C).
const noticed = `window.npPaint = 0; window.npPressed = [];
new PerformanceObserver((l) => { for (const e of l.getEntries()) npPaint = e.startTime; }).observe({type: "largest-contentful-paint", buffered: true});
new PerformanceObserver((l) => { for (const e of l.getEntries()) if (e.interactionId) npPressed.push(e.duration); }).observe({type: "event", durationThreshold: 16, buffered: true});`

// weighs is what a page took over the wire, packed, pictures and the drawing aside.
const weighs = `[...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")]
	.filter((x) => !/thumb|run\.bin|\/events/.test(x.name)).reduce((n, x) => n + x.encodedBodySize, 0)`

// TestFeel is `./dev study feel`: how quick the page feels in a browser beside the server, in a shop of
// 500 designs and 2,000 orders. It reports and judges nothing; the table takes the place of
// the one in docs/reliability.md.
func TestFeel(t *testing.T) {
	file := os.Getenv("NEEDLEPACE_FEEL")
	if file == "" {
		t.Skip("a study: run ./dev study feel")
	}
	tab, stop, err := browser.Start(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	shop := busyShop(t, 500, 2000)
	served := httptest.NewServer(shop.app.Handler())
	defer func() { shop.app.EndEvents(); served.Close() }()
	s := &testShop{t: t, url: served.URL}
	e := s.look(tab, 1440, 900)
	if _, err := chromedp.Call(e.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: noticed}); err != nil {
		t.Fatal(err)
	}
	keys := func(what string) func() {
		return func() {
			for _, k := range what {
				e.do(chromedp.KeyEvent(string(k)))
				time.Sleep(60 * time.Millisecond)
			}
		}
	}
	there := func(at string) bool { return js[bool](e, `!!document.querySelector(`+quote(at)+`)?.checkVisibility()`) }
	in := func(field, what string) func() {
		return func() {
			if there(field) {
				e.click(field)
				keys(what)()
			}
		}
	}
	press := func(all ...string) func() {
		return func() {
			for _, at := range all {
				if !there(at) {
					continue
				}
				e.click(at)
				time.Sleep(150 * time.Millisecond)
			}
		}
	}
	var rows []string
	for _, p := range []struct {
		name, at string
		ready    string
		do       []func()
	}{
		{"Today", "/today", "true", []func(){press("main details summary")}},
		{"Designs, of 500", "/designs", "true", []func(){in("[name=search]", "gull 12"), press(".tickone input")}},
		{"one design", "/designs/" + shop.designs[7], `document.querySelector("[data-run][data-ready] .cloth[data-frames]")`,
			[]func(){press("[data-in]", "[data-in]"), func() {
				e.click(".trace")
				for range 6 {
					e.do(chromedp.KeyEvent(kb.ArrowRight))
				}
			}}},
		{"Orders, of 2,000", "/orders", "true", []func(){in("[name=search]", "customer 19")}},
		{"one order", "/orders/" + shop.orders[7], "true", []func(){press("main details summary")}},
		{"Plan, of 2,000 lots", "/plan", "true", []func(){press(".takeaway summary")}},
		{"Compare", "/compare", "true", []func(){in("input[name=labour]", "23")}},
		{"a machine", "/machines/" + shop.machines[0], "true", []func(){press("main details summary")}},
		{"Find", "/find?find=gu", "true", []func(){in("[name=find]", "ll")}},
		{"the line of /", "/settings", `document.querySelector("[aria-keyshortcuts]")`, []func(){keys("/gull")}},
		{"the line of / over Designs", "/designs", `document.querySelector("[aria-keyshortcuts]")`, []func(){keys("/gull")}},
	} {
		var paints []float64
		var pressed []float64
		weight := 0
		for range 3 {
			e.open(p.at)
			e.until(p.ready)
			time.Sleep(300 * time.Millisecond)
			paints = append(paints, js[float64](e, `npPaint`)) // before a press, which ends it
			weight = max(weight, js[int](e, weighs))
			for _, do := range p.do {
				do()
			}
			time.Sleep(300 * time.Millisecond)
			pressed = append(pressed, js[[]float64](e, `npPressed`)...)
		}
		slices.Sort(paints)
		slices.Sort(pressed)
		longest := "under 16"
		if len(pressed) > 0 {
			longest = fmt.Sprintf("%.0f", pressed[len(pressed)-1])
		}
		rows = append(rows, fmt.Sprintf("| %s | %.0f | %.0f | %s | %.1f |", p.name, paints[len(paints)/2], paints[len(paints)-1], longest,
			float64(weight)/1000))
		t.Log(rows[len(rows)-1])
	}
	busy, _ := os.ReadFile("/proc/loadavg") //nolint:errcheck // where there is one
	table := fmt.Sprintf("%d cores, browser and server on them; load average of the whole computer at the end %s.\n\n"+
		"| page | largest part painted, ms: middle | worst of 3 | longest press to next paint, ms | kB over the wire |\n|---|--:|--:|--:|--:|\n%s\n",
		runtime.GOMAXPROCS(0), strings.TrimSpace(string(busy)), strings.Join(rows, "\n"))
	t.Log(table)
	intoDoc(t, file, "feel: from here, by ./dev study feel", "feel: to here", table)
}
