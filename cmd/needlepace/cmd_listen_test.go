package main

import (
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/sound/synth"
	"needlepace/stitchfile"
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
	if _, errs, code := invoke(t, "learn", "-m", "single-15-1200", rows, "--try"); code != exitOK {
		t.Errorf("learn does not take what was heard: %s", errs)
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
