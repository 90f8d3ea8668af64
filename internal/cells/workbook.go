package cells

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"path"
	"regexp"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// The most that is unpacked of a workbook, in bytes: all of it, and one part.
const (
	mostUnpacked = 16 * MaxBytes
	mostPart     = 8 * MaxBytes
)

// workbook opens a workbook (ECMA-376, Office Open XML).
func (f *File) workbook(b []byte) error {
	no := errors.New("it cannot be read as a workbook (.xlsx)")
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return no
	}
	var main struct {
		Sheets []struct {
			Name  string `xml:"name,attr"`
			State string `xml:"state,attr"`
			ID    string `xml:"id,attr"`
		} `xml:"sheets>sheet"`
		Is struct {
			Date1904 string `xml:"date1904,attr"`
		} `xml:"workbookPr"`
	}
	var to struct {
		Parts []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if err := errors.Join(part(z, "xl/workbook.xml", &main), part(z, "xl/_rels/workbook.xml.rels", &to)); err != nil {
		return no
	}
	var paths []string
	for _, s := range main.Sheets {
		for _, x := range to.Parts {
			if x.ID != s.ID || path.Base(x.Type) != "worksheet" { // others have charts
				continue
			}
			at := strings.TrimPrefix(x.Target, "/")
			if at == x.Target {
				at = path.Join("xl", at)
			}
			paths = append(paths, at)
			f.Sheets = append(f.Sheets, SheetName{s.Name, s.State != "" && s.State != "visible"})
		}
	}
	if len(paths) == 0 {
		return errors.New("the workbook has no sheet")
	}
	since1904 := main.Is.Date1904 == "1" || strings.EqualFold(main.Is.Date1904, "true")
	f.sheet = func(i int) (*Sheet, error) {
		if f.book == nil {
			book, err := excelize.OpenReader(bytes.NewReader(b), excelize.Options{UnzipSizeLimit: mostUnpacked, UnzipXMLSizeLimit: mostPart})
			if err != nil {
				return nil, no
			}
			f.book = book
		}
		var x sheetXML
		if err := part(z, paths[i], &x); err != nil {
			return nil, fmt.Errorf("it cannot be read: %w", err)
		}
		s, err := x.sheet(f.book, f.Sheets[i].Name, since1904)
		if err == nil {
			s.Name = f.Sheets[i].Name
		}
		return s, err
	}
	return nil
}

// part reads a part of a workbook, whatever the case of its name.
func part(z *zip.Reader, name string, to any) error {
	for _, x := range z.File {
		if !strings.EqualFold(strings.ReplaceAll(x.Name, `\`, "/"), name) {
			continue
		}
		r, err := x.Open()
		if err != nil {
			return err
		}
		defer r.Close()
		return xml.NewDecoder(io.LimitReader(r, mostPart)).Decode(to)
	}
	return fmt.Errorf("it has no %s", name)
}

// sheetXML is what a worksheet says of its cells, beside what they show.
type sheetXML struct {
	Rows []struct {
		At     int  `xml:"r,attr"`
		Hidden bool `xml:"hidden,attr"`
		Cells  []struct {
			At      string  `xml:"r,attr"`
			Style   int     `xml:"s,attr"`
			Type    string  `xml:"t,attr"`
			Formula *string `xml:"f"`
			Value   *string `xml:"v"`
		} `xml:"c"`
	} `xml:"sheetData>row"`
	Merged []struct {
		Ref string `xml:"ref,attr"`
	} `xml:"mergeCells>mergeCell"`
}

// sheet is the sheet with what its cells show, days and times as they are kept.
func (x *sheetXML) sheet(f *excelize.File, name string, since1904 bool) (*Sheet, error) {
	rows, err := f.GetRows(name)
	if err != nil {
		return nil, fmt.Errorf("it cannot be read: %w", err)
	}
	s := &Sheet{Rows: rows, Below: map[Cell]int{}, Kept: map[Cell]string{}, Unkept: map[Cell]bool{}}
	shown := map[int]dated{} // by the style
	row := -1
	for _, r := range x.Rows {
		if row++; r.At > 0 {
			row = r.At - 1
		}
		if r.Hidden && row < len(rows) {
			s.Hidden = append(s.Hidden, row)
		}
		column := -1
		for _, c := range r.Cells {
			column++
			if k, _, err := excelize.CellNameToCoordinates(c.At); err == nil {
				column = k - 1
			}
			at := Cell{row, column}
			if c.Formula != nil && (c.Value == nil || *c.Value == "" && c.Type != "str") { // a formula may give no letters
				s.Unkept[at] = true
			}
			if c.Value == nil || row >= len(rows) || column >= len(rows[row]) || c.Type != "" && c.Type != "n" {
				continue
			}
			serial, err := strconv.ParseFloat(*c.Value, 64)
			if err != nil {
				continue
			}
			is, seen := shown[c.Style]
			if !seen {
				if style, err := f.GetStyle(c.Style); err == nil {
					is = shows(style)
				}
				shown[c.Style] = is
			}
			now := &rows[row][column]
			if as := is.asTime(serial, since1904); as != "" {
				*now = as
			} else if v, err := strconv.ParseFloat(*now, 64); (err != nil || v != serial || strings.Trim(*now, "0123456789") != "") && !is.day && !is.time {
				s.Kept[at] = strconv.FormatFloat(serial, 'f', -1, 64)
				if k := strconv.FormatFloat(serial, 'g', 15, 64); !strings.Contains(k, "e") { // what is left of sums as 12.000000000000002
					s.Kept[at] = k
				}
			}
		}
	}
	steps := 0
	for _, m := range x.Merged {
		from, to, ok := strings.Cut(m.Ref, ":")
		left, top, err := excelize.CellNameToCoordinates(from)
		_, bottom, err2 := excelize.CellNameToCoordinates(to)
		if !ok || err != nil || err2 != nil {
			continue
		}
		for r := top; r < min(bottom, len(rows)) && steps < MaxRows*MaxColumns; r++ {
			steps++
			s.Below[Cell{r, left - 1}] = top - 1
		}
	}
	s.Rows, err = tidy(rows)
	return s, err
}

// dated is what of a moment a number format shows.
type dated struct{ day, seconds, time bool }

// asTime is a number of a workbook that is shown as a day, as 2026-03-20, or as a time, as 0:06:52; "" of
// another one. How it is shown hangs on who made the workbook. A time without seconds that is
// shown without them is what was typed, 6:52, whether hours were meant by it or minutes. Days are counted
// from 1900, or from 1904.
func (is dated) asTime(serial float64, since1904 bool) string {
	if !(serial >= 0 && serial < 2958466) { // 31 December 9999
		return ""
	}
	switch {
	case is.day && serial >= 1:
		at, err := excelize.ExcelDateToTime(serial, since1904)
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
