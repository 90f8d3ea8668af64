package book

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"needlepace/internal/cells"
	"needlepace/words"
)

// LinePieces is what the pieces of a line are, where they are not all alike.
type LinePieces struct {
	// Sizes are the garments by colour and size; their pieces are the line's.
	// Empty: all are alike, or nobody said.
	Sizes []SizeRow `json:"sizes,omitempty"`
	// GarmentThreads are the threads on garments of some colours; on the others
	// the line's are sewn.
	GarmentThreads []GarmentThreads `json:"garment_threads,omitempty"`
	// Deliveries are when the garments come; those of none come with the order's.
	Deliveries []Delivery `json:"deliveries,omitempty"`
	// Approval is the customer's word on the sample.
	Approval Approval `json:"approval,omitzero"`
	// Partner makes it in place of the shop's machines.
	Partner Partner `json:"partner,omitzero"`
	// Foretold is what was said of it before its file came; nil: nothing was.
	Foretold *RoughSaid `json:"foretold,omitempty"`
	LineNames
}

// SizeRow is a number of garments of one colour and size.
type SizeRow struct {
	Colour string `json:"colour" toml:"colour"` // of the garment, may be empty
	Size   string `json:"size" toml:"size"`     // may be empty
	Pieces int    `json:"pieces" toml:"pieces"`
}

// GarmentThreads are the threads, block by block, on garments of a colour.
type GarmentThreads struct {
	Colour  string   `json:"colour" toml:"colour"`
	Threads []string `json:"threads" toml:"threads"`
}

// InSizes are the pieces of a table of sizes.
func InSizes(rows []SizeRow) (n int) {
	for _, r := range rows {
		n += r.Pieces
	}
	return n
}

// GarmentColours are the colours of the table of sizes, each once, in its order.
func (l *OrderLine) GarmentColours() (out []string) {
	for _, r := range l.Sizes {
		if !slices.Contains(out, r.Colour) {
			out = append(out, r.Colour)
		}
	}
	return out
}

// ThreadsOn are the threads, block by block, on garments of a colour; empty: the
// design's own.
func (l *OrderLine) ThreadsOn(colour string) []string {
	for _, g := range l.GarmentThreads {
		if strings.EqualFold(g.Colour, colour) {
			return g.Threads
		}
	}
	return l.Threads
}

// InColour is the line as it is sewn on garments of a colour.
func (l *OrderLine) InColour(colour string) *OrderLine {
	if len(l.GarmentThreads) == 0 {
		return l
	}
	out := *l
	out.Threads = l.ThreadsOn(colour)
	return &out
}

// Part is some pieces of a line that are sewn with the same threads: what a lot
// may hold.
type Part struct {
	Colour  string    // the first colour of its garments
	Colours []string  // all of them
	Rows    []SizeRow // what is left to sew, in the order in which it is sewn
	Line    *OrderLine
}

// Parts are the pieces that are left of a line, apart where their threads
// differ: one part of a line whose pieces are all alike. made are good pieces
// that were reported by the colour of their garments; others are counted from
// the top of the table, as they are sewn. Line of a part has its threads, and the
// pieces of the part as its own.
func (l *OrderLine) Parts(made map[string]int) []Part {
	if len(l.Sizes) == 0 {
		if l.Named() && l.Good > 0 {
			rest := *l
			rest.Names = l.Names[min(l.Good, len(l.Names)):]
			l = &rest
		}
		return []Part{{Line: l}}
	}
	left, any := slices.Clone(l.Sizes), l.Good
	for i := range left {
		r := &left[i]
		n := min(made[r.Colour], r.Pieces)
		if n > 0 {
			made[r.Colour] -= n
			r.Pieces -= n
			any -= n
		}
	}
	for i := range left {
		n := max(0, min(any, left[i].Pieces))
		left[i].Pieces -= n
		any -= n
	}
	var out []Part
	for _, r := range left {
		if r.Pieces == 0 {
			continue
		}
		of := l.InColour(r.Colour)
		k := slices.IndexFunc(out, func(p Part) bool { return slices.Equal(p.Line.Threads, of.Threads) })
		if k < 0 {
			k = len(out)
			part := *of
			part.Quantity, part.Good = 0, 0
			out = append(out, Part{Colour: r.Colour, Line: &part})
		}
		p := &out[k]
		if !slices.Contains(p.Colours, r.Colour) {
			p.Colours = append(p.Colours, r.Colour)
		}
		p.Rows = append(p.Rows, r)
		p.Line.Quantity += r.Pieces
	}
	for i := range out {
		if l.Named() {
			out[i].Line.Names = l.namesLeft(out[i].Rows)
		}
	}
	return out
}

