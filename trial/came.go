package trial

import (
	"bytes"
	"errors"
	"maps"
	"path"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"needlepace/internal/cells"
	"needlepace/stitchfile"
	"needlepace/words"
)

// came is files that came back, to a trial or to an open call, sorted by what they are.
// What is wrong with them is told in Said, a sentence each.
type came struct {
	Said               words.Sentences
	sheets             []Given
	photos, recordings []Given
	designs            map[string]string // the names of what may have been sewn, by their digests
}

// sort puts files where they belong; the same one again counts once, but where pictures and
// recordings are named in sheets (named).
func (r *came) sort(files []Given, named bool) {
	content, seen := map[string]string{}, map[string]string{} // by name, by content
	for _, g := range files {
		base := strings.ToLower(path.Base(g.Name))
		if OfPack(base, g.Bytes, r.designs) {
			continue
		}
		if was, ok := seen[string(g.Bytes)]; ok && !(named && (IsPhotograph(base) || IsRecording(base))) {
			r.Said.Say("returns.same-file", words.Args{"file": words.Name(g.Name), "was": words.Name(was)})
			continue
		}
		if was, ok := content[base]; ok {
			r.Said.Say("returns.one-name", words.Args{"file": words.Name(g.Name), "was": words.Name(was)})
		}
		content[base], seen[string(g.Bytes)] = g.Name, g.Name
		switch {
		case IsSheet(base):
			r.sheets = append(r.sheets, g)
		case IsPhotograph(base):
			r.photos = append(r.photos, g)
		case IsRecording(base):
			r.recordings = append(r.recordings, g)
		default:
			r.Said = append(r.Said, NotRead(g.Name))
		}
	}
}

// NotRead says why a file is none that is read, and what to do.
func NotRead(name string) words.Message {
	switch ext := strings.ToLower(path.Ext(name)); {
	case ext == ".pdf":
		return words.Say("returns.pdf", words.Args{"file": words.Name(name)})
	case IsPhotographUnread(name):
		return words.Say("returns.photograph-kind", words.Args{"file": words.Name(name)})
	case slices.Contains([]string{".ods", ".fods", ".xls", ".xlsb", ".numbers"}, ext):
		return words.Say("returns.workbook-kind", words.Args{"file": words.Name(name)})
	case ext == ".zip":
		return words.Say("returns.zip-deep", words.Args{"file": words.Name(name)})
	case slices.Contains(stitchfile.Writable(), ext):
		return words.Say("returns.stitches-other", words.Args{"file": words.Name(name)})
	}
	return words.Say("returns.not-read", words.Args{"file": words.Name(name)})
}

// OfPack reports whether a file is a part of the pack that came back with the rest, so that
// it says nothing: its card as it was made, and a stitch file that sews the one of designs (their names by
// digest) that it is called by.
func OfPack(name string, b []byte, designs map[string]string) bool {
	base := strings.ToLower(path.Base(name))
	switch ext := path.Ext(base); {
	case base == "card.pdf": // one that somebody wrote on, or a scan of one, is not
		return bytes.Count(b, []byte("%%EOF")) == 1 && bytes.Contains(b, []byte("/FontFile2")) && !bytes.Contains(b, []byte("/Annots"))
	case slices.Contains(stitchfile.Writable(), ext):
		d, err := stitchfile.Decode(b, base)
		if err != nil {
			return false
		}
		sews, ok := designs[Digest(d)]
		for _, other := range designs {
			ok = ok && (other == sews || other+ext != base)
		}
		return ok
	}
	return false
}

// row is a row of a sheet that came back.
type row struct {
	where words.Message // file and row
	cells []string
	head  map[string][]int // where each column is, from the left
}

// get is the cell of a column, the first that holds something of several that are called so; empty: there is none.
func (r row) get(column string) string {
	for _, k := range r.head[column] {
		if k < len(r.cells) && strings.TrimSpace(r.cells[k]) != "" {
			return strings.TrimPrefix(strings.TrimSpace(r.cells[k]), "'") // kept a formula from running
		}
	}
	return ""
}

func (r row) has(column string) bool { _, ok := r.head[column]; return ok }

