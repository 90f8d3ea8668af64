package web_test

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"needlepace/help"
	"needlepace/shop"
)

// Every page passes axe-core's checks of WCAG 2.2 A and AA and its best
// practices, on a phone in dark, some on a desktop in light.
func testAccessible(t *testing.T, tab context.Context) {
	s, empty := serveShop(t, true), serveShop(t, false)
	setup := func(kind shop.SetupKind) string {
		all, err := s.shop.Setups.List(t.Context(), kind)
		if err != nil || len(all) == 0 {
			t.Fatal("the demo shop has no setup", err)
		}
		return all[0].ID
	}
	design, m := s.design("ostrel-light.dst"), s.machine("Gannet")
	if _, err := s.shop.Timings.AddRuns(t.Context(), m.ID, []shop.Run{{DesignID: design.ID, SetSpeed: 900, Seconds: 320, Step: 1}}); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"Bay 4", "Bay 5", "Bay 6"} { // more machines than a row of the list shows
		if _, err := s.shop.Machines.AddOfClass(t.Context(), "compact-8", name, ""); err != nil {
			t.Fatal(err)
		}
	}
	paths := []string{
		"/designs", "/designs/" + design.ID, "/designs/" + s.design("larkess-ferry.dst").ID + "/audit", "/machines", "/machines/" + m.ID,
		"/machines/" + m.ID + "/testpiece", "/time", "/time/axe-timing-0001?design=" + design.ID + "&machine=" + m.ID + "&speed=900",
		"/compare", "/compare/" + setup(shop.MixSetup), "/floor", "/floor/" + setup(shop.FloorSetup) + "?more=1", "/settings",
		"/help", "/help?find=knee",
	}
	for i, topic := range help.Topics() {
		if i%2 == 0 || !testing.Short() { // one template makes them all
			paths = append(paths, help.Root+topic.Name)
		}
	}
	for _, in := range inAllLooks() {
		e, first := in.look(s, tab), in.look(empty, tab)
		first.passesAxe("/")
		for _, p := range paths {
			if in.all {
				e.passesAxe(p)
			}
		}
	}
	between := s.look(tab, 1024, 768) // one column, beside names in the margin: the narrowest that is no phone's
	for _, p := range paths {
		between.open(p)
		between.hasRoom(p)
	}
}

// seen is one way a page is looked at.
type seen struct {
	width, height int64
	dark, all     bool // all: every page is looked at so
}

// inAllLooks are three widths in both themes, and in short on a phone in dark, with some pages on a desktop in light.
func inAllLooks() (all []seen) {
	if testing.Short() {
		return []seen{{1280, 900, false, false}, {390, 844, true, true}}
	}
	for _, dark := range []bool{false, true} {
		all = append(all, seen{1440, 900, dark, true}, seen{1024, 768, dark, true}, seen{390, 844, dark, true})
	}
	return all
}

// look opens a tab so.
func (in seen) look(s *testShop, tab context.Context) *eyes {
	e := s.look(tab, in.width, in.height)
	e.dark(in.dark)
	return e
}

