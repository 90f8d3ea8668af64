package trial

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// book is a workbook of rows, and whatever else is done to its sheet.
func book(t *testing.T, rows [][]any, also func(f *excelize.File, sheet string) error) []byte {
	t.Helper()
	f := excelize.NewFile()
	for i, row := range rows {
		if err := f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &row); err != nil {
			t.Fatal(err)
		}
	}
	if err := also(f, "Sheet1"); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// What people do to a sheet: a place said once for all its rows, a second column of times, times that are formulas
// of a program that reckons none. Nothing of it is lost without a word.
func TestWhatPeopleDoToASheet(t *testing.T) {
	rows := [][]any{{"place", "turn", "person", "time"}, {"quay", 1, "Ann", 401}, {"", 2, "", 402}}
	r := returned(t, twoPlaces, Given{"a.xlsx", book(t, rows, func(f *excelize.File, s string) error {
		if err := f.MergeCell(s, "A2", "A3"); err != nil {
			return err
		}
		return f.MergeCell(s, "C2", "C3")
	})})
	if used := r.Used(); len(used) != 2 || used[1].Person != "Ann" || len(r.Said) != 0 {
		t.Errorf("cells that are one: %+v, %s", used, r.Said.Text(nil))
	}

	r = returned(t, twoPlaces, Given{"b.csv", []byte("place,turn,time,time\nquay,1,401,\nquay,2,,402\n")})
	if used := r.Used(); len(used) != 2 || !said(r, "b.csv has the column time more than once") {
		t.Errorf("two columns of times: %+v, %s", used, r.Said.Text(nil))
	}

	rows = [][]any{{"place", "turn", "time"}, {"quay", 1}, {"quay", 2}}
	r = returned(t, twoPlaces, Given{"c.xlsx", book(t, rows, func(f *excelize.File, s string) error { return f.SetCellFormula(s, "C2", "6*60+41") })})
	if len(r.Used()) != 0 || !said(r, "c.xlsx has formulas whose values it does not keep") {
		t.Errorf("a formula without a value: %+v, %s", r.Used(), r.Said.Text(nil))
	}
	rows = [][]any{{"place", "turn", "time", "sum"}, {"quay", 1, 401}}
	r = returned(t, twoPlaces, Given{"d.xlsx", book(t, rows, func(f *excelize.File, s string) error { return f.SetCellFormula(s, "D2", "C2*2") })})
	if len(r.Used()) != 1 || len(r.Said) != 0 {
		t.Errorf("a formula of their own: %+v, %s", r.Used(), r.Said.Text(nil))
	}
}

// Machines whose names differ by capital letters alone are told apart where they are named as they are.
func TestNamesThatDifferByCapitals(t *testing.T) {
	r := returned(t, strings.Replace(twoPlaces, `"New"`, `"OLD"`, 1), Given{"g.csv", []byte("grader,design,machine,block,pull\nAnn,bars,OLD,1,3\nAnn,bars,Old,1,4\nAnn,bars,oLd,1,5\n")})
	if len(r.Grades) != 2 || r.Grades[0].Machine != "OLD" || r.Grades[1].Machine != "Old" || !said(r, "g.csv, row 4") {
		t.Errorf("%+v, %s", r.Grades, r.Said.Text(nil))
	}
}

// A sheet that was put right comes back whole: what it says again is one sentence, and so is a sheet of another trial.
func TestManyRowsAreOneSentence(t *testing.T) {
	r := returned(t, twoPlaces, Given{"a.csv", []byte("trial,place,turn,time\nTwo,quay,1,401\nTwo,quay,2,402\nTwo,quay,3,403\n")},
		Given{"b.csv", []byte("trial,place,turn,time\nTwo,quay,1,401\nTwo,quay,2,402\nTwo,quay,3,413\n")},
		Given{"c.csv", []byte("trial,place,turn,time\nThree,quay,1,401\nThree,quay,2,402\nFour,quay,4,404\n")})
	for _, want := range []string{"2 rows of b.csv say the same as a.csv: they count once", "2 rows of c.csv belong to “Three”: this one is “Two”",
		"c.csv, row 4 belongs to “Four”: this one is “Two”"} {
		if !said(r, want) {
			t.Errorf("no word of %q: %s", want, r.Said.Text(nil))
		}
	}
	if len(r.Said) != 3 || len(r.Used()) != 2 || r.Runs[2].Apart.Key != "returns.twice" {
		t.Errorf("%d sentences, used %+v", len(r.Said), r.Used())
	}
}
