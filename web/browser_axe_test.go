package web_test

import (
	"context"
	"os"
	"strings"
	"testing"

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
	paths := []string{
		"/designs", "/designs/" + design.ID, "/designs/" + s.design("larkess-ferry.dst").ID + "/audit", "/machines", "/machines/" + m.ID,
		"/machines/" + m.ID + "/testpiece", "/time", "/time/axe-timing-0001?design=" + design.ID + "&machine=" + m.ID + "&speed=900",
		"/compare", "/compare/" + setup(shop.MixSetup), "/floor", "/floor/" + setup(shop.FloorSetup) + "?more=1", "/settings",
	}
	for _, phone := range []bool{false, true} {
		w, h := int64(1280), int64(900)
		if phone {
			w, h = 390, 844
		}
		e, first := s.look(tab, w, h), empty.look(tab, w, h)
		e.dark(phone)
		first.dark(phone)
		first.passesAxe("/")
		for i, p := range paths {
			if phone || i < 5 && !testing.Short() { // what only the colours and the width can change is seen on these
				e.passesAxe(p)
			}
		}
	}
}

// passesAxe opens a page and holds it against axe-core; it must not be wider
// than its window either.
func (e *eyes) passesAxe(path string) {
	e.t.Helper()
	axe, err := os.ReadFile("testdata/axe.min.js")
	if err != nil {
		e.t.Fatal(err)
	}
	e.open(path)
	e.until(`document.readyState === "complete" && (!document.querySelector("[data-run]") || document.querySelector("[data-run][data-ready] .cloth[data-frames]"))`)
	js[bool](e, `(() => { for (const d of document.querySelectorAll("details")) d.open = true; return true; })()`)
	js[bool](e, string(axe)+"\n;true")
	found := js[[]string](e, `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then(r => r.violations.flatMap(v => v.nodes.slice(0, 3).map(n => v.id + ": " + n.html.slice(0, 160) + " — " + (n.any[0]?.message || n.all[0]?.message || n.none[0]?.message || v.help))))`)
	if len(found) > 0 {
		e.t.Errorf("%s: %s", path, strings.Join(found, "\n  "))
	}
	if wide := js[float64](e, `document.documentElement.scrollWidth - innerWidth`); wide > 1 {
		which := js[[]string](e, `[...document.querySelectorAll("main *")].filter(x => x.getBoundingClientRect().right > innerWidth + 1 && !x.closest(".tablebox")).slice(0, 4).map(x => x.outerHTML.slice(0, 120))`)
		e.t.Errorf("%s: the page is %v px wider than the window: %s", path, wide, strings.Join(which, "\n  "))
	}
}