// What a page says only at times passes too: fields that are wrong, what is undone, what a word means, a page that
// failed, lists in which nothing is.
func testStatesAccessible(t *testing.T, tab context.Context) {
	if testing.Short() {
		t.Skip("each in three widths and both themes: a minute")
	}
	s, empty := serveShop(t, true), serveShop(t, false)
	for _, in := range inAllLooks() {
		e, none := in.look(s, tab), in.look(empty, tab)
		e.bringAxe()
		none.bringAxe()
		for _, p := range []string{"/designs", "/machines", "/orders", "/plan", "/today", "/history", "/visits", "/compare", "/floor", "/classes"} {
			none.passesAxe(p)
		}
		for _, p := range []string{"/designs?search=nothingiscalledso", "/orders?search=nothingiscalledso", "/find?find=nothingiscalledso",
			"/orders/1003/runsheet?line=1" /* refused, with what to do */} {
			e.passesAxe(p)
		}
		e.open("/orders/new")
		e.set("[name=customer]", "Ostrel")
		e.set(`[name="line[0].garment"]`, "cap")
		e.click("button.main")
		e.until(`document.querySelector(".field.wrong")`)
		e.passesAxeHere("an order with wrong fields")
		e.open("/plan/hours")
		e.set("[name='shift[0].operators']", "two")
		e.set("[name='shift[1].operators']", "two")
		e.set("[name='money.labour_per_hour']", "nineteen")
		e.click("#form button.main")
		e.until(`document.querySelectorAll(".field.wrong").length == 3`)
		e.passesAxeHere("hours with wrong fields")
		e.standsInLine("hours with wrong fields")
		e.open("/settings")
		e.set("[name=shop_name]", fmt.Sprintf("Mended Sails %d %v", in.width, in.dark))
		e.click("form[action='/settings'] .button")
		e.until(`document.querySelector("[data-take-back]")`)
		e.passesAxeHere("settings that can be undone")
		e.open("/plan")
		for range 2 { // the second has one before it, and says what moved
			js[bool](e, `window.npBefore = true`) // until the page that the press leads to, not the one it was made on
			e.click("form[action='/plan'] button.main")
			e.until(`!window.npBefore && document.querySelector("[data-bars][data-ready][data-frames]")`)
		}
		e.until(`document.querySelector("#moved")`)
		e.passesAxeHere("a plan that was just made")
		e.open("/plan/try")
		e.set("[name=operators]", "1")
		e.click("form[action='/plan/try'] button.main")
		e.until(`document.querySelector("#t-both")`)
		e.passesAxeHere("a plan that was tried")
		e.open("/designs")
		e.click("main button.term")
		e.until(`document.querySelector(".means:popover-open")`)
		e.passesAxeHere("what a word means")
	}
}

// standsInLine reports boxes of a row of fields that stand higher or lower than the one before, as where something is
// said below one of them.
func (e *eyes) standsInLine(what string) {
	e.t.Helper()
	for _, off := range js[[]string](e, `[...document.querySelectorAll(".fields:has(> .wrong)")].flatMap(row => {
		const boxes = [...row.querySelectorAll(":scope > .field")].map(f => [f.getBoundingClientRect(), f.querySelector("input, select")]);
		return boxes.flatMap(([at, box], i) => {
			if (i == 0 || at.top >= boxes[i-1][0].bottom) return []; // the first of a line
			const off = Math.round(box.getBoundingClientRect().top - boxes[i-1][1].getBoundingClientRect().top);
			return off ? [box.name + ": " + off] : [];
		});
	})`) {
		e.t.Errorf("%s: a box stands lower than the one before it by px: %s", what, off)
	}
}

// hasRoom reports texts that have no room: words that are broken among their letters, and
// on more than a phone long texts in a column of a few words.
func (e *eyes) hasRoom(path string) {
	e.t.Helper()
	tight := js[[]string](e, `(() => {
		const out = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), range = document.createRange();
		for (let n; (n = walk.nextNode());) {
			const p = n.parentElement, text = n.data.trim();
			if (!text || p.closest("script, style, select, textarea, svg, pre, code, .vh") || !p.checkVisibility()) continue;
			for (const w of n.data.matchAll(/\p{L}{3,}/gu)) {
				range.setStart(n, w.index); range.setEnd(n, w.index + w[0].length);
				if (new Set([...range.getClientRects()].map(r => Math.round(r.top))).size > 1) { out.push(w[0] + " is broken: " + text.slice(0, 60)); break; }
			}
			range.selectNodeContents(n);
			const wide = range.getBoundingClientRect().width;
			if (innerWidth > 640 && text.length > 60 && wide < 80) out.push("in " + Math.round(wide) + " px: " + text.slice(0, 60));
		}
		return out.slice(0, 6);
	})()`)
	if len(tight) > 0 {
		e.t.Errorf("%s, %v px wide: texts without room: %s", path, js[int](e, `innerWidth`), strings.Join(tight, "\n  "))
	}
}

