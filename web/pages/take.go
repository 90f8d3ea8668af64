package pages

import (
	"cmp"
	"html/template"
	"slices"
)

// taken is one table or picture of a page, with the files it can be taken away as.
type taken struct {
	Name  string
	Files []takenFile
}

// takenFile is one form of it: CSV, SVG or PNG, and its address.
type takenFile struct {
	As string
	To template.URL
}

// Takes are all tables and pictures of the page that hold anything, by their
// names: the menu on top of the page is the one place to take them away from.
func (p *page) Takes() (all []taken) {
	for id, t := range p.Tables {
		if len(t.Rows) > 0 {
			all = append(all, taken{t.Caption, []takenFile{{"CSV", p.With("csv", id)}}})
		}
	}
	for id, one := range p.Pics {
		all = append(all, taken{one.Wide.Title(), []takenFile{{"SVG", p.With("picture", id+".svg")},
			{"PNG", p.With("picture", id+".png")}}})
	}
	slices.SortFunc(all, func(a, b taken) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Files[0].To, b.Files[0].To))
	})
	return all
}