// Take are the first pieces of a table of sizes, and the rest of it.
func Take(rows []SizeRow, pieces int) (first, rest []SizeRow) {
	for _, r := range rows {
		n := max(0, min(pieces, r.Pieces))
		pieces -= n
		if n > 0 {
			first = append(first, SizeRow{r.Colour, r.Size, n})
		}
		if r.Pieces > n {
			rest = append(rest, SizeRow{r.Colour, r.Size, r.Pieces - n})
		}
	}
	return first, rest
}

// noSize is what pieces without a size are called beside those with one.
const noSize = "without size"

// SizesText writes a table of sizes as people may type it: "navy: S 10, M 20" a
// line.
func SizesText(rows []SizeRow) string {
	var b strings.Builder
	for i, r := range rows {
		switch {
		case i == 0 || r.Colour != rows[i-1].Colour:
			if i > 0 {
				b.WriteByte('\n')
			}
			if r.Colour != "" {
				b.WriteString(r.Colour + ": ")
			}
		default:
			b.WriteString(", ")
		}
		switch {
		case r.Size != "":
			b.WriteString(r.Size + " ")
		case slices.ContainsFunc(rows, func(o SizeRow) bool { return o.Size != "" && o.Colour == r.Colour }):
			b.WriteString(noSize + " ") // a number alone would be read as the size before it
		}
		b.WriteString(strconv.Itoa(r.Pieces))
	}
	return b.String()
}

// ThreadsText writes threads by garment colour as people may type them:
// "navy = white, red" a line.
func ThreadsText(all []GarmentThreads) string {
	var out []string
	for _, g := range all {
		out = append(out, g.Colour+" = "+strings.Join(g.Threads, ", "))
	}
	return strings.Join(out, "\n")
}

// ParseThreadsOn reads what ThreadsText writes.
func ParseThreadsOn(s string) (out []GarmentThreads, err error) {
	for line := range strings.FieldsFuncSeq(s, func(c rune) bool { return c == '\n' || c == ';' || c == '\r' }) {
		if strings.TrimSpace(line) == "" {
			continue
		}
		colour, list, ok := strings.Cut(line, "=")
		g := GarmentThreads{Colour: strings.TrimSpace(colour)}
		for t := range strings.SplitSeq(list, ",") {
			if t = strings.TrimSpace(t); t != "" {
				g.Threads = append(g.Threads, t)
			}
		}
		if !ok || g.Colour == "" || len(g.Threads) == 0 {
			return nil, fmt.Errorf("%q says no threads for a garment colour; write: navy = white, red",
				strings.TrimSpace(line))
		}
		out = append(out, g)
	}
	return out, nil
}

var (
	oneSize  = regexp.MustCompile(`^(?:(.*?)[\s=×:]\s*)?([0-9]+)$`)
	piecesIs = []string{"pieces", "piece", "quantity", "qty", "number", "count", "pcs"}
	colourIs = []string{"colour", "color", "garment colour", "garment color", "garment"}
	sumIs    = []string{"total", "sum", "all", "together"}
)

func isOne(of []string, cell string) bool {
	return slices.Contains(of, strings.ToLower(strings.TrimSpace(cell)))
}

