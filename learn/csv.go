package learn

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// Columns are the columns of a file of timed runs, in the order in which
// needlepace writes them; a file may have them in any order.
var Columns = []string{"date", "design", "set_speed", "block", "seconds", "shown_speed", "length_mm", "stitch", "error",
	"note", "needles", "with", "job"}

// Problem is one thing wrong in a file of timed runs, or one thing worth
// knowing: where it is and what to do.
type Problem struct {
	Row    int    // line of the file, from 1; 0 where none is meant
	Column string // name of the column; empty where the row is meant
	Text   string
}

// String is the sentence with its place in front.
func (p Problem) String() string {
	switch {
	case p.Row > 0 && p.Column != "":
		return fmt.Sprintf("row %d, column %s: %s", p.Row, p.Column, p.Text)
	case p.Row > 0:
		return fmt.Sprintf("row %d: %s", p.Row, p.Text)
	}
	return p.Text
}

// RunsError is what is wrong in a file of timed runs, in its order.
type RunsError struct {
	File     string
	Problems []Problem
}

// maxShown is how many problems an error lists; the rest are counted.
const maxShown = 20

// Error lists the problems, one a line.
func (e *RunsError) Error() string {
	if len(e.Problems) == 1 {
		return fmt.Sprintf("%s: %v", e.File, e.Problems[0])
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d problems", e.File, len(e.Problems))
	for i, p := range e.Problems {
		if i == maxShown {
			fmt.Fprintf(&b, "\n  … and %d more", len(e.Problems)-i)
			break
		}
		fmt.Fprintf(&b, "\n  %v", p)
	}
	return b.String()
}

// maxRows keeps a wrong file from filling the memory.
const maxRows = 1_000_000

// ReadRuns reads a file of timed runs (CSV, columns by name in any order, see
// Columns). name is for messages. open finds a design by its path as the
// file has it; it is called once a path. Rows with no number to learn from,
// and rows that repeat an earlier one, are left out with a warning. The error
// is a *RunsError with everything that is wrong, or the reader's own.
func ReadRuns(r io.Reader, name string, open func(path string) (*stitch.Design, error)) (
	obs []Observation, warnings []Problem, err error,
) {
	br := bufio.NewReader(r)
	if b, _ := br.Peek(3); bytes.Equal(b, []byte("\xEF\xBB\xBF")) {
		br.Discard(3)
	}
	c := csv.NewReader(br)
	c.Comma = separator(br)
	c.FieldsPerRecord = -1
	c.Comment = '#'
	c.TrimLeadingSpace = true
	p := &runsReader{file: name, open: open, designs: map[string]opened{}, seen: map[string]int{}}
	head, err := c.Read()
	if err == io.EOF {
		return nil, nil, &RunsError{name,
			[]Problem{{Text: "the file is empty: its first line names the columns, e.g. " +
				strings.Join(Columns[:5], ",")}}}
	}
	if err != nil {
		return nil, nil, p.csvError(err)
	}
	if !p.header(head) {
		return nil, nil, &RunsError{name, p.problems}
	}
	for {
		rec, err := c.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			if pe := (*csv.ParseError)(nil); !errors.As(err, &pe) {
				return nil, nil, fmt.Errorf("%s: %w", name, err)
			}
			p.problems = append(p.problems, p.csvError(err).(*RunsError).Problems...)
			break // after a stray quote nothing can be trusted
		}
		line, _ := c.FieldPos(0)
		p.row(line, rec)
		if len(p.obs) > maxRows {
			p.add(line, "", "more than %d rows: is this a file of timed runs?", maxRows)
			break
		}
	}
	if len(p.problems) > 0 {
		return nil, p.warnings, &RunsError{name, p.problems}
	}
	if len(p.obs) == 0 {
		return nil, p.warnings, &RunsError{name,
			[]Problem{{Text: "no timed run in the file: write a line for each run under the line of column names"}}}
	}
	return p.obs, p.warnings, nil
}

// separator is what stands between the columns' names: a comma, or the semicolon or
// tab that a spreadsheet writes where the comma stands before decimals. No name has one.
func separator(r *bufio.Reader) rune {
	b, _ := r.Peek(4096) // the reader's size
	for line := range bytes.Lines(b) {
		if bytes.HasPrefix(line, []byte("#")) {
			continue
		}
		for _, c := range ";\t" {
			if bytes.ContainsRune(line, c) {
				return c
			}
		}
		break
	}
	return ','
}

