package pages_test

import (
	"net/url"
	"strings"
	"testing"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// The dozens of rows that a recording gives are one line of a machine's list, and go by one press; what
// was timed with a watch stays.
func TestWhatWasHeardTogetherStandsAndGoesTogether(t *testing.T) {
	a := webtest.New(t, web.Options{})
	ctx := t.Context()
	d, m := a.DemoDesign("whale-line.dst"), a.Machine("single-15-1200", "Heron")
	part := func(with string, seconds float64) shop.Run {
		return shop.Run{DesignID: d.ID, Block: 1, With: with, SetSpeed: 812.4, Seconds: seconds, Note: "heard"}
	}
	for _, recording := range []string{"first", "second"} {
		rows := []shop.Run{part("only 1-40", 4.1), part("only 41-90", 4.9), {SetSpeed: 812.4, Shown: 640, LengthMM: 4, Note: "heard"}}
		if recording == "second" {
			rows = rows[:1]
		}
		if _, err := a.Shop.Timings.AddHeard(ctx, &book.Heard{MachineID: m, DesignID: d.ID, Recording: recording, SetSpeed: 812.4, Stitches: 90}, rows); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := a.Shop.Timings.AddRuns(ctx, m, []shop.Run{{DesignID: d.ID, SetSpeed: 700, Seconds: 31}}); err != nil {
		t.Fatal(err)
	}
	// rows are how many rows each table of the page has.
	rows := func() (runs, recordings, parts int, body string) {
		_, body = a.Page("/machines/"+m, nil)
		in := func(id string) int {
			_, rest, ok := strings.Cut(body, `id="t-`+id+`"`)
			if !ok {
				return 0
			}
			rest, _, _ = strings.Cut(rest, "</table>")
			_, rest, _ = strings.Cut(rest, "<tbody>")
			return strings.Count(rest, "<tr")
		}
		return in("runs"), in("heard-runs"), in("heard-parts"), body
	}
	runs, recordings, parts, body := rows()
	if runs != 1 || recordings != 2 || parts != 4 || !strings.Contains(body, "3 rows heard in a recording") {
		t.Fatalf("%d runs, %d recordings, %d parts", runs, recordings, parts)
	}
	if !strings.Contains(body, `data-name="Stretches and rests">2</td><td class="n" data-name="Speeds held">1</td>`) {
		t.Error("the first recording has two stretches and one speed")
	}
	all, err := a.Shop.Timings.Runs(ctx, m)
	if err != nil {
		t.Fatal(err)
	}
	if status, _ := a.Page("/machines/"+m+"/heard/"+all[0].HeardID+"/runs/remove", url.Values{}); status >= 400 {
		t.Fatalf("status %d", status)
	}
	if runs, recordings, parts, _ := rows(); runs != 1 || recordings != 1 || parts != 1 {
		t.Errorf("after one press %d runs, %d recordings, %d parts", runs, recordings, parts)
	}
}
