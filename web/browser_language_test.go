package web_test

import (
	"context"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"needlepace/ask"
	"needlepace/words"
)

// tooWide finds what does not fit: the page beside its window, and text cut off or
// run out of what it stands in.
const tooWide = `(() => {
	const bad = document.documentElement.scrollWidth > innerWidth + 1 ? ["the page is " + document.documentElement.scrollWidth + " px wide"] : [];
	for (const x of document.querySelectorAll("main *, .top, .undo *")) {
		if (!x.checkVisibility() || x.closest(".vh, svg, .tablebox, nav, select, [hidden]")) continue;
		const s = getComputedStyle(x), r = x.getBoundingClientRect();
		if (r.width > 1 && r.right > innerWidth + 1) bad.push("beside the window: " + x.outerHTML.slice(0, 120));
		if (/^(BUTTON|A|LABEL|DT|DD|H1|H2|P|SPAN|SMALL|SUMMARY|LI)$/.test(x.tagName) && s.display !== "inline" && x.scrollWidth > x.clientWidth + 1 && x.clientWidth > 0)
			bad.push(x.scrollWidth + " px in " + x.clientWidth + ": " + x.outerHTML.slice(0, 120));
	}
	return bad.slice(0, 6);
})()`

// A language is chosen on the phone and remembered; in none of them do the pages of
// operators break at the width of a phone or a tablet. Where NEEDLEPACE_LOOK names a
// folder, pictures of them are put there.
func testLanguages(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	if _, err := s.shop.MakePlan(t.Context(), ask.PlanQuestion{Now: s.shop.Now(), Seed: 1, NoBound: true, Moves: 100}, ""); err != nil {
		t.Fatal(err)
	}
	e := s.look(tab, 390, 844)
	at := "machine=" + s.machine("Gannet").ID
	e.open("/time")
	for _, l := range words.Languages()[1:] {
		tag := l.Tag.String()
		e.click(`.helplink a[href^="/language"]`)
		e.click(`button[value="` + tag + `"]`)
		e.until(`location.pathname === "/time" && document.documentElement.lang === "` + tag + `"`)
		pages := map[string]string{"runsheet": "/orders/1001/runsheet?" + at, "record": "/orders/1001/record?" + at,
			"timing": "/time/language-" + tag + "-0001?speed=700&design=" + s.design("gull-cap.dst").ID + "&" + at}
		if !testing.Short() {
			pages["time"], pages["wall"] = "/time", "/today/wall"
		}
		for name, path := range pages {
			e.open(path)
			if name == "timing" { // what its script says
				e.until(`document.querySelector("[data-hint]").innerText.length > 0`)
				hint := words.Say("timing.hint-start").Text(&words.Writer{Language: l})
				if got := e.text("[data-hint]"); got != hint {
					t.Errorf("in %s the button says %q, want %q", tag, got, hint)
				}
			}
			for _, w := range []int64{390, 1024} {
				e.do(chromedp.EmulateViewport(w, 844))
				e.until(`innerWidth === ` + words.Fixed(float64(w), 0).Raw())
				if bad := js[[]string](e, tooWide); len(bad) > 0 {
					t.Errorf("%s in %s at %d px:\n  %s", name, tag, w, strings.Join(bad, "\n  "))
				}
				if dir := os.Getenv("NEEDLEPACE_LOOK"); dir != "" {
					b, err := chromedp.Run(e.ctx, chromedp.FullScreenshot(80))
					if err != nil {
						t.Fatal(err)
					}
					if err := os.WriteFile(dir+"/"+name+"-"+tag+"-"+words.Fixed(float64(w), 0).Raw()+".jpg", b, 0o600); err != nil {
						t.Fatal(err)
					}
				}
			}
			e.do(chromedp.EmulateViewport(390, 844))
		}
		if tag == "vi" { // the longest words, and letters of their own
			e.passesAxe("/language")
		}
		e.open("/time")
	}
}
