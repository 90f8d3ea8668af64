package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/clock"
	"needlepace/jobs"
	"needlepace/machine"
	"needlepace/recordings"
	"needlepace/sound/synth"
	"needlepace/stitchfile"
	"needlepace/store"
	"needlepace/web"
	"needlepace/web/webtest"
	"needlepace/words"
)

// record writes a drawn design and the recording of a run of it into a folder.
func record(t *testing.T) (design, recording string, run *synth.Performance) {
	t.Helper()
	dir := t.TempDir()
	rng := rand.New(rand.NewPCG(3, 9))
	d := synth.Design(600, rng)
	design, recording = filepath.Join(dir, "drawn.dst"), filepath.Join(dir, "run.wav")
	f, err := os.Create(design)
	if err != nil {
		t.Fatal(err)
	}
	if err := stitchfile.Encode(f, d, "dst"); err != nil {
		t.Fatal(err)
	}
	f.Close() //nolint:errcheck // read back below
	b, err := os.ReadFile(design)
	if err != nil {
		t.Fatal(err)
	}
	if d, err = stitchfile.Decode(b, design); err != nil {
		t.Fatal(err)
	}
	s, _ := machine.Class("single-15-1200")
	run = synth.Perform(d, s, synth.Script{Job: clock.Job{Speed: 870}, Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1, Lead: 3,
		Tail: 2}, rng)
	w, err := os.Create(recording)
	if err != nil {
		t.Fatal(err)
	}
	if err := synth.WAV(w, run.Record(synth.Quiet, rng), synth.Rate); err != nil {
		t.Fatal(err)
	}
	w.Close() //nolint:errcheck // read back below
	return design, recording, run
}

