package paper

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"
)

// Sheet is a table for a spreadsheet.
type Sheet struct {
	Name    string
	Columns []Column
	Rows    [][]any // string, int, int64, float64, bool, decimal.Decimal, time.Time or nil
}

// Column is a column of a Sheet.
type Column struct {
	Head   string
	Width  float64 // characters; 0: from the head
	Format string  // number format of numbers and times, e.g. "0.00"; "": general, times yyyy-mm-dd hh:mm
}

// XLSX writes tables as one workbook. Numbers, amounts and times are cells of
// their kind, times in the location they have. Text that a spreadsheet would
// take for a formula is escaped.
func XLSX(w io.Writer, sheets ...Sheet) error {
	if len(sheets) == 0 {
		return errors.New("a workbook needs at least one table")
	}
	f := excelize.NewFile()
	defer f.Close()
	seen := map[string]bool{}
	for i := range sheets {
		s := &sheets[i]
		name := sheetName(s.Name, i, seen)
		if i == 0 {
			if err := f.SetSheetName("Sheet1", name); err != nil {
				return err
			}
		} else if _, err := f.NewSheet(name); err != nil {
			return err
		}
		if err := s.write(f, name); err != nil {
			return fmt.Errorf("table %s: %w", name, err)
		}
	}
	f.SetActiveSheet(0)
	return f.Write(w)
}

// sheetName makes a name that workbooks accept: at most 31 characters, none
// of : \ / ? * [ ], not twice in any case.
func sheetName(name string, i int, seen map[string]bool) string {
	name = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`:\/?*[]'`, r) {
			return ' '
		}
		return r
	}, oneText(name))
	name = strings.TrimSpace(name)
	for utf8.RuneCountInString(name) > 28 {
		_, n := utf8.DecodeLastRuneInString(name)
		name = name[:len(name)-n]
	}
	if name == "" || seen[strings.ToLower(name)] {
		name = strings.TrimSpace(name + " " + strconv.Itoa(i+1))
	}
	seen[strings.ToLower(name)] = true
	return name
}

func (s *Sheet) write(f *excelize.File, name string) error {
	bold, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return err
	}
	styles := map[string]int{}
	style := func(format string) (int, error) {
		if format == "" {
			return 0, nil
		}
		if id, ok := styles[format]; ok {
			return id, nil
		}
		id, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
		styles[format] = id
		return id, err
	}
	out, err := f.NewStreamWriter(name)
	if err != nil {
		return err
	}
	for i, c := range s.Columns {
		w := c.Width
		if w <= 0 {
			w = max(10, float64(utf8.RuneCountInString(c.Head))+3)
		}
		if err := out.SetColWidth(i+1, i+1, min(w, 200)); err != nil {
			return err
		}
	}
	if err := out.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2",
		ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	row := make([]any, len(s.Columns))
	for i, c := range s.Columns {
		row[i] = excelize.Cell{StyleID: bold, Value: cellText(c.Head)}
	}
	if err := out.SetRow("A1", row); err != nil {
		return err
	}
	for r, cells := range s.Rows {
		if len(cells) > len(s.Columns) {
			return fmt.Errorf("row %d has %d cells for %d columns", r+1, len(cells), len(s.Columns))
		}
		row = row[:0]
		for i, v := range cells {
			format := s.Columns[i].Format
			cell := excelize.Cell{}
			switch v := v.(type) {
			case nil:
			case string:
				cell.Value = cellText(v)
				format = ""
			case decimal.Decimal:
				// Spreadsheets know binary numbers only; 15 figures survive.
				cell.Value = v.InexactFloat64()
			case time.Time:
				if format == "" {
					format = "yyyy-mm-dd hh:mm"
				}
				if !v.IsZero() {
					cell.Value = v
				}
			case int, int64, float64, bool:
				cell.Value = v
			default:
				return fmt.Errorf("row %d, column %s: a %T cannot stand in a table", r+1, s.Columns[i].Head, v)
			}
			if cell.StyleID, err = style(format); err != nil {
				return err
			}
			row = append(row, cell)
		}
		at, err := excelize.CoordinatesToCellName(1, r+2)
		if err != nil {
			return err
		}
		if err := out.SetRow(at, row); err != nil {
			return err
		}
	}
	return out.Flush()
}
