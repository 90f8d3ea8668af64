// Package cells reads tables as people have them: text with commas, semicolons
// or tabs between, what is pasted from a spreadsheet, and the first sheet of a
// workbook (.xlsx).
package cells

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"path"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/unicode"
)

// The most that a table may have.
const (
	MaxBytes   = 8 << 20
	MaxRows    = 20_000
	MaxColumns = 200
)

// Read reads a file by its name: .xlsx is a workbook, all else is text. Cells
// are without spaces around them; empty rows are left in, so that the n-th row is
// that of the file.
func Read(name string, b []byte) ([][]string, error) {
	if len(b) > MaxBytes {
		return nil, fmt.Errorf("%s has %d bytes; a table has at most %d", name, len(b), MaxBytes)
	}
	var rows [][]string
	var err error
	if strings.EqualFold(path.Ext(name), ".xlsx") {
		rows, err = workbook(b)
	} else {
		rows, err = Text(string(wide(b)))
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return rows, nil
}

func workbook(b []byte) ([][]string, error) {
	f, err := excelize.OpenReader(bytes.NewReader(b), excelize.Options{
		UnzipSizeLimit: 16 * MaxBytes, UnzipXMLSizeLimit: 8 * MaxBytes,
	})
	if err != nil {
		return nil, errors.New("it cannot be read as a workbook (.xlsx)")
	}
	defer f.Close()
	names := f.GetSheetList()
	if len(names) == 0 {
		return nil, errors.New("the workbook has no sheet")
	}
	rows, err := f.GetRows(names[0])
	if err != nil {
		return nil, fmt.Errorf("its first sheet cannot be read: %w", err)
	}
	raw, err := f.GetRows(names[0], excelize.Options{RawCellValue: true})
	if err != nil {
		return nil, fmt.Errorf("its first sheet cannot be read: %w", err)
	}
	isDay := map[int]bool{} // by the style
	for i, row := range raw {
		for k, was := range row {
			if k >= len(rows[i]) || rows[i][k] == was {
				continue
			}
			if day := asDay(f, names[0], k+1, i+1, was, isDay); day != "" {
				rows[i][k] = day
			}
		}
	}
	return tidy(rows)
}

// asDay is a cell that a workbook keeps as a date, as 2026-03-20; "" of another one.
// How it is shown hangs on who made the workbook.
func asDay(f *excelize.File, sheet string, column, row int, raw string, known map[int]bool) string {
	serial, err := strconv.ParseFloat(raw, 64)
	if err != nil || !(serial >= 1 && serial < 2958466) { // 31 December 9999
		return ""
	}
	cell, err := excelize.CoordinatesToCellName(column, row)
	if err != nil {
		return ""
	}
	id, err := f.GetCellStyle(sheet, cell)
	if err != nil {
		return ""
	}
	is, seen := known[id]
	if !seen {
		style, err := f.GetStyle(id)
		is = err == nil && dayStyle(style)
		known[id] = is
	}
	if !is {
		return ""
	}
	at, err := excelize.ExcelDateToTime(serial, false)
	if err != nil {
		return ""
	}
	return at.Format("2006-01-02")
}

// dayStyle reports whether a number format shows a date (ECMA-376 part 1, 18.8.30:
// 14 to 17 and 22 are dates; a format of one's own is one where it has a year or a day).
func dayStyle(s *excelize.Style) bool {
	if s.CustomNumFmt != nil {
		format := strings.ToLower(quoted.ReplaceAllString(*s.CustomNumFmt, ""))
		return strings.ContainsAny(format, "yd")
	}
	return s.NumFmt >= 14 && s.NumFmt <= 17 || s.NumFmt == 22 || s.NumFmt >= 27 && s.NumFmt <= 31
}

// quoted are the parts of a number format that are shown as they stand.
var quoted = regexp.MustCompile(`"[^"]*"|\\.|\[[^\]]*\]`)

// between is what stands between cells: what is most often in the first row that has any,
// outside quotation marks. Of the same number a tab goes before a semicolon, and that before a
// comma: a comma may be in a number. What stands in a later row, as a semicolon in somebody's
// note, says nothing.
func between(s string) rune {
	for line := range strings.Lines(s) {
		n, quoted := map[rune]int{}, false
		for _, r := range line {
			if r == '"' {
				quoted = !quoted
			} else if !quoted {
				n[r]++
			}
		}
		if most := max(n['\t'], n[';'], n[',']); most > 0 {
			for _, r := range "\t;," {
				if n[r] == most {
					return r
				}
			}
		}
	}
	return ','
}

// wide is text in UTF-16 as a spreadsheet writes it, with its mark before it, as UTF-8;
// other text as it is.
func wide(b []byte) []byte {
	if bytes.HasPrefix(b, []byte("\xff\xfe")) || bytes.HasPrefix(b, []byte("\xfe\xff")) {
		if out, err := unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder().Bytes(b); err == nil {
			return out
		}
	}
	return b
}

// Text reads a table that is text, with tabs, semicolons or commas between.
func Text(s string) ([][]string, error) {
	s = strings.TrimPrefix(s, "\ufeff")
	if !utf8.ValidString(s) {
		return nil, errors.New("it is not UTF-8 text")
	}
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	var rows [][]string
	r := csv.NewReader(strings.NewReader(s))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes = between(s), -1, true
	for {
		row, err := r.Read()
		if row == nil && err != nil {
			if errors.Is(err, csv.ErrQuote) || errors.Is(err, csv.ErrBareQuote) {
				return nil, fmt.Errorf("row %d: a quotation mark is left open", len(rows)+1)
			}
			break
		}
		at, _ := r.FieldPos(0)
		for len(rows) < at-1 && len(rows) < MaxRows { // the reader passes over empty lines
			rows = append(rows, nil)
		}
		rows = append(rows, row)
		if len(rows) > MaxRows {
			break
		}
	}
	return tidy(rows)
}

func tidy(rows [][]string) ([][]string, error) {
	if len(rows) > MaxRows {
		return nil, fmt.Errorf("it has more than %d rows", MaxRows)
	}
	for i, row := range rows {
		if len(row) > MaxColumns {
			return nil, fmt.Errorf("row %d has %d columns; at most %d are read", i+1, len(row), MaxColumns)
		}
		for k := range row {
			row[k] = strings.TrimSpace(row[k])
		}
	}
	return rows, nil
}
