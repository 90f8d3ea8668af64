// Package cells reads tables as people have them: text with commas, semicolons
// or tabs between, what is pasted from a spreadsheet, and the sheets of a
// workbook (.xlsx).
package cells

import (
	"bytes"
	"fmt"
	"path"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// The most that a table may have.
const (
	MaxBytes   = 8 << 20
	MaxRows    = 20_000
	MaxColumns = 200
)

// Sheet is a table as it stands in a file. Rows and columns are counted from 0.
type Sheet struct {
	Name string // in a workbook of several; else empty
	Rows [][]string
	// Comma is what stands between the cells of a text; 0: it is a sheet of a workbook.
	Comma rune
	// Letters are those that a text was read by, where it is not Unicode and nobody said them.
	Letters string
	Hidden  []int           // rows that a workbook does not show
	Below   map[Cell]int    // cells that are one cell with others above them → the first one's row
	Kept    map[Cell]string // numbers, as a workbook keeps them, where it shows something else
	Unkept  map[Cell]bool   // formulas whose value the workbook does not keep
}

// Cell is the place of a cell.
type Cell struct{ Row, Column int }

// ColumnName is the name of a column, from 0, as spreadsheets write it.
func ColumnName(column int) string {
	name, err := excelize.ColumnNumberToName(column + 1)
	if err != nil {
		return strconv.Itoa(column + 1)
	}
	return name
}

// File is a file with tables in it, which are read one by one.
type File struct {
	Sheets []SheetName // of a workbook as it shows them; a text has one without a name
	sheet  func(i int) (*Sheet, error)
	book   *excelize.File // of a workbook, once a sheet was read
	name   string
}

// Close lets a file go.
func (f *File) Close() error {
	if f.book == nil {
		return nil
	}
	return f.book.Close()
}

// SheetName is a sheet of a workbook, and whether it shows it.
type SheetName struct {
	Name   string
	Hidden bool
}

// Sheet reads the i-th one.
func (f *File) Sheet(i int) (*Sheet, error) {
	s, err := f.sheet(i)
	if err != nil && f.Sheets[i].Name != "" {
		err = fmt.Errorf("its sheet %s: %w", f.Sheets[i].Name, err)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.name, err)
	}
	return s, nil
}

// Open opens a file: a workbook by what is in it, all else is text. letters are those of a text that is
// not Unicode, one of Letters; empty: as it looks.
func Open(name string, b []byte, letters string) (*File, error) {
	f := &File{name: name}
	if len(b) > MaxBytes {
		return nil, fmt.Errorf("%s has %d bytes; a table has at most %d", name, len(b), MaxBytes)
	}
	if why := noTable(b); why != "" {
		return nil, fmt.Errorf("%s: %s", name, why)
	}
	if strings.EqualFold(path.Ext(name), ".xlsx") || bytes.HasPrefix(b, []byte("PK\x03\x04")) {
		if err := f.workbook(b); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		return f, nil
	}
	text, guessed, err := decoded(b, letters)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	f.Sheets = []SheetName{{}}
	f.sheet = func(int) (*Sheet, error) {
		s, err := sheetOfText(text)
		if err == nil {
			s.Letters = guessed
		}
		return s, err
	}
	return f, nil
}

// noTable says what a file is that is no table that can be read, and what to do; "" of others.
func noTable(b []byte) string {
	start := strings.ToLower(string(bytes.TrimSpace(b[:min(len(b), 200)])))
	switch {
	case bytes.HasPrefix(b, []byte("\xd0\xcf\x11\xe0")):
		return "it is a workbook of an old form (.xls), or one with a password: keep it as .xlsx without one, or as .csv"
	case strings.HasPrefix(start, "%pdf"):
		return "it is a paper (PDF) and no table: give the spreadsheet that it was made from"
	case strings.HasPrefix(start, "<!doctype html"), strings.HasPrefix(start, "<html"), strings.HasPrefix(start, "<table"):
		return "it is a page of the web and no table, whatever its name: open it in a spreadsheet and keep it as .xlsx or .csv"
	case strings.HasPrefix(start, "<?xml"):
		return "it is XML and no table: open it in a spreadsheet and keep it as .xlsx or .csv"
	case bytes.HasPrefix(b, []byte("PK\x03\x04")) && bytes.Contains(b[:min(len(b), 200)], []byte("opendocument")):
		return "it is a workbook of another form (.ods): keep it as .xlsx or .csv"
	}
	return ""
}

// Read reads a file by its name: .xlsx is a workbook, of which the first sheet is read, all else is text. Cells
// are without spaces around them; empty rows are left in, so that the n-th row is
// that of the file.
func Read(name string, b []byte) ([][]string, error) {
	f, err := Open(name, b, utf8Only)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	s, err := f.Sheet(0)
	if err != nil {
		return nil, err
	}
	return s.Rows, nil
}

// ReadAll is Read of all sheets of a workbook.
func ReadAll(name string, b []byte) (all []Sheet, err error) {
	f, err := Open(name, b, utf8Only)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	for i := range f.Sheets[:min(mostSheets, len(f.Sheets))] {
		s, err := f.Sheet(i)
		if err != nil {
			return nil, err
		}
		all = append(all, *s)
	}
	if len(all) == 1 {
		all[0].Name = ""
	}
	return all, nil
}

const mostSheets = 50

func tidy(rows [][]string) ([][]string, error) {
	if len(rows) > MaxRows {
		return nil, fmt.Errorf("it has more than %d rows", MaxRows)
	}
	for i, row := range rows {
		if len(row) > MaxColumns {
			return nil, fmt.Errorf("row %d has %d columns; at most %d are read", i+1, len(row), MaxColumns)
		}
		for k := range row {
			row[k] = strings.TrimSpace(spaces.Replace(row[k]))
		}
	}
	return rows, nil
}

// spaces are those that look like others, and what is not seen at all.
var spaces = strings.NewReplacer("\u00a0", " ", "\u202f", " ", "\u2007", " ", "\u2009", " ", "\u200b", "", "\ufeff", "")
