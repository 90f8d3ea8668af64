package web_test

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// keepsTimes keeps the presses of a run that took a few seconds only: the page
// asks first.
func (e *eyes) keepsTimes() {
	e.t.Helper()
	e.click("[data-keep-times]")
	e.until(`document.querySelector("[data-ask]:not([hidden])")?.innerText.includes("was expected")`)
	e.click("[data-ask] button")
}

// One phone owns a timing. Another is told who has it, and may take it over;
// what is pressed twice or cannot be is asked about; Undo lies away from the
// button that is pressed without looking.
func testTwoPhones(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	d, m := s.design("crew-names.dst"), s.machine("Skipper")
	at := "/time/two-phones-01?design=" + d.ID + "&machine=" + m.ID + "&speed=700"
	a := s.look(tab, 390, 844)
	a.open(at)
	a.until(`document.querySelector("[data-does]")?.innerText === "Start"`)
	if gap := js[float64](a, `(() => { const b = document.querySelector(".press").getBoundingClientRect(), u = document.querySelector("[data-undo]").getBoundingClientRect(); return Math.max(b.top - u.bottom, u.top - b.bottom); })()`); gap < 44 {
		t.Errorf("Undo lies %v px from the big button, at least 44", gap)
	}
	a.click(".press")
	js[bool](a, `(document.querySelector(".press").click(), true)`) // a glove that presses twice
	a.until(`document.querySelector("[data-ask]:not([hidden])")?.innerText.includes("Pressed twice")`)
	if n := js[int](a, `document.querySelectorAll("[data-presses] li").length`); n != 1 {
		t.Errorf("%d presses count, want the first", n)
	}
	a.click("[data-ask] button:last-child")
	a.until(`document.querySelector("[data-ask]").hidden && document.querySelector("[data-kept-where]").innerText.includes("in the shop")`)

	b := s.look(tab, 390, 844)
	b.open(at)
	b.until(`document.querySelector("[data-ask]:not([hidden])")?.innerText.includes("on another phone")`)
	if !js[bool](b, `document.querySelector(".press").disabled && document.querySelector("[data-undo]").disabled`) {
		t.Error("the other phone can press too")
	}
	b.passesAxe(at)
	b.until(`document.querySelector("[data-ask]:not([hidden])")`)
	// It sees what the first one presses, and has it when it takes the run over.
	a.click(".press")
	b.until(`document.querySelectorAll("[data-presses] li").length === 2`)
	b.click("[data-ask] button")
	b.until(`!document.querySelector(".press").disabled`)
	time.Sleep(350 * time.Millisecond) // since the press before it
	b.click(".press")
	b.until(`document.querySelector("[data-kept-where]").innerText.includes("in the shop")`)
	// The first phone is told at once that it has it no more, and what the other presses.
	a.until(`document.querySelector("[data-ask]:not([hidden])")?.innerText.includes("on another phone") && document.querySelector(".press").disabled && document.querySelectorAll("[data-presses] li").length === 3`)
	if k, err := s.shop.Timings.Get(t.Context(), "two-phones-01"); err != nil || len(k.Marks) != 3 {
		t.Errorf("the shop has %+v (%v), want the three presses that count", k, err)
	}
	// Who throws its page away does not throw away the other's run.
	js[bool](a, `(window.confirm = () => true, document.querySelector("[data-drop]").click(), true)`)
	a.until(`location.pathname === "/time"`)
	if k, err := s.shop.Timings.Get(t.Context(), "two-phones-01"); err != nil || len(k.Marks) != 3 {
		t.Errorf("thrown away on the phone that does not have it, the shop has %+v (%v)", k, err)
	}
}

