package pages_test

import (
	"strings"
	"testing"

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