// bringAxe has axe-core in every page that the tab opens from now on: to send it
// to each costs the browser a second.
func (e *eyes) bringAxe() {
	e.t.Helper()
	if e.axe {
		return
	}
	e.axe = true
	if _, err := chromedp.Call(e.ctx, page.AddScriptToEvaluateOnNewDocument,
		page.AddScriptToEvaluateOnNewDocumentParams{Source: readAxe(e.t)}); err != nil {
		e.t.Fatal(err)
	}
}

func readAxe(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile("testdata/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// passesAxe opens a page and holds it against axe-core; it must not be wider
// than its window either.
func (e *eyes) passesAxe(path string) {
	e.t.Helper()
	e.bringAxe()
	e.open(path)
	e.until(`document.readyState === "complete" && (!document.querySelector("[data-run]") || document.querySelector("[data-run][data-ready] .cloth[data-frames]"))`)
	e.passesAxeHere(path)
}

// passesAxeHere looks at the page as it stands, with all that can be unfolded in it; then at what hangs over it when
// it is unfolded, alone: of what that hides no part is pressed.
func (e *eyes) passesAxeHere(path string) {
	e.t.Helper()
	js[bool](e, `(() => { for (const d of document.querySelectorAll("details")) d.open = !d.matches("[data-fold]"); return true; })()`)
	if !js[bool](e, `typeof axe === "object"`) {
		js[bool](e, readAxe(e.t)+"\n;true")
	}
	found := js[[]string](e, axeFinds+`(document)`)
	found = append(found, js[[]string](e, `(() => {
		const over = document.querySelectorAll("[data-fold]");
		for (const d of over) d.open = true;
		return over.length ? `+axeFinds+`(over) : [];
	})()`)...)
	if len(found) > 0 {
		e.t.Errorf("%s: %s", path, strings.Join(found, "\n  "))
	}
	// What stands in a row to be pressed has air: 24 px a target, 44 px on a phone. A word with its meaning stands in
	// running text (WCAG 2.2, 2.5.8: inline).
	tight := js[[]string](e, `(() => {
		const least = innerWidth <= 640 ? 44 : 24, close = [];
		for (const row of document.querySelectorAll(".away, .row, .zooms, .foot, .rows > li, .takeaway li, .picked, .player, .took > p")) {
			const all = [...row.querySelectorAll("a, button:not(.term), summary, select")].filter(x => x.checkVisibility() && !x.closest(".vh, p:not(.row, .away)") && x.closest(".away, .row, .zooms, .foot, .rows > li, .takeaway li, .picked, .player, .took > p") === row).map(x => [x, x.getBoundingClientRect()]);
			for (const [x, a] of all) {
				if (a.height < least - .6) close.push(Math.round(a.height) + " px: " + x.outerHTML.slice(0, 100));
				for (const [o, b] of all) if (o !== x && a.left < b.right && b.left < a.right && a.top < b.bottom - .6 && b.top < a.bottom - .6) close.push("over another: " + x.outerHTML.slice(0, 100));
			}
		}
		if (innerWidth <= 640) for (const x of document.querySelectorAll("main :is(input:not([type=checkbox], [type=radio], [type=range], [type=hidden]), select, textarea, .tick, summary), .listed .what a, .listed .fact > a:only-child, .designs .on a")) {
			const r = x.getBoundingClientRect();
			if (x.checkVisibility() && !x.closest(".vh") && r.height > 1 && r.height < least - .6) close.push(Math.round(r.height) + " px: " + x.outerHTML.slice(0, 100));
		}
		return close.slice(0, 6);
	})()`)
	if len(tight) > 0 {
		e.t.Errorf("%s: targets without air: %s", path, strings.Join(tight, "\n  "))
	}
	if wide := js[float64](e, `document.documentElement.scrollWidth - innerWidth`); wide > 1 {
		which := js[[]string](e, `[...document.querySelectorAll("main *")].filter(x => x.getBoundingClientRect().right > innerWidth + 1 && !x.closest(".tablebox")).slice(0, 4).map(x => x.outerHTML.slice(0, 120))`)
		e.t.Errorf("%s: the page is %v px wider than the window: %s", path, wide, strings.Join(which, "\n  "))
	}
}

// axeFinds is what axe-core finds against a page, and what it cannot tell and is not clear without it:
//   - The contrast of a text whose ground it does not know (over a picture, at an edge of what is scrolled, of a single sign) is
//     reckoned from the colours of both as WCAG 2.2 has it (relative luminance, contrast ratio; 1.4.3), where the ground is the nearest thing beneath that is filled.
//   - A button that shows + or − alone has a name in words: there is no visible word that the name could lack (2.5.3).
const axeFinds = `((where) => axe.run(where, {elementRef: true, resultTypes: ["violations", "incomplete"],
	runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then((r) => {
	const says = (v, n) => v.id + ": " + n.html.slice(0, 160) + " — " + (n.any[0]?.message || n.all[0]?.message || n.none[0]?.message || v.help);
	const rgba = (css) => { const v = (css.match(/[\d.]+/g) || []).map(Number); return css.startsWith("rgb") && v.length >= 3 ? [v[0], v[1], v[2], v[3] ?? 1] : null; };
	const over = (top, below) => [0, 1, 2].map((i) => top[i] * top[3] + below[i] * (1 - top[3])).concat(1);
	const light = (c) => { const [r, g, b] = c.slice(0, 3).map((v) => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
	const fillOf = (x) => {
		const s = getComputedStyle(x), svg = x instanceof SVGGraphicsElement && !(x instanceof SVGSVGElement);
		const c = rgba(svg ? s.fill : s.backgroundColor);
		if (c && svg) c[3] *= Number(s.fillOpacity) * Number(s.opacity);
		return c && c[3] > 0 ? c : null;
	};
	const contrast = (el) => {
		el.scrollIntoView({block: "center", inline: "center"});
		const box = el.getBoundingClientRect(), s = getComputedStyle(el), svg = el instanceof SVGElement;
		const at = document.elementsFromPoint(box.left + box.width / 2, box.top + box.height / 2), from = at.indexOf(el);
		// What lies beneath at the text's middle; where another thing lies over it there, what holds it.
		const under = from < 0 ? [] : at.slice(svg ? from + 1 : from).filter((x) => !["text", "tspan", "line", "polyline"].includes(x.nodeName));
		if (from < 0) for (let x = el; x; x = x.parentElement) if (!(x instanceof SVGElement && x.parentElement instanceof SVGElement)) under.push(x);
		under.push(document.body, document.documentElement);
		let ground = [255, 255, 255, 1];
		for (const c of under.map(fillOf).filter(Boolean).reverse()) ground = over(c, ground);
		const ink = over(rgba(svg ? s.fill : s.color) ?? [0, 0, 0, 1], ground), [a, b] = [light(ink), light(ground)].sort((x, y) => y - x);
		const px = parseFloat(s.fontSize), large = px >= 24 || px >= 18.66 && Number(s.fontWeight) >= 700;
		return [(a + 0.05) / (b + 0.05), large ? 3 : 4.5];
	};
	const bad = r.violations.flatMap((v) => v.nodes.slice(0, 3).map((n) => says(v, n)));
	for (const v of r.incomplete) for (const n of v.nodes) {
		const el = n.element;
		if (v.id === "label-content-name-mismatch" && /^[+−]$/.test(el.innerText.trim()) && /[a-z]{2}/i.test(el.getAttribute("aria-label") ?? "")) continue;
		let is = "";
		if (v.id === "color-contrast") {
			const [ratio, least] = contrast(el);
			if (ratio >= least) continue;
			is = " (" + ratio.toFixed(2) + " to 1)";
		}
		bad.push("not clear: " + says(v, n) + is);
	}
	return bad.slice(0, 8);
}))`
