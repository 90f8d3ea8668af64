package cells

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

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

// letters are those of texts that are not Unicode, by the names of the IANA registry of character sets.
var letters = []struct {
	name string
	page *charmap.Charmap
}{
	{"windows-1252", charmap.Windows1252}, {"windows-1254", charmap.Windows1254}, {"windows-1250", charmap.Windows1250},
	{"windows-1251", charmap.Windows1251}, {"windows-1253", charmap.Windows1253}, {"windows-1257", charmap.Windows1257},
	{"windows-1258", charmap.Windows1258}, {"macintosh", charmap.Macintosh}, {"iso-8859-15", charmap.ISO8859_15},
	{"ibm850", charmap.CodePage850}, {"ibm437", charmap.CodePage437},
}

// utf8Only are the letters of a text that is refused where it is not Unicode.
const utf8Only = "utf-8"

// Letters are the names of the letters that texts may have.
func Letters() []string {
	out := []string{utf8Only}
	for _, l := range letters {
		out = append(out, l.name)
	}
	return out
}

// decoded is a text as Unicode. Nothing in a text says in which letters it is, but for Unicode's: of others Windows' of
// Western Europe are taken, of Turkey where it has letters that else Iceland alone writes, or those of old
// Macintosh spreadsheets, where it has more letters by them; guessed says which.
func decoded(b []byte, said string) (text, guessed string, err error) {
	if said != "" && !slices.Contains(Letters(), said) {
		return "", "", fmt.Errorf("no letters are called %q; there are %s", said, strings.Join(Letters(), ", "))
	}
	if b = wide(b); bytes.IndexByte(b, 0) >= 0 {
		return "", "", errors.New("it is no text and no workbook (.xlsx)")
	}
	if utf8.Valid(b) {
		return string(b), "", nil
	}
	if said == utf8Only {
		return "", "", errors.New("it is not UTF-8 text: keep it as “CSV UTF-8”, or as .xlsx")
	}
	name := said
	if name == "" {
		name = looksLike(b)
		guessed = name
	}
	for _, l := range letters {
		if l.name == name {
			b, err = l.page.NewDecoder().Bytes(b)
		}
	}
	return string(b), guessed, err
}

// looksLike guesses the letters of a text that is not Unicode.
func looksLike(b []byte) string {
	letter := func(i int) bool {
		return i >= 0 && i < len(b) && (b[i]|0x20 >= 'a' && b[i]|0x20 <= 'z')
	}
	west, mac, turkish := 0, 0, false
	for i, c := range b {
		switch {
		case c >= 0xc0:
			west++
			turkish = turkish || bytes.IndexByte([]byte("\xd0\xdd\xde\xf0\xfd\xfe"), c) >= 0
		case bytes.IndexByte([]byte("\x81\x8d\x8f\x90\x9d"), c) >= 0: // nothing in Windows' letters
			mac++
		case c >= 0x83 && c <= 0x9f && (c < 0x91 || c > 0x97) && c != 0x99 && c != 0x85 && (letter(i-1) || letter(i+1)):
			mac++
		}
	}
	switch {
	case mac > west:
		return "macintosh"
	case turkish:
		return "windows-1254"
	}
	return "windows-1252"
}

// wide is text in UTF-16, with its mark before it or without, as UTF-8; other text as it is.
func wide(b []byte) []byte {
	end, mark := unicode.LittleEndian, unicode.IgnoreBOM
	switch low, high := zeros(b); {
	case bytes.HasPrefix(b, []byte("\xff\xfe")), bytes.HasPrefix(b, []byte("\xfe\xff")):
		mark = unicode.ExpectBOM
	case high > len(b)/4 && low == 0:
	case low > len(b)/4 && high == 0:
		end = unicode.BigEndian
	default:
		return b
	}
	if out, err := unicode.UTF16(end, mark).NewDecoder().Bytes(b); err == nil {
		return out
	}
	return b
}

// zeros are how many even bytes, from 0, and how many odd ones are zero.
func zeros(b []byte) (even, odd int) {
	for i, c := range b {
		if c == 0 && i%2 == 0 {
			even++
		} else if c == 0 {
			odd++
		}
	}
	return even, odd
}

// Text reads a table that is text, with tabs, semicolons or commas between.
func Text(s string) ([][]string, error) {
	if !utf8.ValidString(s) {
		return nil, errors.New("it is not UTF-8 text")
	}
	t, err := sheetOfText(s)
	if err != nil {
		return nil, err
	}
	return t.Rows, nil
}

func sheetOfText(s string) (*Sheet, error) {
	s = strings.TrimPrefix(s, "\ufeff")
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	var rows [][]string
	comma := between(s)
	if m := separator.FindStringSubmatch(s); m != nil { // a line that tells a spreadsheet what stands between
		comma, s = rune(m[1][0]), s[len(m[0])-1:] // its line stays, empty
	}
	r := csv.NewReader(strings.NewReader(s))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes = comma, -1, true
	line, from := 1, int64(0) // where the next row begins, if no empty line stands before it
	for {
		row, err := r.Read()
		if row == nil && err != nil {
			if !errors.Is(err, io.EOF) {
				return nil, fmt.Errorf("row %d: a quotation mark is left open", len(rows)+1)
			}
			break
		}
		at, _ := r.FieldPos(0)
		for ; line < at && len(rows) < MaxRows; line++ { // the reader passes over empty lines
			rows = append(rows, nil)
		}
		rows = append(rows, row)
		line++
		for _, c := range row { // a line break within a cell makes no row
			line += strings.Count(c, "\n")
		}
		to := r.InputOffset()
		if line > at+1 && !strict(s[from:to], comma) { // it took rows with it
			return nil, fmt.Errorf("row %d: a quotation mark is left open", len(rows))
		}
		if from = to; len(rows) > MaxRows {
			break
		}
	}
	rows, err := tidy(rows)
	return &Sheet{Rows: rows, Comma: comma}, err
}

// strict reports whether every quotation mark of a row stands where RFC 4180 has it.
func strict(row string, comma rune) bool {
	r := csv.NewReader(strings.NewReader(row))
	r.Comma, r.FieldsPerRecord = comma, -1
	_, err := r.Read()
	return err == nil
}

var separator = regexp.MustCompile(`^(?i:sep)=([;,\t|])\n`)
