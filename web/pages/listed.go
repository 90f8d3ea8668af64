package pages

import (
	"cmp"
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"needlepace/shop"
	"needlepace/shop/lists"
	"needlepace/web/serve"
	"needlepace/words"
)

// listedBy is one thing that a list is sorted by.
type listedBy struct {
	Key  string
	Name words.Message
	// First and Last are what stands first: as the list is sorted by it, and backwards.
	First, Last words.Message
	Falls       bool   // sorted by it, the list falls: the most stand first
	Class       string // of the column
}

// listHead is the head of one column of a list.
type listHead struct {
	Name, Class string
	To          template.URL // the list sorted by the column, or backwards where it is; empty: it is not sorted by it
	Now         string       // "ascending" or "descending" where the list is sorted by it
}

// listOrder is how a list is sorted: by the address, so that it works without a
// script and goes to others as a link.
type listOrder struct {
	Key, Value string // Value is that of the address, -stitches for the other way round
	Backwards  bool
	falls      bool
	Heads      []listHead
	Options    []option // where there are no columns: on a phone
}

// listOrder reads how a list is to be sorted; usual is its key where nothing is said.
// A column without a key is not sorted by.
func (c *call) listOrder(q *serve.Query, usual string, all ...listedBy) *listOrder {
	o := &listOrder{Value: q.Get("sort")}
	o.Key, o.Backwards = strings.CutPrefix(cmp.Or(o.Value, usual), "-")
	keys, known, w := []string{}, false, c.writer()
	for _, by := range all {
		if by.Key == "" {
			o.Heads = append(o.Heads, listHead{Name: by.Name.Text(w), Class: by.Class})
			continue
		}
		keys = append(keys, by.Key)
		to := by.Key
		h := listHead{Name: by.Name.Text(w), Class: by.Class}
		if by.Key == o.Key {
			known = true
			o.falls = by.Falls != o.Backwards
			h.Now = map[bool]string{false: "ascending", true: "descending"}[o.falls]
			if !o.Backwards {
				to = "-" + to
			}
		}
		if to == usual {
			to = ""
		}
		h.To = c.other("sort", to)
		o.Heads = append(o.Heads, h)
		o.Options = append(o.Options, option{strings.TrimPrefix(by.Key, usual), by.First.Text(w)}, option{"-" + by.Key, by.Last.Text(w)})
	}
	if !known {
		q.Bad("sort", strings.Join(keys, " or ")+", with - before it for the other way round")
	}
	return o
}

// Falls reports whether the list falls: from Z to A, the most first.
func (o *listOrder) Falls() bool { return o.falls }

// sortRows sorts rows by a text or a number of each; what has none stands last.
func sortRows[R any](rows []R, of func(R) string, falls bool) {
	type key struct {
		number float64
		text   string
		isText bool
	}
	keys := make([]key, len(rows))
	order := make([]int, len(rows))
	for i, r := range rows {
		s := of(r)
		n, err := strconv.ParseFloat(s, 64)
		keys[i], order[i] = key{n, shop.SortKey(s), err != nil}, i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := keys[a], keys[b]
		switch {
		case (x.isText && x.text == "") != (y.isText && y.text == ""):
			return map[bool]int{true: 1, false: -1}[x.isText && x.text == ""]
		case falls:
			x, y = y, x
		}
		if x.isText != y.isText {
			return map[bool]int{true: 1, false: -1}[x.isText]
		}
		return cmp.Or(cmp.Compare(x.number, y.number), cmp.Compare(x.text, y.text))
	})
	was := slices.Clone(rows)
	for i, k := range order {
		rows[i] = was[k]
	}
}

// other is the page's own address with another value of one of its parts, from the
// beginning of its list.
func (c *call) other(name, value string) template.URL {
	q := c.URL.Query()
	for _, k := range []string{"from", "page", name} {
		q.Del(k)
	}
	if value != "" {
		q.Set(name, value)
	}
	return template.URL("?" + q.Encode())
}

// keptLists are the lists that somebody keeps of what a page lists.
type keptLists struct {
	Of, Query string // what is listed, and what is asked for now
	All       []keptList
	Now       *keptList // the one that is asked for; nil: none
}

