package web_test

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"needlepace/shop"
)

// What was done is taken back at the foot of the next page: by the button, which
// the keyboard reaches, by Ctrl+Z, and later from the list of what was changed.
func testUndo(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	e := s.look(tab, 1440, 900)
	name := `document.querySelector("[name=shop_name]").value`
	e.open("/settings")
	was := js[string](e, name)
	js[bool](e, `document.querySelector("[name=shop_name]").value = "Mended Sails", true`)
	e.click("form[action='/settings'] .button")
	e.until(`document.querySelector("[data-take-back] [role=status]")?.textContent === "Settings changed"`)
	if now := js[string](e, name); now != "Mended Sails" {
		t.Fatalf("the shop is called %q", now)
	}
	// From the last link of the page's main part, Tab leads to it.
	js[bool](e, `[...document.querySelectorAll("main a, main button")].filter(x => x.checkVisibility()).at(-1).focus(), true`)
	for range 20 {
		if js[bool](e, `document.activeElement?.closest("[data-take-back]") !== null`) {
			break
		}
		e.do(chromedp.KeyEvent("\t"))
	}
	e.do(chromedp.KeyEvent("\r"))
	e.until(`document.querySelector("[data-take-back] [role=status]")?.textContent === "Taken back: Settings changed"`)
	if now := js[string](e, name); now != was || js[string](e, `location.pathname`) != "/settings" {
		t.Errorf("taken back, the shop is called %q, want %q, at %s", now, was, js[string](e, `location.pathname`))
	}
	// In a field, and with more keys, Ctrl+Z is the browser's.
	js[bool](e, `(window.npHere = true, document.querySelector("[name=shop_name]").dispatchEvent(new KeyboardEvent("keydown", {key: "z", ctrlKey: true, bubbles: true})),
		document.dispatchEvent(new KeyboardEvent("keydown", {key: "z", ctrlKey: true, shiftKey: true, bubbles: true})), true)`)
	time.Sleep(400 * time.Millisecond)
	if !js[bool](e, `window.npHere === true`) {
		t.Error("what was typed is taken back, and the change before it with it")
	}
	js[bool](e, `document.dispatchEvent(new KeyboardEvent("keydown", {key: "z", ctrlKey: true, bubbles: true})), true`)
	e.until(`document.querySelector("[data-take-back] [role=status]")?.textContent === "Done again: Settings changed"`)

	// A comparison is taken away without a question; its page comes back with it.
	all, err := s.shop.Setups.List(t.Context(), shop.MixSetup)
	if err != nil {
		t.Fatal(err)
	}
	e.open("/compare/" + all[0].ID)
	js[bool](e, `document.querySelectorAll("details").forEach((d) => d.open = true), true`)
	e.click("form[action$='/remove'] .button")
	e.until(`location.pathname === "/compare" && document.querySelector("[data-take-back]")`)
	e.open("/history")
	e.until(`document.querySelector(".changes li")`)
	e.click(".changes li:first-child button")
	e.until(`document.querySelector(".changes li .did")?.textContent.includes("Taken back: Comparison")`)
	if again, err := s.shop.Setups.Get(t.Context(), all[0].ID); err != nil || again.TOML != all[0].TOML {
		t.Errorf("the comparison is not back as it was: %v", err)
	}
	// A change upon a change: the first is refused, and says why.
	change := `(async (name) => { const f = new FormData(document.querySelector("form[action='/settings']")); f.set("shop_name", name);
		await fetch("/settings", {method: "POST", body: new URLSearchParams([...f])}); return true; })`
	e.open("/settings")
	js[bool](e, change+`("One")`)
	js[bool](e, change+`("Two")`)
	e.open("/history")
	e.click(".changes li:nth-child(2) button")
	e.until(`document.querySelector(".told.bad")?.textContent.includes("changed again since")`)

	for _, w := range []int64{1440, 1024, 390} {
		for _, dark := range []bool{false, true} {
			if testing.Short() && dark != (w == 390) {
				continue
			}
			look := s.look(tab, w, 844)
			look.dark(dark)
			look.open("/settings")
			js[bool](look, change+`("Harbour")`)
			look.open("/history")
			look.until(`document.querySelector("[data-take-back]")`)
			look.open("/settings")
			js[bool](look, change+`("Harbour again")`)
			look.passesAxe("/history")
		}
	}
	if !testing.Short() { // it goes away by itself
		time.Sleep(11 * time.Second)
		e.until(`!document.querySelector("[data-take-back]")`)
	}
}
