package web_test

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/clock"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/sound/synth"
	"needlepace/stitchfile"
	"needlepace/web/browser"
)

// TestARunIsHeardByTheMicrophone records a run of a drawn machine through the
// browser's microphone, has it heard and keeps its times; then the same from a file,
// with the shop out of reach for a while.
func TestARunIsHeardByTheMicrophone(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(4, 4))
	var file bytes.Buffer
	if err := stitchfile.Encode(&file, synth.Design(250, rng), "dst"); err != nil {
		t.Fatal(err)
	}
	d, err := stitchfile.Decode(file.Bytes(), "heard.dst")
	if err != nil {
		t.Fatal(err)
	}
	class, _ := machine.Class("single-15-1200")
	run := synth.Perform(d, class, synth.Script{Job: clock.Job{Speed: 900}, Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1, Lead: 5, Tail: 3}, rng)
	wav := filepath.Join(t.TempDir(), "run.wav")
	f, err := os.Create(wav)
	if err == nil {
		err = errors.Join(synth.WAV(f, run.Record(synth.Quiet, rng), synth.Rate), f.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
	tab, stop, err := browser.StartHearing(t.Context(), wav)
	if errors.Is(err, browser.ErrNone) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	s := serveShop(t, false)
	added, err := s.shop.AddFile(t.Context(), "heard.dst", file.Bytes())
	if err != nil || len(added) != 1 {
		t.Fatalf("%+v, %v", added, err)
	}
	m, err := s.shop.Machines.AddOfClass(t.Context(), "single-15-1200", "Heron", "")
	if err != nil {
		t.Fatal(err)
	}
	e := s.look(tab, 390, 844)
	e.open("/time?design=" + added[0].Design.ID + "&machine=" + m.ID)
	e.click("button[formaction='/listen']")
	e.until(`document.querySelector("[data-record]:not([hidden])")`)
	if text := e.text("main"); !strings.Contains(text, "Keep hands clear") || !strings.Contains(text, "not on the table that moves") {
		t.Errorf("no cautions: %s", text)
	}
	e.click("[data-record]")
	e.until(`document.querySelector(".hearing").dataset.signal === "good"`)
	time.Sleep(time.Duration(run.Seconds * float64(time.Second)))
	if where := e.text("[data-where]"); !strings.Contains(where, fmt.Sprintf("%d", added[0].Design.Stitches)) {
		t.Errorf("the page believes %q of %d stitches", where, added[0].Design.Stitches)
	}
	e.click("[data-record]")
	e.until(`!document.querySelector("[data-hear]").hidden`)
	e.click("[data-hear] button")
	e.until(`document.querySelector("form[action$='/keep']")`)
	keep := func(whole string) {
		e.set("form[action$='/keep'] input", whole)
		e.click("form[action$='/keep'] button")
	}
	keep("4 s")
	e.until(`document.querySelector("form[action$='/keep'] .wrong")`)
	if text := e.text("form[action$='/keep']"); !strings.Contains(text, "less than from the first stitch to the last") {
		t.Errorf("a whole run of 4 s: %s", text)
	}
	whole := run.Seconds // with the silence before and after
	keep(fmt.Sprintf("%.1f", whole))
	e.until(`location.pathname.startsWith("/machines/")`)
	runs, err := s.shop.Timings.Runs(t.Context(), m.ID)
	if err != nil || len(runs) == 0 {
		t.Fatalf("%d runs are kept, %v", len(runs), err)
	}
	if at := slices.IndexFunc(runs, func(r shop.Run) bool { return r.Block == 0 && r.Shown == 0 }); at < 0 || math.Abs(runs[at].Seconds-whole) > 0.06 {
		t.Errorf("the whole run of %.1f s is not kept: %+v", whole, runs)
	} else {
		runs = slices.Delete(runs, at, at+1)
	}
	for _, r := range runs {
		o := learn.Observation{Kind: learn.BlockRun, Design: d, SetSpeed: 900, Block: r.Block}
		if o.With, o.Only, err = learn.ParseWith(r.With); err != nil || o.Only == "" {
			t.Errorf("block %d holds %q: %v", r.Block, r.With, err)
			continue
		}
		if want := learn.Predict(class, []learn.Observation{o})[0]; r.Seconds < want*0.9 || r.Seconds > want*1.1 {
			t.Errorf("%s was heard to take %.2f s, it took about %.2f", o.What(), r.Seconds, want)
		}
	}
	// A film or sound file, decoded here; the shop is out of reach at first.
	e.open("/designs/" + added[0].Design.ID + "/listen?machine=" + m.ID)
	bytesOf, err := os.ReadFile(wav)
	if err != nil {
		t.Fatal(err)
	}
	js[bool](e, `(() => { const real = fetch; let lost = 2; window.fetch = (url, how) => String(url).includes("/sound?") && lost-- > 0 ? Promise.reject(new Error("lost")) : real(url, how); return true; })()`)
	js[bool](e, fmt.Sprintf(`(async () => { const b = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0)); const f = new File([b], "run.wav", {type: "audio/wav"}); const t = new DataTransfer(); t.items.add(f); const i = document.querySelector("[data-file]"); i.files = t.files; i.dispatchEvent(new Event("change", {bubbles: true})); return true; })()`,
		base64.StdEncoding.EncodeToString(bytesOf)))
	e.until(`!document.querySelector("[data-hear]").hidden`)
	e.click("[data-hear] button")
	e.until(`document.querySelector("form[action$='/keep']")`)
	if text := e.text("main"); !strings.Contains(text, fmt.Sprintf("%d stitches", added[0].Design.Stitches)) {
		t.Errorf("the file is heard as: %s", text)
	}
}