// rows are those of a sheet of one of kinds, each the column that tells it and others that
// it needs; other is said of a file without any of them. A workbook's further sheets are read like its first. Where
// of, a column, says that a row is of something else than name, it is told and left out.
func (r *came) rows(g Given, other words.Message, of, name string, kinds ...[]string) (out []row) {
	b, as := sheetText(g)
	if !as.IsZero() {
		r.Said = append(r.Said, as)
	}
	sheets, err := cells.ReadAll(g.Name, b)
	if err != nil {
		r.Said.Say("returns.as-it-is", words.Args{"what": words.Name(err.Error())})
		return nil
	}
	some := false
	for _, sheet := range sheets {
		at, head := headOf(sheet.Rows)
		x := row{head: head}
		kind := slices.IndexFunc(kinds, func(k []string) bool { return x.has(k[0]) })
		if kind < 0 {
			continue
		}
		some = true
		var missing words.List
		for _, c := range kinds[kind] {
			if !x.has(c) {
				missing = append(missing, words.Name(c))
			}
		}
		if len(missing) > 0 {
			r.Said.Say("returns.no-column", words.Args{"file": words.Name(g.Name), "columns": missing})
			continue
		}
		for _, column := range slices.Sorted(maps.Keys(head)) {
			if _, known := columnOf(column); known && len(head[column]) > 1 {
				r.Said.Say("returns.two-columns", words.Args{"file": words.Name(g.Name), "column": words.Name(column)})
			}
		}
		if slices.ContainsFunc(slices.Collect(maps.Keys(sheet.Unkept)), func(c cells.Cell) bool {
			return slices.ContainsFunc(kinds[kind], func(k string) bool { return slices.Contains(head[k], c.Column) })
		}) {
			r.Said.Say("returns.unkept", words.Args{"file": words.Name(g.Name)})
		}
		fill(&sheet, head)
		others := map[string][]words.Message{} // rows by what they are of
		for i, c := range sheet.Rows[at+1:] {
			number := strconv.Itoa(at + i + 2)
			if sheet.Name != "" {
				number = sheet.Name + "!" + number
			}
			x.where, x.cells = words.Say("returns.where", words.Args{"file": words.Name(g.Name), "row": words.Name(number)}), c
			if t := x.get(of); t != "" && !alike(t, name) {
				others[t] = append(others[t], x.where)
				continue
			}
			out = append(out, x)
		}
		for _, t := range slices.Sorted(maps.Keys(others)) {
			if n := len(others[t]); n > 1 {
				r.Said.Say("returns.of-another-rows", words.Args{"n": words.Whole(n), "file": words.Name(g.Name), "of": words.Name(t), "name": words.Name(name)})
				continue
			}
			r.Said.Say("returns.of-another", words.Args{"where": others[t][0], "of": words.Name(t), "name": words.Name(name)})
		}
	}
	if !some {
		r.Said = append(r.Said, other)
	}
	return out
}

// fill gives what is said once for several rows, in cells that are one, to each of them: not what differs from turn to turn.
func fill(s *cells.Sheet, head map[string][]int) {
	for _, column := range []string{"trial", "call", "place", "block", "design", "digest", "machine", "person", "speed", "day", "grader", "class", "rated"} {
		for _, k := range head[column] {
			for i, row := range s.Rows {
				if top, ok := s.Below[cells.Cell{Row: i, Column: k}]; ok && k < len(s.Rows[top]) {
					row = append(row, make([]string, max(0, k+1-len(row)))...)
					row[k], s.Rows[i] = s.Rows[top][k], row
				}
			}
		}
	}
}

// mostTitles is in how many rows that have anything the headings are looked for: people write a title over a table.
const mostTitles = 12

// headOf finds the row of headings, the one in which most are known, and where each column is.
func headOf(rows [][]string) (at int, head map[string][]int) {
	best := -1
	seen := 0
	for i, cells := range rows {
		h, known := map[string][]int{}, 0
		for k, c := range cells {
			column, ok := columnOf(c)
			if h[column] = append(h[column], k); ok {
				known++
			}
		}
		if known > best && (best < 0 || known > 1) {
			best, at, head = known, i, h
		}
		if strings.Join(cells, "") != "" {
			if seen++; seen == mostTitles {
				break
			}
		}
	}
	return at, head
}

// codePages are those of the spreadsheets of people whose languages the sheets are written in.
var codePages = []*charmap.Charmap{charmap.Windows1252, charmap.Windows1254, charmap.Windows1258, charmap.Macintosh}