type opened struct {
	design   *stitch.Design
	blocks   int
	stitches int
	err      error
}

type runsReader struct {
	file     string
	open     func(string) (*stitch.Design, error)
	designs  map[string]opened
	at       map[string]int // column name to its place
	width    int
	seen     map[string]int // row text to its line
	obs      []Observation
	problems []Problem
	warnings []Problem
}

func (p *runsReader) add(row int, column, format string, a ...any) {
	p.problems = append(p.problems, Problem{row, column, fmt.Sprintf(format, a...)})
}

func (p *runsReader) csvError(err error) error {
	var pe *csv.ParseError
	if !errors.As(err, &pe) {
		return fmt.Errorf("%s: %w", p.file, err)
	}
	return &RunsError{p.file, []Problem{{Row: pe.Line,
		Text: fmt.Sprintf("not readable as CSV at character %d (%v): put a text that has a comma or a quote in it "+
			"between double quotes, and double a quote inside", pe.Column, pe.Err)}}}
}

func (p *runsReader) header(head []string) bool {
	p.at = map[string]int{}
	p.width = len(head)
	for i, h := range head {
		h = strings.ToLower(strings.TrimSpace(h))
		switch _, twice := p.at[h]; {
		case !slices.Contains(Columns, h):
			p.add(1, fmt.Sprintf("%q", h), "there is no such column; the columns are %s", strings.Join(Columns, ", "))
		case twice:
			p.add(1, h, "stands twice")
		}
		p.at[h] = i
	}
	for _, need := range [][]string{{"set_speed"}, {"seconds", "shown_speed"}} {
		if !slices.ContainsFunc(need, func(c string) bool { _, ok := p.at[c]; return ok }) {
			p.add(1, "", "no column %s: it is needed", strings.Join(need, " or "))
		}
	}
	return len(p.problems) == 0
}

func (p *runsReader) row(line int, rec []string) {
	if len(rec) > p.width {
		p.add(line, "", "%d values for %d columns: is a comma inside a number or a text? put it between double quotes",
			len(rec), p.width)
		return
	}
	get := func(column string) string {
		if i, ok := p.at[column]; ok && i < len(rec) {
			return strings.TrimSpace(rec[i])
		}
		return ""
	}
	before := len(p.problems)
	o := Observation{Row: line, Name: get("design"), Note: get("note")}
	seconds, shown := get("seconds"), get("shown_speed")
	if seconds == "" && shown == "" {
		if strings.Join(rec, "") != "" {
			p.warnings = append(p.warnings, Problem{line, "", "no time and no speed written: left out"})
		}
		return
	}
	if seconds != "" && shown != "" {
		p.add(line, "",
			"both seconds and shown_speed are given: make it two rows, one for the time and one for the display")
		return
	}
	date, err := words.ParseDay(get("date"))
	if err != nil {
		p.add(line, "date", "%q is no date: write it as 2026-11-25", get("date"))
	}
	o.Date = date
	o.SetSpeed = p.number(line, "set_speed", get("set_speed"), 10, 3000, "stitches/min")
	if e := get("error"); e != "" {
		o.Error = p.number(line, "error", e, 1e-3, 3600, "the unit of the reading")
	}
	if o.Job, err = machine.ParseJobs(get("job")); err != nil {
		p.add(line, "job", "%v", err)
	}
	if shown != "" {
		p.display(line, &o, shown, get)
	} else {
		p.timed(line, &o, seconds, get)
	}
	if len(p.problems) > before {
		return
	}
	key := strings.Join(rec, "\x1f")
	if first, ok := p.seen[key]; ok {
		p.warnings = append(p.warnings, Problem{line, "",
			fmt.Sprintf("repeats row %d word for word: counted once; if it was a second run, give it a note", first)})
		return
	}
	p.seen[key] = line
	p.obs = append(p.obs, o)
}

