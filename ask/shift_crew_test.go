package ask

import (
	"strings"
	"testing"
)

// Crews whose costs lie within what the simulation knows are not ranked.
func TestACrewAsGoodAsTheBestIsSaidToBe(t *testing.T) {
	by := []CrewPoint{{Machines: 3, Cost: "0.9400"}, {Machines: 4, Cost: "0.9300"}, {Machines: 5, Cost: "1.2000"}}
	c := &Crew{Machine: "Whelk", Best: 4, By: by, Alike: []int{3}}
	c.say()
	if said := c.Verdict.Raw(); !strings.Contains(said, "The cost with 3 cannot be told apart from that with 4.") {
		t.Error(said)
	}
	var notes []string
	for _, row := range c.Table("EUR").Rows {
		if v := row[len(row)-1]; v != nil {
			notes = append(notes, v.Raw())
		}
	}
	if got := strings.Join(notes, "; "); got != "cannot be told from the best; best" {
		t.Errorf("the table marks %q", got)
	}
}
