package api_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"net/http"
	"strings"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/recordings"
	"needlepace/shop"
	"needlepace/sound/synth"
	"needlepace/stitchfile"
	"needlepace/web/webtest"
)

// recordingOperations records a drawn run, has it heard, keeps its times and
// forgets it. What else is asked of a recording stands in
// cmd/needlepace/cmd_listen_test.go.
func recordingOperations(a *webtest.App) {
	t := a.T
	rng := rand.New(rand.NewPCG(4, 4))
	var file, wav bytes.Buffer
	if err := stitchfile.Encode(&file, synth.Design(250, rng), "dst"); err != nil {
		t.Fatal(err)
	}
	d, err := stitchfile.Decode(file.Bytes(), "heard.dst")
	if err != nil {
		t.Fatal(err)
	}
	class, _ := machine.Class("single-15-1200")
	run := synth.Perform(d, class, synth.Script{Job: clock.Job{Speed: 900}, Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1, Lead: 3, Tail: 2}, rng)
	if err := synth.WAV(&wav, run.Record(synth.Quiet, rng), synth.Rate); err != nil {
		t.Fatal(err)
	}
	a.Upload(map[string][]byte{"heard.dst": file.Bytes()}).OK(http.StatusCreated)
	design, err := a.Shop.Designs.Find(t.Context(), "heard.dst")
	if err != nil {
		t.Fatal(err)
	}
	of := map[string]string{"design": design.ID, "machine": a.Machine("single-15-1200", "Heron")}
	id := webtest.Into[recordings.State](a.Send("POST", "/recordings", of).OK(http.StatusCreated)).ID
	at := "/recordings/" + id
	a.Send("POST", at+"/hear", map[string]any{}).Fails(http.StatusUnprocessableEntity, shop.Invalid, "nothing was recorded yet")
	a.Send("POST", at+"/keep", nil).Fails(http.StatusUnprocessableEntity, shop.Invalid, "nothing was recorded yet")
	a.Send("PUT", at+"/sound?from=0", strings.NewReader("abc"), "Content-Type", "application/octet-stream").Fails(http.StatusUnprocessableEntity, shop.Invalid, "two")
	a.Send("PUT", at+"/sound", bytes.NewReader(wav.Bytes()), "Content-Type", "audio/wav").OK(http.StatusOK)
	if st := webtest.Into[recordings.State](a.Send("GET", at, nil).OK(http.StatusOK)); !st.Ended || st.Seconds < run.Seconds-1 {
		t.Errorf("after the file: %+v", st)
	}
	a.Finish(a.Send("POST", at+"/hear", map[string]any{}), "Listen")
	a.Send("POST", at+"/keep?whole=-1", nil).Fails(http.StatusUnprocessableEntity, shop.Invalid, "0 or more")
	a.Send("POST", at+"/keep?whole=1", nil).Fails(http.StatusUnprocessableEntity, shop.Invalid, "less than from the first stitch")
	a.Send("POST", at+"/keep?whole="+fmt.Sprint(run.Seconds), nil).OK(http.StatusCreated)
	if _, body := a.Page("/machines/"+of["machine"], nil); !strings.Contains(body, "whole run") {
		t.Error("the machine's page does not have the whole run's time")
	}
	if _, body := a.Page("/machines/"+of["machine"], nil); strings.Count(body, "block 1, stitches ") < 4 {
		t.Error("the machine's page does not say which stitches of block 1 a heard time is of")
	}
	reported := "/reported?machine=" + of["machine"]
	said := webtest.Into[ask.ReportedAnswer](a.Send("GET", reported, nil).OK(http.StatusOK)).Machines[0]
	if len(said.Heard) != 1 || said.Recordings != 1 || said.SewnHeard != float64(len(run.Strokes)) || said.CountedHeard != 0 {
		t.Errorf("of a recording of %d stitches without a break: %+v", len(run.Strokes), said)
	}
	runs := "/machines/" + of["machine"] + "/runs"
	if n := bytes.Count(a.Send("GET", runs, nil).OK(http.StatusOK).Body, []byte(`"heard":"`+said.Heard[0].ID+`"`)); n < 5 {
		t.Errorf("%d rows are of the recording", n)
	}
	a.Send("DELETE", "/heard/"+said.Heard[0].ID+"/runs", nil).OK(http.StatusNoContent)
	a.Send("DELETE", "/heard/"+said.Heard[0].ID+"/runs", nil).Fails(http.StatusNotFound, shop.NotFound, "recording")
	if left := a.Send("GET", runs, nil).OK(http.StatusOK).Body; bytes.Contains(left, []byte(`"heard":"`)) {
		t.Errorf("rows of the recording are left: %s", left)
	}
	a.Send("DELETE", "/heard/"+said.Heard[0].ID, nil).OK(http.StatusNoContent)
	a.Send("DELETE", "/heard/"+said.Heard[0].ID, nil).Fails(http.StatusNotFound, shop.NotFound, "recording")
	if said := webtest.Into[ask.ReportedAnswer](a.Send("GET", reported, nil).OK(http.StatusOK)).Machines[0]; said.Recordings != 0 || said.Sewn != 0 {
		t.Errorf("taken away it counts: %+v", said)
	}
	a.Send("DELETE", at, nil).OK(http.StatusNoContent)
	a.Send("GET", at, nil).Fails(http.StatusNotFound, shop.NotFound, "record a run again")
}
