package pages

import (
	"net/url"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"needlepace/book"
	"needlepace/words"
)

// What the floor writes into the form is what is recorded, each figure in its
// own place and in seconds.
func TestARecordIsWhatWasWrittenDown(t *testing.T) {
	for _, c := range []struct {
		typed string
		want  book.Report
		wrong map[string]string // field: part of what is said
	}{
		{"machine=m&good=12&spoilt=3&breaks=2&from=09:10&to=11:40&pauses=15&run_min=18&run_sec=45&speed=800&day=2026-03-02" +
			"&note=thin+thread", book.Report{MachineID: "m", Day: words.NewDay(2026, 3, 2), Good: 12, Spoilt: 3, Breaks: 2,
			Seconds: 8100, RunTimed: 1125, SetSpeed: 800, Note: "thin thread"}, nil},
		{"machine=m&good=4", book.Report{MachineID: "m", Good: 4, Breaks: -1}, nil},                    // nobody counted breaks
		{"machine=m&good=4&breaks=0", book.Report{MachineID: "m", Good: 4}, nil},                       // counted
		{"machine=m&from=22:30&to=01:00", book.Report{MachineID: "m", Breaks: -1, Seconds: 9000}, nil}, // over midnight
		{"machine=m&from=07:00&to=07:00", book.Report{MachineID: "m", Breaks: -1, Seconds: 86400}, nil},
		{"good=4", book.Report{}, map[string]string{"machine": "on which machine"}},
		{"machine=m&from=09:00", book.Report{}, map[string]string{"to": "one of the times is missing"}},
		{"machine=m&to=09:00", book.Report{}, map[string]string{"from": "one of the times is missing"}},
		{"machine=m&pauses=5", book.Report{}, map[string]string{"pauses": "give from and to"}},
		{"machine=m&from=09:00&to=09:30&pauses=30", book.Report{}, map[string]string{"pauses": "leaves no time"}},
	} {
		values, err := url.ParseQuery(c.typed)
		if err != nil {
			t.Fatal(err)
		}
		var in recordFields
		f, err := readForm(values, &in, nil)
		if err != nil || f.bad() {
			t.Fatalf("%s: %v, %v", c.typed, err, f.wrong)
		}
		got := in.report(f)
		if c.wrong == nil {
			if d := cmp.Diff(c.want, got); d != "" || f.bad() {
				t.Errorf("%s (-want +got), %v:\n%s", c.typed, f.wrong, d)
			}
			continue
		}
		for field, part := range c.wrong {
			if len(f.wrong) != len(c.wrong) || !strings.Contains(f.wrong[field], part) {
				t.Errorf("%s: said is %v, want %q at %s", c.typed, f.wrong, part, field)
			}
		}
	}
}

// One piece is one where a language has a form of its own for it.
func TestOnePieceIsSaidAsOne(t *testing.T) {
	for lang, want := range map[string][2]string{"es": {"1 buena", "1 defectuosa"}, "pt": {"1 boa", "1 perdida"}, "en": {"1 good", "1 spoilt"}} {
		l, _ := words.LanguageOf(lang)
		w := &words.Writer{Language: l}
		one := words.Args{"n": words.Whole(1)}
		if got := [2]string{words.Say("record.made-good", one).Text(w), words.Say("record.made-spoilt", one).Text(w)}; got != want {
			t.Errorf("%s: %q, want %q", lang, got, want)
		}
	}
}
