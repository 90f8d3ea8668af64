package web_test

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"needlepace/ask"
	"needlepace/words"
)

// tooWide finds what does not fit: the page beside its window, and text cut off or
// run out of what it stands in. A plan's bar is as long as its hours, whatever is said in it: it is cut, and
// all of it stands under the pointer.
const tooWide = `(() => {
	const bad = document.documentElement.scrollWidth > innerWidth + 1 ? ["the page is " + document.documentElement.scrollWidth + " px wide"] : [];
	for (const x of document.querySelectorAll("main *, .top, .undo *")) {
		if (!x.checkVisibility() || x.closest(".vh, svg, .tablebox, nav, select, [hidden], .bars .says")) continue;
		const s = getComputedStyle(x), r = x.getBoundingClientRect();
		if (r.width > 1 && r.right > innerWidth + 1) bad.push("beside the window: " + x.outerHTML.slice(0, 120));
		if (/^(BUTTON|A|LABEL|DT|DD|H1|H2|P|SPAN|SMALL|SUMMARY|LI)$/.test(x.tagName) && s.display !== "inline" && x.scrollWidth > x.clientWidth + 1 && x.clientWidth > 0)
			bad.push(x.scrollWidth + " px in " + x.clientWidth + ": " + x.outerHTML.slice(0, 120));
	}
	for (const x of document.querySelectorAll(".tablebox:has(.cards)")) // on a phone a list, which has its words' room
		if (innerWidth <= 640 && x.scrollWidth > x.clientWidth + 1) bad.push("a list " + x.scrollWidth + " px wide in " + x.clientWidth + ": " + x.querySelector("table").id);
	const nav = document.querySelector(".top nav")?.getBoundingClientRect(), at = document.querySelector(".top nav [aria-current]")?.getBoundingClientRect();
	if (nav && at && (at.left < nav.left - 1 || at.right > nav.right + 1)) bad.push("the page's own entry in the menu is out of sight");
	return bad.slice(0, 6);
})()`

// A language is chosen on the phone and remembered; in none of them do the pages of
// operators, or of an adviser, break at the width of a phone or a tablet. Where NEEDLEPACE_LOOK
// names a folder, pictures of them are put there.
func testLanguages(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	if _, err := s.shop.MakePlan(t.Context(), ask.PlanQuestion{Now: s.shop.Now(), Seed: 1, NoBound: true, Moves: 100}, ""); err != nil {
		t.Fatal(err)
	}
	visit, err := s.shop.BeginVisit(t.Context(), "Harbour", "Quay Embroidery", "")
	if err != nil {
		t.Fatal(err)
	}
	visits := "/visits/" + visit.ID
	toml := fmt.Sprintf("name = \"Bay\"\ncloth = \"twill\"\nthread = \"polyester\"\nneedle = \"75\"\nrepeats = 2\n[[place]]\nname = \"bay\"\n"+
		"[[design]]\nname = \"gull\"\nfile = \"shop:%s\"\n[[machine]]\nname = \"Ours\"\nsheet = \"shop:%s\"\nplace = \"bay\"\nspeed = 700\n"+
		"[[machine]]\nname = \"Offer\"\nsheet = \"single-15-light\"\nplace = \"bay\"\nspeed = 900\n", s.design("gull-cap.dst").ID, s.machine("Gannet").ID)
	if _, err := s.shop.KeepTrial(t.Context(), visit.ID, "bay", "", []byte(toml), nil); err != nil {
		t.Fatal(err)
	}
	call := fmt.Sprintf("name = \"Gull\"\nadviser = \"Bay\"\ncloth = \"twill\"\nthread = \"polyester\"\nneedle = \"75\"\n[[design]]\nname = \"gull\"\nfile = \"shop:%s\"\n",
		s.design("gull-cap.dst").ID)
	if _, err := s.shop.KeepCall(t.Context(), visit.ID, "gull", "", []byte(call), nil); err != nil {
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
			"timing": "/time/language-" + tag + "-0001?speed=700&design=" + s.design("gull-cap.dst").ID + "&" + at,
			"today":  "/today", "listen": "/designs/" + s.design("gull-cap.dst").ID + "/listen?" + at}
		if !testing.Short() || tag == "vi" {
			pages["trial"], pages["plan"], pages["visit"] = visits+"/trials/bay", visits+"/plan?trial=bay", visits
			pages["of-the-shop"], pages["what-if"], pages["thread"] = "/plan", "/plan/try", "/plan/thread"
			pages["designs"], pages["machines"], pages["orders"] = "/designs", "/machines", "/orders"
			pages["design"], pages["order"] = "/designs/"+s.design("gull-cap.dst").ID, "/orders/1001"
			pages["history"], pages["fleet"] = "/history", "/plan/fleet"
		}
		if !testing.Short() {
			pages["time"], pages["wall"], pages["visits"], pages["call"] = "/time", "/today/wall", "/visits", visits+"/calls/gull"
			pages["grade"], pages["call-plan"] = visits+"/trials/bay/grade?grader=Ada", visits+"/call?call=gull"
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
				js[bool](e, `new Promise((then) => requestAnimationFrame(() => requestAnimationFrame(() => then(true))))`)
				if bad := js[[]string](e, tooWide); len(bad) > 0 {
					t.Errorf("%s in %s at %d px:\n  %s", name, tag, w, strings.Join(bad, "\n  "))
				}
				if dir := os.Getenv("NEEDLEPACE_LOOK"); dir != "" {
					b, err := chromedp.Run(e.ctx, chromedp.FullScreenshot(100))
					if err != nil {
						t.Fatal(err)
					}
					if err := os.WriteFile(dir+"/"+name+"-"+tag+"-"+words.Fixed(float64(w), 0).Raw()+".png", b, 0o600); err != nil {
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
