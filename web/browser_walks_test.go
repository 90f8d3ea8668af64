package web_test

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/store/sqlite"
	"needlepace/web"
	"needlepace/web/webtest"
)

// counts has the tab count each press of a finger or a mouse from now on, over all its
// pages: what a person did, not what scripts call.
func (e *eyes) counts() {
	e.t.Helper()
	const count = `addEventListener("pointerdown", (ev) => { if (ev.isTrusted) sessionStorage.npDone = Number(sessionStorage.npDone ?? 0) + 1; }, {capture: true});`
	if _, err := chromedp.Call(e.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: count}); err != nil {
		e.t.Fatal(err)
	}
}

// presses are those since the last call.
func (e *eyes) presses() int {
	e.t.Helper()
	return js[int](e, `(() => { const n = Number(sessionStorage.npDone ?? 0); sessionStorage.npDone = 0; return n; })()`)
}

// From an order in the list to its run sheet in three presses, where nothing was ever
// planned too: the refusal leads to the plan, and the plan to the sheet.
func testToARunSheet(t *testing.T, tab context.Context) {
	const most = 3 // issue 16, "Must reach"
	s := serveShop(t, true)
	for _, width := range []int64{1280, 390} {
		e := s.look(tab, width, 844)
		e.counts()
		o, _, _ := s.agreed()
		list := fmt.Sprintf(`main a[href="/orders/%d"]`, o.Number)
		e.open("/orders")
		e.click(list)
		e.click(`.oline a[href*="/runsheet"]`)
		if p, err := s.shop.Plans.Last(t.Context()); err != nil {
			t.Fatal(err)
		} else if p == nil {
			e.click(`form[action="/plan"] button.main`)
		}
		e.until(`location.pathname.endsWith("/runsheet") && document.querySelector(".code")`)
		if n := e.presses(); n < 2 || n > most {
			t.Errorf("%d px wide: %d presses from an order to its run sheet, %d at most are meant", width, n, most)
		}
	}
	p, err := s.shop.Plans.Last(t.Context())
	if err != nil || p == nil {
		t.Fatal("the walk left no plan", err)
	}
	e := s.look(tab, 390, 844) // and at the machine, on the phone
	e.counts()
	e.open("/today")
	e.click(`#m-` + p.Lots[0].MachineID + ` a[href*="/runsheet"]`)
	e.until(`location.pathname.endsWith("/runsheet") && document.querySelector(".code")`)
	if n := e.presses(); n != 1 {
		t.Errorf("%d presses from the machine of the day to its run sheet", n)
	}
}

// served is a shop whose server is stopped and started again, as when its computer is: of
// what it had in memory nothing is left, and its address is the same.
type served struct {
	testShop
	file, at string
	stop     func()
}

func (s *served) start() {
	s.t.Helper()
	store, err := sqlite.Open(s.t.Context(), s.file)
	if err != nil {
		s.t.Fatal(err)
	}
	ln, err := net.Listen("tcp", s.at)
	if err != nil {
		s.t.Fatal(err)
	}
	var failed failLog
	s.shop = act.New(store, act.Options{Build: "test"})
	app := web.New(s.shop, web.Options{Version: "test", Log: slog.New(slog.NewTextHandler(&failed, &slog.HandlerOptions{Level: slog.LevelError}))})
	srv := &httptest.Server{Listener: ln, Config: &http.Server{Handler: app.Handler()}}
	srv.Start()
	s.at, s.url = ln.Addr().String(), srv.URL
	s.stop = func() {
		app.EndEvents()
		srv.CloseClientConnections()
		srv.Close()
		app.Close()
		store.Close() //nolint:errcheck // a test's
		if text := failed.String(); text != "" {
			s.t.Errorf("the server logged errors:\n%s", text)
		}
	}
}

