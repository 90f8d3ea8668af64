package web_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
)

// set writes a form's field as a person would leave it.
func (e *eyes) set(selector, value string) {
	e.t.Helper()
	e.until(`document.querySelector(` + quote(selector) + `)`)
	js[bool](e, `(() => { const i = document.querySelector(`+quote(selector)+`); i.value = `+quote(value)+`; i.dispatchEvent(new Event("input", {bubbles: true})); i.dispatchEvent(new Event("change", {bubbles: true})); return true; })()`)
}

// begins fetches an address of the shop and gives the first bytes of the
// answer, and its type.
func (e *eyes) begins(path string) string {
	e.t.Helper()
	return js[string](e, `fetch(`+quote(path)+`).then(async r => r.status + " " + r.headers.get("Content-Type") + " " + (await r.text()).slice(0, 15))`)
}

// markParts marks what stands in a page's parts and lists them, seeParts lists
// those that still have the mark.
const (
	markParts = `(document.querySelectorAll("[data-part]").forEach(p => { for (const x of p.children) x.marked = true; }), ` + seeParts + `)`
	seeParts  = `[...document.querySelectorAll("[data-part]")].filter(p => !p.hasAttribute("data-same")).map(p => p.dataset.part.split("-")[0] + ": " + [...p.children].filter(x => x.marked).length).join("\n")`
)

// plansAnew presses what makes a plan anew, and waits for the page that leads to. What it shows of order 1033 may stand on
// the page before too, as a plan that others made; a test that goes on from there is overtaken.
func (e *eyes) plansAnew(button string) {
	e.t.Helper()
	const work = `(new URLSearchParams(location.search).get("work") ?? "")`
	was := js[string](e, work)
	e.click(button)
	e.until(work + ` !== "" && ` + work + ` !== ` + quote(was) + ` && document.querySelector("#t-moved")?.textContent.includes("1033")`)
}

