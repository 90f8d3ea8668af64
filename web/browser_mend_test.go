package web_test

import (
	"archive/zip"
	"bytes"
	"context"
	"slices"
	"strings"
	"testing"

	"needlepace/audit"
	"needlepace/shop"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// handDesign adds the ferry with a stop at which the frame is driven 80 mm out of
// the work, as for cloth to be laid, in place of its first colour stop.
func (s *testShop) handDesign() *shop.Design {
	s.t.Helper()
	ferry, err := s.shop.Designs.Stitches(s.t.Context(), s.design("larkess-ferry.dst").ID)
	if err != nil {
		s.t.Fatal(err)
	}
	d := *ferry
	at := slices.IndexFunc(d.Records, func(r stitch.Record) bool { return r.Op == stitch.ColourStop })
	var out []stitch.Record
	for _, dx := range []int16{-100, 100} {
		for range 8 {
			out = append(out, stitch.Record{Op: stitch.Jump, DX: dx})
		}
		if dx < 0 {
			out = append(out, stitch.Record{Op: stitch.ColourStop})
		}
	}
	d.Records = slices.Concat(d.Records[:at], out, d.Records[at+1:])
	var b bytes.Buffer
	if err := stitchfile.Encode(&b, &d, "dst"); err != nil {
		s.t.Fatal(err)
	}
	added, err := s.shop.AddFile(s.t.Context(), "hand.dst", b.Bytes())
	if err != nil || len(added) != 1 || added[0].Design == nil {
		s.t.Fatalf("%+v, %v", added, err)
	}
	return added[0].Design
}

// fetched is what a link on the page gives.
func (e *eyes) fetched(selector string) []byte {
	e.t.Helper()
	file := js[[]int](e, `fetch(document.querySelector(`+quote(selector)+`).href).then(r => r.arrayBuffer()).then(b => Array.from(new Uint8Array(b)))`)
	b := make([]byte, len(file))
	for i, v := range file {
		b[i] = byte(v)
	}
	return b
}

// stands are the stops of a mended file that are for a hand, and how many stops
// there are in all.
func stands(t *testing.T, file []byte, name string) (hands []audit.Stand, all int) {
	t.Helper()
	d, err := stitchfile.Decode(file, name)
	if err != nil {
		t.Fatal(err)
	}
	of, err := audit.Stands(d, nil, 3)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range of {
		if s.Why == audit.WhyAway {
			hands = append(hands, s)
		}
	}
	return hands, len(of)
}

// The form of a mend end to end: what is for a hand stays, what is named goes,
// and with all stops kept none does.
func testStopsOfAMend(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	d := s.handDesign()
	e := s.look(tab, 390, 844)
	old, err := s.shop.Designs.Stitches(t.Context(), d.ID)
	if err != nil {
		t.Fatal(err)
	}
	was, err := audit.Stands(old, nil, 3)
	if err != nil {
		t.Fatal(err)
	}
	hand := slices.IndexFunc(was, func(s audit.Stand) bool { return s.Why == audit.WhyAway })
	mend := func(ticks ...string) {
		t.Helper()
		e.open("/designs/" + d.ID + "/audit")
		e.until(`document.querySelector("#mend form")`)
		for _, tick := range ticks {
			e.click(`#mend input[` + tick + `]`)
		}
		e.click(`#mend button.main`)
	}
	shown := func() (hands []audit.Stand, all int) {
		t.Helper()
		e.until(`location.pathname.endsWith("/mended") && document.querySelector(".strips")`)
		if got := e.text("#t-kept_stops"); !strings.Contains(got, "the frame is driven out of the work") {
			t.Errorf("of the stops that stay the page says %q", got)
		}
		if wide := js[int](e, `document.documentElement.scrollWidth`); wide > 390 {
			t.Errorf("the page of the mend is %d px wide", wide)
		}
		if cut := js[string](e, `[...document.querySelectorAll(".tablebox")].filter(b => b.scrollWidth > b.clientWidth + 1).map(b => b.ariaLabel).join()`); cut != "" {
			t.Errorf("on a phone these tables are cut off: %s", cut)
		}
		return stands(t, e.fetched("a.button.main"), "mended.dst")
	}

	e.open("/designs/" + d.ID + "/audit")
	e.until(`document.querySelector("#mend form")`)
	if got := e.text("#mend"); !strings.Contains(got, "These are for a hand") ||
		!strings.Contains(got, "the frame is driven out of the work") || !strings.Contains(got, "take out stop") {
		t.Fatalf("the form of a mend says %q", got)
	}
	if small := js[string](e, `[...document.querySelectorAll("#mend .tick, #mend button:not(.term)")].filter(x => x.getBoundingClientRect().height < 44).map(x => x.innerText).join()`); small != "" {
		t.Errorf("smaller than a finger: %s", small)
	}
	free := js[string](e, `document.querySelector("#mend input[name=release]").value`)

	mend("name=release", "name=keep_stops") // both cannot be
	e.until(`document.querySelector("[role=alert]")`)
	if got := e.text("main"); !strings.Contains(got, "all stops are to stay, and stop "+free+" is named to go") && !strings.Contains(got, "All stops are to stay, and stop "+free+" is named to go") {
		t.Errorf("both were ticked; the page says %.300s", got)
	}
	if on := js[int](e, `document.querySelectorAll("#mend input[name=release]:checked, #mend input[name=keep_stops]:checked").length`); on != 2 {
		t.Errorf("%d of the two ticks are still there", on)
	}

	mend()
	hands, plain := shown()
	if len(hands) != 1 || hands[0].X != was[hand].X || hands[0].Y != was[hand].Y || hands[0].Stitch != was[hand].Stitch {
		t.Errorf("the stop for a hand was %+v, is %+v", was[hand], hands)
	}
	mend("name=release")
	hands, fewer := shown()
	if len(hands) != 1 || hands[0].Stitch != was[hand].Stitch || fewer >= plain {
		t.Errorf("stop %s was released: %d stops, %d without; for a hand %+v", free, fewer, plain, hands)
	}
	mend("name=keep_stops")
	e.until(`location.pathname.endsWith("/mended") && document.querySelector(".strips")`)
	if got := e.text("#t-kept_stops"); strings.Count(got, "all stops are to stay") != len(was)-1 {
		t.Errorf("all %d stops were to stay; the page says %q", len(was), got)
	}
	if js[bool](e, `!!document.querySelector("a.button.main[download]")`) {
		if hands, all := stands(t, e.fetched("a.button.main"), "mended.dst"); all != len(was) || len(hands) != 1 {
			t.Errorf("all %d stops were to stay, %d are there", len(was), all)
		}
	}
}

// Ticked designs are mended together; one press adds those that are clear, and
// each can be opened.
func testMendMany(t *testing.T, tab context.Context) {
	s := serveShop(t, true)
	hand := s.handDesign()
	e := s.look(tab, 390, 844)
	e.open("/designs?search=Gull")
	e.until(`document.querySelectorAll(".designs tbody tr").length === 2`)
	e.click(`.designs .fact a`) // the customer's name
	e.until(`location.search.includes("customer=") && document.querySelector("h1").innerText.startsWith("Designs of Gull")`)
	e.click(`#pick a.button`)
	e.until(`document.querySelectorAll("input[name=design]:checked").length === 2`)

	e.open("/designs")
	for _, id := range []string{hand.ID, s.design("larkess-ferry.dst").ID, s.design("whale-line.dst").ID} {
		e.click(`input[name=design][value="` + id + `"]`)
	}
	e.click(`#pick button`)
	e.until(`location.pathname === "/designs/mend" && document.querySelectorAll("input[name=design]:checked").length === 3`)
	if small := js[string](e, `[...document.querySelectorAll("form .tick, main .button")].filter(x => x.getBoundingClientRect().height < 44).map(x => x.innerText).join()`); small != "" {
		t.Errorf("smaller than a finger: %s", small)
	}
	e.passesAxe(js[string](e, `location.pathname + location.search`))
	js[string](e, `document.querySelector("select[name=format]").value = "exp"`)
	e.click(`main form button.main`)
	e.until(`location.pathname === "/designs/mended" && document.querySelector("#t-designs")`)
	for _, want := range []string{"Picture equal: proved", "Order the best possible", "look first", "operator’s stop"} {
		if got := e.text("main"); !strings.Contains(got, want) {
			t.Errorf("the page does not say %q: %s", want, got)
		}
	}
	if wide := js[int](e, `document.documentElement.scrollWidth`); wide > 390 {
		t.Errorf("the page is %d px wide", wide)
	}
	zipped := e.fetched(`a[href*="/designs/mended/zip"]`)
	z, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil || len(z.File) != 2 {
		t.Fatalf("%d bytes of zip: %v", len(zipped), err)
	}
	for _, f := range z.File {
		if !strings.HasSuffix(f.Name, "-mended.exp") {
			t.Errorf("asked for .exp, the zip has %s", f.Name)
		}
	}
	e.click(`#t-designs a[href*="` + hand.ID + `"]`)
	e.until(`location.pathname.endsWith("/mended") && document.querySelector(".strips") && document.querySelector("#t-kept_stops")`)
	if hands, _ := stands(t, e.fetched("a.button.main"), "mended.exp"); len(hands) != 1 {
		t.Errorf("stops for a hand: %+v", hands)
	}
	e.passesAxe(js[string](e, `location.pathname + location.search`))
	e.click(`.answer .away a`) // back to all
	e.until(`location.pathname === "/designs/mended" && document.querySelector("#t-designs")`)
	e.passesAxe(js[string](e, `location.pathname + location.search`))
	e.click(`form[action*="/designs/mended"] button`)
	e.until(`location.pathname === "/designs"`)
	names := js[string](e, `[...document.querySelectorAll(".designs .what > a")].map(a => a.innerText).join()`)
	if !strings.Contains(names, "larkess-ferry-mended.exp") || strings.Contains(names, "hand-mended") {
		t.Errorf("the list has %s", names)
	}
	if total := js[int](e, `document.querySelectorAll(".designs tbody tr").length`); total != 13 { // 10 of the demo, hand, two mended
		t.Errorf("%d designs", total)
	}
}
