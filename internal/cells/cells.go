// Package cells reads tables as people have them: text with commas, semicolons
// or tabs between, what is pasted from a spreadsheet, and the sheets of a
// workbook (.xlsx).
package cells

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"path"
	"regexp"
	"slices"
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

// Sheet is a table as it stands in a file.
type Sheet struct {
	Name string // in a workbook of several; else empty
	Rows [][]string
}

// Read reads a file by its name: .xlsx is a workbook, of which the first sheet is read, all else is text. Cells
// are without spaces around them; empty rows are left in, so that the n-th row is
// that of the file.
func Read(name string, b []byte) ([][]string, error) {
	all, err := read(name, b, 1)
	if err != nil {
		return nil, err
	}
	return all[0].Rows, nil
}

// ReadAll is Read of all sheets of a workbook.
func ReadAll(name string, b []byte) ([]Sheet, error) { return read(name, b, mostSheets) }

const mostSheets = 50

func read(name string, b []byte, most int) (all []Sheet, err error) {
	if len(b) > MaxBytes {
		return nil, fmt.Errorf("%s has %d bytes; a table has at most %d", name, len(b), MaxBytes)
	}
	if strings.EqualFold(path.Ext(name), ".xlsx") {
		all, err = workbook(b, most)
	} else {
		all = make([]Sheet, 1)
		all[0].Rows, err = Text(string(wide(b)))
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return all, nil
}

func workbook(b []byte, most int) (all []Sheet, err error) {
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
	for _, name := range names[:min(most, len(names))] {
		rows, err := sheetOf(f, name)
		if err != nil {
			return nil, fmt.Errorf("its sheet %s: %w", name, err)
		}
		all = append(all, Sheet{name, rows})
	}
	if len(all) == 1 {
		all[0].Name = ""
	}
	return all, nil
}

func sheetOf(f *excelize.File, name string) ([][]string, error) {
	rows, err := f.GetRows(name)
	if err != nil {
		return nil, fmt.Errorf("it cannot be read: %w", err)
	}
	raw, err := f.GetRows(name, excelize.Options{RawCellValue: true})
	if err != nil {
		return nil, fmt.Errorf("it cannot be read: %w", err)
	}
	shown := map[int]dated{} // by the style
	for i, row := range raw {
		for k, was := range row {
			if k >= len(rows[i]) || rows[i][k] == was {
				continue
			}
			if as := asTime(f, name, k+1, i+1, was, shown); as != "" {
				rows[i][k] = as
			}
		}
	}
	return tidy(rows)
}

// dated is what of a moment a number format shows.
type dated struct{ day, seconds, time bool }

// asTime is a cell that a workbook keeps as a day, as 2026-03-20, or as a time, as 0:06:52; "" of
// another one. How it is shown hangs on who made the workbook. A time without seconds that is
// shown without them is what was typed, 6:52, whether hours were meant by it or minutes.
func asTime(f *excelize.File, sheet string, column, row int, raw string, known map[int]dated) string {
	serial, err := strconv.ParseFloat(raw, 64)
	if err != nil || !(serial >= 0 && serial < 2958466) { // 31 December 9999
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
		if style, err := f.GetStyle(id); err == nil {
			is = shows(style)
		}
		known[id] = is
	}
	switch {
	case is.day && serial >= 1:
		at, err := excelize.ExcelDateToTime(serial, false)
		if err != nil {
			return ""
		}
		return at.Format("2006-01-02")
	case is.time && serial < 10:
		tenths := int(math.Round(serial * 864_000))
		s := tenths / 10
		switch {
		case !is.seconds && tenths%600 == 0:
			return fmt.Sprintf("%d:%02d", s/3600, s/60%60)
		case tenths%10 == 0:
			return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
		}
		return fmt.Sprintf("%d:%02d:%02d.%d", s/3600, s/60%60, s%60, tenths%10)
	}
	return ""
}

// shows is what a number format shows (ECMA-376 part 1, 18.8.30: 14 to 17 and 22 are days, 18 to 21 and 45 to 47
// times; a format of one's own shows a day where it has a year or a day, a time where it has an hour or a second).
func shows(s *excelize.Style) dated {
	if s.CustomNumFmt != nil {
		format := strings.ToLower(elapsed.ReplaceAllString(strings.ToLower(*s.CustomNumFmt), "$1"))
		format = quoted.ReplaceAllString(format, "")
		return dated{strings.ContainsAny(format, "yd"), strings.Contains(format, "s"), strings.ContainsAny(format, "hs")}
	}
	n := s.NumFmt
	return dated{n >= 14 && n <= 17 || n == 22 || n >= 27 && n <= 31, n == 19 || n == 21 || n >= 45 && n <= 47, n >= 18 && n <= 21 || n >= 45 && n <= 47}
}

// elapsed are hours, minutes and seconds in all, as [h].
var elapsed = regexp.MustCompile(`\[(h+|m+|s+)\]`)

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
	comma := between(s)
	if m := separator.FindStringSubmatch(s); m != nil { // a line that tells a spreadsheet what stands between
		comma, s = rune(m[1][0]), s[len(m[0])-1:] // its line stays, empty
	}
	odd := strings.Count(s, `"`)%2 == 1
	r := csv.NewReader(strings.NewReader(s))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes = comma, -1, true
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
		if k := slices.IndexFunc(row, func(c string) bool { return strings.Contains(c, "\n") }); k >= 0 && odd { // it took rows with it
			line, _ := r.FieldPos(k)
			return nil, fmt.Errorf("row %d: a quotation mark is left open", line)
		}
		if len(rows) > MaxRows {
			break
		}
	}
	return tidy(rows)
}

var separator = regexp.MustCompile(`^(?i:sep)=([;,\t|])\n`)

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
