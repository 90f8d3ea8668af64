package web_test

import (
	"context"
	"html"
	"slices"
	"strings"
	"testing"

	"needlepace/internal/readback"
	"needlepace/shop"
	"needlepace/web/browser"
)

// On paper: every heading and cell of the page's tables stands there, row by row,
// with what the figures were worked out from; no control does; nothing is cut or
// lies over something else; the ground is white in the dark theme too.
func testPaper(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	setup := func(kind shop.SetupKind) string {
		all, err := s.shop.Setups.List(t.Context(), kind)
		if err != nil || len(all) == 0 {
			t.Fatal("the demo shop has no setup", err)
		}
		return all[0].ID
	}
	m := s.machine("Gannet")
	for _, file := range []string{"ostrel-light.dst", "gull-cap.dst", "whale-line.dst"} {
		if _, err := s.shop.Timings.AddRuns(t.Context(), m.ID, []shop.Run{{DesignID: s.design(file).ID, SetSpeed: 900, Seconds: 320, Step: 1, Sure: true}}); err != nil {
			t.Fatal(err)
		}
	}
	e := s.look(tab, 1280, 900)
	for _, p := range []struct {
		paper, path string
		dark        bool
		press       string // before it is printed
		has         []string
	}{
		{"letter", "/floor/" + setup(shop.FloorSetup) + "?more=1", true, "", []string{"OEE", "The shift", "Gannet", "how fast the shaft gains speed"}},
		{"a4", "/compare/" + setup(shop.MixSetup), false, "", []string{"spoilage", "Interest, % a year", "offer 1", "how fast the shaft gains speed"}},
		{"a4", "/designs/" + s.design("ostrel-light.dst").ID, true, "", []string{"ostrel-light.dst", "Set speed", "how fast the shaft gains speed"}},
		{"letter", "/machines/" + m.ID, false, `form[action$="/learn"] button.main`, []string{"Timings learned from", "Gannet, learned", "how fast the shaft gains speed"}},
	} {
		e.dark(p.dark)
		e.open(p.path)
		if p.press != "" {
			e.click(p.press)
			e.until(`location.pathname.endsWith("/learned") && document.querySelector("#t-learned")`)
		}
		e.until(`!document.querySelector("[data-run]") || document.querySelector("[data-run][data-ready] .cloth[data-frames]")`)
		rows := js[[]string](e, `[...document.querySelectorAll("main tr")].filter(r => !r.closest(".noprint, form")).map(r => [...r.cells].map(c => { const x = c.cloneNode(true); for (const o of x.querySelectorAll("svg, .vh")) o.remove(); return x.textContent; }).join(""))`)
		fields := js[[]string](e, `[...document.querySelectorAll("main .knobrow:not(:has(.kname)):has(:only-child) label.field")].filter(l => !l.closest(".knobs").querySelector("[name*='[']")).map(l => l.querySelector("span").textContent + (l.querySelector("select")?.selectedOptions[0].textContent ?? l.querySelector("input").value))`)
		buttons := js[[]string](e, `[...document.querySelectorAll("button:not(.term), .button, .word, summary")].filter(b => b.checkVisibility()).map(b => b.textContent.trim()).filter(b => b.length > 5)`)
		if len(rows) < 20 || strings.HasPrefix(p.path, "/compare") && len(fields) < 10 {
			t.Fatalf("%s has %d rows of tables and %d inputs", p.path, len(rows), len(fields))
		}
		pdf, err := browser.Print(e.ctx, p.paper)
		if err != nil {
			t.Fatal(err)
		}
		all := bare(readback.PDF(t, pdf))
		for _, want := range slices.Concat(rows, fields, p.has, []string{m.Name}) {
			if !strings.Contains(all, bare(want)) {
				t.Errorf("%s on %s has no %q", p.path, p.paper, want)
			}
		}
		for _, b := range buttons {
			if strings.Contains(all, bare(b)) {
				t.Errorf("%s on %s has the button %q", p.path, p.paper, b)
			}
		}
		for i, sheet := range readback.Leaves(t, pdf) {
			if len(sheet.Words) < 30 {
				t.Errorf("%s on %s: sheet %d has next to nothing: %v", p.path, p.paper, i+1, sheet.Words)
			}
			sheetIsWhole(t, p.path+" on "+p.paper, i+1, sheet)
		}
		var dark int
		dots := readback.Greys(t, pdf, 20)
		for _, d := range dots {
			if d < 128 {
				dark++
			}
		}
		if dark > len(dots)/5 || dark == 0 {
			t.Errorf("%s on %s: %d of %d dots are dark", p.path, p.paper, dark, len(dots))
		}
	}
}

// sheetIsWhole holds that no word reaches into the margin, where it would be cut,
// and none lies over another. (A figure in a picture lies over its own pale rim.)
func sheetIsWhole(t *testing.T, page string, n int, sheet readback.Leaf) {
	t.Helper()
	const margin, near = 12 * 72 / 25.4, 1.5 // points
	for i, w := range sheet.Words {
		if w.Left < margin-near || w.Right > sheet.Width-margin+near || w.Top < 0 || w.Foot > sheet.Height {
			t.Errorf("%s: sheet %d cuts %q: %.0f to %.0f of %.0f", page, n, w.Text, w.Left, w.Right, sheet.Width)
		}
		for _, o := range sheet.Words[:i] {
			if w.Text != o.Text && min(w.Right, o.Right)-max(w.Left, o.Left) > near && min(w.Foot, o.Foot)-max(w.Top, o.Top) > 2*near {
				t.Errorf("%s: sheet %d: %q lies over %q", page, n, w.Text, o.Text)
			}
		}
	}
}

// bare is a text without spaces, since lines of a paper break anywhere.
func bare(s string) string {
	return strings.Join(strings.Fields(html.UnescapeString(s)), "")
}

// Light or dark is as the system has it until somebody chooses, on every page
// from then on, and again when they choose that.
func testLightOrDark(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	e := s.look(tab, 1280, 900)
	ground := func() string { return js[string](e, `getComputedStyle(document.body).backgroundColor`) }
	choose := func(theme string) { // again until it is heard: the script may not listen yet
		e.until(`(() => {
			const s = document.querySelector(".foot [data-theme-choice]");
			s.value = "` + theme + `";
			s.dispatchEvent(new Event("change", {bubbles: true}));
			return (document.documentElement.dataset.theme || "") === "` + theme + `" &&
				(localStorage.getItem("np-theme") || "") === "` + theme + `";
		})()`)
	}
	e.dark(false)
	e.open("/machines")
	light := ground()
	e.dark(true)
	dark := ground()
	if light == dark {
		t.Fatal("the page does not follow the system: " + light)
	}
	choose("light")
	if got := ground(); got != light {
		t.Errorf("chosen light, it is %s", got)
	}
	e.open("/settings")
	e.until(`[...document.querySelectorAll("[data-theme-choice]")].every(s => s.value === "light")`)
	if got := ground(); got != light {
		t.Errorf("chosen light, the next page is %s", got)
	}
	choose("")
	if got := ground(); got != dark {
		t.Errorf("as the system again, it is %s", got)
	}
	e.open("/designs")
	if got := ground(); got != dark || js[string](e, `document.querySelector("[data-theme-choice]").value`) != "" {
		t.Errorf("as the system, the next page is %s", got)
	}
	// The list of designs has the file first.
	if got := js[string](e, `document.querySelector(".designs .what a").textContent`); !strings.HasSuffix(got, ".dst") {
		t.Errorf("the list begins with %q, not with a file", got)
	}
}
