package paper

import (
	"bytes"
	"slices"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"

	"needlepace/ask"
	"needlepace/words"
)

func planSheet() Sheet {
	return Sheet{
		Name:    "Plan: week 11 [draft] with a name far too long for a tab",
		Columns: []Column{{Head: "order", Width: 20}, {Head: "pieces"}, {Head: "price", Format: "#,##0.00"}, {Head: "begins"}, {Head: "note", Width: 30}},
		Rows: [][]any{
			{"1042", 72, decimal.RequireFromString("349.20"), time.Date(2026, 3, 9, 7, 10, 0, 0, time.UTC), "größer"},
			{"=1+2", -3, decimal.RequireFromString("-0.5"), time.Time{}, "+49 30"},
			{"@cmd", 1.5, nil, nil, "-2 left\nsecond line"},
			{"\t=1", true},
		},
	}
}

func TestWorkbookReadsBack(t *testing.T) {
	var b bytes.Buffer
	second := Sheet{Name: "plan", Columns: []Column{{Head: "a"}}}
	if err := XLSX(&b, planSheet(), second, second); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	names := f.GetSheetList()
	if len(names) != 3 {
		t.Fatalf("sheets %q", names)
	}
	sheet := names[0]
	for cell, want := range map[string]string{"A1": "order", "A2": "1042", "B2": "72", "C2": "349.20", "D2": "2026-03-09 07:10", "E2": "größer",
		"A3": "'=1+2", "B3": "-3", "C3": "-0.50", "D3": "", "E3": "'+49 30", "A4": "'@cmd", "B4": "1.5", "E4": "'-2 left\nsecond line", "A5": "'\t=1"} {
		if got, err := f.GetCellValue(sheet, cell); err != nil || got != want {
			t.Errorf("%s reads back as %q (%v), want %q", cell, got, err, want)
		}
	}
	for _, cell := range []string{"A3", "A4", "E3"} {
		if s, _ := f.GetCellFormula(sheet, cell); s != "" {
			t.Errorf("%s became the formula %q", cell, s)
		}
	}
	for cell, want := range map[string]excelize.CellType{"B2": excelize.CellTypeUnset, "C3": excelize.CellTypeUnset, "A2": excelize.CellTypeInlineString} {
		if got, _ := f.GetCellType(sheet, cell); got != want {
			t.Errorf("%s is a cell of type %v, want %v", cell, got, want)
		}
	}
}

// What stands in a column of figures is a number in a workbook, below zero too, whatever people read there (minutes, of seconds); in a
// column of text it stays text.
func TestFiguresOfAnAnswerAreNumbersInAWorkbook(t *testing.T) {
	s := TableSheet("after", &ask.Table{Columns: []ask.Column{{Key: "name"}, {Key: "over_seconds", Number: true}},
		Rows: [][]words.Value{{words.Name("007"), words.Name("-5609.148")}, {words.Name("-2 left"), words.Name("none")}, {words.Name("b"), words.Name("NaN")}}})
	want := [][]any{{"007", -5609.148}, {"-2 left", "none"}, {"b", "NaN"}}
	for i := range want {
		if !slices.Equal(s.Rows[i], want[i]) {
			t.Errorf("row %d: %#v, want %#v", i, s.Rows[i], want[i])
		}
	}
}

func TestTablesRefuseWhatCannotStandInACell(t *testing.T) {
	s := Sheet{Columns: []Column{{Head: "a"}}, Rows: [][]any{{struct{}{}}}}
	if err := XLSX(&bytes.Buffer{}, s); err == nil {
		t.Error("a struct went into a cell")
	}
	s.Rows = [][]any{{1, 2}}
	if err := XLSX(&bytes.Buffer{}, s); err == nil {
		t.Error("two cells went into one column")
	}
	if XLSX(&bytes.Buffer{}) == nil {
		t.Error("a workbook without tables was written")
	}
}