// ParseSizes reads a table of sizes that was typed ("navy: S 10, M 20; white:
// M 3") or pasted from a spreadsheet (SizesOf).
func ParseSizes(text string) ([]SizeRow, error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	if rows, ok := typedSizes(text); ok {
		return checkedSizes(rows, nil)
	}
	table, err := cells.Text(text)
	if err != nil {
		return nil, err
	}
	return SizesOf(table)
}

// typedSizes reads "navy: S 10, M 20", colours on lines of their own or with a
// semicolon between; ok is false where it is not written so.
func typedSizes(text string) (out []SizeRow, ok bool) {
	if strings.ContainsRune(text, '\t') {
		return nil, false
	}
	for line := range strings.FieldsFuncSeq(text, func(c rune) bool { return c == '\n' || c == ';' || c == '\r' }) {
		if strings.TrimSpace(line) == "" {
			continue
		}
		colour, list, colon := strings.Cut(line, ":")
		if !colon {
			colour, list = "", line
		}
		for part := range strings.SplitSeq(list, ",") {
			m := oneSize.FindStringSubmatch(strings.TrimSpace(part))
			if m == nil || !colon && m[1] == "" {
				return nil, false
			}
			n, err := strconv.Atoi(m[2])
			if err != nil {
				return nil, false
			}
			size := strings.TrimSpace(m[1])
			if strings.EqualFold(size, noSize) {
				size = ""
			}
			out = append(out, SizeRow{strings.TrimSpace(colour), size, n})
		}
	}
	return out, true
}

// SizesOf reads a table of sizes in cells: a row for each colour and size with
// its pieces, or a row for each colour and a column for each size. A row or column
// called total is checked and left out.
func SizesOf(table [][]string) ([]SizeRow, error) {
	table = slices.Clone(table)
	first := slices.IndexFunc(table, func(row []string) bool { return strings.Join(row, "") != "" })
	if first < 0 {
		return nil, errors.New("the table of sizes is empty")
	}
	head := table[first]
	if k := slices.IndexFunc(head, func(c string) bool { return isOne(piecesIs, c) }); k >= 0 {
		return listedSizes(table, first, k)
	}
	_, err := strconv.Atoi(head[len(head)-1])
	if err == nil && head[0] != "" && !isOne(colourIs, head[0]) && len(head) <= 3 {
		return listedSizes(table, first-1, len(head)-1)
	}
	return crossedSizes(table, first)
}

// listedSizes reads a row for each colour and size; head is the row of the heads
// (they may be missing), in the column pieces stands the number.
func listedSizes(table [][]string, head, pieces int) ([]SizeRow, error) {
	colour, size := -1, -1
	var others []string // columns that are neither
	if head >= 0 && head < len(table) && pieces < len(table[head]) && isOne(piecesIs, table[head][pieces]) {
		for k, c := range table[head] {
			switch {
			case k == pieces:
			case isOne(colourIs, c):
				colour = k
			case isOne([]string{"size", "sizes"}, c):
				size = k
			case strings.TrimSpace(c) != "" && !isOne(sumIs, c):
				others = append(others, fmt.Sprintf("%q", c))
			}
		}
	} else if pieces == 2 {
		colour, size = 0, 1
	} else if pieces == 1 {
		size = 0
	}
	cell := func(row []string, k int) string {
		if k < 0 || k >= len(row) {
			return ""
		}
		return row[k]
	}
	var out []SizeRow
	var sum *int
	for i := head + 1; i < len(table); i++ {
		row := table[i]
		if strings.Join(row, "") == "" {
			continue
		}
		n, err := piecesIn(cell(row, pieces), i, pieces)
		if err != nil {
			return nil, err
		}
		if isOne(sumIs, row[0]) {
			sum = &n
			continue
		}
		out = append(out, SizeRow{cell(row, colour), cell(row, size), n})
	}
	unread := strings.Join(others, " and ")
	switch nameless := colour < 0 && size < 0 && len(out) > 1; {
	case nameless && unread != "":
		return nil, fmt.Errorf("no column is called size or colour: there is %s; call the one that tells the rows apart so", unread)
	case nameless:
		return nil, errors.New("the rows have numbers of pieces alone; put the size or the garment's colour before each")
	}
	rows, err := checkedSizes(out, sum)
	if err != nil && unread != "" {
		err = fmt.Errorf("%w (%s was not read: columns are called size, colour and pieces)", err, unread)
	}
	return rows, err
}

