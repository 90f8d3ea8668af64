package web_test

import (
	"context"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// The key / opens one line on every page; the menu's words and the shop's things
// are chosen in it by the keyboard alone.
func testFind(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	e := s.look(tab, 390, 844)
	e.open("/machines")
	e.until(`document.querySelector(".top nav a")`)
	e.until(`document.querySelector("[aria-keyshortcuts]")`)
	e.do(chromedp.KeyEvent("/"))
	e.until(`document.querySelector(".palette:popover-open input") === document.activeElement`)
	if js[bool](e, `document.querySelector(".palette").matches(":modal")`) {
		t.Error("all else on the page is made inert, which takes a long list 0.15 s")
	}
	if js[string](e, `document.activeElement.value`) != "" {
		t.Error("the key itself was typed")
	}
	e.passesAxeHere("find from the keyboard")
	e.do(chromedp.KeyEvent("gull ca"))
	e.until(`[...document.querySelectorAll(".palette li")].some((li) => li.innerText.includes("Designs"))`)
	for range 20 {
		if js[bool](e, `document.querySelector(".palette li[aria-selected=true]")?.innerText.includes("Designs")`) {
			break
		}
		e.do(chromedp.KeyEvent(kb.ArrowDown))
	}
	e.do(chromedp.KeyEvent(kb.Enter))
	e.until(`location.pathname === "/designs/` + s.design("gull-cap.dst").ID + `"`)
	// The menu's own words.
	e.until(`document.querySelector("[aria-keyshortcuts]")`)
	e.do(chromedp.KeyEvent("/"))
	e.until(`document.querySelector(".palette:popover-open")`)
	for _, k := range []string{kb.Escape, kb.Tab} { // each leaves it, and / opens it again
		e.do(chromedp.KeyEvent(k))
		e.until(`!document.querySelector(".palette:popover-open")`)
		js[bool](e, `(document.activeElement.blur(), true)`)
		e.do(chromedp.KeyEvent("/"))
		e.until(`document.querySelector(".palette:popover-open input") === document.activeElement`)
	}
	js[bool](e, `(() => { const i = document.querySelector(".palette input"); i.value = "Máchi"; return i.dispatchEvent(new Event("input", {bubbles: true})); })()`) // accents are none
	e.until(`document.querySelector(".palette li[aria-selected=true] span")?.innerText === "Machines"`)
	e.click(".palette li[aria-selected=true] span") // by a pointer too
	e.until(`location.pathname === "/machines" && document.querySelector("[aria-keyshortcuts]")`)
	js[bool](e, `document.dispatchEvent(new KeyboardEvent("keydown", {key: "k", ctrlKey: true, bubbles: true, cancelable: true})), true`)
	e.until(`document.querySelector(".palette:popover-open")`)
	e.do(chromedp.KeyEvent("ord"))
	e.until(`document.querySelector(".palette li[aria-selected=true] span")?.innerText === "Orders"`)
	e.do(chromedp.KeyEvent(kb.Enter))
	e.until(`location.pathname === "/orders"`)
	// The page of it, as one types.
	e.passesAxe("/find?find=harb")
	e.click("input[name=find]")
	e.do(chromedp.KeyEvent("/")) // in a field it is a letter
	e.until(`document.activeElement.value.includes("/") && !document.querySelector(".palette:popover-open")`)
	js[bool](e, `(() => { const i = document.querySelector("input[name=find]"); i.value = "gan"; return i.dispatchEvent(new Event("input", {bubbles: true})); })()`)
	e.until(`document.querySelector(".found a")?.innerText === "Gannet"`)

	// Of many designs what fits is offered as one types its name.
	e.do(chromedp.Navigate(filledShop(t, 250) + "/time"))
	e.click("input[data-design]")
	e.do(chromedp.KeyEvent("cap 24"))
	e.until(`[...document.querySelector("input[data-design]")?.list?.options || []].some((o) => o.value === "Cap 249")`)
	e.passesAxeHere("the time page of many designs")
	e.do(chromedp.KeyEvent("9"))
	e.click("form[action='/time/new'] button.main")
	e.until(`document.querySelector("h1")?.innerText.includes("Cap 249")`)
	e.do(chromedp.Navigate("about:blank")) // that shop closes before the tab, which listens to it
}
