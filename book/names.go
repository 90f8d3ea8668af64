package book

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"needlepace/internal/cells"
	"needlepace/words"
)

// NameRow is one piece of a line whose pieces have names: what its lettering is
// sewn from, and its garment where the list says it.
type NameRow struct {
	Name     string `json:"name" toml:"name"`
	DesignID string `json:"design" toml:"file"`             // its own stitch file
	Colour   string `json:"colour,omitempty" toml:"colour"` // of the garment, may be empty
	Size     string `json:"size,omitempty" toml:"size"`     // may be empty
}

// LineNames are the pieces of a line that have names.
type LineNames struct {
	// Names are the pieces, one by one, in the order in which they are sewn. Empty:
	// the pieces have none.
	Names []NameRow `json:"names,omitempty"`
	// NamesAlone: each piece is sewn with its own file alone; else with the line's
	// design, and its lettering after it.
	NamesAlone bool `json:"names_alone,omitempty"`
	// NameThreads are the threads of the lettering, block by block; empty: the files' own.
	NameThreads []string `json:"name_threads,omitempty"`
}

// MostNames is how many names a line may have.
const MostNames = 2000

// Named reports whether the line's pieces have names.
func (l *OrderLine) Named() bool { return len(l.Names) > 0 }

// Lettering is the line as the lettering of its names is sewn: with their threads.
func (l *OrderLine) Lettering() *OrderLine {
	return &OrderLine{Line: l.Line, LineGoods: l.LineGoods, Threads: l.NameThreads}
}

// LetteringThreads are the threads of the colour blocks of a name's file. Files
// that do not say their colours are sewn with the same.
func LetteringThreads(l *OrderLine, d *Design) []string {
	any := *d
	any.Name = "names"
	return BlockThreads(l.Lettering(), &any)
}

// sizesOfNames are the garments that names say; nil where they say none.
func sizesOfNames(all []NameRow) (out []SizeRow) {
	said := false
	var colours []string
	for _, n := range all {
		said = said || n.Colour != "" || n.Size != ""
		if !slices.Contains(colours, n.Colour) {
			colours = append(colours, n.Colour)
		}
	}
	if !said {
		return nil
	}
	for _, c := range colours {
		for _, n := range all {
			if n.Colour != c {
				continue
			}
			k := slices.IndexFunc(out, func(r SizeRow) bool { return r.Colour == c && strings.EqualFold(r.Size, n.Size) })
			if k < 0 {
				k = len(out)
				out = append(out, SizeRow{Colour: c, Size: n.Size})
			}
			out[k].Pieces++
		}
	}
	return out
}

// OrderNames puts the names of a line into the order in which they are sewn, by
// garment colour and size, and makes the table of sizes of what they say of it.
func (l *OrderLine) OrderNames() {
	sizes := sizesOfNames(l.Names)
	if sizes == nil {
		return
	}
	l.Sizes = sizes
	at := func(n NameRow) int {
		return slices.IndexFunc(sizes, func(r SizeRow) bool { return r.Colour == n.Colour && strings.EqualFold(r.Size, n.Size) })
	}
	slices.SortStableFunc(l.Names, func(a, b NameRow) int { return at(a) - at(b) })
}

// namesLeft are the names of rows of the table of sizes of which so many are left,
// the last ones of each.
func (l *OrderLine) namesLeft(left []SizeRow) (out []NameRow) {
	for _, r := range left {
		var of []NameRow
		for _, n := range l.Names {
			if n.Colour == r.Colour && strings.EqualFold(n.Size, r.Size) {
				of = append(of, n)
			}
		}
		out = append(out, of[max(0, len(of)-r.Pieces):]...)
	}
	return out
}

var (
	nameIs   = []string{"name", "names", "lettering", "text", "person", "player", "to sew"}
	fileIs   = []string{"file", "stitch file", "design", "design file"}
	sizeIs   = []string{"size", "sizes"}
	nameHead = slices.Concat(nameIs, fileIs, sizeIs, colourIs, piecesIs)
)