// sheetText is a sheet as it is read. Text that is not UTF-8 is taken for that of the code page in which most of
// its headings are known, and says so: a place's whole day of sewing is not thrown away for it.
func sheetText(g Given) (b []byte, as words.Message) {
	utf16 := bytes.HasPrefix(g.Bytes, []byte("\xff\xfe")) || bytes.HasPrefix(g.Bytes, []byte("\xfe\xff"))
	if strings.EqualFold(path.Ext(g.Name), ".xlsx") || utf16 || utf8.Valid(g.Bytes) || bytes.IndexByte(g.Bytes, 0) >= 0 {
		return g.Bytes, words.Message{}
	}
	most := -1
	for _, page := range codePages {
		text, err := page.NewDecoder().Bytes(g.Bytes)
		if err != nil {
			continue
		}
		rows, err := cells.Read(g.Name, text)
		if err != nil {
			continue
		}
		known := 0
		if at, _ := headOf(rows); at < len(rows) {
			for _, h := range rows[at] {
				if _, ok := columnOf(h); ok {
					known++
				}
			}
		}
		if known > most {
			b, most = text, known
		}
	}
	if b == nil {
		return g.Bytes, words.Message{}
	}
	return b, words.Say("returns.not-utf8", words.Args{"file": words.Name(g.Name)})
}

// CanRead says why a sheet cannot be read at all; nil: it can.
func CanRead(g Given) error {
	b, _ := sheetText(g)
	_, err := cells.Read(g.Name, b)
	return err
}

// timed reads a row's time less what the machine stood for, in s; why says what is wrong.
func (r row) timed() (seconds, stood float64, why words.Message) {
	for _, c := range []struct {
		column string
		to     *float64
	}{{"stood", &stood}, {"time", &seconds}} {
		text := r.get(c.column)
		if text == "" {
			continue
		}
		v, _, err := words.ParseSeconds(text)
		switch {
		case errors.Is(err, words.ErrUnsure):
			return 0, 0, words.Say("returns.time-unsure", words.Args{"time": words.Name(text)})
		case err != nil:
			return 0, 0, words.Say("returns.time-unread", words.Args{"time": words.Name(text)})
		}
		*c.to = v
	}
	if r.get("time") == "" {
		return 0, stood, why
	}
	if seconds -= stood; !(seconds > 0) {
		why = words.Say("returns.nothing-left", words.Args{"stood": words.Seconds(stood)})
	}
	return seconds, stood, why
}

// mostOff is how many times the time it took a run may have been expected to take.
const mostOff = 2.0

// doubt asks about a time that is not what was expected: why, and in offer what it may have
// been meant as. far is from how many times the expected time on it is asked about;
// a time is asked about, too, of which the expected is as many times, or mostOff. stood is what
// was taken off it.
func doubt(seconds, stood float64, e Expected, far float64) (offer float64, why words.Message) {
	time := words.Seconds(seconds)
	if short := seconds < e.Least || seconds*min(far, mostOff) < e.Seconds; short && stood > 0 {
		if _, why := doubt(seconds+stood, 0, e, far); why.IsZero() {
			return seconds + stood, words.Say("returns.stood-off", words.Args{"time": words.Seconds(seconds + stood), "stood": words.Seconds(stood), "left": time})
		}
	}
	switch {
	case e.Seconds > 0 && near(seconds*minutesRead, e.Seconds):
		offer = seconds * minutesRead
		return offer, words.Say("returns.sixtieth", words.Args{"time": time, "offer": words.Seconds(offer)})
	case e.Seconds > 0 && near(seconds/1000, e.Seconds):
		offer = seconds / 1000
		return offer, words.Say("returns.thousand", words.Args{"time": time, "offer": words.Seconds(offer)})
	case e.Seconds > 0 && near(seconds/minutesRead, e.Seconds):
		offer = seconds / minutesRead
		return offer, words.Say("returns.sixty-times", words.Args{"time": time, "offer": words.Seconds(offer)})
	case seconds < e.Least:
		return 0, words.Say("returns.too-fast", words.Args{"time": time, "least": words.Seconds(e.Least)})
	case seconds*min(far, mostOff) < e.Seconds:
		return 0, words.Say("returns.too-short", words.Args{"time": time, "expected": words.Seconds(e.Seconds)})
	case e.Seconds > 0 && seconds > far*e.Seconds:
		return 0, words.Say("returns.too-long", words.Args{"time": time, "expected": words.Seconds(e.Seconds)})
	}
	return 0, words.Message{}
}

func near(x, want float64) bool { return x > want/farOff && x < want*farOff }

// Fault is an error that is a sentence in every language.
type Fault words.Message

// Says is the sentence.
func (f Fault) Says() words.Message { return words.Message(f) }

// Error is the sentence in English.
func (f Fault) Error() string { return words.Message(f).Raw() }

// Told is an error as a sentence.
func Told(err error) words.Message {
	if m, ok := words.Why(err).(words.Message); ok {
		return m
	}
	return words.Say("returns.as-it-is", words.Args{"what": words.Name(err.Error())})
}