// TestARecordingSaysTheSameEverywhere: one file, heard by the command, by the API
// and on the page; its rows are kept once.
func TestARecordingSaysTheSameEverywhere(t *testing.T) {
	design, recording, _ := record(t)
	text, errs, code := invoke(t, "listen", "-m", "single-15-1200", "--design", design, recording)
	if code != exitOK {
		t.Fatalf("status %d, %s", code, errs)
	}
	out, errs, code := invoke(t, "listen", "-m", "single-15-1200", "--design", design, recording, "--json")
	if code != exitOK {
		t.Fatalf("status %d, %s", code, errs)
	}
	a := webtest.New(t, web.Options{})
	b, err := os.ReadFile(design)
	if err != nil {
		t.Fatal(err)
	}
	a.Upload(map[string][]byte{"drawn.dst": b}).OK(http.StatusCreated)
	d, err := a.Shop.Designs.Find(t.Context(), "drawn.dst")
	if err != nil {
		t.Fatal(err)
	}
	m := a.Machine("single-15-1200", "Heron")
	wav, err := os.ReadFile(recording)
	if err != nil {
		t.Fatal(err)
	}
	begin := func() string {
		st := webtest.Into[recordings.State](a.Send("POST", "/recordings", map[string]any{"design": d.ID, "machine": m}).OK(http.StatusCreated))
		return st.ID
	}
	id := begin()
	a.Send("PUT", "/recordings/"+id+"/sound", bytes.NewReader(wav), "Content-Type", "audio/wav").OK(http.StatusOK)
	hear := func(id string) []byte {
		r := a.Finish(a.Send("POST", "/recordings/"+id+"/hear", map[string]any{}), "Listen")
		result, _ := webtest.ResultOf[json.RawMessage](r)
		return result
	}
	whole := hear(id)
	// The same in pieces, one of them sent twice, one before its time.
	pieces := begin()
	pcm := wav[44:]
	put := func(from, to int) *webtest.Answer {
		return a.Send("PUT", fmt.Sprintf("/recordings/%s/sound?from=%d", pieces, from/2), bytes.NewReader(pcm[from:to]),
			"Content-Type", "application/octet-stream")
	}
	const some = 2 * synth.Rate * 7
	put(0, some).OK(http.StatusOK)
	put(2*some, 3*some).OK(http.StatusConflict)
	put(0, some).OK(http.StatusOK)
	put(some/2, len(pcm)).OK(http.StatusOK)
	if st := webtest.Into[recordings.State](a.Send("GET", "/recordings/"+pieces, nil).OK(http.StatusOK)); st.Next != int64(len(pcm)/2) || !st.Done ||
		st.Stitch < st.Stitches-3 {
		t.Errorf("after the last piece: %+v", st)
	}
	inPieces := hear(pieces)
	var said, served, piecewise map[string]any
	for into, from := range map[*map[string]any][]byte{&said: []byte(out), &served: whole, &piecewise: inPieces} {
		if err := json.Unmarshal(from, into); err != nil {
			t.Fatal(err)
		}
		for _, named := range []string{"design", "machine", "verdict"} { // the shop has its own names
			delete(*into, named)
		}
	}
	if !reflect.DeepEqual(said, served) {
		t.Errorf("the command says %v\nthe API %v", said, served)
	}
	if !reflect.DeepEqual(served, piecewise) {
		t.Errorf("as a file it is %v\nin pieces %v", served, piecewise)
	}
	status, page := a.Page("/recordings/"+id, nil)
	var answer ask.ListenAnswer
	if err := json.Unmarshal(whole, &answer); err != nil || status != http.StatusOK {
		t.Fatalf("status %d, %v", status, err)
	}
	for _, s := range answer.Verdict {
		if !says(pageText(page), s.Text(nil)) {
			t.Errorf("the page does not say %q", s.Text(nil))
		}
		if on := strings.ReplaceAll(s.Text(nil), "drawn on", "drawn.dst on"); !says(text, on) && !strings.Contains(on, "Heron") {
			t.Errorf("the command does not say %q: %s", on, text)
		}
	}
	for range 2 { // kept once
		a.Send("POST", "/recordings/"+id+"/keep", nil).OK(http.StatusCreated)
	}
	runs, err := a.Shop.Timings.Runs(t.Context(), m)
	if err != nil || len(runs) == 0 || len(runs) != strings.Count(string(must(json.Marshal(runs))), `"note":"heard"`) {
		t.Errorf("%d runs are kept, %v", len(runs), err)
	}
	parts := map[string]bool{}
	for _, r := range runs {
		if r.Shown != 0 { // a speed held
			continue
		}
		if parts[r.With] || r.DesignID != d.ID || !strings.HasPrefix(r.With, "only ") || r.Error == 0 {
			t.Errorf("a kept run is %+v", r)
		}
		parts[r.With] = true
	}
	for what, sent := range map[string][2]string{"text/plain": {"hello", "415"}, "audio/wav": {"hello", "422"}} {
		if r := a.Send("PUT", "/recordings/"+begin()+"/sound?from=0", strings.NewReader(sent[0]), "Content-Type", what); fmt.Sprint(r.Status) != sent[1] {
			t.Errorf("%s: status %d, %s", what, r.Status, r.Body)
		}
	}
	// A recording of something else is refused, and the page says so.
	other := begin()
	a.Send("PUT", "/recordings/"+other+"/sound?from=0", bytes.NewReader(make([]byte, 40*2*synth.Rate)), "Content-Type", "application/octet-stream").OK(http.StatusOK)
	work := webtest.Into[jobs.Work](a.Send("POST", "/recordings/"+other+"/hear", map[string]any{}).OK(http.StatusAccepted))
	a.Send("GET", "/work/"+work.ID+"?wait=20", nil).OK(http.StatusOK)
	status, page = a.Page("/recordings/"+other+"?work="+work.ID, nil)
	if text := pageText(page); !strings.Contains(text, "Record another run") || strings.Contains(text, "Keep these times") {
		t.Errorf("silence: status %d, %.600s", status, text)
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// TestListenHearsEveryStitch: the JSON, the rows for learning and the sentences of
// one recording.
func TestListenHearsEveryStitch(t *testing.T) {
	design, recording, run := record(t)
	rows := filepath.Join(filepath.Dir(design), "runs.csv")
	picture := filepath.Join(filepath.Dir(design), "heard.svg")
	out, errs, code := invoke(t, "listen", "-m", "single-15-1200", "--design", design, recording, "--json", "--stitches",
		"--append", rows, "--picture", picture)
	var a ask.ListenAnswer
	if err := json.Unmarshal([]byte(out), &a); err != nil || code != exitOK {
		t.Fatalf("status %d, %s, %v", code, errs, err)
	}
	if len(a.Stitches) != len(a.Index) || len(a.Stitches) != len(run.Strokes) || a.Refused != "" || a.Quality != "good" {
		t.Fatalf("%d stitches, %d numbers, quality %q, refused %q; %d were sewn", len(a.Stitches), len(a.Index), a.Quality,
			a.Refused, len(run.Strokes))
	}
	for i, s := range run.Strokes {
		if d := a.Stitches[i] - s.At; d > 0.005 || d < -0.005 || a.Index[i] != s.Stitch {
			t.Fatalf("stitch %d at %.4f s is number %d; it was at %.4f, number %d", i, a.Stitches[i], a.Index[i], s.At, s.Stitch)
		}
	}
	if a.SetSpeed < 868 || a.SetSpeed > 872 {
		t.Errorf("set speed %.1f, it was 870", a.SetSpeed)
	}
	b, err := os.ReadFile(rows)
	if err != nil || !strings.Contains(string(b), "drawn.dst,8") || !strings.Contains(string(b), "heard") {
		t.Errorf("rows: %v\n%s", err, b)
	}
	var learned [2]ask.LearnAnswer
	for i, from := range [][]string{{rows}, {recording, "--design", design}} {
		out, errs, code := invoke(t, append([]string{"learn", "-m", "single-15-1200", "--try", "--json"}, from...)...)
		if err := json.Unmarshal([]byte(out), &learned[i]); err != nil || code != exitOK || learned[i].Used < 2 {
			t.Errorf("learn does not take %s: status %d, %s, %v, %d rows", from, code, errs, err, learned[i].Used)
		}
	}
	for i, k := range learned[0].Constants {
		if own := learned[1].Constants[i]; own.Path != k.Path || math.Abs(own.Value/k.Value-1) > 1e-9 || k.Path == "rest.trim" && k.Value == k.Before {
			t.Errorf("from the rows of a recording learn says %+v, from the recording itself %+v", k, own)
		}
	}
	timed := func(args ...string) float64 {
		out, errs, code := invoke(t, append([]string{"learn", "-m", "single-15-1200", "--try", "--json"}, args...)...)
		var a ask.LearnAnswer
		if err := json.Unmarshal([]byte(out), &a); err != nil || code != exitOK {
			t.Fatalf("learn %v: status %d, %s, %v", args, code, errs, err)
		}
		for _, k := range a.Constants {
			if k.Path == "rest.start" {
				return k.Value
			}
		}
		return 0
	}
	whole := words.Seconds(run.Runs[len(run.Runs)-1][1] - run.Runs[0][0] + 7).Text(nil)
	wholly := filepath.Join(filepath.Dir(design), "wholly.csv")
	if _, errs, code := invoke(t, "listen", "-m", "single-15-1200", "--design", design, recording, "--append", wholly, "--whole", whole); code != exitOK {
		t.Fatal(errs)
	}
	if a, b, plain := timed(wholly), timed(recording, "--design", design, "--whole", whole), timed(rows); math.Abs(a/b-1) > 1e-9 || a < 1.1*plain {
		t.Errorf("where a run starts and ends in 7 s the start is learned as %.2f s from its rows, %.2f from the recording, %.2f without that", a, b, plain)
	}
	for _, args := range [][]string{{"listen", "--design", design, recording, "--whole", "soon"}, {"learn", "--try", rows, "--whole", "30"}} {
		if _, errs, code := invoke(t, append(args, "-m", "single-15-1200")...); code != exitUsage || !strings.Contains(errs, "--whole") {
			t.Errorf("%v: status %d, %s", args, code, errs)
		}
	}
	if _, errs, code := invoke(t, "learn", "-m", "single-15-1200", "--try", recording); code != exitUsage || !strings.Contains(errs, "--design") {
		t.Errorf("a recording without its design: status %d, %s", code, errs)
	}
	if svg, err := os.ReadFile(picture); err != nil || !strings.Contains(string(svg), "<svg") {
		t.Error("no picture", err)
	}
	text, _, _ := invoke(t, "listen", "-m", "single-15-1200", "--design", design, recording, "--append", rows)
	for _, want := range []string{"set speed of 870/min", "keep hands clear"} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), want) {
			t.Errorf("the text does not say %q:\n%s", want, text)
		}
	}
	if after, _ := os.ReadFile(rows); len(after) <= len(b) {
		t.Error("nothing was appended the second time")
	}
}

