package pages_test

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// Before a run is timed, the pages where that is begun say so if it teaches
// little about the machine.
func TestARunThatTeachesLittleSaysSoBeforeItIsTimed(t *testing.T) {
	a := webtest.New(t, web.Options{})
	bay := a.Machine("single-15-light", "Bay")
	for file, said := range map[string]string{"whale-line.dst": "tells the overall pace of Bay and nothing else", "larkess-ferry.dst": ""} {
		d := a.DemoDesign(file)
		for _, path := range []string{"/designs/" + d.ID + "?machine=" + bay, "/time?design=" + d.ID + "&machine=" + bay,
			"/time/teaches-0001?design=" + d.ID + "&machine=" + bay + "&speed=900"} {
			status, body := a.Page(path, nil)
			if status != 200 {
				t.Fatalf("%s: status %d", path, status)
			}
			if said != "" && !strings.Contains(body, said) {
				t.Errorf("%s of %s does not say %q", path, file, said)
			}
			if said == "" && strings.Contains(body, "and nothing else") {
				t.Errorf("%s of %s says that it teaches little", path, file)
			}
		}
	}
}

// Two machines of one name can be told apart where one of them is chosen.
func TestTimingTellsMachinesOfOneNameApart(t *testing.T) {
	a := webtest.New(t, web.Options{})
	a.Machine("compact-8", "Whelk")
	large := a.Machine("multi-6", "Whelk")
	d := a.DemoDesign("gull-cap.dst")
	if _, err := a.Shop.Timings.Save(t.Context(), &shop.Timing{ID: "whelk-0001", MachineID: large, DesignID: d.ID,
		SetSpeed: 800, Started: time.Now(), Marks: []shop.Mark{{Kind: shop.MarkStart}}, Rev: 1}); err != nil {
		t.Fatal(err)
	}
	_, body := a.Page("/time", nil)
	if n := strings.Count(body, "Whelk (6 heads"); n != 2 { // to choose, and under way
		t.Errorf("the machine of the timing under way is told apart %d times of 2 in %s", n, mainOf(body))
	}
	names := regexp.MustCompile(`<option value="[^"]*">(Whelk[^<]*)</option>`).FindAllStringSubmatch(body, -1)
	if len(names) != 2 || names[0][1] == names[1][1] || !strings.Contains(names[0][1]+names[1][1], "6 heads") {
		t.Errorf("the machines to choose from are %q", names)
	}
}