// An order from the request to the customer, on the page alone.
func testOrders(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	e := s.look(tab, 1280, 900)
	e.open("/orders")
	if n := js[int](e, `document.querySelectorAll(".orders tbody:not(.axisrow) tr").length`); n != 8 {
		t.Fatalf("%d open orders in the demo, want 8", n)
	}
	gannet, six := s.machine("Gannet"), s.machine("Six Sisters")

	// Taken in. What is wrong is told, and what was written stays.
	e.click(`a[href="/orders/new"]`)
	e.set(`[name=customer]`, "Saltmere Chandlery & Sons")
	e.set(`[name="line[0].design"]`, s.design("crew-names.dst").ID)
	e.click(`button.main`)
	e.until(`document.querySelector(".told.bad")`)
	if told := e.text(".field.wrong em"); told != "Give the number of pieces." {
		t.Errorf("without a quantity the page says %q", told)
	}
	if kept := js[string](e, `document.querySelector("[name=customer]").value`); kept != "Saltmere Chandlery & Sons" {
		t.Errorf("the form forgot the customer: %q", kept)
	}
	e.set(`[name="line[0].quantity"]`, "24")
	e.set(`[name="line[0].garment"]`, "apron, navy")
	e.click(`button[data-more]`)
	e.until(`document.querySelectorAll(".orderline").length === 3`)
	e.click(`button.main`)
	e.until(`location.pathname === "/orders/1033" && document.querySelector(".way [aria-current]").innerText === "requested"`)

	// Priced. The numbers are those of the shop's own verb.
	e.click(`a[href="/orders/1033/quote"]`)
	e.until(`document.querySelector("#t-steps-1")`)
	o, err := s.shop.Orders.Get(t.Context(), "1033")
	if err != nil {
		t.Fatal(err)
	}
	want, err := ask.Quote(t.Context(), s.shop.Asked(), ask.QuoteQuestion{Now: s.shop.Now(), Order: o.ID})
	if err != nil {
		t.Fatal(err)
	}
	if got := e.text(".big"); got != want.Net.StringFixed(2)+" "+want.Currency {
		t.Errorf("the page says %s, the shop %s", got, want.Net)
	}
	e.set(`[name=steps]`, "24, 240")
	e.until(`document.querySelectorAll("#t-steps-1 tbody tr").length === 2`)
	e.click(`button[formmethod=post]`)
	e.until(`location.pathname.startsWith("/orders/1033/quotes/")`)
	here := js[string](e, `location.pathname`)
	for file, begins := range map[string]string{"quote.pdf": "200 application/pdf %PDF-", "quote.csv": "200 text/csv; charset=utf-8 ", "quote.xlsx": "200 application/vnd.openxmlformats-officedocument.spreadsheetml.sheet PK"} {
		if got := e.begins(here + "/" + file); !strings.HasPrefix(got, begins) {
			t.Errorf("%s answers %q", file, got)
		}
	}
	e.click(`form[action="` + here + `/accept"] button.main`)
	e.until(`location.pathname === "/orders/1033" && document.querySelector(".way [aria-current]").innerText === "agreed"`)

	// Planned, with something on every machine: moves by hand go in front of it.
	light, err := s.shop.Orders.Get(t.Context(), "1002")
	if err != nil {
		t.Fatal(err)
	}
	hold := act.HoldQuestion{Order: light.ID, Line: 1, Machine: gannet.ID}
	if _, err := s.shop.HoldLine(t.Context(), hold, ""); err != nil {
		t.Fatal(err)
	}
	e.open("/plan")
	e.click(`form[action="/plan"] button.main`)
	e.until(`location.pathname === "/plan" && document.querySelectorAll("#t-lots tbody tr").length >= 7`)
	p, err := s.shop.Plans.Last(t.Context())
	if err != nil || p == nil {
		t.Fatal("no plan was kept", err)
	}
	lot := planned(t, p, 1033)
	to, name := gannet.ID, gannet.Name
	if lot.MachineID == to {
		to, name = six.ID, six.Name
	}

	// Moved by hand: the strip is dragged to the other machine's row, in front
	// of what stands there, and the page says what that would cost.
	parts := js[string](e, markParts)
	js[bool](e, `document.querySelector("[data-plan]").scrollIntoView({block:"start",behavior:"instant"}), true`)
	e.until(`document.querySelector("[data-bars][data-ready][data-frames]") && document.querySelector('.lot[data-lot^="1033/1@"]')`)
	for range 3 { // a busy computer may lose the middle of a drag: the page is opened anew then
		drag := js[[]float64](e, fmt.Sprintf(`(() => {
			const r = document.querySelector('.lot[data-lot^="1033/1@"]').getBoundingClientRect(), names = document.querySelector(".barnames").getBoundingClientRect();
			const row = [...document.querySelectorAll(".barnames p")].find(m => m.textContent.includes(%q)).getBoundingClientRect();
			return [r.left + 4, r.top + r.height / 2, names.right + 2, row.top + row.height / 2];
		})()`, name))
		e.drag(drag[0], drag[1], drag[2], drag[3])
		// What it costs is said at the bars, with where it would stand.
		e.until(`document.querySelector("[data-bar-cost][data-state=priced]")`)
		if e.text("[data-bar-cost] [data-where]") == "1033 to "+name+", place 1:" {
			break
		}
		e.do(chromedp.Reload())
		e.until(`document.querySelector("[data-bars][data-ready][data-frames]") && document.querySelector('.lot[data-lot^="1033/1@"]')`)
		parts = js[string](e, markParts)
		js[bool](e, `document.querySelector("[data-plan]").scrollIntoView({block:"start",behavior:"instant"}), true`)
	}
	if got := e.text("[data-bar-cost] [data-where]"); got != "1033 to "+name+", place 1:" {
		t.Errorf("dragged to the first place of %s, the bars say %q", name, got)
	}
	if got, want := e.text("[data-bar-cost] [data-verdict]"), e.text("#hand .say"); want != "" && !strings.HasPrefix(got, want) {
		t.Errorf("the bars say %q, the form %q", got, want)
	}
	e.until(`new URLSearchParams(location.search).get("lot")?.startsWith("1033/1@") && document.querySelector("#hand .say")`)
	if got := js[string](e, `document.querySelector("[data-hand] [name=to]").value + " " + document.querySelector("[data-hand] [name=place]").value`); got != to+" 1" {
		t.Errorf("dragged to the first place of %s %s, the form has %s", name, to, got)
	}
	// What was the same was neither sent nor drawn again.
	if got := js[string](e, seeParts); got != parts || !strings.Contains(parts, "picture: ") {
		t.Errorf("the page's parts after a live answer are\n%s\nbefore it they were\n%s", got, parts)
	}
	cost, err := ask.Move(t.Context(), s.shop.Asked(), ask.MoveQuestion{Order: lot.OrderID, Line: 1, From: lot.MachineID, To: to, Place: 1})
	if err != nil {
		t.Fatal(err)
	}
	if n := js[int](e, `document.querySelectorAll("#t-cost tbody tr").length`); n != len(cost.Lines) {
		t.Errorf("the page has %d orders moved, the shop %d", n, len(cost.Lines))
	}
	if again, err := s.shop.Plans.Last(t.Context()); err != nil || again.Version != p.Version {
		t.Error("looking changed the plan", err)
	}
	testBarKeys(t, e, s, to)
	// The same without a pointer: the form alone, at another place.
	e.set(`[data-hand] [name=place]`, "2")
	e.until(`new URLSearchParams(location.search).get("place") === "2"`)
	e.plansAnew(`button[formaction="/plan/hold"]`)
	if p, err = s.shop.Plans.Last(t.Context()); err != nil {
		t.Fatal(err)
	}
	if l := planned(t, p, 1033); l.MachineID != to || !l.Held {
		t.Errorf("held on %s, planned on %s", name, l.Machine)
	}
	for file, begins := range map[string]string{"plan.ics": "200 text/calendar; charset=utf-8 BEGIN:VCALENDAR", "plan.xlsx": "200 application/vnd.openxmlformats-officedocument.spreadsheetml.sheet PK"} {
		if got := e.begins("/plan/" + file); !strings.HasPrefix(got, begins) {
			t.Errorf("%s answers %q", file, got)
		}
	}

	// Let go again. What moved, which stood before some parts, is gone; the parts stay as they are drawn.
	e.click(`#hand select`) // where the keyboard begins
	parts = js[string](e, `window.npMarked = true, `+markParts)
	e.until(`document.querySelector("button[name=release]") || (() => {
		const i = document.querySelector("[data-hand] [name=lot]"), is = i && [...i.options].find(o => o.value.startsWith("1033/1@"));
		if (!is || window.npChose > Date.now() - 3000) return false;
		window.npChose = Date.now();
		i.value = is.value;
		i.dispatchEvent(new Event("change", { bubbles: true }));
		return false;
	})()`)
	if !js[bool](e, `!!window.npMarked`) {
		t.Errorf("the page was loaded anew while a lot was chosen: %s", e.went())
	}
	if got := js[string](e, seeParts); got != parts {
		t.Errorf("the page's parts after a live answer are\n%s\nbefore it they were\n%s", got, parts)
	}
	e.plansAnew(`button[name=release]`)
	if p, err = s.shop.Plans.Last(t.Context()); err != nil {
		t.Fatal(err)
	}
	if planned(t, p, 1033).Held {
		t.Error("released, and still held")
	}

	// What if.
	e.open("/plan/try")
	e.set(`[name=rush]`, "1006")
	e.click(`form[action="/plan/try"] button.main`)
	e.until(`document.querySelector("#t-both")`)
	if got := e.text("h1"); !strings.Contains(got, "order 1006") {
		t.Errorf("what if: %q", got)
	}

	// To the floor.
	e.open("/orders/1033")
	e.click(`.oline a[href*="/runsheet"]`)
	e.until(`document.querySelector(".code")`)
	if got := e.begins(js[string](e, `document.querySelector("a[href*='runsheet.pdf']").getAttribute("href")`)); !strings.HasPrefix(got, "200 application/pdf %PDF-") {
		t.Errorf("the run sheet answers %q", got)
	}
	record := js[string](e, `document.querySelector(".codebox a").getAttribute("href")`)

	// On a phone, at the address in the code.
	phone := s.look(tab, 390, 844)
	phone.open(record)
	phone.click(`form[action="/orders/1033/start"] button`)
	phone.until(`document.querySelector("form[data-record]") && !document.querySelector("form[action='/orders/1033/start']")`)
	for range 3 {
		phone.click(`[data-add=good]:not([data-by])`)
	}
	phone.click(`[data-add=breaks]`)
	phone.do(chromedp.Reload()) // the phone slept
	phone.until(`document.querySelector("#good")?.value === "3" && document.querySelector("#breaks").value === "1"`)
	if by := js[[]string](phone, `(() => { const b = document.querySelector("[data-add=good][data-by]"), i = document.querySelector("#good"), was = Number(i.value); if (!b) return ["", ""]; b.click(); const up = Number(i.value) - was; i.value = was; i.dispatchEvent(new Event("input", {bubbles: true})); return [String(up), /\d+/.exec(b.innerText)[0]]; })()`); by[0] != by[1] {
		t.Errorf("the button +%s adds %s", by[1], by[0])
	}
	was := js[string](phone, `document.querySelector("form[data-record] select").value`)
	machines := []string{js[string](phone, `[...document.querySelector("form[data-record] select").options].find((o) => o.value && o.value !== `+quote(was)+`).value`), was}
	if testing.Short() {
		machines = nil
	}
	for _, other := range machines { // on another machine what was counted stays
		js[bool](phone, `(window.npHere = true)`)
		phone.set("form[data-record] select", other)
		phone.until(`!window.npHere && new URLSearchParams(location.search).get("machine") === ` + quote(other) + ` && document.querySelector("#good")?.value === "3" && document.querySelector("#breaks").value === "1"`)
	}
	phone.set("#good", "20")
	phone.set("[name=from]", "08:00")
	phone.set("[name=to]", "09:30")
	phone.set("[name=pauses]", "10")
	phone.click("button.tall")
	phone.until(`document.querySelector(".told")`)
	if got := phone.text(".told"); !strings.Contains(got, "20 good and 1 thread break") || !strings.Contains(got, "4 min 00 s") {
		t.Errorf("after recording the phone says %q", got)
	}
	if got := phone.text(".elapsed"); !strings.HasPrefix(got, "4 ") {
		t.Errorf("20 of 24 are sewn and the phone says %q", got)
	}
	phone.set("#good", "4")
	phone.click("button.tall")
	phone.until(`document.querySelector(".elapsed")?.innerText.startsWith("0")`)

	// Delivered.
	e.open("/orders/1033")
	if got := e.text(".way [aria-current]"); got != "sewn" {
		t.Errorf("all pieces are recorded and the order is %s", got)
	}
	e.click(`form[action="/orders/1033/state"] button.main`)
	e.until(`document.querySelector(".way [aria-current]").innerText === "delivered"`)
	if n := js[int](e, `document.querySelectorAll(".past li").length`); n < 8 {
		t.Errorf("%d entries of history", n)
	}
	e.open("/orders")
	if strings.Contains(e.text(".orders"), "1033") {
		t.Error("a delivered order stands under those still to be done")
	}
}