// The stopwatch says which colour block is sewn and how long it takes; a restart that nobody pressed is left out and
// nothing after it; what is thrown away or far from what was expected is asked about, by the page or by the shop, and
// after a No nothing is kept and nothing is lost.
func testStopwatchAsks(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	d, m := s.design("saltmere-oars.dst"), s.machine("Skipper")
	k, err := s.shop.Clock(t.Context(), d.ID, m.ID, ask.Job{Speed: 700})
	if err != nil || d.ColourStops != 2 {
		t.Fatalf("%d colour stops, %v", d.ColourStops, err)
	}
	e := s.look(tab, 390, 844)
	e.open("/time/asks-run-01?design=" + d.ID + "&machine=" + m.ID + "&speed=700")
	does := func(want string) {
		e.t.Helper()
		e.until(`document.querySelector("[data-does]")?.innerText === ` + quote(want))
	}
	press := func() {
		time.Sleep(320 * time.Millisecond)
		js[bool](e, `(document.querySelector("[data-press]").click(), true)`)
	}
	block := func(n int) {
		t.Helper()
		p := k.Result.Blocks[n-1].Parts
		want := fmt.Sprintf("Block %d of 3 · ", n)
		about := "about " + words.Seconds(p.Sewing()+p.Trims).Text(nil)
		if got := e.text("[data-now]"); !strings.HasPrefix(got, want) || !strings.HasSuffix(got, strings.ReplaceAll(about, "\u00a0", " ")) {
			t.Errorf("in block %d it says %q, want %s … %s", n, got, want, about)
		}
	}
	asked := func() string { return e.text("[data-ask]:not([hidden]) p") }
	marks := func(n int) []shop.Mark { // as the shop comes to have them
		t.Helper()
		k, err := s.shop.Timings.Get(t.Context(), "asks-run-01")
		for i := 0; err == nil && len(k.Marks) < n && i < 100; i++ {
			time.Sleep(50 * time.Millisecond)
			k, err = s.shop.Timings.Get(t.Context(), "asks-run-01")
		}
		if err != nil || len(k.Marks) != n {
			t.Fatalf("the shop has %+v, %v; want %d presses", k, err, n)
		}
		return k.Marks
	}
	const hidden = `document.querySelector("[data-missed]").hidden`
	does("Start")
	// On its side the whole button is seen, and Undo is as far from it.
	e.do(chromedp.EmulateViewport(844, 390))
	if seen := js[string](e, `(() => { const b = document.querySelector(".press").getBoundingClientRect(), u = document.querySelector("[data-undo]").getBoundingClientRect(), apart = Math.max(b.left - u.right, b.top - u.bottom);
		return scrollY === 0 && b.height > 250 && b.top >= 0 && b.bottom <= innerHeight && apart >= 44 && document.documentElement.scrollWidth <= innerWidth ? "" : JSON.stringify([b, u]); })()`); seen != "" {
		t.Errorf("on its side the button and Undo are at %s", seen)
	}
	e.do(chromedp.EmulateViewport(390, 844))
	e.click("[data-press]")
	does("Stopped")
	block(1)
	press()
	does("Sewing again")
	if js[bool](e, hidden) {
		t.Error("nothing to press where a restart was missed")
	}
	js[bool](e, `(document.querySelector("[data-missed]").click(), true)`)
	does("Stopped")
	block(2)
	if !js[bool](e, hidden) {
		t.Error("a restart can be missed while it sews")
	}
	js[bool](e, `(() => { const real = fetch; window.fetch = (...a) => { if (a[1]?.method !== "PUT") return real(...a); window.fetch = real; return Promise.reject(new Error("lost")); }; return true; })()`)
	press()              // it is lost on its way, and sent again by itself
	does("Sewing again") // only the one was missed
	js[bool](e, `(window.confirm = (says) => { window.npSure = says; return false; }, document.querySelector("[data-drop]").click(), true)`)
	if marks(3); !js[bool](e, `!!window.npSure`) {
		t.Error("thrown away without a question")
	}
	press()
	does("Stopped: done")
	block(3)
	press()
	does("Timed")
	seconds := float64(marks(5)[4].AtMS) / 1000
	if got := e.text("[data-summary]"); !strings.HasPrefix(got, fmt.Sprintf("%.1f s in all", seconds)) {
		t.Errorf("after %.3f s it says %q", seconds, got)
	}
	none := func(what string) {
		t.Helper()
		if runs, err := s.shop.Timings.Runs(t.Context(), m.ID); err != nil || len(runs) != 0 || js[bool](e, `document.querySelector("[data-done]").hidden`) {
			t.Errorf("%s, %d runs are kept, %v", what, len(runs), err)
		}
	}
	no := func() { js[bool](e, `([...document.querySelectorAll("[data-ask] button")].at(-1).click(), true)`) }
	// Another run that waited on this phone is kept meanwhile.
	js[bool](e, `(document.dispatchEvent(new CustomEvent("np:timed", {detail: {id: "another-run-01", ok: true, says: "", key: ""}})), true)`)
	none("after another run's end")
	// A page that does not know what is expected: the shop does.
	js[bool](e, `(document.querySelector("[data-watch]").dataset.high = "0", document.querySelector("[data-keep-times]").click(), true)`)
	e.until(`document.querySelector("[data-ask]:not([hidden])") && !localStorage.getItem("np-timing-asks-run-01").includes('"finish":true')`)
	if says := asked(); says == "" || strings.Contains(says, "was expected") {
		t.Errorf("the shop asks: %q", says)
	}
	no()
	none("after a No to the shop")
	js[bool](e, `(document.querySelector("[data-watch]").dataset.high = document.querySelector("[data-watch]").dataset.low, document.querySelector("[data-keep-times]").click(), true)`)
	e.until(`document.querySelector("[data-ask]:not([hidden])")?.innerText.includes("was expected")`)
	no()
	time.Sleep(300 * time.Millisecond)
	none("after a No")
	e.keepsTimes()
	e.until(`!document.querySelector("[data-after]").hidden`)
	if runs, err := s.shop.Timings.Runs(t.Context(), m.ID); err != nil || len(runs) == 0 || math.Abs(runs[0].Seconds-seconds) > .01 {
		t.Errorf("kept is %+v, %v; want %v s", runs, err, seconds)
	}
}

