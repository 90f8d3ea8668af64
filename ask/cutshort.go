package ask

import (
	"context"
	"slices"

	"needlepace/book"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/words"
)

// CutShort are the files of a line, its names' too, that did not come whole: a design whose end is missing still has a
// time and a price. known remembers it by a design's ID.
func CutShort(ctx context.Context, from LineFrom, l *book.OrderLine, known map[string]bool) (files words.List, err error) {
	all := []string{l.DesignID}
	for i := range l.Names {
		all = append(all, l.Names[i].DesignID)
	}
	slices.Sort(all)
	for _, id := range slices.Compact(all) {
		cut, told := known[id]
		if !told {
			design, err := from.Stitches(ctx, id)
			if err != nil {
				return nil, err
			}
			cut = slices.ContainsFunc(design.Warnings, func(w stitch.Warning) bool {
				return w.Code == stitchfile.WarnCut || w.Code == stitchfile.WarnCount || w.Code == stitchfile.WarnBits
			})
			known[id] = cut
		}
		if cut {
			d, err := from.Design(ctx, id)
			if err != nil {
				return nil, err
			}
			files = append(files, words.Name(d.File))
		}
	}
	return files, nil
}