type keptList struct {
	*shop.List
	To template.URL
}

func (c *call) keptLists(of string) (*keptLists, error) {
	k := &keptLists{Of: of, Query: lists.Query(c.URL.Query())}
	all, err := c.Shop.Lists.All(c.Ctx, c.Account().ID)
	for _, l := range all {
		if l.Of != of {
			continue
		}
		one := keptList{l, template.URL("/" + of + "?" + l.Query)}
		if l.Query == k.Query && k.Now == nil {
			k.Now = &one
		}
		k.All = append(k.All, one)
	}
	return k, err
}

// keepListForm keeps the list that a page shows, under a name.
func keepListForm(c *call) error {
	var in struct {
		Of    string `toml:"of"`
		Query string `toml:"query"`
		Name  string `toml:"name"`
	}
	return c.sent(&in, func(*form) (string, error) {
		l, err := c.Shop.Lists.Keep(c.Ctx, c.Account().ID, shop.List{Of: in.Of, Query: in.Query, Name: in.Name})
		if err != nil {
			return "", err
		}
		return "/" + l.Of + "?" + l.Query, nil
	}, func(f *form) error { return c.listAgain(in.Of, in.Query, "keep", f) })
}

// renameListForm gives a list another name.
func renameListForm(c *call) error {
	var in struct {
		Of    string `toml:"of"`
		Query string `toml:"query"`
		Name  string `toml:"name"`
	}
	id := c.PathValue("list")
	return c.sent(&in, func(*form) (string, error) {
		l, err := c.Shop.Lists.Rename(c.Ctx, c.Account().ID, id, in.Name)
		if err != nil {
			return "", err
		}
		return "/" + l.Of + "?" + l.Query, nil
	}, func(f *form) error { return c.listAgain(in.Of, in.Query, id, f) })
}

// dropListForm takes a list away; what it showed stays on the page.
func dropListForm(c *call) error {
	l, err := c.Shop.Lists.Drop(c.Ctx, c.Account().ID, c.PathValue("list"))
	if err != nil {
		return err
	}
	if c.URL.Query().Has("all") { // it could not be shown
		return c.see("/" + l.Of)
	}
	return c.see("/" + l.Of + "?" + l.Query)
}

// listAgain shows the page of a list with a form that was refused.
func (c *call) listAgain(of, query, name string, f *form) error {
	f.name = name
	c.back, c.URL = f, &url.URL{Path: "/" + of, RawQuery: query}
	if of == shop.ListOfOrders {
		return showOrders(c)
	}
	return showDesigns(c)
}

// shortRow is one row of a short list of things: its cells, and what it is
// sorted by in each column.
type shortRow struct {
	Cells []cell
	By    []string
}

// shortList is a list of few things, all on one page.
type shortList struct {
	Name  string
	Order *listOrder
	Rows  []shortRow
}

// shortList sorts rows by the column that the address asks for.
func (c *call) shortList(name, usual string, rows []shortRow, all ...listedBy) (*shortList, error) {
	q := c.Query()
	l := &shortList{Name: name, Order: c.listOrder(q, usual, all...), Rows: rows}
	if q.Err != nil {
		return nil, q.Err
	}
	for i, by := range all {
		if by.Key == l.Order.Key {
			sortRows(rows, func(r shortRow) string { return r.By[i] }, l.Order.falls)
		}
	}
	return l, nil
}

// listSetups lists kept shifts or comparisons.
func (c *call) listSetups(l *setupList, name, at string) (err error) {
	w := c.writer()
	var rows []shortRow
	for _, s := range l.Setups {
		rows = append(rows, shortRow{[]cell{linked(s.Name, at+s.ID), text((words.Moment{Time: s.Changed}).Text(w))},
			[]string{s.Name, strconv.FormatInt(s.Changed.Unix(), 10)}})
	}
	l.Listed, err = c.shortList(name, "name", rows, listedBy{Key: "name", Name: words.Say("lists.by-name")},
		listedBy{Key: "changed", Name: words.Say("lists.changed"), Falls: true})
	return err
}
