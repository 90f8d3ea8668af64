package pages_test

import (
	"archive/zip"
	"bytes"
	"html"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/stitchfile"
	"needlepace/web"
	"needlepace/web/webtest"
)

var (
	stopAt  = regexp.MustCompile(`action="(/work/[a-z0-9]+/stop)"`)
	backTo  = regexp.MustCompile(`name="back" value="([^"]+)"`)
	zipAt   = regexp.MustCompile(`href="(/designs/mended/zip[^"]+)"`)
	notDone = regexp.MustCompile(`([0-9]+) designs? (?:was|were) not reached before it was stopped`)
)

// A mend of many that is stopped says how many designs it did not reach, adds
// none to the shop, and what it hands out is whole.
func TestAStoppedMendOfManyLeavesNothingHalfDone(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	ctx := t.Context()
	m, err := a.Shop.Machines.Find(ctx, "Gannet")
	if err != nil {
		t.Fatal(err)
	}
	before := designIDs(t, a)
	many := slices.Repeat(before, 30) // enough that some are done when it is stopped, and some not begun
	status, body := a.Page(sent(t, a, "/designs/mend", url.Values{"design": many, "machine": {m.ID}, "seconds": {"60"}}), nil)
	stop, back := stopAt.FindStringSubmatch(body), backTo.FindStringSubmatch(body)
	if status != 200 || stop == nil || back == nil {
		t.Fatalf("status %d, and no way to stop it: %.500s", status, mainOf(body))
	}
	to := html.UnescapeString(back[1])
	if !strings.HasPrefix(to, "/designs/mended?") {
		t.Errorf("stopping it leads to %s", to)
	}
	for body := ""; !strings.Contains(body, `"text":"design `) || strings.Contains(body, `"text":"design 1 of`); {
		status, body = a.Page(strings.TrimSuffix(stop[1], "/stop"), nil)
		if status != 200 || strings.Contains(body, `"state":"done"`) {
			t.Fatalf("status %d: %s", status, body)
		}
	}
	if got := sent(t, a, stop[1], url.Values{"back": {to}}); got != to {
		t.Errorf("after the stop it goes to %s, not %s", got, to)
	}
	status, body = a.Page(to, nil)
	for wait := 0; status == 200 && stopAt.MatchString(body) && wait < 600; wait++ {
		time.Sleep(50 * time.Millisecond)
		status, body = a.Page(to, nil)
	}
	left := notDone.FindStringSubmatch(mainOf(body))
	if status != 200 || left == nil {
		t.Fatalf("status %d; of being stopped it says nothing: %.2000s", status, mainOf(body))
	}
	if said := strings.Count(body, "the work was stopped before its turn came"); left[1] == "0" || said == 0 {
		t.Errorf("%s were not reached, %d rows say so", left[1], said)
	}
	if now := designIDs(t, a); len(now) != len(before) {
		t.Errorf("%d designs in the shop, were %d", len(now), len(before))
	}
	at := zipAt.FindStringSubmatch(body)
	if at == nil {
		t.Fatal("what was done before it was stopped cannot be taken")
	}
	_, b := a.Page(html.UnescapeString(at[1]), nil)
	z, err := zip.NewReader(bytes.NewReader([]byte(b)), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	if len(z.File) == 0 || len(z.File) >= len(many) {
		t.Errorf("%d files of %d designs", len(z.File), len(many))
	}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if d, err := stitchfile.Decode(content, f.Name); err != nil || len(d.Records) == 0 {
			t.Errorf("%s is not whole: %v", f.Name, err)
		}
	}
}

// sent sends a form and says where it leads.
func sent(t *testing.T, a *webtest.App, path string, form url.Values) string {
	t.Helper()
	res, err := a.Client.PostForm(a.URL+path, form)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only where it leads
	if res.StatusCode != http.StatusSeeOther {
		t.Fatalf("%s: status %d", path, res.StatusCode)
	}
	return res.Header.Get("Location")
}

func designIDs(t *testing.T, a *webtest.App) (ids []string) {
	t.Helper()
	all, _, err := a.Shop.Designs.List(t.Context(), shop.DesignQuery{Limit: 100})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range all {
		ids = append(ids, d.ID)
	}
	return ids
}

// Two designs of the shop that have one name, and one file name, are told apart where they are ticked, in what came of it
// and where a design is chosen.
func TestDesignsOfOneNameAreToldApartOnThePage(t *testing.T) {
	a := webtest.New(t, web.Options{})
	var ids []string
	for _, from := range []string{"gull-cap.dst", "whale-line.dst"} {
		added, err := a.Shop.AddFile(t.Context(), "crest.dst", webtest.DemoFile(t, from))
		if err != nil || added[0].Design == nil {
			t.Fatal(added, err)
		}
		ids = append(ids, added[0].Design.ID)
	}
	m := a.Machine("compact-8", "Fulmar")
	_, form := a.Page("/designs/mend?"+url.Values{"design": ids}.Encode(), nil)
	_, chosen := a.Page("/time", nil)
	to := sent(t, a, "/designs/mend", url.Values{"design": ids, "machine": {m}, "seconds": {"1"}})
	_, answer := a.Page(to, nil)
	for wait := 0; stopAt.MatchString(answer) && wait < 600; wait++ {
		time.Sleep(50 * time.Millisecond)
		_, answer = a.Page(to, nil)
	}
	for where, body := range map[string]string{"form": form, "answer": answer, "choice": chosen} {
		for _, id := range ids {
			if !strings.Contains(body, "("+id[:8]+")") {
				t.Errorf("in the %s nothing tells %s from the other: %.3000s", where, id, mainOf(body))
			}
		}
	}
}