// crossedSizes reads a row for each colour and a column for each size.
func crossedSizes(table [][]string, first int) ([]SizeRow, error) {
	head := table[first]
	var out []SizeRow
	var all *int
	columns := make([]int, len(head))
	for i := first + 1; i < len(table); i++ {
		row := table[i]
		if strings.Join(row, "") == "" {
			continue
		}
		of := 0
		for k := 1; k < len(row); k++ {
			if row[k] == "" {
				continue
			}
			if k >= len(head) || head[k] == "" {
				return nil, fmt.Errorf("row %d, column %d: %q stands under no size", i+1, k+1, row[k])
			}
			n, err := piecesIn(row[k], i, k)
			if err != nil {
				return nil, err
			}
			switch total := isOne(sumIs, row[0]); {
			case total && isOne(sumIs, head[k]):
				all = &n
			case total && columns[k] != n:
				return nil, fmt.Errorf("row %d, column %d: the total of %s is %d; the rows have %d",
					i+1, k+1, head[k], n, columns[k])
			case total:
			case isOne(sumIs, head[k]):
				if n != of {
					return nil, fmt.Errorf("row %d, column %d: the total of %s is %d; its sizes have %d",
						i+1, k+1, row[0], n, of)
				}
			default:
				of += n
				columns[k] += n
				out = append(out, SizeRow{row[0], head[k], n})
			}
		}
	}
	return checkedSizes(out, all)
}

func piecesIn(cell string, row, column int) (int, error) {
	n, err := strconv.Atoi(strings.NewReplacer(" ", "", "\u00a0", "").Replace(cell))
	if err != nil || n < 0 {
		return 0, fmt.Errorf("row %d, column %d: %q is no number of pieces", row+1, column+1, cell)
	}
	return n, nil
}

// checkedSizes leaves out rows without pieces and refuses what stands there
// twice, or does not come to the total that is given.
func checkedSizes(rows []SizeRow, total *int) ([]SizeRow, error) {
	rows = slices.DeleteFunc(rows, func(r SizeRow) bool { return r.Pieces == 0 })
	if len(rows) == 0 {
		return nil, errors.New("the table of sizes has no pieces")
	}
	if err := CheckSizes(rows, 0); err != nil {
		return nil, err
	}
	if n := InSizes(rows); total != nil && n != *total {
		return nil, fmt.Errorf("the total is %d; the rows come to %d", *total, n)
	}
	return rows, nil
}

// MostSizes is how many rows a table of sizes may have.
const MostSizes = 500

// CheckSizes says what is wrong with a table of sizes for a number of pieces; 0:
// for any.
func CheckSizes(rows []SizeRow, pieces int) error {
	if len(rows) > MostSizes {
		return fmt.Errorf("the table of sizes has %d rows; at most %d are kept: give the rest a line of their own", len(rows), MostSizes)
	}
	for i, r := range rows {
		if r.Pieces < 1 {
			return fmt.Errorf("%s has %d pieces; give 1 or more", r.Name(), r.Pieces)
		}
		if slices.ContainsFunc(rows[:i], func(x SizeRow) bool {
			return strings.EqualFold(x.Colour, r.Colour) && strings.EqualFold(x.Size, r.Size)
		}) {
			return fmt.Errorf("%s stands there twice", r.Name())
		}
	}
	if n := InSizes(rows); len(rows) > 0 && pieces != 0 && n != pieces {
		return fmt.Errorf("the sizes come to %s, the line has %d", words.Count(n, "piece").Text(nil), pieces)
	}
	return nil
}

// Name is the colour and the size in words.
func (r SizeRow) Name() string {
	if s := strings.TrimSpace(r.Colour + " " + r.Size); s != "" {
		return s
	}
	return "a row without colour and size"
}
