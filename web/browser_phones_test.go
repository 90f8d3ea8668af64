package web_test

import (
	"bytes"
	"context"
	"errors"
	"image/png"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"needlepace/shop"
	"needlepace/web/browser"
	"needlepace/web/door"
)

// testPhones walks from a shut door to a run timed on a phone: the page on the
// computer, one browser that does not trust the shop and one that does, each
// with a home of its own.
func testPhones(t *testing.T, tab context.Context) {
	d := door.New(door.Options{File: filepath.Join(t.TempDir(), "authority.pem"), Address: "127.0.0.1:0",
		Places: func() []string { return []string{browser.Host, "127.0.0.1"} }})
	s := serveShopWith(t, true, d)
	desk := s.look(tab, 1440, 900)
	desk.open("/settings/phones")
	if d.Port() != "" {
		t.Fatal("the door is open before anybody asked")
	}
	desk.click(`form[action="/settings/phones/door"] button`)
	desk.until(`document.querySelector('form[action="/settings/phones"]')`)
	authority, err := d.Authority()
	if err != nil {
		t.Fatal(err)
	}
	if shown := desk.text("#authority .print"); shown != authority.Fingerprint() {
		t.Errorf("the fingerprint shown is %q, it is %q", shown, authority.Fingerprint())
	}
	desk.do(chromedp.SendKeys(chromedp.CSS(`[name="name"]`), "Bay 2"))
	desk.click(`form[action="/settings/phones"] button.main`)
	desk.until(`document.querySelectorAll("svg.code").length === 2`)
	list := s.look(tab, 1024, 768) // of all phones, at another desk, where the next one's name is being typed
	list.open("/settings/phones")
	list.set(`[name="name"]`, "Bay 4")
	list.until(`document.querySelector(".phones li").innerText.includes("not in yet")`)
	trust, enter := desk.decodes(0), desk.decodes(1)
	code := strings.ReplaceAll(desk.text("[data-phone-code]"), " ", "")
	if want := d.Origin("http", browser.Host) + "/trust"; trust != want {
		t.Errorf("the first code holds %q, want %q", trust, want)
	}
	if want := d.Origin("https", browser.Host) + "/phone#" + code; len(code) != 16 || enter != want {
		t.Errorf("the second code holds %q, want %q", enter, want)
	}

	// A phone that was not told to trust the shop is stopped by its own browser.
	phone := s.look(tab, 390, 844)
	if err := chromedp.Do(phone.ctx, chromedp.Navigate(enter)); err == nil || !strings.Contains(err.Error(), "ERR_CERT_AUTHORITY_INVALID") {
		t.Errorf("a browser that does not trust the authority: %v", err)
	}
	// Scanned, it learns how.
	phone.do(chromedp.Navigate(trust))
	phone.until(`document.querySelectorAll(".steps li svg").length === 9`)
	if js[bool](phone, `isSecureContext`) {
		t.Error("a page without HTTPS is a secure context: the test proves nothing")
	}
	phone.do(chromedp.Navigate(strings.TrimSuffix(trust, "trust") + "designs"))
	phone.until(`location.pathname === "/trust"`)

	trusting, stop, err := browser.Start(t.Context(), authority.Cert)
	if errors.Is(err, browser.ErrNoTrust) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	phone = s.look(trusting, 390, 844)
	phone.url = d.Origin("https", browser.Host)
	phone.open("/time")
	phone.until(`location.pathname === "/phone"`) // not let in yet
	phone.do(chromedp.Navigate(enter))
	phone.until(`document.querySelector("[name=code]").value.length === 16`)
	if at := js[string](phone, `location.href`); strings.Contains(at, code) {
		t.Errorf("the code stays in the address: %s", at)
	}
	if !js[bool](phone, `isSecureContext && !!navigator.mediaDevices && "wakeLock" in navigator`) {
		t.Error("the page is no secure context, or has no media devices")
	}
	phone.passesAxe("/phone")
	phone.do(chromedp.Navigate("about:blank"), chromedp.Navigate(enter))
	phone.until(`document.querySelector("[name=code]").value.length === 16`)
	phone.click("form[data-code] button.main")
	phone.until(`location.pathname === "/today"`)
	if js[string](phone, `document.cookie`) != "" {
		t.Error("scripts can read the phone's session")
	}
	// The computer sees it come in, in the list too.
	desk.until(`!document.querySelector("[data-waits]")`)
	list.until(`document.querySelector(".phones li").innerText.includes("As operator since")`)
	if typed := js[string](list, `document.querySelector('[name="name"]').value`); typed != "Bay 4" {
		t.Errorf("as a phone comes in, of the next one's name is left %q", typed)
	}
	desk.open("/settings/phones")
	if says := desk.text(".phones li"); !strings.HasPrefix(says, "Bay 2 As operator since") {
		t.Errorf("the list says %q", says)
	}
	// The same code again.
	phone.do(chromedp.Navigate("about:blank"), chromedp.Navigate(enter))
	phone.until(`document.querySelector("[name=code]").value.length === 16`)
	phone.click("form[data-code] button.main")
	phone.until(`document.querySelector(".told.bad")`)

	phone.timesARun(s)

	// Taken out, it is out at once.
	all, err := s.shop.Phones.List(t.Context())
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	if err := s.shop.Phones.TakeOut(t.Context(), &shop.Account{Role: shop.Owner}, all[0].ID); err != nil {
		t.Fatal(err)
	}
	phone.open("/time")
	phone.until(`location.pathname === "/phone"`)

	// Every page of it is accessible, wide and narrow, light and dark.
	p, err := s.shop.Phones.Ask(t.Context(), &shop.Account{Role: shop.Owner}, "Bay 3", shop.Operator)
	if err != nil {
		t.Fatal(err)
	}
	for _, narrow := range []bool{false, true} {
		w := int64(1280)
		if narrow {
			w = 390
		}
		e := s.look(tab, w, 844)
		e.dark(narrow)
		for _, path := range []string{"/settings/phones", "/settings/phones/" + p.ID, "/trust"} {
			e.passesAxe(path)
		}
	}
}

