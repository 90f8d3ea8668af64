package cells

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// rawBook is a workbook with one part for each sheet, written by hand and by nothing that also reads it (parts and
// their names: ECMA-376 part 1, sections 12.3 and 18; from memory). Style 1 shows days, 2 five digits, 3 thousands, 4 powers of ten.
func rawBook(t *testing.T, bookPr string, sheets ...[3]string) []byte {
	t.Helper()
	const main = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`
	const office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	list, links := "", ""
	parts := map[string]string{}
	types := `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>`
	kind := func(part, as string) {
		types += fmt.Sprintf(`<Override PartName="/%s" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.%s+xml"/>`, part, as)
	}
	kind("xl/workbook.xml", "sheet.main")
	kind("xl/styles.xml", "styles")
	for i, s := range sheets {
		part := fmt.Sprintf("xl/worksheets/s%d.xml", i)
		parts[part] = `<worksheet ` + main + `>` + s[2] + `</worksheet>`
		kind(part, "worksheet")
		list += fmt.Sprintf(`<sheet name="%s" sheetId="%d" %s r:id="r%d"/>`, s[0], i+1, s[1], i)
		links += fmt.Sprintf(`<Relationship Id="r%d" Type="%s/worksheet" Target="worksheets/s%d.xml"/>`, i, office, i)
	}
	parts["[Content_Types].xml"] = types + `</Types>`
	rels := `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">`
	parts["_rels/.rels"] = rels + `<Relationship Id="a" Type="` + office + `/officeDocument" Target="xl/workbook.xml"/></Relationships>`
	parts["xl/_rels/workbook.xml.rels"] = rels + links + `<Relationship Id="st" Type="` + office + `/styles" Target="styles.xml"/></Relationships>`
	parts["xl/workbook.xml"] = `<workbook ` + main + ` xmlns:r="` + office + `"><workbookPr ` + bookPr + `/><sheets>` + list + `</sheets></workbook>`
	parts["xl/styles.xml"] = `<styleSheet ` + main + `><numFmts count="1"><numFmt numFmtId="164" formatCode="00000"/></numFmts><fonts><font/></fonts><fills><fill/></fills>
<borders><border/></borders><cellStyleXfs><xf/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/><xf numFmtId="3"/><xf numFmtId="11"/></cellXfs></styleSheet>`
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range parts {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(`<?xml version="1.0"?>` + text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func opened(t *testing.T, name string, b []byte, letters string, i int) *Sheet {
	t.Helper()
	f, err := Open(name, b, letters)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	s, err := f.Sheet(i)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Day 0 is 30 December 1899, or 1 January 1904 (ECMA-376 part 1, 18.17.4.1): 44670 days after it is 20 April 2026 by
// the second, and 46132 by the first; counted by hand.
func TestAWorkbookSaysHowItIsMeant(t *testing.T) {
	const rows = `<sheetData><row r="2"><c r="A2" t="inlineStr"><is><t>Ann</t></is></c><c r="B2" s="1"><v>%d</v></c><c r="C2" s="2"><v>471</v></c><c r="D2" s="3"><v>1200</v></c>
<c r="E2" s="4"><v>123456789012345</v></c><c r="F2"><f>6*4</f></c><c r="G2"><f>1.2*10</f><v>12.000000000000002</v></c><c r="H2" t="str"><f>A9</f><v></v></c></row>
<row r="3" hidden="1"><c r="B3" s="1"><v>%d</v></c><c r="F3"><f>6*4</f><v>24</v></c></row><row r="4"><c r="C4"><v>5</v></c></row></sheetData>
<mergeCells><mergeCell ref="A2:A4"/><mergeCell ref="A1:H1"/></mergeCells>`
	for pr, day := range map[string]int{`date1904="1"`: 44670, `date1904="true"`: 44670, `date1904="0"`: 46132, ``: 46132} {
		b := rawBook(t, pr, [3]string{"Old", `state="hidden"`, `<sheetData/>`}, [3]string{"March", "", fmt.Sprintf(rows, day, day)})
		s := opened(t, "orders", b, "", 1)
		want := []string{"Ann", "2026-04-20", "00471", "1,200"}
		if len(s.Rows) != 4 || cmp.Diff(want, s.Rows[1][:4]) != "" || s.Rows[2][1] != "2026-04-20" {
			t.Errorf("%s: %q", pr, s.Rows)
		}
		if cmp.Diff(map[Cell]string{{1, 3}: "1200", {1, 4}: "123456789012345", {1, 6}: "12"}, s.Kept) != "" {
			t.Errorf("kept: %v", s.Kept)
		}
		if cmp.Diff(map[Cell]bool{{1, 5}: true}, s.Unkept) != "" || cmp.Diff(map[Cell]int{{2, 0}: 1, {3, 0}: 1}, s.Below) != "" || cmp.Diff([]int{2}, s.Hidden) != "" {
			t.Errorf("formulas without a value %v, cells below %v, hidden %v", s.Unkept, s.Below, s.Hidden)
		}
		f, err := Open("x.xlsx", b, "")
		if err != nil || cmp.Diff([]SheetName{{"Old", true}, {"March", false}}, f.Sheets) != "" {
			t.Errorf("%+v, %v", f.Sheets, err)
		}
	}
}

// The bytes of these letters are those of the code pages' published tables (unicode.org, Public/MAPPINGS; from memory).
func TestTextThatIsNotUnicodeIsReadAndSaid(t *testing.T) {
	for text, want := range map[string][2]string{
		"Caf\xe9;St\xfcck \x96 \x80":           {"Café|Stück – €", "windows-1252"},
		"\xdeule;I\xfe\xfdk \xd6z":             {"Şule|Işık Öz", "windows-1254"},
		"Caf\x8e;M\x9fller na\x95ve":           {"Café|Müller naïve", "macintosh"},
		"Kid\x92s;plain":                       {"Kid’s|plain", "windows-1252"},
		"\x93a\x94;b\x85":                      {"“a”|b…", "windows-1252"},
		"\xc9\x00v\x00a\x00;\x00b\x00":         {"Éva|b", ""},
		"\x00\xc9\x00v\x00a\x00;\x00b":         {"Éva|b", ""},
		"\xfe\xff\x00\xc9\x00v\x00a\x00;\x00b": {"Éva|b", ""},
		"\xef\xbb\xbfCaf\u00e9;b\u00a0c\u200b": {"Café|b c", ""},
	} {
		s := opened(t, "t.csv", []byte(text), "", 0)
		if got := strings.Join(s.Rows[0], "|"); got != want[0] || s.Letters != want[1] || s.Comma != ';' {
			t.Errorf("%q: %q by %q, want %q", text, got, s.Letters, want)
		}
	}
	if s := opened(t, "t.csv", []byte("a;\xf3\xb3"), "windows-1250", 0); s.Rows[0][1] != "ół" || s.Letters != "" {
		t.Errorf("letters that were said: %q, %q", s.Rows, s.Letters)
	}
	for text, want := range map[string]string{
		"\xd0\xcf\x11\xe0\xa1\xb1": "old form (.xls)", "%PDF-1.7": "PDF", "\n<html><table>": "page of the web", "<?xml version=\"1.0\"?>": "XML",
		"PK\x03\x04mimetypeapplication/vnd.oasis.opendocument.spreadsheet": ".ods", "a\x00b\xff": "no text",
	} {
		if _, err := Open("t.csv", []byte(text), ""); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
	if _, err := Open("t.csv", []byte("a\xff"), "moon"); err == nil || !strings.Contains(err.Error(), "windows-1252") {
		t.Errorf("letters that are none: %v", err)
	}
}

// Rows are counted as a spreadsheet counts them, whatever line breaks are in cells; a quotation mark that is left open swallows none.
func TestRowsAreCountedAsASpreadsheetCounts(t *testing.T) {
	rows, err := Text("a,b\n1,\"two\nlines\nthree\"\n\n2,x\n\"3\n4\",\"5\n\n6\"\n7,y")
	if want := [][]string{{"a", "b"}, {"1", "two\nlines\nthree"}, nil, {"2", "x"}, {"3\n4", "5\n\n6"}, {"7", "y"}}; err != nil || cmp.Diff(want, rows) != "" {
		t.Errorf("%v %s", err, cmp.Diff(want, rows))
	}
	if _, err := Text("a,b\n0,x\n1,\"call\n2,\"rush\n3,y\n"); err == nil || !strings.Contains(err.Error(), "row 3: a quotation mark") {
		t.Errorf("two marks that are left open: %v", err)
	}
	if rows, err := Text("a,b\n1,3\" hoop\n2,\"two\nlines\"\n3,4\" hoop\n"); err != nil || len(rows) != 4 {
		t.Errorf("inches beside a line break: %q, %v", rows, err)
	}
}
