package machine

import (
	"strings"
	"testing"

	"needlepace/words"
)

const termSheet = modelSheet + `
[field]
width = 360
height = 450
[turns]
angle = 60
length = 3
speed = 0.8
[correction]
length = [1, 4, 9]
factor = [1, 1.1, 0.9]
turn_angle = [0, 180]
turn_factor = [1, 1.2]
[sd.correction.length]
2 = 0.05
[basis.correction.length]
2 = "fitted"
`

func TestTermsAreReadWrittenAndNamed(t *testing.T) {
	s, err := Parse("terms.toml", []byte(termSheet))
	if err != nil {
		t.Fatal(err)
	}
	if s.Turns != (Turns{60, 180, 3, 0.8}) || s.SD["correction.length.2"] != 0.05 {
		t.Errorf("read %+v, spreads %v", s.Turns, s.SD)
	}
	if s.Field != (Field{360, 450}) {
		t.Errorf("the field is read as %+v", s.Field)
	}
	node, ok := ConstantAt("correction.length.2")
	if !ok || node.Get(s) != 1.1 {
		t.Fatalf("node 2 is %v, %v", node.Get(s), ok)
	}
	if text := node.Means().Raw(); !strings.Contains(text, "node 2") {
		t.Errorf("node 2 is called %q", text)
	}
	byValue := *s
	node.Set(&byValue, 2)
	if node.Get(s) != 1.1 || node.Get(&byValue) != 2 {
		t.Errorf("setting a copy's node changed the sheet's: %v and %v", node.Get(s), node.Get(&byValue))
	}
	if far, _ := ConstantAt("correction.length.4"); far.Get(s) != 0 {
		t.Errorf("a node that is not there is %v", far.Get(s))
	}
}

// What a machine does not have, its sheet does not speak of.
func TestAbsentTermsAreNotWritten(t *testing.T) {
	for _, s := range Classes() {
		text := string(s.TOML())
		for _, key := range []string{"speed_step", "lag =", "jerk_time", "turns", "correction", "[field]"} {
			if strings.Contains(text, key) {
				t.Errorf("%s speaks of %s", s.Name, key)
			}
		}
	}
}

func TestTermsAreRefusedWithWhy(t *testing.T) {
	for _, c := range []struct{ from, to, path, says string }{
		{"angle = 60\n", "", "turns.angle", "is missing"},
		{"length = 3\n", "", "turns.length", "is missing"},
		{"angle = 60", "angle = 60\nto = 50", "turns.to", "below turns.angle"},
		{"height = 450\n", "", "field", "or neither"},
		{"width = 360", "width = 360.5", "field.width", "whole number"},
		{"[1, 4, 9]", "[1, 4, 4]", "correction.length", "ascending"},
		{"[1, 4, 9]", "[1, 4]", "correction", "one factor for each"},
		{"[1, 1.1, 0.9]", "[1, 1.1, 9]", "correction.factor", "from 0.2 to 5"},
		{"[0, 180]", "[0, 181]", "correction.turn_angle", "0 to 180 degrees"},
		{"2 = 0.05", "4 = 0.05", "sd.correction.length.4", "not have so many nodes"},
		{"2 = 0.05", "13 = 0.05", "sd.correction.length.13", "names no constant"},
		{"[reading]", "[shaft2]\n[reading]", "shaft2", "did you mean"},
	} {
		_, err := Parse("terms.toml", []byte(strings.Replace(termSheet, c.from, c.to, 1)))
		e, ok := err.(*SheetError)
		if !ok {
			t.Errorf("%s for %s: %v", c.to, c.from, err)
			continue
		}
		found := false
		for _, p := range e.Problems {
			found = found || p.Path == c.path && strings.Contains(p.Text, c.says)
		}
		if !found {
			t.Errorf("%s for %s: %v does not say %q of %s", c.to, c.from, err, c.says, c.path)
		}
	}
}

// A constant has a name that stands in a sentence of any language: no rule, no half sentence, nothing of what its zero means;
// and a column has something to say of each.
func TestConstantsAreNamedInSentences(t *testing.T) {
	for _, l := range words.Languages() {
		w := &words.Writer{Language: l}
		for _, c := range AllConstants {
			if n := c.Named().Text(w); n == "" || strings.ContainsAny(n, ";…:[{") || strings.ContainsAny(n[:1], "01") {
				t.Errorf("%s: %s is named %q in a sentence", l.Tag, c.Path, n)
			}
			if m := c.Means().Text(w); strings.Contains(m, "[") {
				t.Errorf("%s: of %s a column says %q", l.Tag, c.Path, m)
			}
		}
	}
}