// timesARun presses through a run as who stands at the machine does.
func (e *eyes) timesARun(s *testShop) {
	e.t.Helper()
	design, m := s.design("whale-line.dst"), s.machine("Gannet")
	e.open("/time/new?design=" + design.ID + "&machine=" + m.ID + "&speed=700")
	e.until(`document.querySelector("[data-press]") && document.querySelector("[data-does]").innerText`)
	for range 2 + 2*design.ColourStops {
		e.click("[data-press]")
		time.Sleep(1100 * time.Millisecond) // no run is shorter than a second
	}
	e.until(`!document.querySelector("[data-done]").hidden`)
	e.keepsTimes()
	e.until(`!document.querySelector("[data-after]").hidden`)
	runs, err := s.shop.Timings.Runs(e.t.Context(), m.ID)
	if err != nil || len(runs) == 0 {
		e.t.Errorf("nothing was kept of the run: %v", err)
	}
}

// decodes reads the nth code of the page off a picture of it, as a camera does,
// with a library that is not the one that wrote it.
func (e *eyes) decodes(n int) string {
	e.t.Helper()
	js[bool](e, `document.querySelectorAll("svg.code").forEach((c, i) => c.classList.toggle("np-nth", i === `+string(rune('0'+n))+`)), true`)
	b, err := chromedp.Run(e.ctx, chromedp.ScreenshotScale(chromedp.CSS("svg.np-nth"), 3))
	if err != nil {
		e.t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		e.t.Fatal(err)
	}
	bits, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		e.t.Fatal(err)
	}
	read, err := qrcode.NewQRCodeReader().Decode(bits, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	if err != nil {
		// The library takes data for a corner in 4 or 5 of 2,000 addresses of a
		// shop, whatever the picture's size; told that the picture is nothing but
		// a code, it read all 2,000.
		read, err = qrcode.NewQRCodeReader().Decode(bits, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_PURE_BARCODE: true})
	}
	if err != nil {
		e.t.Fatalf("code %d cannot be read: %v", n, err)
	}
	return read.GetText()
}
