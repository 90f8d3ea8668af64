package machine

import (
	"flag"
	"fmt"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the tables of docs/machine-sheets.md anew")

const docsFile = "../docs/machine-sheets.md"

// classTable is the classes for a shop owner.
func classTable() string {
	var b strings.Builder
	b.WriteString("| class | what it is | heads | needles | rated | 2 mm | 4 mm | 8 mm | trim, s | colour stop, s |\n|---|---|--:|--:|--:|--:|--:|--:|--:|--:|\n")
	for _, s := range Classes() {
		fmt.Fprintf(&b, "| `%s` | %s | %d | %d | %s |", s.Name, s.Class, s.Heads, s.Needles, number(s.MaxSpeed))
		for _, mm := range []float64{2, 4, 8} {
			fmt.Fprintf(&b, " %.0f |", math.Min(s.MaxSpeed, frameSpeed(s, mm)))
		}
		fmt.Fprintf(&b, " %s ± %.0f %% | %s ± %.0f %% |\n",
			number(s.Rest.Trim), 100*s.SD["rest.trim"], number(s.Rest.ColourStop), 100*s.SD["rest.colour_stop"])
	}
	return b.String()
}

// frameSpeed is the speed in stitches/min at which the frame just follows a
// stitch along x: MODEL section 2, without settle time.
func frameSpeed(s *Sheet, mm float64) float64 {
	a, v := s.Frame.AccelX, s.Frame.SpeedX
	t := 2 * math.Sqrt(mm/a)
	if mm > v*v/a {
		t = mm/v + v/a
	}
	return 60 * s.Frame.Window / t
}

// constantsTable is every key with its meaning, range and default.
func constantsTable() string {
	var b strings.Builder
	b.WriteString("| key | what it is | unit | range | if left out |\n|---|---|---|---|---|\n")
	for _, c := range Constants {
		def := "must be there"
		switch {
		case c.Optional && c.Default == noLimit:
			def = "no top speed in reach"
		case c.Optional:
			def = number(c.Default)
		}
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s to %s | %s |\n", c.Path, c.Means().Raw(), c.Unit, number(c.Min), number(c.Max),
			def)
	}
	return b.String()
}

func TestDocsTablesAreFresh(t *testing.T) {
	b, err := os.ReadFile(docsFile)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.ReplaceAll(string(b), "\r\n", "\n")
	want := text
	for name, table := range map[string]string{"classes": classTable(), "constants": constantsTable()} {
		between := regexp.MustCompile(`(?s)(<!-- ` + name + `: [^\n]*-->\n).*(<!-- end of ` + name + ` -->)`)
		if !between.MatchString(want) {
			t.Fatalf("%s has no place for the table of %s", docsFile, name)
		}
		want = between.ReplaceAllString(want, "${1}\n"+table+"\n${2}")
	}
	if want == text {
		return
	}
	if !*update {
		t.Fatalf("the tables of %s are stale: run `go test ./machine -run Docs -update`", docsFile)
	}
	if err := os.WriteFile(docsFile, []byte(want), 0o644); err != nil {
		t.Fatal(err)
	}
}

// The sheets in the document are sheets.
func TestDocsExamplesParse(t *testing.T) {
	b, err := os.ReadFile(docsFile)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, m := range regexp.MustCompile("(?s)```toml\n(.*?)```").FindAllStringSubmatch(strings.ReplaceAll(string(b), "\r\n", "\n"), -1) {
		all = append(all, m[1])
	}
	if len(all) != 2 {
		t.Fatalf("%d examples: say here what the new one is", len(all))
	}
	s, err := Parse("the shortest sheet", []byte(all[0]))
	if err != nil {
		t.Fatal(err)
	}
	// It is the shortest: no line of it can go.
	lines := strings.SplitAfter(all[0], "\n")
	for i, line := range lines {
		if !strings.Contains(line, "=") {
			continue
		}
		if _, err := Parse("shorter", []byte(strings.Join(append(append([]string{}, lines[:i]...), lines[i+1:]...),
			""))); err == nil {
			t.Errorf("the shortest sheet works without %q", line)
		}
	}
	got, err := Parse("with spreads", []byte(all[0]+all[1]))
	if err != nil || got.SD["rest.trim"] != 0.05 || got.BasisOf["rest.trim"] != Measured || got.Rest != s.Rest {
		t.Errorf("%+v, %v", got, err)
	}
}

// The recipe for the frame's acceleration in the document inverts MODEL
// section 2, with its worked number.
func TestDocsRecipeForTheFrame(t *testing.T) {
	const held, width = 500.0, 8.0
	a := 4 * width * math.Pow(held/(60*window), 2)
	if math.Abs(a-11480) > 5 {
		t.Errorf("the document says 11,480 mm/s², the recipe gives %.0f", a)
	}
	if n := 60 * window / (2 * math.Sqrt(width/a)); math.Abs(n-held) > 1e-9 {
		t.Errorf("the recipe gives a frame that holds %v/min, not %v", n, held)
	}
}
