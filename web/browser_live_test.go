package web_test

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/shop/visits"
)

// testStandingPages has somebody read one machine, one design, a quote, a run sheet and what was changed while another
// works elsewhere: each page shows it by itself, marks it, and leaves alone what is being filled in.
func testStandingPages(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	e := s.look(tab, 1440, 900)
	ctx := t.Context()
	o, err := s.shop.Orders.Get(ctx, "1005")
	if err != nil {
		t.Fatal(err)
	}
	machines, err := s.shop.Machines.List(ctx)
	if err != nil {
		t.Fatal(err)
	}
	design, m := o.Lines[0].DesignID, machines[0]
	post := func(path string, form url.Values) {
		t.Helper()
		res, err := http.PostForm(s.url+path, form)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // not read
		if res.StatusCode != http.StatusOK {
			t.Fatalf("%s: status %d", path, res.StatusCode)
		}
	}
	rename := func(name string) {
		t.Helper()
		post("/designs/"+design, url.Values{"name": {name}, "customer": {""}, "note": {""}})
	}
	// stands opens a page and waits until nobody's finger is on it.
	stands := func(path string) {
		t.Helper()
		e.open(path)
		e.until(`document.documentElement.dataset.live === "on"`)
		time.Sleep(time.Second)
	}

	// Another run of the machine; a field that is being filled in is not touched until it is empty again.
	timed := func(note string) {
		t.Helper()
		post("/machines/"+m.ID+"/runs", url.Values{"date": {"2026-09-01"}, "design": {design}, "set_speed": {"700"}, "time": {"19:00"}, "note": {note}, "sure": {"on"}})
	}
	stands("/machines/" + m.ID)
	timed("by the window")
	e.until(`[...document.querySelectorAll("main .changed")].map((r) => r.nodeName + r.innerText.includes("by the window")).join() === "TRtrue"`)
	js[bool](e, `(() => { const f = document.querySelector("#timed form [name=note]"); f.closest("details").open = true; f.value = "typed"; return true; })()`)
	timed("by the door")
	time.Sleep(1500 * time.Millisecond)
	if js[bool](e, `document.querySelector("#timed").innerText.includes("by the door")`) {
		t.Error("the machine's page changed while a form on it was being filled in")
	}
	js[bool](e, `document.querySelector("#timed form [name=note]").value = "", true`)
	e.until(`document.querySelector("#timed").innerText.includes("by the door") && document.querySelector("#timed form [name=note]").closest("details").open`)

	// The design gets another name while its drawing is at some stitch.
	stands("/designs/" + design)
	e.until(`document.querySelector("[data-run]").dataset.ready`)
	js[bool](e, `document.querySelector("[data-run]").mine = true`)
	rename("Gate, second state")
	e.until(`document.querySelector("h1").innerText === "Gate, second state" && document.querySelector("[data-run]").mine === true`)

	// The order's quantity on its quote and its run sheet.
	change := func(quantity int) {
		t.Helper()
		if o, err = s.shop.Orders.Get(ctx, "1005"); err != nil {
			t.Fatal(err)
		}
		o.Lines[0].Quantity = quantity
		if _, _, err := s.shop.ChangeOrder(ctx, *o, ""); err != nil {
			t.Fatal(err)
		}
	}
	for i, path := range []string{"/orders/1005/quote", "/orders/1005/runsheet?machine=" + m.ID} {
		stands(path)
		change(517 + i)
		e.until(`document.querySelector("main").innerText.includes("` + strconv.Itoa(517+i) + `")`)
	}

	// A comparison gets another name, and a floor; in one that is being filled in nothing moves under the hand.
	for at, kind := range map[string]shop.SetupKind{"/compare/": shop.MixSetup, "/floor/": shop.FloorSetup} {
		all, err := s.shop.Setups.List(ctx, kind)
		if err != nil {
			t.Fatal(err)
		}
		stands(at + all[0].ID)
		if _, err := s.shop.Setups.Save(ctx, shop.Setup{ID: all[0].ID, Kind: kind, Name: "Another name", TOML: all[0].TOML, Version: all[0].Version}); err != nil {
			t.Fatal(err)
		}
		e.until(`document.querySelector("h1").innerText === "Another name"`)
	}

	// A visit, and what somebody brings into it.
	v, err := s.shop.Visits.Begin(ctx, "Saltmere", "", "")
	if err != nil {
		t.Fatal(err)
	}
	stands("/visits")
	if _, err := s.shop.Visits.Describe(ctx, v.ID, v.Version, "Saltmere, second day", "", ""); err != nil {
		t.Fatal(err)
	}
	e.until(`document.querySelector("main").innerText.includes("Saltmere, second day")`)
	bring := func(name string) {
		t.Helper()
		if err := s.shop.Visits.Put(ctx, v.ID, "", visits.File{Name: "notes/" + name, As: []byte("seen")}); err != nil {
			t.Fatal(err)
		}
	}
	bring("first.txt")
	stands("/visits/" + v.ID)
	bring("second.txt")
	e.until(`[...document.querySelectorAll("main .changed")].map((r) => r.nodeName + r.innerText.includes("second.txt")).join() === "LItrue"`)

	// What was changed, as it is changed.
	if stands("/history"); !testing.Short() {
		testNothingMovesUnderAHand(t, e, rename)
	}
	testChangedUnseen(t, e, rename)
	stands("/history")
	rename("Gate, third state")
	e.until(`[...document.querySelectorAll("main .changed")].map((r) => r.nodeName + r.innerText.includes("Gate, third state")).join() === "LItrue"`)
}

// testChangedUnseen has somebody look elsewhere while something changes: the page shows it once it is seen again.
func testChangedUnseen(t *testing.T, e *eyes, rename func(string)) {
	t.Helper()
	seen := func(hidden string) {
		js[bool](e, `(Object.defineProperty(document, "hidden", {value: `+hidden+`, configurable: true}), document.dispatchEvent(new Event("visibilitychange")), true)`)
	}
	seen("true")
	rename("Gate, unseen")
	time.Sleep(400 * time.Millisecond)
	if js[bool](e, `document.querySelector("main").innerText.includes("Gate, unseen")`) {
		t.Error("a page that nobody sees is made anew")
	}
	seen("false")
	e.until(`document.querySelector("main").innerText.includes("Gate, unseen")`)
}

// testNothingMovesUnderAHand: under a finger, a selection or what is typed a page stands still, and shows what changed
// once it is left.
func testNothingMovesUnderAHand(t *testing.T, e *eyes, rename func(string)) {
	t.Helper()
	for i, c := range []struct{ what, begin, end string }{
		{"a finger", `document.body.dispatchEvent(new PointerEvent("pointerdown", {bubbles: true}))`, `document.body.dispatchEvent(new PointerEvent("pointerup", {bubbles: true}))`},
		{"a selection", `getSelection().selectAllChildren(document.querySelector(".changes li"))`, `getSelection().removeAllRanges()`},
		{"a field", `document.querySelector("main").append(Object.assign(document.createElement("input"), {id: "np-typed"})), document.querySelector("#np-typed").focus()`, `document.querySelector("#np-typed").remove()`},
	} {
		name := fmt.Sprintf("Gate, hand %d", i)
		shows := `document.querySelector("main").innerText.includes("` + name + `")`
		js[bool](e, `(`+c.begin+`, true)`)
		rename(name)
		time.Sleep(1800 * time.Millisecond) // longer than a hand that was there counts
		if js[bool](e, shows) {
			t.Errorf("the page moves under %s", c.what)
		}
		js[bool](e, `(`+c.end+`, true)`)
		e.until(shows)
	}
}
