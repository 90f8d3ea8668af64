package pages_test

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"needlepace/jobs"
	"needlepace/web"
	"needlepace/web/webtest"
)

// Where scripts run the page of work asks how far it is and is loaded anew when that is done, by nothing else: what
// comes to its result by another way, and lets somebody go on from there, is overtaken by that.
func TestThePageOfWorkIsLoadedAnewByItsOwnScriptAlone(t *testing.T) {
	a := webtest.New(t, web.Options{})
	w, err := a.Server.Jobs().Begin("plan", "", func(ctx context.Context, _ jobs.Step) (any, error) { <-ctx.Done(); return nil, ctx.Err() })
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.Get(a.URL + "/plan?work=" + w.ID)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only its header
	_, body := a.Page("/plan?work="+w.ID, nil)
	if got := res.Header.Get("Refresh"); got != "" {
		t.Errorf("Refresh: %s", got)
	}
	if !strings.Contains(body, `data-work="`+w.ID+`"`) {
		t.Fatal("this is not the page of work")
	}
	if strings.Contains(body, "data-fresh") {
		t.Error("what others change would be put into the page of work")
	}
	const again = `<meta http-equiv="refresh"`
	if strings.Count(body, again) != 1 || !strings.Contains(body, "<noscript>"+again+` content="5"></noscript>`) {
		t.Error("without scripts the page does not look again, or with them it does")
	}
}
