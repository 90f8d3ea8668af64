package web_test

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// testToday is a day at the machines: the first page once there are orders, what
// others do seen within a second, what is left from a stitch on, the wall.
func testToday(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	ctx := t.Context()
	if _, err := s.shop.MakePlan(ctx, ask.PlanQuestion{Now: s.shop.Now()}, ""); err != nil {
		t.Fatal(err)
	}
	p, err := s.shop.Plans.Last(ctx)
	if err != nil {
		t.Fatal(err)
	}
	lot := p.Lots[0]
	e, other := s.look(tab, 1440, 900), s.look(tab, 390, 844)
	e.open("/")
	e.until(`location.pathname === "/today"`)
	row := "#m-" + lot.MachineID
	e.until(`document.querySelector("` + row + `")`)
	other.open("/today")

	// Another one puts a job on its machine on a run sheet; this page tells of it.
	within := func(of *eyes, what string, do func(), expression string) {
		t.Helper()
		of.until(`document.documentElement.dataset.live === "on"`)
		time.Sleep(1500 * time.Millisecond) // nobody's finger is on it
		began := time.Now()
		do()
		of.until(expression)
		if took := time.Since(began); took > time.Second && !testing.Short() {
			t.Errorf("%s was seen after %v", what, took)
		} else {
			t.Logf("%s was seen after %v", what, took)
		}
	}
	start := func() {
		if _, err := s.shop.Start(ctx, lot.OrderID, lot.Line, lot.MachineID, 0, lot.Colour, ""); err != nil {
			t.Fatal(err)
		}
	}
	within(e, "a start", start, `document.querySelector("`+row+`").innerText.includes("by report")`)
	e.until(`document.querySelector("` + row + `").classList.contains("changed")`)
	other.until(`document.querySelector("` + row + `").innerText.includes("by report")`)

	// From here one page's press is the other page's news.
	e.click(row + ` a[href*="/record"]`)
	e.until(`document.querySelector("form[data-record]")`)
	e.set(`[name=good]`, "3")
	within(other, "pieces recorded on the other page", func() { e.click("form[data-record] button.main") },
		`document.querySelector("`+row+`").innerText.match(/\b4\b(–\d+)? of /)`)

	// A need of another day has room beside what it is.
	for _, of := range []*eyes{e, other} {
		of.open("/today")
		if over := js[bool](of, `[...document.querySelectorAll(".needs .in")].some((x) => { x.textContent = "Wed 30 Sep, 10:00 pm"; return x.getBoundingClientRect().right > x.nextElementSibling.getBoundingClientRect().left || x.scrollWidth > x.clientWidth + 1; }) || document.documentElement.scrollWidth > innerWidth`); over {
			t.Error("the time of a need lies over what it is")
		}
	}

	// A device whose clock is ten minutes slow counts by the shop's, and no seconds of what is far.
	slow := s.look(tab, 390, 844)
	if _, err := chromedp.Call(slow.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `{ const is = Date.now; Date.now = () => is() - 600_000; }`}); err != nil {
		t.Fatal(err)
	}
	slow.open("/today")
	if counted := js[string](slow, `new Promise((done) => {
		const now = Date.parse(document.querySelector("[data-now]").dataset.now), all = [2, 13].map((h) => Object.assign(document.createElement("b"), {textContent: "far"}));
		all.forEach((b, i) => { b.dataset.until = new Date(now + [2, 13][i] * 3600e3).toISOString(); document.querySelector("main").append(b); });
		setTimeout(() => done(all.map((b) => b.textContent).join()), 1200);
	})`); !regexp.MustCompile(`^1:59:[45]\d,far$`).MatchString(counted) {
		t.Errorf("two and thirteen hours before, ten minutes slow, it counts %q", counted)
	}

	// What is left from a stitch on.
	e.open("/today")
	e.click(row + " .stands summary")
	e.set(row+" [name=stitch]", "1000")
	e.until(`document.querySelector("` + row + ` .stands .big")`)
	left, err := ask.Left(ctx, s.shop.Asked(), ask.LeftQuestion{Now: s.shop.Now(), Machine: lot.MachineID, Stitch: 1000})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := e.text(row+" .stands .say"), (words.Seconds(left.Seconds)).Text(nil); !strings.Contains(got, want) {
		t.Errorf("left from stitch 1,000 is said to be %q, it is %s", got, want)
	}

	// Nothing jumps while one types; what changed comes when one is done.
	js[bool](e, `document.querySelector("`+row+` [name=stitch]").focus(), true`)
	if _, err := s.shop.Record(ctx, book.Report{OrderID: lot.OrderID, Line: lot.Line, MachineID: lot.MachineID, Good: 2, Breaks: -1,
		Colour: lot.Colour}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	sixth := `document.querySelector("` + row + `").innerText.match(/\b6\b(–\d+)? of /)`
	time.Sleep(1500 * time.Millisecond)
	if js[bool](e, `!!`+sixth) {
		t.Error("the page changed while its field was being filled in")
	}
	js[bool](e, `document.activeElement.blur(), true`)
	e.until(sixth)

	// As time goes on the page is renewed, but not under what somebody has marked to copy.
	e.open("/today")
	e.until(`document.documentElement.dataset.live === "on"`)
	js[bool](e, `window.asked = 0, window.was = window.fetch, window.fetch = (...a) => { window.asked++; return was(...a); }, getSelection().selectAllChildren(document.querySelector("h1")), true`)
	time.Sleep(time.Second)
	js[bool](e, `document.dispatchEvent(new Event("np:old")), true`)
	time.Sleep(700 * time.Millisecond)
	if n := js[int](e, `window.asked`); n != 0 {
		t.Errorf("the page was asked for %d times under a selection", n)
	}
	js[bool](e, `getSelection().removeAllRanges(), true`)
	e.until(`window.asked === 1 && !document.querySelector(".changed")`)

	// The wall: no menu, read from afar, renewed by itself.
	wall := s.look(tab, 1920, 1080)
	wall.open("/today/wall")
	wall.until(`document.querySelectorAll(".wall li").length >= 3`)
	type sizes struct {
		Nav, Scrolls, Out bool
		Figure, Name      float64
	}
	got := js[sizes](wall, `(() => { const shown = (e) => e && e.checkVisibility(); const size = (q) => parseFloat(getComputedStyle(document.querySelector(q)).fontSize);
		return {Nav: !!shown(document.querySelector("nav")) || !!shown(document.querySelector(".mark")), Scrolls: document.documentElement.scrollHeight > innerHeight || document.documentElement.scrollWidth > innerWidth,
		Out: [...document.querySelectorAll(".wall dd")].some((e) => e.scrollWidth > e.clientWidth + 1), Figure: size(".wall dd"), Name: size(".wall h2")}; })()`)
	// 29 mm of capitals on a screen 952 mm wide, 0.72 of the size: 81 px of 1,920.
	if got.Nav || got.Scrolls || got.Out || got.Figure < 81 || got.Name < 81 {
		t.Errorf("the wall: %+v", got)
	}
	// Another day fits as well, in every language.
	for _, lang := range words.Languages() {
		for month := range 12 {
			day := words.NearDay{Day: words.NewDay(2026, time.Month(month+1), 20+month%7)}.Text(&words.Writer{Language: lang})
			if js[bool](wall, `(() => { const all = [...document.querySelectorAll(".wall .three > :not(:first-child) dd")]; all.forEach((e) => e.textContent = "`+day+`"); return all.some((e) => e.scrollWidth > e.clientWidth + 1); })()`) {
				t.Errorf("%q does not fit on the wall", day)
			}
		}
	}
	// More machines than it holds take turns; none lies under the edge.
	wall.open("/today/wall")
	if cut := js[string](wall, `(() => { const ol = document.querySelector(".wall ol"); while (ol.children.length < 5) ol.append(ol.children[0].cloneNode(true)); dispatchEvent(new Event("resize"));
		const seen = [...ol.children].filter((e) => e.checkVisibility()).length; return document.documentElement.scrollHeight > innerHeight || seen < 2 || seen > 4 || !/ of /.test(document.querySelector("[data-turn]").textContent) ? seen + " are seen in " + document.documentElement.scrollHeight + " px" : ""; })()`); cut != "" {
		t.Errorf("of five machines on the wall %s", cut)
	}
	wall.open("/today/wall")
	within(wall, "a change, on the wall", func() {
		if _, err := s.shop.Record(ctx, book.Report{OrderID: lot.OrderID, Line: lot.Line, MachineID: lot.MachineID, Good: 1, Breaks: -1,
			Colour: lot.Colour}, act.Recording{}, ""); err != nil {
			t.Fatal(err)
		}
	}, `document.querySelector("#w-`+lot.MachineID+`").innerText.match(/\b7\b(–\d+)? of /)`)

	for _, width := range []int64{1440, 1024, 390} {
		for _, dark := range []bool{false, true} {
			if testing.Short() && (width == 1024 || dark != (width == 390)) {
				continue
			}
			x := s.look(tab, width, 844)
			x.dark(dark)
			for _, path := range []string{"/today", "/today/wall", fmt.Sprintf("/today?machine=%s&stitch=1000", lot.MachineID)} {
				x.passesAxe(path)
			}
		}
	}
}