func (p *runsReader) display(line int, o *Observation, shown string, get func(string) string) {
	o.Kind = DisplayReading
	o.Shown = p.number(line, "shown_speed", shown, 10, 3000, "stitches/min")
	o.LengthMM = p.number(line, "length_mm", get("length_mm"), 0.1, 15, "mm")
	switch s := strings.ToLower(get("stitch")); s {
	case "straight":
	case "zigzag":
		o.Zigzag = true
	default:
		p.add(line, "stitch", "%q: write straight or zigzag", s)
	}
	if get("block") != "" {
		p.add(line, "block", "a display reading has no block: leave it empty")
	}
	for _, c := range []string{"needles", "with"} {
		if get(c) != "" {
			p.add(line, c, "goes with seconds, not with shown_speed: leave it empty")
		}
	}
	if o.Shown > o.SetSpeed*1.1+20 && o.SetSpeed > 0 {
		p.add(line, "shown_speed", "%s/min is above the set speed of %s/min: are the two columns exchanged?", shown,
			get("set_speed"))
	}
}

func (p *runsReader) timed(line int, o *Observation, seconds string, get func(string) string) {
	var err error
	o.Seconds, o.Step, err = ParseTime(seconds)
	o.Written = seconds
	if err != nil {
		p.add(line, "seconds", "%v", err)
	}
	for _, c := range []string{"length_mm", "stitch"} {
		if get(c) != "" {
			p.add(line, c, "goes with shown_speed, not with seconds: leave it empty")
		}
	}
	if o.Name == "" {
		p.add(line, "design", "a timed run needs the stitch file's path, seen from this file")
		return
	}
	d, ok := p.designs[o.Name]
	if !ok {
		d.design, d.err = p.open(o.Name)
		if d.err == nil {
			n := d.design.Count()
			d.blocks, d.stitches = n.ColourStops+1, n.Stitches
			if d.blocks == 1 && d.stitches == 0 {
				d.err = errors.New("the design sews no stitch")
			}
		}
		p.designs[o.Name] = d
	}
	if d.err != nil {
		p.add(line, "design", "%v", d.err)
		return
	}
	o.Design = d.design
	if o.Needles, err = ParseNeedles(get("needles")); err == nil {
		err = o.Needles.fits(d.blocks)
	}
	if err != nil {
		p.add(line, "needles", "%v", err)
	}
	b := get("block")
	if b == "" {
		if o.With, o.Only, err = parseWith(get("with"), 0, d.blocks, d.stitches); err != nil {
			p.add(line, "with", "%v", err)
		}
		return
	}
	o.Kind = BlockRun
	n, err := strconv.Atoi(b)
	switch {
	case err != nil || n < 1:
		p.add(line, "block",
			"%q: write the number of the colour block, 1 for the first, or leave it empty for a whole run", b)
	case n > d.blocks:
		p.add(line, "block", "%d: %s has %d", n, o.Name, d.blocks)
	default:
		if o.With, o.Only, err = parseWith(get("with"), n, d.blocks, d.stitches); err != nil {
			p.add(line, "with", "%v", err)
		}
	}
	o.Block = n
}

// number reads a number in a range, with the slips that happen named.
func (p *runsReader) number(line int, column, text string, lo, hi float64, unit string) float64 {
	if text == "" {
		p.add(line, column, "is empty: write it in %s", unit)
		return 0
	}
	read := words.ParseNumber
	if unit == "stitches/min" {
		read = words.ParseSpeed
	}
	v, err := read(text)
	switch {
	case errors.Is(err, words.ErrUnsure):
		p.add(line, column, "%v", err)
		return 0
	case err != nil:
		p.add(line, column, "%q is no number: write it in %s, without the unit", text, unit)
		return 0
	}
	if !(v >= lo && v <= hi) {
		hint := ""
		switch {
		case column == "length_mm" && v/10 >= lo && v/10 <= hi:
			hint = fmt.Sprintf(" (if %s is in tenths of a millimetre, write %g)", text, v/10)
		case unit == "stitches/min" && v > 0 && v*60 >= lo && v*60 <= hi:
			hint = fmt.Sprintf(" (if %s is in stitches/s, write %g)", text, v*60)
		case unit == "stitches/min" && v/60 >= lo && v/60 <= hi:
			hint = fmt.Sprintf(" (if %s is in stitches/h, write %g)", text, v/60)
		}
		p.add(line, column, "%s is outside %g to %g %s%s", text, lo, hi, unit, hint)
	}
	return v
}