// TestListenRefusesWhatItCannotHear: other designs and files that are no sound.
func TestListenRefusesWhatItCannotHear(t *testing.T) {
	design, recording, _ := record(t)
	out, errs, code := invoke(t, "listen", "-m", "single-15-1200", "--design", "../../demo/designs/gull-cap.dst", recording,
		"--json")
	var a ask.ListenAnswer
	if err := json.Unmarshal([]byte(out), &a); err != nil || code == exitOK || a.Refused == "" || !strings.Contains(errs, a.Refused) {
		t.Errorf("another design: status %d, refused %q, %s, %v", code, a.Refused, errs, err)
	}
	for _, c := range []struct{ file, want string }{
		{design, "neither a WAV nor a FLAC"}, {"no-such.wav", "no-such.wav"}, {filepath.Dir(design), "is a folder"},
	} {
		if _, errs, code := invoke(t, "listen", "-m", "single-15-1200", "--design", design, c.file); code == exitOK ||
			!strings.Contains(errs, c.want) {
			t.Errorf("%s: status %d, %s", c.file, code, errs)
		}
	}
}

// TestARecordingIsKeptForTheShopsMachine: from the command line as from the page, once, and only for what
// the shop has.
func TestARecordingIsKeptForTheShopsMachine(t *testing.T) {
	design, recording, run := record(t)
	data := filepath.Join(t.TempDir(), "shop.db")
	s, err := store.Open(t.Context(), data)
	if err != nil {
		t.Fatal(err)
	}
	sh := act.New(s, act.Options{})
	if err := sh.Migrate(t.Context()); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(design)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := sh.Designs.TakeIn(t.Context(), "drawn.dst", b); err != nil {
		t.Fatal(err)
	}
	m, err := sh.Machines.AddOfClass(t.Context(), "single-15-1200", "Heron", "")
	if err != nil {
		t.Fatal(err)
	}
	keep := func(args ...string) (string, string, int) {
		return invoke(t, append([]string{"listen", "-m", "Heron", "--design", "drawn.dst", recording, "--for-shop", "--data", data, "--speed", "870"}, args...)...)
	}
	out, errs, code := keep("--whole", "1:10", "--who", "Ruth")
	if code != exitOK || !says(strings.Join(strings.Fields(out), " "), "kept among the timed runs of Heron.") || !says(out, "0 breaks") {
		t.Fatalf("status %d, %s%s", code, out, errs)
	}
	runs, err := sh.Timings.Runs(t.Context(), m.ID)
	parts, wholes := 0, 0
	for _, r := range runs {
		if strings.HasPrefix(r.With, "only ") {
			parts++
		} else if r.Seconds == 70 && r.Block == 0 {
			wholes++
		}
	}
	if err != nil || parts < 10 || wholes != 1 {
		t.Errorf("%d parts and %d wholes are kept: %+v, %v", parts, wholes, runs, err)
	}
	heard, err := s.Heard(t.Context())
	if err != nil || len(heard) != 1 || heard[0].By != "Ruth" || heard[0].Stitches != float64(len(run.Strokes)) {
		t.Errorf("for the break rate %+v, %v", heard, err)
	}
	if _, errs, code := keep(); code == exitOK || len(must(sh.Timings.Runs(t.Context(), m.ID))) != len(runs) {
		t.Errorf("kept twice: status %d, %s", code, errs)
	}
	for _, args := range [][]string{{"--append", "runs.csv"}, {"-m", "Nobody"}, {"--design", "other.dst"}} {
		if _, errs, code := keep(args...); code == exitOK {
			t.Errorf("%v: %s", args, errs)
		}
	}
	if _, errs, code := invoke(t, "listen", "-m", "single-15-1200", "--design", design, recording, "--who", "Ruth"); code != exitUsage || !strings.Contains(errs, "--for-shop") {
		t.Errorf("--who without --for-shop: status %d, %s", code, errs)
	}
}