// The server is stopped under pages that stand open and started again: each says so, shows
// what changed meanwhile once it is back, and its presses go where they should. A run that
// is being timed loses none.
func testStoppedAndStarted(t *testing.T, tab context.Context) {
	s := &served{testShop: testShop{t: t, cut: true}, file: webtest.Sample(t), at: "127.0.0.1:0"}
	s.start()
	t.Cleanup(func() { s.stop() })
	ctx := t.Context()
	if _, err := s.shop.MakePlan(ctx, ask.PlanQuestion{Now: s.shop.Now(), NoBound: true, Moves: 100}, ""); err != nil {
		t.Fatal(err)
	}
	p, err := s.shop.Plans.Last(ctx)
	if err != nil {
		t.Fatal(err)
	}
	lot := p.Lots[0]
	if _, err := s.shop.Start(ctx, lot.OrderID, lot.Line, lot.MachineID, 0, lot.Colour, ""); err != nil {
		t.Fatal(err)
	}
	d, m := s.design("crew-names.dst"), s.machine("Skipper")
	today, plan, timing := s.look(tab, 1024, 768), s.look(tab, 1440, 900), s.look(tab, 390, 844)
	timing.open("/time/stopped-run-01?design=" + d.ID + "&machine=" + m.ID + "&speed=700")
	timing.until(`document.querySelector("[data-does]")?.innerText === "Start"`)
	timing.click("[data-press]")
	timing.until(`document.querySelector("[data-kept-where]").innerText.includes("in the shop")`)
	today.open("/today")
	plan.open("/plan")
	plan.until(`document.querySelector("[data-bars][data-ready][data-frames]")`)
	for _, e := range []*eyes{today, plan} {
		e.until(`document.documentElement.dataset.live === "on"`)
	}

	s.stop()
	timing.click("[data-press]")
	timing.until(`document.querySelector("[data-kept-where]").innerText.includes("out of reach") && document.querySelectorAll("[data-presses] li").length === 2`)
	for _, e := range []*eyes{today, plan} {
		e.until(`document.querySelector("#lost")?.innerText.includes("Connection lost")`)
	}
	for range 2 * d.ColourStops { // to its end
		time.Sleep(350 * time.Millisecond)
		timing.click("[data-press]")
	}
	timing.keepsTimes()
	timing.until(`document.querySelector("#waits")?.innerText.includes("1 waits on this phone")`)

	s.start()
	if _, err := s.shop.Record(ctx, book.Report{OrderID: lot.OrderID, Line: lot.Line, MachineID: lot.MachineID, Good: 1, Breaks: -1,
		Colour: lot.Colour}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	for _, e := range []*eyes{today, plan} {
		e.until(`document.documentElement.dataset.live === "on" && !document.querySelector("#lost:not([data-back])")`)
	}
	today.until(`document.querySelector("#m-` + lot.MachineID + `").innerText.match(/\b2\b(–\d+)? of /)`)
	plan.until(`document.querySelector("#since")`)
	timing.until(`(document.querySelector("#waits .row button")?.click(), document.querySelector("[data-after]:not([hidden])") && !document.querySelector("#waits"))`)
	if k, err := s.shop.Timings.Get(ctx, "stopped-run-01"); err != nil || !k.Done || len(k.Marks) != 2+2*d.ColourStops {
		t.Errorf("the shop has %+v (%v), want all presses, and their end", k, err)
	}
	// And the pages are at work again.
	plan.click(`form.replan button.main`)
	plan.until(`document.querySelector("#moved") && !document.querySelector("#since")`)
	today.until(`document.querySelector("#m-` + lot.MachineID + ` a[href*='/record']")`)
	today.click(`#m-` + lot.MachineID + ` a[href*="/record"]`)
	today.set(`[name=good]`, "1")
	today.click("form[data-record] button.main")
	today.until(`location.search.includes("kept=")`)
}

// Where there is no plan yet its pages offer to make it, and it leads back to them; where nothing could be planned
// nothing is offered.
func TestAPageOfThePlanOffersToMakeIt(t *testing.T) {
	for _, demo := range []bool{true, false} {
		s := serveShop(t, demo)
		for _, path := range []string{"/plan/thread?days=3", "/plan/costs?"} {
			status, body := s.get(path)
			want := `<input type="hidden" name="then" value="` + path + `">`
			if offers := strings.Contains(body, `action="/plan"`) && strings.Contains(body, want); status == http.StatusOK || offers != demo {
				t.Errorf("demo %v, %s: status %d, offers to make a plan: %v", demo, path, status, offers)
			}
		}
	}
}

// get is the status of a page and what it says.
func (s *testShop) get(path string) (int, string) {
	s.t.Helper()
	r, err := http.Get(s.url + path)
	if err != nil {
		s.t.Fatal(err)
	}
	defer r.Body.Close() //nolint:errcheck // only read
	b, err := io.ReadAll(r.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return r.StatusCode, string(b)
}
