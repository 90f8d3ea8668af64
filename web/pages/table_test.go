package pages

import (
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/words"
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

// Beside other columns a sentence has a word a line on a phone.
func TestRowsWithASentenceAreCardsOnAPhone(t *testing.T) {
	const sentence = words.Name("The run took 15 min less than its stitches at the set speed.")
	for _, c := range []struct {
		why   words.Value
		files bool // the column is in the file only
		cards bool
	}{{sentence, false, true}, {sentence, true, false}, {words.Name("another design"), false, false}, {nil, false, false}} {
		tab := tableOf(&ask.Table{Caption: sentence, Columns: []ask.Column{{Heading: words.Say("column.machine")}, {Heading: words.Say("column.pieces")}, {Heading: words.Say("trial.why"), File: c.files}},
			Rows: [][]words.Value{{sentence, words.Whole(1), c.why}}}, "", nil)
		if tab.Cards != c.cards {
			t.Errorf("%v, in the file only %v: cards %v", c.why, c.files, tab.Cards)
		}
	}
}
