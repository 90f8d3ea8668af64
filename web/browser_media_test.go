package web_test

import (
	"context"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"needlepace/ask"
	"needlepace/help"
)

// media has the page shown by a medium and with features of the reader's; by none as the screen has it.
func (e *eyes) media(medium string, features ...*emulation.MediaFeature) {
	e.t.Helper()
	if _, err := chromedp.Call(e.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: medium, Features: features}); err != nil {
		e.t.Fatal(err)
	}
}

// Where the reader's system gives the colours, what only a ground told apart has an edge; no table is wider than the
// paper; and without scripts nothing stands there that only scripts do.
func testOtherMedia(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	if _, err := s.shop.MakePlan(t.Context(), ask.PlanQuestion{Now: s.shop.Now()}, ""); err != nil {
		t.Fatal(err)
	}
	design, m := s.design("ostrel-light.dst"), s.machine("Gannet")
	timing := "/time/no-scripts-01?design=" + design.ID + "&machine=" + m.ID + "&speed=900"

	e := s.look(tab, 1280, 900)
	e.media("", &emulation.MediaFeature{Name: "forced-colors", Value: "active"})
	e.open("/plan")
	e.until(`document.querySelectorAll("[data-bars] .lot").length > 1`)
	// A colour that the system gives is of its own palette: an edge is seen where it is not the ground's.
	seen := js[[]string](e, `(() => {
		const out = [], edge = (q, side) => {
			const all = [...document.querySelectorAll(q)];
			if (!all.length) out.push("no " + q);
			for (const x of all) {
				const s = getComputedStyle(x), ground = getComputedStyle(document.body).backgroundColor;
				if (parseFloat(s["border" + side + "Width"]) < 1 || s["border" + side + "Style"] === "none" || s["border" + side + "Color"] === ground || /^rgba.*, 0\)$/.test(s["border" + side + "Color"])) { out.push(q + " has no edge: " + side + ", " + [s["border" + side + "Width"], s["border" + side + "Style"], s["border" + side + "Color"], ground].join(" ")); return; }
			}
		};
		for (const side of ["Left", "Right", "Top", "Bottom"]) edge("[data-bars] .lot", side);
		edge(".barkey i", "Top"); edge(".button.main", "Top"); edge(".replan input[type=number], .replan .field input", "Bottom");
		edge(".top nav a[aria-current] span", "Bottom");
		for (const x of document.querySelectorAll(".top nav a:not([aria-current]) span")) if (getComputedStyle(x).borderBottomColor !== getComputedStyle(document.body).backgroundColor) { out.push("each item of the menu is marked as the present one"); break; }
		const set = document.querySelector("[data-bars] .lot .setup");
		if (!set || !getComputedStyle(set).backgroundImage.includes("gradient")) out.push("a set-up is not seen");
		const main = getComputedStyle(document.querySelector("button.main"));
		if (main.color === main.backgroundColor) out.push("the main button is not read");
		return out;
	})()`)
	for _, x := range seen {
		t.Errorf("in the reader's colours: %s", x)
	}

	paths := []string{"/designs", "/plan", "/help/machine-sheets"}
	if !testing.Short() {
		paths = append(paths, "/designs/"+design.ID, "/machines/"+m.ID, "/orders", "/orders/1001", "/orders/1001/runsheet", "/orders/1006/quote", "/today", "/plan/thread", "/plan/costs", "/history")
		for _, topic := range help.Topics() {
			paths = append(paths, help.Root+topic.Name)
		}
	}
	onPaper := s.look(tab, 680, 900) // A4 without its margins, at 96 dots an inch (CSS): 186 mm are 703 px
	onPaper.media("print")
	for _, p := range paths {
		onPaper.open(p)
		if wide := js[int](onPaper, `document.documentElement.scrollWidth`); wide > 703 {
			t.Errorf("%s is %d px wide on paper of 703", p, wide)
		}
	}

	off := s.look(tab, 1280, 900)
	if _, err := chromedp.Call(off.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{"/plan", "/designs/" + design.ID, "/designs/" + s.design("larkess-ferry.dst").ID + "/audit", timing, "/designs/" + design.ID + "/listen?machine=" + m.ID} {
		off.do(chromedp.Navigate(s.url + p))
		dead := js[[]string](off, `[...document.querySelectorAll("main button[type=button]:not([popovertarget]), main canvas, [data-theme-choice], [data-watch] summary")].filter((x) => x.checkVisibility()).map((x) => x.outerHTML.slice(0, 80))`)
		if len(dead) > 0 {
			t.Errorf("%s without scripts has what only they do: %q", p, dead)
		}
		if says := js[bool](off, `[...document.querySelectorAll("main noscript.told, main noscript img")].some((x) => x.checkVisibility() && x.getBoundingClientRect().height > 10)`); !says {
			t.Errorf("%s without scripts has nothing instead", p)
		}
	}
}
