package pages

import (
	"strings"
	"testing"

	"needlepace/help"
)

// Each page's template has its place in the help, and each place is there.
func TestEveryTemplateHasItsTopic(t *testing.T) {
	all, err := pageTemplates()
	if err != nil {
		t.Fatal(err)
	}
	for name := range all {
		at, ok := helpAt[name]
		topic, id, _ := strings.Cut(at, "#")
		if found, has := help.Find(topic); !ok || at != "" && (!has || !found.Has(id)) {
			t.Errorf("%s: there is no %q in the help", name, at)
		}
	}
	for name := range helpAt {
		if all[name] == nil {
			t.Errorf("there is no page %s", name)
		}
	}
}