// The phone's clock is set back ten minutes while a run is timed: the run goes on.
func testClockSetBack(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	e := s.look(tab, 390, 844)
	e.open("/time/set-back-01?design=" + s.design("ostrel-light.dst").ID + "&machine=" + s.machine("Skipper").ID + "&speed=700")
	e.click(".press")
	time.Sleep(time.Second)
	js[bool](e, `(() => { const is = Date.now.bind(Date); Date.now = () => is() - 600_000; return true; })()`)
	time.Sleep(time.Second)
	if now := e.text("[data-elapsed]"); now != "0:02" && now != "0:03" && now != "0:04" {
		t.Errorf("two seconds after the start the watch says %q", now)
	}
	e.click(".press")
	e.until(`document.querySelectorAll("[data-presses] li").length === 2`)
	if !js[bool](e, `document.querySelector("[data-ask]").hidden`) {
		t.Error("a press two seconds after the other is taken for the same")
	}
	k, err := s.shop.Timings.Get(t.Context(), "set-back-01")
	for range 100 { // what the page says of it may be of the press before
		if err != nil || len(k.Marks) == 2 {
			break
		}
		time.Sleep(100 * time.Millisecond)
		k, err = s.shop.Timings.Get(t.Context(), "set-back-01")
	}
	if err != nil || len(k.Marks) != 2 || k.Marks[1].AtMS < 1500 || k.Marks[1].AtMS > 20_000 {
		t.Errorf("the shop has %+v, %v", k, err)
	}
}