// planned is an order's lot in a plan.
func planned(t *testing.T, p *book.Plan, number int) *book.PlanLot {
	t.Helper()
	for i := range p.Lots {
		if p.Lots[i].Number == number {
			return &p.Lots[i]
		}
	}
	t.Fatalf("order %d is not in the plan", number)
	return nil
}

// drag presses the pointer at one place and lets it go at another.
func (e *eyes) drag(x0, y0, x1, y1 float64) {
	e.t.Helper()
	e.do(chromedp.MouseEvent("mousePressed", x0, y0, chromedp.ButtonType("left"), chromedp.ClickCount(1)))
	for i := 1; i <= 4; i++ {
		f := float64(i) / 4
		e.do(chromedp.MouseEvent("mouseMoved", x0+(x1-x0)*f, y0+(y1-y0)*f, chromedp.ButtonType("left")))
	}
	e.do(chromedp.MouseEvent("mouseReleased", x1, y1, chromedp.ButtonType("left"), chromedp.ClickCount(1)))
}

// The pages of orders and plan pass axe-core as the others do.
func testOrdersAccessible(t *testing.T, tab context.Context) {
	s, empty := serveShop(t, true), serveShop(t, false)
	if _, err := s.shop.MakePlan(t.Context(), ask.PlanQuestion{Now: s.shop.Now()}, ""); err != nil {
		t.Fatal(err)
	}
	p, err := s.shop.Plans.Last(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	lot := p.Lots[0]
	if _, err := s.shop.Start(t.Context(), lot.OrderID, lot.Line, lot.MachineID, 0, "", ""); err != nil {
		t.Fatal(err)
	}
	if _, err := s.shop.Record(t.Context(), book.Report{OrderID: lot.OrderID, Line: lot.Line, MachineID: lot.MachineID, Good: 2, Spoilt: 1, Breaks: 1, Seconds: 900}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	asked, err := s.shop.Orders.Get(t.Context(), "1006")
	if err != nil {
		t.Fatal(err)
	}
	q, err := s.shop.KeepQuote(t.Context(), ask.QuoteQuestion{Now: s.shop.Now(), Order: asked.ID}, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	last := p.Lots[len(p.Lots)-1]
	at := fmt.Sprintf("?line=%d&machine=%s", lot.Line, lot.MachineID)
	running := fmt.Sprintf("/orders/%d", lot.Number)
	paths := []string{
		"/orders", "/orders?state=all&sort=customer", "/orders/new", running, running + "/change", "/orders/1006/quote", "/orders/1006/quotes/" + q.ID,
		"/plan", fmt.Sprintf("/plan?lot=%d/%d@%s", last.Number, last.Line, last.MachineID), "/plan/try", "/plan/hours", running + "/runsheet" + at, running + "/record" + at + "&kept=1", "/orders/after",
	}
	for _, in := range inAllLooks() {
		e, first := in.look(s, tab), in.look(empty, tab)
		for _, p := range []string{"/orders", "/plan", "/plan/hours"} {
			first.passesAxe(p)
		}
		for i, p := range paths {
			if in.all || i%4 == 3 { // what only the colours and the width can change is seen on these
				e.passesAxe(p)
			}
		}
	}
}
