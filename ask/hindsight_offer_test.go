package ask

import (
	"strings"
	"testing"
)

// What is taken of an offered machine that nobody said is told.
func TestWhatIsTakenOfAnOfferedMachineIsSaid(t *testing.T) {
	for offered, says := range map[string]bool{"": false, "compact-8": true} {
		a := &HindsightAnswer{Fleets: []FleetRow{{}}, offered: offered}
		a.say(nil)
		if got := strings.Contains(a.Caveats.Text(nil), "last 8 years"); got != says {
			t.Errorf("offered %q: %s", offered, a.Caveats.Text(nil))
		}
	}
}
