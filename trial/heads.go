package trial

import (
	"slices"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/language"

	"needlepace/words"
)

// Head is what a column of a sheet that comes back is called in a language. In English it
// is the column's own name.
func Head(column string, by *words.Writer) string {
	switch {
	case by.Tag() == language.English.String():
		return column
	case slices.Contains(Aspects, Aspect(column)):
		return words.Say("trial.aspect." + column).Text(by)
	}
	return words.Say("sheet." + column).Text(by)
}

// columns are the columns of all sheets that come back, by what any language calls them:
// a place may have got its sheet in another one than the trial's.
var columns = sync.OnceValue(func() map[string]string {
	out := map[string]string{}
	for _, l := range words.Languages() {
		for _, c := range headed() {
			out[strings.ToLower(Head(c, &words.Writer{Language: l}))] = c
		}
	}
	return out
})

// headed are the columns that have a name in each language.
func headed() []string {
	all := slices.Concat(SheetColumns, GradeColumns, BlindColumns, EntryColumns)
	for _, a := range Aspects {
		all = append(all, string(a))
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// columnOf is the column under a heading, and whether it is known; one that a spreadsheet of another code
// page wrote is known by what it left of it.
func columnOf(heading string) (column string, known bool) {
	h := strings.ToLower(strings.TrimSpace(heading))
	if c, ok := columns()[h]; ok {
		return c, true
	}
	if strings.ContainsFunc(h, func(r rune) bool { return r > unicode.MaxASCII }) {
		for name, c := range columns() {
			if alike(name, h) && (column == "" || column == c) {
				column = c
			} else if alike(name, h) {
				return h, false
			}
		}
		if column != "" {
			return column, true
		}
	}
	return h, false
}
