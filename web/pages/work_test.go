package pages_test

import (
	"context"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"needlepace/ask"
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

// What work changed is offered to be taken back where its result is shown, as what was changed at once is; and no more
// once that was done.
func TestWhatWorkChangedIsOfferedToBeTakenBack(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	quick := ask.PlanQuestion{Now: a.Shop.Now(), Moves: 1000, NoBound: true}
	first, err := a.Shop.MakePlan(t.Context(), quick, "") // of it nothing was before
	if err != nil {
		t.Fatal(err)
	}
	begun, err := a.Client.PostForm(a.URL+"/plan", url.Values{})
	if err != nil {
		t.Fatal(err)
	}
	begun.Body.Close() //nolint:errcheck // only its header
	at := begun.Header.Get("Location")
	if !strings.HasPrefix(at, "/plan?work=") {
		t.Fatalf("status %d, leads to %q", begun.StatusCode, at)
	}
	offered := regexp.MustCompile(`data-take-back="\d+"><form method="post" action="(/history/\d+/undo)"`)
	body := ""
	for range 300 {
		if _, body = a.Page(at, nil); !strings.Contains(body, "data-work=") {
			break
		}
	}
	m := offered.FindStringSubmatch(body)
	if m == nil {
		t.Fatal("the page of the new plan offers no way back")
	}
	// The page that the result leads to offers it too: the browser was told.
	if _, body := a.Page("/orders", nil); !strings.Contains(body, m[1]) {
		t.Error("the next page offers no way back")
	}
	if status, _ := a.Page(m[1], url.Values{"to": {at}}); status != http.StatusSeeOther {
		t.Errorf("status %d", status)
	}
	if p, err := a.Shop.Plans.Last(t.Context()); err != nil || len(p.Lots) != len(first.Plan.Lots) || !p.Made.Equal(first.Plan.Made.Truncate(time.Microsecond)) {
		t.Errorf("taken back, the plan is not the one before: %v, made %v, not %v", err, p.Made, first.Plan.Made)
	}
	// The next change that is offered is that of taking back, not the plan once more.
	if _, body := a.Page(at, nil); strings.Contains(body, m[1]) {
		t.Error("what was taken back is offered to be taken back")
	}
}
