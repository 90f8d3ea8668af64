package web_test

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// testBarKeys moves the bar of 1033 by keys, which does what a hand does, and puts
// it back.
func testBarKeys(t *testing.T, e *eyes, s *testShop, to string) {
	t.Helper()
	before, err := s.shop.Plans.Last(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	lot := `document.querySelector('.lot[data-lot^="1033/1@"]')`
	at := func() string { return js[string](e, lot+`.style.left + " " + `+lot+`.style.top`) }
	js[bool](e, `document.querySelector("[data-bar-cost] [data-drop]").click(), true`)
	e.until(`document.querySelector("[data-bar-cost]").hidden && document.querySelector(".barghost").hidden`)
	stood := at()
	js[bool](e, lot+`.focus(), true`)
	// Up or down to the other machine, then to its first place.
	row := 0
	for i, m := range before.Machines {
		if m.ID == to {
			row = i
		}
	}
	own := js[int](e, `Math.round((parseFloat(`+lot+`.style.top) - 31) / 46)`)
	key := "ArrowDown"
	if row < own {
		key, row, own = "ArrowUp", own, row
	}
	press := func(key string, times int) {
		for range times {
			js[bool](e, lot+`.dispatchEvent(new KeyboardEvent("keydown", {key: "`+key+`", bubbles: true, cancelable: true})), true`)
		}
	}
	press(key, row-own)
	press("ArrowLeft", 9)
	press("Enter", 1) // what it costs does not stand there yet
	e.until(`document.querySelector("[data-bar-cost][data-state=priced]")`)
	if got := js[string](e, `["lot", "to", "place"].map(n => document.querySelector("[data-bar-cost] [name=" + n + "]").value).join(" ")`); !strings.HasPrefix(got, "1033/1@") || !strings.HasSuffix(got, " "+to+" 1") {
		t.Errorf("moved by keys to the first place of the other machine, the form has %q", got)
	}
	if at() == stood || !js[bool](e, `document.activeElement === `+lot) {
		t.Error("the bar does not go where its keys take it, or loses the focus")
	}
	if js[string](e, `document.querySelector("[data-bar-cost] [name=seen]").value`) == "" {
		t.Error("the form does not say of which plan its cost is")
	}
	// Moved on, what it costs is not said yet: Enter keeps nothing.
	press("ArrowRight", 1)
	if state := js[string](e, `document.querySelector("[data-bar-cost]").dataset.state`); state != "asking" {
		t.Errorf("moved on, its cost is %s", state)
	}
	press("Enter", 1)
	e.until(`document.querySelector("[data-bar-cost][data-state=priced]")`)
	press("Escape", 1)
	e.until(`document.querySelector("[data-bar-cost]").hidden`)
	e.until(lot + `.style.left + " " + ` + lot + `.style.top === ` + quote(stood))
	if after, err := s.shop.Plans.Last(t.Context()); err != nil || after.Version != before.Version {
		t.Error("moving without keeping changed the plan", err)
	}
}

// testPlanStaysAtHand has somebody at the plan while an order changes elsewhere: what changed is marked and nothing else,
// the focus stays where it is, and what the page had beside its parts is still there, and does what it did.
func testPlanStaysAtHand(t *testing.T, e *eyes, s *testShop) {
	t.Helper()
	e.until(`document.documentElement.dataset.live === "on"`)
	time.Sleep(time.Second) // nobody's finger is on it
	taken := js[int](e, `document.querySelectorAll(".takeaway a[download]").length`)
	js[bool](e, `(window.at = [...document.querySelectorAll("#t-lots a")].at(-1)).focus(), true`)
	o, err := s.shop.Orders.Get(t.Context(), "1005")
	if err != nil {
		t.Fatal(err)
	}
	o.Due = words.Zone{}.Day(time.Now().AddDate(0, 0, 20))
	if _, _, err := s.shop.ChangeOrder(t.Context(), *o, ""); err != nil {
		t.Fatal(err)
	}
	e.until(`document.querySelector("#since").innerText.includes("1005")`)
	if got := js[string](e, `[...document.querySelectorAll("main .changed")].map(x => x.nodeName + " " + x.innerText).join()`); strings.Count(got, "1005") != 1 || strings.Contains(got, "1003") {
		t.Errorf("of the change of 1005 is marked: %q", got)
	}
	if !js[bool](e, `window.at.isConnected && document.activeElement === window.at`) {
		t.Error("the focus went away with another's change")
	}
	if now := js[int](e, `document.querySelectorAll(".takeaway a[download]").length`); taken < 4 || now < taken {
		t.Errorf("of %d files to take away %d are left", taken, now)
	}
	if dead := js[string](e, `[...document.querySelectorAll("[popovertarget]")].map(b => b.getAttribute("popovertarget")).filter(id => !document.getElementById(id)).join()`); dead != "" {
		t.Errorf("nothing says any more what is meant by %s", dead)
	}
}

// testPlannedAnewElsewhere has somebody at the plan while another plans anew: its bars are those of the new plan, as near as
// they were looked at, and a bar in the hand goes back by Escape. The ground goes with the mouse.
func testPlannedAnewElsewhere(t *testing.T, e *eyes, s *testShop) {
	t.Helper()
	const box = `document.querySelector("[data-bars]")`
	e.open("/plan")
	e.until(box + `?.matches("[data-ready][data-frames]") && document.documentElement.dataset.live === "on"`)
	// What lies under the pointer stays there as one goes closer.
	const left = `document.querySelector(".lot[data-lot='" + window.npLot + "']")?.getBoundingClientRect().left`
	before := js[float64](e, `(() => {
		const box = `+box+`, l = [...box.querySelectorAll(".lot")].find((x) => x.getBoundingClientRect().left > box.getBoundingClientRect().left + 300), r = l.getBoundingClientRect();
		window.npLot = l.dataset.lot;
		box.dispatchEvent(new WheelEvent("wheel", {ctrlKey: true, deltaY: -400, clientX: r.left, clientY: r.top + 5, bubbles: true, cancelable: true}));
		return r.left;
	})()`)
	e.until(box + `.scrollWidth > ` + box + `.clientWidth * 1.5 && ` + left + ` !== undefined`)
	js[bool](e, `new Promise((d) => requestAnimationFrame(() => requestAnimationFrame(() => d(true))))`)
	if now := js[float64](e, left); math.Abs(now-before) > 3 {
		t.Errorf("closer at %v px, the bar there lies at %v", before, now)
	}
	js[bool](e, `document.querySelector("[data-bars-in]").click(), document.querySelector("[data-bars-in]").click(), true`)
	e.until(box + `.scrollWidth > ` + box + `.clientWidth * 1.5`)
	js[bool](e, box+`.scrollIntoView({block: "center"}), `+box+`.scrollLeft = 400, true`)
	at := js[[]float64](e, `(r => [r.right - 60, r.top + 10])(`+box+`.getBoundingClientRect())`)
	e.drag(at[0], at[1], at[0]-120, at[1])
	if x := js[float64](e, box+`.scrollLeft`); x != 520 {
		t.Errorf("drawn 120 px to the left the ground lies at %v, want 520", x)
	}
	wide := js[float64](e, box+`.scrollWidth`)
	o, err := s.shop.Orders.Get(t.Context(), "1002")
	if err != nil {
		t.Fatal(err)
	}
	o.Lines[0].Quantity += 300
	if _, _, err := s.shop.ChangeOrder(t.Context(), *o, ""); err != nil {
		t.Fatal(err)
	}
	if _, err := s.shop.MakePlan(t.Context(), ask.PlanQuestion{Now: s.shop.Now(), NoBound: true, Moves: 300}, ""); err != nil {
		t.Fatal(err)
	}
	e.until(box + `.dataset.wired === document.querySelector("[data-plan]").dataset.part`)
	e.until(box + `.scrollWidth > ` + strconv.Itoa(int(wide)) + ` * 1.02`) // 300 pieces more, as near as before
	js[bool](e, `document.querySelector("[data-bars-all]").click(), true`)
	e.until(box + `.scrollWidth <= ` + box + `.clientWidth && [...document.querySelectorAll('.lot[data-lot^="1002/1@"]')].some(x => /(\d+) pieces/.exec(x.textContent)?.[1] > 240)`)

	lot := js[[]float64](e, `(r => [r.left + r.width / 2, r.top + 12])([...document.querySelectorAll(".lot:not([data-running])")].at(-1).getBoundingClientRect())`)
	e.do(chromedp.MouseEvent("mousePressed", lot[0], lot[1], chromedp.ButtonType("left"), chromedp.ClickCount(1)),
		chromedp.MouseEvent("mouseMoved", lot[0]-20, lot[1]+4, chromedp.ButtonType("left")),
		chromedp.MouseEvent("mouseMoved", lot[0]-120, lot[1]+4, chromedp.ButtonType("left")))
	e.until(`document.querySelector(".lot.dragged") && !document.querySelector("[data-bar-cost]").hidden`)
	e.do(chromedp.KeyEvent("\x1b"))
	e.until(`document.querySelector("[data-bar-cost]").hidden && !document.querySelector(".lot.dragged")`)
	e.do(chromedp.MouseEvent("mouseMoved", lot[0]-160, lot[1]+4, chromedp.ButtonType("left")),
		chromedp.MouseEvent("mouseReleased", lot[0]-160, lot[1]+4, chromedp.ButtonType("left"), chromedp.ClickCount(1)))
	if !js[bool](e, `document.querySelector("[data-bar-cost]").hidden`) {
		t.Error("a bar that Escape put back is taken again")
	}
}

// testBars is the plan of a shop that sews: done and left, now, risk in words, what
// is sewn now is not moved unasked, keys keep a move; of a long plan only what is
// seen is drawn.
func testBars(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	ctx := t.Context()
	if _, err := s.shop.MakePlan(ctx, ask.PlanQuestion{Now: s.shop.Now(), NoBound: true, Moves: 300}, ""); err != nil {
		t.Fatal(err)
	}
	p, err := s.shop.Plans.Last(ctx)
	if err != nil {
		t.Fatal(err)
	}
	lot := p.Lots[0]
	if _, err := s.shop.Start(ctx, lot.OrderID, lot.Line, lot.MachineID, 0, "", ""); err != nil {
		t.Fatal(err)
	}
	// More due tomorrow than can be in time.
	for _, number := range []string{"1001", "1002", "1004"} {
		o, err := s.shop.Orders.Get(ctx, number)
		if err != nil {
			t.Fatal(err)
		}
		o.Due, o.Goods = words.Zone{}.Day(time.Now().AddDate(0, 0, 1)), words.Day{}
		if _, _, err := s.shop.ChangeOrder(ctx, *o, ""); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.shop.MakePlan(ctx, ask.PlanQuestion{Now: s.shop.Now(), NoBound: true, Moves: 300}, ""); err != nil {
		t.Fatal(err)
	}
	if _, err := s.shop.Record(ctx, book.Report{OrderID: lot.OrderID, Line: lot.Line, MachineID: lot.MachineID, Good: 3, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	if p, err = s.shop.Plans.Last(ctx); err != nil {
		t.Fatal(err)
	}
	e := s.look(tab, 1280, 900)
	e.open("/plan")
	e.until(`document.querySelector("[data-bars][data-ready][data-frames]")`)
	if got := js[int](e, `Number(document.querySelector("[data-bars]").dataset.drawn)`); got != len(p.Lots) {
		t.Errorf("%d bars are drawn of %d lots", got, len(p.Lots))
	}
	testPlanStaysAtHand(t, e, s)
	running := `document.querySelector(".lot[data-running]")`
	if _, err := chromedp.Call(e.ctx, performance.Enable, performance.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	layouts := func() (n float64) {
		r, err := chromedp.Call(e.ctx, performance.GetMetrics, cdp.Empty{})
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range r.Metrics {
			if m.Name == "LayoutCount" {
				n = m.Value
			}
		}
		return n
	}
	// What is sewn now stands first; at some hours it is so short that it is a button from nearer only.
	closer := `(() => { if (` + running + `) return true; document.querySelector("[data-bars-in]").click(); document.querySelector("[data-bars]").scrollLeft = 0; return false; })()`
	e.until(closer)
	const frames = `Number(document.querySelector("[data-bars]").dataset.frames)`
	drawn, laid := js[int](e, frames), layouts()
	js[bool](e, `document.querySelector("[data-bars-all]").click(), true`) // whatever the hour
	e.until(frames + ` > ` + strconv.Itoa(drawn))
	// All bars are put in their places before the browser lays the page out again.
	if n, bars := layouts()-laid, js[float64](e, `document.querySelectorAll(".lot").length`); bars < 4 || n >= bars {
		t.Errorf("%v bars were drawn in %v layouts", bars, n)
	}
	e.until(closer)
	if got := js[string](e, running+`.textContent`); !strings.Contains(got, "3 done") || !strings.Contains(got, "on the machine now") || !strings.Contains(got, lot.Customer) {
		t.Errorf("what is sewn now is called %q", got)
	}
	for _, l := range p.Lots {
		if l.OrderID != lot.OrderID || l.Line != lot.Line || l.MachineID != lot.MachineID {
			continue
		}
		if got, want := js[string](e, running+`.textContent`), fmt.Sprintf("3 done, %d left", l.Quantity-3); !strings.Contains(got, want) {
			t.Errorf("of %d pieces what is sewn now says %q, want %q", l.Quantity, got, want)
		}
		if wide := js[float64](e, `parseFloat(`+running+`.querySelector(".done").style.width)`); math.Abs(wide-300/float64(l.Quantity)) > .1 {
			t.Errorf("3 of %d done are drawn as %v %%", l.Quantity, wide)
		}
		break
	}
	if got := js[string](e, running+`.title`); !regexp.MustCompile(`, [A-Z][a-z]{2} \d+ [A-Z][a-z]{2}, \d\d:\d\d to [A-Z][a-z]{2} \d+ [A-Z][a-z]{2}, \d\d:\d\d$`).MatchString(got) {
		t.Errorf("its times are not as the page's tables have them: %q", got)
	}
	js[bool](e, `document.querySelector("[data-bars-all]").click(), true`)
	e.until(`document.querySelector('.lot[data-risk="2"]')`)
	if got := js[string](e, `document.querySelector('.lot[data-risk="2"]').textContent + document.querySelector('.lot[data-risk="2"] b').textContent`); !strings.Contains(got, "late, on") || !strings.HasSuffix(got, "!") {
		t.Errorf("what is late is called %q", got)
	}
	// Hands come before seconds.
	e.until(closer)
	before := js[string](e, running+`.style.left`)
	js[bool](e, running+`.focus(), `+running+`.dispatchEvent(new KeyboardEvent("keydown", {key: "ArrowRight", bubbles: true})), true`)
	e.until(`!document.querySelector("[data-bar-cost]").hidden`)
	if got := e.text("[data-bar-cost]"); !strings.Contains(got, "Hands come before seconds") || !strings.Contains(got, "Record its pieces") || strings.Contains(got, "Put it there") {
		t.Errorf("moving what is sewn now says %q", got)
	}
	if got := js[string](e, running+`.style.left`); got != before {
		t.Error("what is sewn now was moved")
	}
	if got, want := js[string](e, `document.querySelector("[data-record]").getAttribute("href")`), fmt.Sprintf("/orders/%d/record?line=%d&machine=%s", lot.Number, lot.Line, lot.MachineID); got != want {
		t.Errorf("its pieces are recorded at %s, want %s", got, want)
	}
	// Nor by a pointer.
	js[bool](e, `(document.querySelector("[data-bar-cost] [data-drop]").click(), document.querySelector("[data-bars]").scrollIntoView({block: "center", behavior: "instant"}), true)`)
	e.until(`document.querySelector("[data-bar-cost]").hidden`)
	at := js[[]float64](e, `(r => [r.left + r.width / 2, r.top + 12])(`+running+`.getBoundingClientRect())`)
	e.drag(at[0], at[1], at[0]+90, at[1]+50)
	e.until(`document.querySelector("[data-bar-cost][data-running]:not([hidden])")`)
	if got := js[string](e, running+`.style.left`); got != before || js[bool](e, `!!document.querySelector(".lot.dragged") || !document.querySelector(".barghost").hidden`) {
		t.Error("what is sewn now is dragged away")
	}
	// Enter keeps a move by keys.
	js[bool](e, `document.querySelector("[data-bar-cost] [data-drop]").click(), document.querySelector("[data-bars-all]").click(), true`)
	var free *book.PlanLot
	for i := range p.Lots {
		if l := &p.Lots[i]; i > 0 && !l.Running && !l.Held && p.Lots[i-1].MachineID == l.MachineID && !p.Lots[i-1].Running && (free == nil || l.Line > free.Line) {
			free = l // rather a second line: it could be taken for the first
		}
	}
	if free == nil {
		t.Fatal("the plan has no lot that could be moved forward")
	}
	js[bool](e, `(() => { for (let i = 0; i < 4; i++) document.querySelector("[data-bars-in]").click(); return true; })()`)
	bar := `document.querySelector('.lot[data-lot^="` + free.Name + `/"]') || document.querySelector('.lot[data-lot^="` + free.Name + `"]')`
	// Only what is seen is drawn: panned on until the bar stands there, then no further, or the next drawing takes it away.
	e.until(`(() => { const l = ` + bar + `; if (l) { l.focus(); return true; } const b = document.querySelector("[data-bars]"); b.scrollLeft += 200; if (b.scrollLeft + b.clientWidth >= b.scrollWidth - 2) b.scrollLeft = 0; return false; })()`)
	js[bool](e, `(`+bar+`).dispatchEvent(new KeyboardEvent("keydown", {key: "ArrowLeft", bubbles: true})), true`)
	e.until(`document.querySelector("[data-bar-cost][data-state=priced]")`)
	if says := e.text("[data-bar-cost] [data-verdict]"); !strings.HasPrefix(says, free.Name+" of ") {
		t.Errorf("%s is moved, and the cost is of %q", free.Name, says)
	}
	js[bool](e, `(`+bar+`).dispatchEvent(new KeyboardEvent("keydown", {key: "Enter", bubbles: true})), true`)
	e.until(`document.querySelector("#moved")`)
	if o, err := s.shop.Orders.Get(ctx, free.OrderID); err != nil || len(o.Line(free.Line).Holds) == 0 {
		t.Error("Enter did not hold the lot where it was put", err)
	}
	e.passesAxe("/plan")
	if err := chromedp.Do(e.ctx, chromedp.EmulateViewport(390, 844)); err != nil {
		t.Fatal(err)
	}
	e.dark(true)
	e.passesAxe("/plan")
	testPlannedAnewElsewhere(t, s.look(tab, 1280, 900), s)
}
