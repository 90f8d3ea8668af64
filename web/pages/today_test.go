package pages_test

import (
	"regexp"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/web"
	"needlepace/web/webtest"
)

// Seconds are counted on the day when somebody is needed; over a weekend it says
// when that is.
func TestTodayCountsNoSecondsOverAWeekend(t *testing.T) {
	var at atomic.Pointer[time.Time]
	set := func(day, hour int) {
		now := time.Date(2026, 11, day, hour, 0, 0, 0, time.UTC)
		at.Store(&now)
	}
	set(27, 16) // a Friday
	a := webtest.New(t, web.Options{Now: func() time.Time { return *at.Load() }})
	a.Machine("compact-8", "Whelk")
	d := a.DemoDesign("ostrel-light.dst")
	a.Send("PUT", "/api/v1/workshop", map[string]any{"toml": "[[shift]]\ndays = [\"mon\"]\nfrom = \"07:00\"\nto = \"15:00\"\noperators = 1\n"}).OK(200)
	a.Send("POST", "/api/v1/orders", map[string]any{"customer": "Ferry", "state": "agreed", "due": "2026-12-24",
		"lines": []map[string]any{{"design": d.ID, "quantity": 20}}}).OK(201)
	a.Finish(a.Send("POST", "/api/v1/plan", map[string]any{}), "")
	seconds := regexp.MustCompile(`\d:\d\d:\d\d`)
	first := func() string {
		t.Helper()
		_, body := a.Page("/today", nil)
		m := regexp.MustCompile(`<p class="big" data-until="[^"]*">([^<]*)</p>`).FindStringSubmatch(body)
		if m == nil {
			t.Fatalf("nobody is in need:\n%s", body)
		}
		return m[1]
	}
	if got := first(); seconds.MatchString(got) || !strings.Contains(got, "Mon") {
		t.Errorf("on Friday afternoon it says %q of Monday", got)
	}
	set(30, 5)
	if got := first(); got != "2:00:00" {
		t.Errorf("two hours before it says %q", got)
	}
}