// ReadNames reads a list of names in cells: a row for each piece, with its name, its
// stitch file (empty: the one that is called as the name), its size and its garment
// colour; with pieces, so many of it. Without headings the first column is the name,
// the second the file. fileOf finds a stitch file by what the list calls it. Rows
// that cannot be used are in bad, and the names are of the others.
func ReadNames(table [][]string, fileOf func(name string) (id string, err error)) (names []NameRow, bad []BadCell, err error) {
	first := slices.IndexFunc(table, func(row []string) bool { return len(nonEmpty(row)) > 0 })
	if first < 0 {
		return nil, nil, errors.New("the list of names is empty")
	}
	head := table[first]
	at := map[string]int{"name": 0, "file": 1, "size": -1, "colour": -1, "pieces": -1}
	heading := map[string]string{"name": "", "file": ""}
	if slices.ContainsFunc(head, func(c string) bool { return isOne(nameHead, c) }) {
		at["name"], at["file"] = -1, -1
		for k, c := range head {
			for _, x := range []struct {
				key string
				is  []string
			}{{"name", nameIs}, {"file", fileIs}, {"size", sizeIs}, {"colour", colourIs}, {"pieces", piecesIs}} {
				if at[x.key] < 0 && isOne(x.is, c) {
					at[x.key], heading[x.key] = k, c
				}
			}
		}
		if at["name"] < 0 && at["file"] < 0 {
			return nil, nil, fmt.Errorf("no column of the list has the names; it has %s", strings.Join(nonEmpty(head), ", "))
		}
		first++
	}
	for i := first; i < len(table); i++ {
		row := table[i]
		if len(nonEmpty(row)) == 0 {
			continue
		}
		cell := func(key string) string {
			if k := at[key]; k >= 0 && k < len(row) {
				return strings.TrimSpace(row[k])
			}
			return ""
		}
		wrong := func(key, why string, a ...any) {
			bad = append(bad, BadCell{Row: i + 1, Column: heading[key], Value: cell(key), Why: fmt.Sprintf(why, a...)})
		}
		n := NameRow{Name: cell("name"), Colour: cell("colour"), Size: cell("size")}
		pieces := 1
		if s := cell("pieces"); s != "" {
			if pieces, err = strconv.Atoi(s); err != nil || pieces < 1 {
				wrong("pieces", "give 1 or more pieces")
				continue
			}
		}
		file, said := cell("file"), "file"
		if file == "" {
			file, said = n.Name, "name"
		}
		if n.Name = cmp.Or(n.Name, file); n.Name == "" {
			wrong("name", "the name is missing")
			continue
		}
		if n.DesignID, err = fileOf(file); err != nil {
			wrong(said, "%v", err)
			continue
		}
		if len(names)+pieces > MostNames {
			return nil, nil, fmt.Errorf("the list has more than %d names", MostNames)
		}
		for range pieces {
			names = append(names, n)
		}
	}
	if len(names)+len(bad) == 0 {
		return nil, nil, errors.New("the list has headings and no names under them")
	}
	return names, bad, nil
}

// ParseNames is ReadNames of a list that was typed or pasted.
func ParseNames(text string, fileOf func(name string) (id string, err error)) ([]NameRow, []BadCell, error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil, nil
	}
	table, err := cells.Text(text)
	if err != nil {
		return nil, nil, err
	}
	return ReadNames(table, fileOf)
}

// BadNames is one error that names the rows of a list that cannot be used; nil where
// there are none.
func BadNames(bad []BadCell) error {
	if len(bad) == 0 {
		return nil
	}
	var all []string
	for i, b := range bad {
		if i == 10 {
			all = append(all, fmt.Sprintf("and %d more", len(bad)-i))
			break
		}
		s := fmt.Sprintf("row %d", b.Row)
		if b.Value != "" {
			s += fmt.Sprintf(" (%s)", b.Value)
		}
		all = append(all, s+": "+b.Why)
	}
	return fmt.Errorf("%s of the list cannot be used: %s", words.Count(len(bad), "row").Text(nil), strings.Join(all, "; "))
}

// NamesText writes names as a list that ParseNames reads. fileOf says what a
// stitch file is called.
func NamesText(all []NameRow, fileOf func(id string) string) string {
	if len(all) == 0 {
		return ""
	}
	colour := slices.ContainsFunc(all, func(n NameRow) bool { return n.Colour != "" })
	size := slices.ContainsFunc(all, func(n NameRow) bool { return n.Size != "" })
	var b strings.Builder
	row := func(name, file, c, s string) {
		b.WriteString(name + "\t" + file)
		if colour {
			b.WriteString("\t" + c)
		}
		if size {
			b.WriteString("\t" + s)
		}
		b.WriteByte('\n')
	}
	row("name", "file", "colour", "size")
	for _, n := range all {
		row(n.Name, fileOf(n.DesignID), n.Colour, n.Size)
	}
	return b.String()
}

// CheckNames says what is wrong with the names of a line.
func CheckNames(l *OrderLine) error {
	switch n := len(l.Names); {
	case n > MostNames:
		return fmt.Errorf("there are %d names; at most %d are kept", n, MostNames)
	case n == 0 && (l.NamesAlone || len(l.NameThreads) > 0):
		return errors.New("something is said of the names, and the line has none")
	case n > 0 && n != l.Quantity:
		return fmt.Errorf("there are %s, the line has %s", words.Count(n, "name").Text(nil), words.Count(l.Quantity, "piece").Text(nil))
	}
	return nil
}
