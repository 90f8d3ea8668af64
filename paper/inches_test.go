package paper

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/floor"
	"needlepace/internal/readback"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/trial"
	"needlepace/words"
)

// Where the shop measures in inches no paper of a trial has a length in mm, but what the
// trial's own file says and the texts of the appendix; where in mm, none has one in inches.
func TestATrialHasOneUnitOfLength(t *testing.T) {
	b, err := os.ReadFile("../demo/trial/TRIAL.toml")
	if err != nil {
		t.Fatal(err)
	}
	b = bytes.Replace(b, []byte("gull-cap.dst"), []byte("wheel-badge.dst"), 1) // nine points
	from := floor.Sources{
		Design: func(path string) (*stitch.Design, error) {
			b, err := os.ReadFile(filepath.Join("../demo/trial", path))
			if err != nil {
				return nil, err
			}
			return stitchfile.Decode(b, path)
		},
		Sheet: func(name string) (*machine.Sheet, error) { s, _ := machine.Class(name); return s, nil },
	}
	var given []trial.Given
	for _, name := range []string{"times-quay.csv", "times-hall.csv", "grades-quay.csv"} {
		g, err := os.ReadFile("../demo/trial/returns/" + name)
		if err != nil {
			t.Fatal(err)
		}
		given = append(given, trial.Given{Name: name, Bytes: g})
	}
	ctx := context.Background()
	a, err := ask.Trial(ctx, ask.TrialQuestion{Name: "TRIAL.toml", TOML: b, Returned: given}, from)
	if err != nil {
		t.Fatal(err)
	}
	letters, err := a.Letters(ctx)
	if err != nil {
		t.Fatal(err)
	}
	crossings, err := a.Crossings(ctx)
	if err != nil {
		t.Fatal(err)
	}
	var pdf bytes.Buffer
	if err := TrialOf(a, letters, crossings, nil, "x", time.Time{}, nil).PDF(&pdf, A4); err != nil {
		t.Fatal(err)
	}
	// The reply to a letter, which is photographed, stands on one page.
	replies := strings.Split(readback.PDF(t, pdf.Bytes()), "tick what was done")[1:]
	for _, r := range replies {
		if sheet, _, ok := strings.Cut(r, "name of the new file"); !ok || strings.Contains(sheet, "reckoned with needlepace") {
			t.Errorf("a reply goes over a page: %q", sheet)
		}
	}
	if len(replies) != 4 {
		t.Errorf("%d replies", len(replies))
	}
	mm, inch := regexp.MustCompile(`(?i)[^<>]{0,60}\bmm²?\b|[^<>]{0,60}millimet`), regexp.MustCompile(`[\d{}] in²?\b`)
	for _, by := range []*words.Writer{{Inch: true}, {}} {
		made := time.Date(2026, 5, 4, 0, 0, 0, 0, time.UTC)
		var all bytes.Buffer
		for _, d := range []*Document{TrialOf(a, letters, crossings, nil, "x", made, by), TrialCard(a, &a.Places[0], "", made, by)} {
			if err := d.HTML(&all); err != nil {
				t.Fatal(err)
			}
		}
		text := regexp.MustCompile(`(?s)<style.*?</style>|<pre.*?</pre>|style="[^"]*"`).ReplaceAllString(all.String(), "")
		if found := mm.FindAllString(text, -1); by.Inch != (len(found) == 0) {
			t.Errorf("inches: %v, and there stands %d times mm: %q", by.Inch, len(found), strings.Join(found, " | "))
		}
		if found := inch.FindAllString(text, -1); by.Inch != (len(found) > 0) {
			t.Errorf("inches: %v, and there stands %q", by.Inch, found)
		}
	}
}