// With the shop out of reach a run is timed and pieces are recorded, also on a
// page that is loaded anew; all of it is sent once, and what the shop has to ask
// is asked.
func testOffline(t *testing.T, tab context.Context) {
	var out, lost atomic.Bool
	s := serveShopVia(t, true, nil, func(h http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if out.Load() {
				panic(http.ErrAbortHandler)
			}
			if lost.Load() && r.Method == http.MethodPost { // it is done, and nobody hears so
				h.ServeHTTP(&deaf{http.Header{}}, r)
				panic(http.ErrAbortHandler)
			}
			h.ServeHTTP(w, r)
		})
	})
	s.cut = true
	o, l, m := s.agreed()
	left := l.Left()
	e := s.look(tab, 390, 844)
	record := fmt.Sprintf("/orders/%d/record?line=%d&machine=%s", o.Number, l.Line, m)
	good := func() int {
		o, err := s.shop.Orders.Get(t.Context(), o.ID)
		if err != nil {
			t.Fatal(err)
		}
		return o.Line(l.Line).Good
	}
	fill := func(n int) {
		e.until(`document.querySelector("form[data-record] [name=key]").value.length === 20`)
		js[bool](e, fmt.Sprintf(`(document.querySelector("[name=good]").value = %d, true)`, n))
		e.click("form[data-record] button.main")
	}
	design := s.design("crew-names.dst")
	e.open("/time/offline-run-01?design=" + design.ID + "&machine=" + m + "&speed=700")
	e.until(`document.querySelector("[data-does]")?.innerText === "Start"`)
	cached := func(what string) {
		e.until(`(window.npThere ||= (async () => { const c = await caches.open("np-pages-1"), u = (await c.keys()).map((k) => k.url); window.npIs = u.some((x) => x.includes(` + quote(what) + `)) && u.some((x) => x.includes("/words.js")); window.npThere = null; })()) && window.npIs`)
	}
	cached("/time/offline-run-01")
	e.open(record)
	cached("/record")
	if !testing.Short() { // what the shop asks about is asked at once where it is in reach
		fill(left + 1)
		e.until(`document.querySelector("[name=over]") && document.querySelector("[name=good]").value === "` + fmt.Sprint(left+1) + `" && !document.querySelector("#waits")`)
		js[bool](e, `(sessionStorage.clear(), true)`)
		e.open(record)
		e.until(`document.querySelector("form[data-record] [name=key]").value.length === 20`)
	}

	out.Store(true)
	// A phone that has no room to keep it says so, and the number stands where it was.
	js[bool](e, `(Storage.prototype.setItem = () => { throw new Error("full"); }, window.fetch = () => Promise.reject(new Error("out")), true)`)
	fill(7)
	e.until(`document.querySelector("#tell")?.innerText.includes("keep nothing")`)
	if got := js[string](e, `document.querySelector("[name=good]").value + " " + document.querySelector("form[data-record] button.main").disabled`); got != "7 false" {
		t.Errorf("not sent and not kept, the form has %s", got)
	}
	e.do(chromedp.Reload())
	fill(1)
	e.until(`document.querySelector("#waits")?.innerText.includes("1 waits on this phone") && document.querySelector("#waits").innerText.includes(": 1 good, 0 spoilt")`)
	if got := js[string](e, `document.querySelector("[name=good]").value`); got != "0" {
		t.Errorf("one waits, and the form would record %q again", got)
	}
	fill(left + 1) // more than are ordered
	e.until(`document.querySelector("#waits")?.innerText.includes("2 wait on this phone")`)
	e.passesAxeHere("records wait")
	e.open("/time/offline-run-01?design=" + design.ID + "&machine=" + m + "&speed=700")
	e.until(`document.querySelector("[data-does]")?.innerText === "Start" && document.querySelector("#waits")`)
	for range 2 + 2*design.ColourStops {
		e.click("[data-press]")
		time.Sleep(400 * time.Millisecond)
	}
	e.do(chromedp.Reload())
	e.keepsTimes()
	e.until(`document.querySelector("#waits")?.innerText.includes("3 wait on this phone")`)
	if n := good(); n != 0 {
		t.Errorf("%d pieces came through a wall", n)
	}

	// Back, but what the shop answers to the first is lost: it is sent again.
	out.Store(false)
	lost.Store(true)
	js[bool](e, `(document.querySelector("#waits .row button").click(), true)`)
	for range 100 {
		if good() == 1 {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	lost.Store(false)
	e.until(`(document.querySelector("#waits .row button")?.click(), document.querySelector("[data-after]:not([hidden])"))`)
	e.until(`document.querySelector("#waits")?.innerText.includes("1 waits on this phone") && document.querySelector("#waits").innerText.includes("The shop asks")`)
	if n := good(); n != 1 {
		t.Errorf("%d good pieces of one that was sent twice", n)
	}
	if runs, err := s.shop.Timings.Runs(t.Context(), m); err != nil || len(runs) == 0 || runs[0].DesignID != design.ID {
		t.Errorf("the timed run: %v, %v", runs, err)
	}
	// The count that stands there is the shop's, what is being typed is the phone's, and another's record comes by itself.
	e.open(record)
	e.until(`document.documentElement.dataset.live === "on" && document.querySelector("form[data-record] [name=key]").value.length === 20`)
	typed := js[string](e, `document.querySelector("form[data-record] [name=key]").value`)
	if _, err := s.shop.Record(t.Context(), book.Report{OrderID: o.ID, Line: l.Line, MachineID: m, Good: 1, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	e.until(fmt.Sprintf(`document.querySelector(".record .elapsed").innerText.startsWith("%d")`, left-2))
	if got := js[string](e, `document.querySelector("form[data-record] [name=key]").value`); got != typed {
		t.Errorf("the record has the key %q, %q before another's came", got, typed)
	}
	// Too many: it asks, and goes once it is said that they are meant.
	e.click("#waits a.button")
	e.until(`document.querySelector("[name=over]") && document.querySelector("[name=good]").value === "` + fmt.Sprint(left+1) + `"`)
	e.click("[name=over]")
	e.click("form[data-record] button.main")
	e.until(`location.search.includes("kept=") && !document.querySelector("#waits")`)
	if n := good(); n != left+3 {
		t.Errorf("%d good pieces, want %d", n, left+3)
	}
	// What was recorded is not filled in again.
	e.open(record)
	e.until(`document.querySelector("form[data-record] [name=key]").value.length === 20`)
	if got := js[string](e, `document.querySelector("[name=good]").value`); got != "0" && got != "" {
		t.Errorf("after it was recorded the form has %q", got)
	}
}

// deaf is a client that is gone.
type deaf struct{ header http.Header }

func (d *deaf) Header() http.Header         { return d.header }
func (d *deaf) Write(b []byte) (int, error) { return len(b), nil }
func (d *deaf) WriteHeader(int)             {}

// agreed is an order of the shop that may be sewn, its line with nothing sewn yet,
// and a machine.
func (s *testShop) agreed() (*book.Order, *book.OrderLine, string) {
	s.t.Helper()
	all, _, err := s.shop.Orders.List(s.t.Context(), shop.OrderQuery{States: []book.OrderState{book.Agreed, book.Sewing}, Limit: 50})
	if err != nil {
		s.t.Fatal(err)
	}
	for _, o := range all {
		for i := range o.Lines {
			if l := &o.Lines[i]; l.Good+l.Spoilt == 0 && !l.Named() && !l.Approval.Wanted() {
				return o, l, s.machine("Skipper").ID
			}
		}
	}
	s.t.Fatal("no order of the demo shop is agreed and has nothing sewn")
	return nil, nil, ""
}
