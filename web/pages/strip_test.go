package pages

import (
	"strings"
	"testing"

	"needlepace/clock"
	"needlepace/picture"
)

// A strip of a list has no title in it for each part, which would be two of three of the page's
// elements; what a part is stands with it for the pointer. One that stands alone has its titles.
func TestStripsOfListsHaveNoTitles(t *testing.T) {
	parts := picture.PartsOf(clock.Parts{AtSetSpeed: 100, Trims: 8, Ramps: 12})
	thin, alone := string(bar{Parts: parts, Max: 120, Thin: true}.HTML()), string(bar{Parts: parts, Max: 120}.HTML())
	if strings.Contains(thin, "<title>") || strings.Count(thin, `data-part-says="`) != 3 || !strings.Contains(thin, `data-part-says="trims 8.0 s"`) {
		t.Errorf("of a list: %s", thin)
	}
	if strings.Contains(alone, "data-part-says") || !strings.Contains(alone, "<title>trims 8.0 s</title>") {
		t.Errorf("alone: %s", alone)
	}
}
