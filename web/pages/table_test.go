package pages

import (
	"strings"
	"testing"
)

// A column with nothing in it is not shown, but stays in the file: whoever
// reads files counts on it.
func TestEmptyColumnsStayInTheFile(t *testing.T) {
	tab := &table{Cols: []col{{Name: "a"}, {Name: "b"}, {Name: "c"}},
		Rows: [][]cell{{text("1"), text(""), markup("<b>x</b>")}, {text("2"), text(""), text("")}}}
	tab.hideEmpty()
	if tab.Cols[0].File || !tab.Cols[1].File || tab.Cols[2].File {
		t.Errorf("hidden are %v, %v, %v; want b alone", tab.Cols[0].File, tab.Cols[1].File, tab.Cols[2].File)
	}
	var csv strings.Builder
	if err := tab.writeCSV(&csv); err != nil || !strings.HasPrefix(csv.String(), "a,b,c\n") {
		t.Errorf("%q, %v", csv.String(), err)
	}
}
