package book

import (
	"fmt"
	"slices"
	"strings"

	"needlepace/internal/cells"
)

// TableHead is the row of a table that has its headings.
type TableHead struct {
	Row   int      // from 0
	Names []string // by column; empty: it has none. Of one name that stands over two columns each has its column with it
	same  []bool   // columns that say what one before them with the same heading says, or nothing
}

// mostTitles is in how many rows that have anything the headings are looked for: people write a title over a table.
const mostTitles = 12

// HeadOf finds the headings of a table: the row in which most is known, by their names or as said; where nothing is,
// the first with two cells or more. nil: the table is empty.
func HeadOf(s *cells.Sheet, said TableColumns) *TableHead {
	best, most, filled, seen := -1, 1, -1, 0
	for i, row := range s.Rows {
		n := len(nonEmpty(row))
		if n == 0 {
			continue
		}
		if filled < 0 || len(nonEmpty(s.Rows[filled])) == 1 && n > 1 {
			filled = i
		}
		known := 0
		for _, c := range row {
			if c != "" && (isHeading(c) || saysHeading(said, c)) {
				known++
			}
		}
		if known > most {
			best, most = i, known
		}
		if seen++; seen == mostTitles {
			break
		}
	}
	if best < 0 {
		best = filled
	}
	if best < 0 {
		return nil
	}
	h := &TableHead{Row: best, Names: slices.Clone(s.Rows[best])}
	for len(h.Names) > 0 && h.Names[len(h.Names)-1] == "" {
		h.Names = h.Names[:len(h.Names)-1]
	}
	h.same = make([]bool, len(h.Names))
	names := slices.Clone(h.Names)
	for i, name := range names {
		first := slices.IndexFunc(names[:i], func(x string) bool { return foldHeading(x) == foldHeading(name) })
		if name == "" || first < 0 {
			continue
		}
		if h.same[i] = alikeColumns(s.Rows[best+1:], first, i); h.same[i] {
			h.Names[i] = ""
			continue
		}
		h.Names[first], h.Names[i] = columnCalled(names[first], first), columnCalled(name, i)
	}
	return h
}

func isHeading(cell string) bool {
	return usualSizes.MatchString(foldHeading(cell)) || slices.ContainsFunc(TableFields, func(f TableField) bool { return f.called(cell) })
}

func saysHeading(said TableColumns, cell string) bool {
	for _, list := range said {
		for name := range strings.SplitSeq(list, ",") {
			if foldHeading(name) == foldHeading(cell) {
				return true
			}
		}
	}
	return false
}

// called reports whether a heading is one of a field's names.
func (f *TableField) called(heading string) bool {
	h := foldHeading(heading)
	return h == strings.ReplaceAll(f.Key, "_", " ") || slices.Contains(f.names, h) || slices.Contains(otherNames[f.Key], h)
}

// alikeColumns reports whether a column says nothing, or nothing else than one before it.
func alikeColumns(rows [][]string, first, column int) bool {
	for _, row := range rows {
		if column < len(row) && row[column] != "" && row[column] != row[first] {
			return false
		}
	}
	return true
}

// columnCalled is a heading that stands over another column too.
func columnCalled(heading string, column int) string {
	return fmt.Sprintf("%s (column %s)", heading, cells.ColumnName(column))
}

// calledTwice says that a field's heading stands over two columns that say different things; nil: it does not.
func calledTwice(head []string, taken map[string]bool, f TableField) error {
	var all []string
	for i, h := range head {
		name, ok := strings.CutSuffix(h, columnCalled("", i))
		if ok && !taken[h] && (f.called(name) || f.Key == sizeField && usualSizes.MatchString(foldHeading(name))) {
			all = append(all, fmt.Sprintf("%q", h))
		}
	}
	if len(all) < 2 {
		return nil
	}
	return fmt.Errorf("columns of one name say different things: %s; say which is the %s, as %s=%s, or that none is, as %s=",
		strings.Join(all, " and "), f.Key, f.Key, strings.Trim(all[0], `"`), f.Key)
}
