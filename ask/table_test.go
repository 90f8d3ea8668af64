package ask

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"needlepace/words"
)

func TestTableIsLaidOutForFilesAndForPeople(t *testing.T) {
	table := &Table{
		Columns: []Column{
			{Key: "design", Heading: words.Name("Design")},
			{Key: "seconds", Heading: words.Name("Time"), Number: true},
			{Key: "note", Heading: words.Name("Note"), File: true},
			{Key: "change", Heading: words.Name("Change"), Number: true},
		},
		Rows: [][]words.Value{
			{words.Name("=SUM(A1)"), words.Seconds(1125.25), words.Name("x"), words.Signed{Numeric: words.Fixed(-1.5, 1)}},
			{words.Name("Leaf"), nil, words.None{}},
		},
	}
	want := [][]string{{"design", "seconds", "note", "change"}, {"'=SUM(A1)", "1125.25", "x", "-1.5"}, {"Leaf", "", "", ""}}
	if d := cmp.Diff(want, table.CSV()); d != "" {
		t.Errorf("file (-want +got):\n%s", d)
	}
	headings, rows := table.Shown(nil)
	if d := cmp.Diff([]string{"Design", "Time", "Change"}, headings); d != "" {
		t.Errorf("headings (-want +got):\n%s", d)
	}
	if d := cmp.Diff([][]string{{"=SUM(A1)", "18 min 45 s", "−1.5"}, {"Leaf", "", ""}}, rows); d != "" {
		t.Errorf("rows (-want +got):\n%s", d)
	}
}

func TestARowMayBeShorterThanItsColumns(t *testing.T) {
	table := &Table{
		Columns: []Column{{Key: "a", Heading: words.Name("A")}, {Key: "b", Heading: words.Name("B")}},
		Rows:    [][]words.Value{{words.Name("x")}, {nil, words.Name("y")}, {words.Name("p"), words.Name("q"), words.Name("too much")}},
	}
	if d := cmp.Diff([][]string{{"a", "b"}, {"x", ""}, {"", "y"}, {"p", "q"}}, table.CSV()); d != "" {
		t.Errorf("file (-want +got):\n%s", d)
	}
	if _, rows := table.Shown(nil); cmp.Diff([][]string{{"x", ""}, {"", "y"}, {"p", "q"}}, rows) != "" {
		t.Errorf("rows %v", rows)
	}
}

// A spreadsheet runs text as a formula that begins with = + - or @, or with a tab or line break and then one
// of them (OWASP, "CSV Injection", from memory); figures stay figures.
func TestNoCellIsRunAsAFormula(t *testing.T) {
	for text, want := range map[string]string{
		"=1+1": "'=1+1", "+1+1": "'+1+1", "-1+1": "'-1+1", "@SUM(A1)": "'@SUM(A1)", "\t=1+1": "'\t=1+1", "\r=1+1": "'\r=1+1", "\n=1+1": "'\n=1+1",
		"-1.5": "-1.5", "+2": "+2", "1=1": "1=1", "": "", "'=1": "'=1", "Möwe": "Möwe",
	} {
		table := &Table{Columns: []Column{{Key: text}}, Rows: [][]words.Value{{words.Name(text)}}}
		if d := cmp.Diff([][]string{{want}, {want}}, table.CSV()); d != "" {
			t.Errorf("%q (-want +got):\n%s", text, d)
		}
	}
}
