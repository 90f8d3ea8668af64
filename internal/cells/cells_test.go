package cells

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

func TestTablesAreReadAlike(t *testing.T) {
	want := [][]string{{"name", "file"}, {"Ada, the first", "ada.dst"}, nil, {"Öz", ""}}
	for name, text := range map[string]string{
		"a.csv":     "name,file\r\n\"Ada, the first\", ada.dst\r\n\r\nÖz,\r\n",
		"b.csv":     "\ufeffname;file\nAda, the first;ada.dst\n\nÖz;\n",
		"note.csv":  "name,file\n\"Ada, the first\",ada.dst\n\nÖz,\n",
		"wide.csv":  "\xff\xfen\x00a\x00m\x00e\x00\t\x00f\x00i\x00l\x00e\x00\n\x00A\x00d\x00a\x00,\x00 \x00t\x00h\x00e\x00 \x00f\x00i\x00r\x00s\x00t\x00\t\x00a\x00d\x00a\x00.\x00d\x00s\x00t\x00\n\x00\n\x00\xd6\x00z\x00\t\x00\n\x00",
		"paste.txt": "name\tfile\nAda, the first\tada.dst\n\nÖz\t\n",
	} {
		if got, err := Read(name, []byte(text)); err != nil || cmp.Diff(want, got) != "" {
			t.Errorf("%s: %v %s", name, err, cmp.Diff(want, got))
		}
	}
	f := excelize.NewFile()
	for cell, v := range map[string]any{"A1": "name", "B1": "file", "A2": "Ada, the first", "B2": " ada.dst ", "A4": "Öz"} {
		if err := f.SetCellValue("Sheet1", cell, v); err != nil {
			t.Fatal(err)
		}
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	got, err := Read("x.XLSX", b.Bytes())
	want[3] = []string{"Öz"}
	if err != nil || cmp.Diff(want, got) != "" {
		t.Errorf("workbook: %v %s", err, cmp.Diff(want, got))
	}
}

// A semicolon or a tab in somebody's words, in a later row or between quotation marks, is no
// end of a cell.
func TestWhatStandsBetweenCellsIsToldByTheFirstRow(t *testing.T) {
	for text, want := range map[string][][]string{
		"time,note\n5:27,broke; threaded anew\n": {{"time", "note"}, {"5:27", "broke; threaded anew"}},
		"time,note\n5:27,a\tb\n":                 {{"time", "note"}, {"5:27", "a\tb"}},
		"\"a;b\",c,d\n1,2,3\n":                   {{"a;b", "c", "d"}, {"1", "2", "3"}},
		"time;note\n5,5;a, b, c\n":               {{"time", "note"}, {"5,5", "a, b, c"}},
		"\n\nname;a,b\n":                         {nil, nil, {"name", "a,b"}},
		"size,note\n1,a 3\" hoop\n2,b\n":         {{"size", "note"}, {"1", "a 3\" hoop"}, {"2", "b"}},
		"a,b\n1,\"two\nlines\"\n":                {{"a", "b"}, {"1", "two\nlines"}},
	} {
		if got, err := Text(text); err != nil || cmp.Diff(want, got) != "" {
			t.Errorf("%q: %v %s", text, err, cmp.Diff(want, got))
		}
	}
}

// Times are read by their values, however they are shown, but for one that says what was typed;
// all sheets of a workbook are read, and what a first line says of what stands between cells is done.
func TestTimesOfAWorkbookAreWhatTheyAre(t *testing.T) {
	f := excelize.NewFile()
	at := func(h, m int, s float64) float64 { return (float64(h*3600+m*60) + s) / 86400 }
	for i, c := range []struct {
		value  float64
		format string
		want   string
	}{{at(0, 6, 52), "h:mm", "0:06:52"}, {at(6, 52, 0), "h:mm", "6:52"}, {at(6, 52, 0), "h:mm AM/PM", "6:52"}, {at(0, 6, 52), "mm:ss", "0:06:52"},
		{at(0, 6, 52.3), "mm:ss.0", "0:06:52.3"}, {at(27, 0, 5), "[h]:mm:ss", "27:00:05"}, {at(0, 6, 52), "[m]:ss", "0:06:52"}, {at(0, 6, 52), "h:mm:ss AM/PM", "0:06:52"},
		{46100, "dd.mm.yyyy", "2026-03-19"}, {392.5, "0.0", "392.5"}, {392, "General", "392"}} {
		cell := fmt.Sprintf("A%d", i+1)
		style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &c.format})
		if err := errors.Join(err, f.SetCellValue("Sheet1", cell, c.value), f.SetCellStyle("Sheet1", cell, cell, style)); err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := f.Write(&b); err != nil {
			t.Fatal(err)
		}
		if rows, err := Read("x.xlsx", b.Bytes()); err != nil || rows[i][0] != c.want {
			t.Errorf("%v as %s is %v, want %s (%v)", c.value, c.format, rows[i], c.want, err)
		}
	}
	if _, err := f.NewSheet("Grades"); err != nil {
		t.Fatal(err)
	}
	if err := f.SetCellValue("Grades", "B2", "four"); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	all, err := ReadAll("x.xlsx", b.Bytes())
	if err != nil || len(all) != 2 || all[1].Name != "Grades" || all[1].Rows[1][1] != "four" {
		t.Errorf("%v, %v", all, err)
	}
	if rows, err := Text("sep=;\na,5;b\n1;2\n"); err != nil || cmp.Diff([][]string{nil, {"a,5", "b"}, {"1", "2"}}, rows) != "" {
		t.Errorf("%v, %v", rows, err)
	}
}

func TestBadTablesAreRefused(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"a.xlsx": {"no workbook", "cannot be read as a workbook"},
		"b.csv":  {"a\xffb", "not UTF-8"},
		"c.csv":  {strings.Repeat("a\n", MaxRows+1), "more than 20000 rows"},
		"e.csv":  {"a,b\n1,\"open\n2,x\n3,y\n", "row 2: a quotation mark is left open"},
		"d.csv":  {strings.Repeat(",", MaxColumns), "columns"},
	} {
		if _, err := Read(name, []byte(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzText(f *testing.F) {
	f.Add("a,b\n\"c\nd\",\n")
	f.Add("\"")
	f.Fuzz(func(t *testing.T, s string) { _, _ = Text(s) })
}
