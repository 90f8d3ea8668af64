package paper

import (
	"fmt"
	"io"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"needlepace/picture"
	"needlepace/words"
)

// Document is a paper of several pages, written once and laid out twice: as PDF
// and as one self-contained HTML file. Its parts follow one another.
type Document struct {
	Shop   Shop
	Kind   string // of paper, as printed right of the shop's name
	Number string // which one, under it
	Title  string // of the file
	Foot   string // on every page
	Made   time.Time
	W      *words.Writer
	Parts  []Part
}

// Part is a piece of a [Document].
type Part interface {
	onPage(p *page) error
	asHTML(h *html)
}

// Add adds parts.
func (d *Document) Add(parts ...Part) { d.Parts = append(d.Parts, parts...) }

// Say is the sentence under a key, as the document's reader reads it.
func (d *Document) Say(key string, args ...words.Args) string {
	return words.Say(key, args...).Text(d.W)
}

// Text adds a paragraph for each text that is not empty.
func (d *Document) Text(s ...string) {
	for _, t := range s {
		if t != "" {
			d.Add(Paragraph{Text: t})
		}
	}
}

// unchecked says that nobody who speaks the document's language has read its texts,
// where that is so.
func (d *Document) unchecked(says string) {
	if d.W != nil && d.W.Language != nil && d.W.Language.Note != "" {
		d.Add(Paragraph{Text: says, Quiet: true})
	}
}

// PDF writes the document with bookmarks for its headings.
func (d *Document) PDF(w io.Writer, size Size) error {
	p, err := inItsLetters(d.W, func(f *typeface) (*page, error) { return d.lay(f, size) })
	if err != nil {
		return err
	}
	return p.write(w)
}

func (d *Document) lay(f *typeface, size Size) (*page, error) {
	p := newPageIn(f, size, d.Title, d.Foot, d.Made, d.W)
	p.f.SetLang(d.W.Tag())
	p.f.SetAuthor(p.face.printable(d.Shop.Name), true)
	if err := p.masthead(&d.Shop, d.Kind, d.Number); err != nil {
		return nil, err
	}
	for i, part := range d.Parts {
		if h, ok := part.(Heading); ok {
			h.Room = max(h.Room, p.begins(d.Parts[i:]))
			part = h
		}
		if err := part.onPage(p); err != nil {
			return nil, err
		}
	}
	p.f.SetAttachments(p.files)
	return p, nil
}

// begins is how high, about, the beginning of parts is that must stand on one page, in pt: headings, the
// text under them where it is short, and what that tells of as far as it cannot be parted.
func (p *page) begins(parts []Part) (h float64) {
	for i, part := range parts {
		switch x := part.(type) {
		case Heading:
			if i > 0 && x.Anew {
				return h
			}
			h += x.size()*(0.7+1.25*float64(len(p.wrap(x.Text, p.width(), x.size(), true)))) + 4
			continue
		case Paragraph:
			if n := len(p.wrap(x.Text, p.width(), normal+0.5, false)); n <= 4 {
				h += float64(n)*(normal+0.5)*1.4 + 5
				continue
			}
			h += 4 * normal * 1.4
		case Drawing:
			_, high := x.on(p)
			h += high + 20
		case Item:
			_, high := x.lines(p)
			h += min(high+10, p.h/2)
		case Photographs:
			if len(x) > 0 {
				_, _, high, says := p.photographRow(x[:min(2, len(x))])
				h += high + says + 12
			}
		case Figures:
			h += 70
		default:
			h += 60
		}
		return h
	}
	return h
}

// Heading begins a chapter (level 1) or a section of one (level 2).
type Heading struct {
	Text  string
	Level int
	// Anew begins on a new page of paper.
	Anew bool
	// Room is how high what must stand with it on one page is about, pt; what is higher than a
	// page begins on a new one.
	Room float64
}

// size is that of its type, pt.
func (h Heading) size() float64 {
	if h.Level > 1 {
		return normal + 1.5
	}
	return head
}

func (h Heading) onPage(p *page) error {
	if h.Anew && p.y > margin+60 {
		p.add()
	}
	size := h.size()
	p.need(max(size*2+60, min(h.Room, p.h-2*margin-60)))
	p.y += size * 0.7
	p.font(size, true)
	p.f.Bookmark(p.face.printable(h.Text), max(h.Level-1, 0), p.y)
	for _, l := range p.wrap(h.Text, p.width(), size, true) {
		p.text(margin, p.y+size, l, size, true, black)
		p.y += size * 1.25
	}
	p.y += 4
	return nil
}

// Paragraph is running text. Lead is set larger, Quiet smaller and grey.
type Paragraph struct {
	Text        string
	Lead, Quiet bool
}

func (t Paragraph) onPage(p *page) error {
	size, bold, grey := normal+0.5, false, black
	switch {
	case t.Lead:
		size, bold = head+2, true
	case t.Quiet:
		size, grey = small, quiet
	}
	p.paragraph(margin, p.width(), t.Text, size, bold, grey)
	p.y += size * 0.5
	return nil
}

// Bullets are short texts in a row.
type Bullets []string

func (b Bullets) onPage(p *page) error {
	for _, s := range b {
		lines := p.wrap(s, p.width()-12, normal, false)
		p.need(float64(min(len(lines), 6)) * normal * 1.35)
		p.text(margin, p.y+normal, "–", normal, false, black)
		for _, l := range lines {
			p.need(normal * 1.35)
			p.text(margin+12, p.y+normal, l, normal, false, black)
			p.y += normal * 1.35
		}
		p.y += 2
	}
	p.y += 4
	return nil
}

// Facts are pairs of a word and what it is; those that are empty are left out.
type Facts [][2]string

func (f Facts) onPage(p *page) error {
	h := 0.0
	for _, x := range f {
		if x[1] != "" {
			h += normal * 1.45
		}
	}
	p.need(min(h, 300))
	p.y = p.facts(margin, p.y, p.width(), f) + 6
	return nil
}

// Figures are a few numbers that matter, set large beside each other.
type Figures []Figure

// Figure is one of them: what it is, the number, and a few words about it.
type Figure struct{ What, Big, Note string }

func (f Figures) onPage(p *page) error {
	p.need(70)
	w := p.width() / float64(max(len(f), 1))
	top, low := p.y, p.y
	for i, a := range f {
		x, y := margin+float64(i)*w, top
		for _, l := range p.wrap(a.What, w-10, small, false) {
			p.text(x, y+small, l, small, false, quiet)
			y += small * 1.25
		}
		size := 20.0
		for size > 11 && p.wide(a.Big, size, true) > w-10 {
			size--
		}
		p.text(x, y+size+2, p.fit(a.Big, w-10, size, true), size, true, black)
		y += 35
		for _, l := range p.wrap(a.Note, w-10, small, false) {
			p.text(x, y, l, small, false, quiet)
			y += small * 1.3
		}
		low = max(low, y)
	}
	p.y = low + 8
	return nil
}

// Drawing is a picture with a line under it.
type Drawing struct {
	Pic     picture.Picture
	Narrow  picture.Picture // the same for a phone, in the HTML form; nil: Pic is made smaller
	Caption string
	High    float64 // share of the page's height at most; 0: 0.45
}

// on is how large it is on the page, at most so high, pt; 0: it is nothing.
func (d Drawing) on(p *page) (most, high float64) {
	w, h := d.Pic.Size()
	if !(w > 0 && h > 0) {
		return 0, 0
	}
	share := d.High
	if share == 0 {
		share = 0.45
	}
	most = share * p.h
	return most, h * min(p.width()/w, most/h)
}

func (d Drawing) onPage(p *page) error {
	most, high := d.on(p)
	if high == 0 {
		return nil
	}
	p.need(high + 20)
	p.picture(d.Pic, margin, p.y, p.width(), most)
	p.y += high + 4
	if d.Caption != "" {
		p.paragraph(margin, p.width(), d.Caption, small, false, quiet)
	}
	p.y += 8
	return nil
}

// Grid is a table. One column wraps; a column of figures stands right.
type Grid struct {
	Caption string
	Columns []GridColumn
	Rows    [][]string
}

// GridColumn is a column of a [Grid].
type GridColumn struct {
	Head  string
	Share float64 // of the page's width; all together at most 1
	Right bool
	Bold  bool
	Wraps bool // the cells are broken into lines; at most one column
	Boxes bool // a box to tick in each row
}

func (g Grid) onPage(p *page) error {
	if g.Caption != "" {
		p.need(70)
		p.text(margin, p.y+normal, p.fit(g.Caption, p.width(), normal, true), normal, true, black)
		p.y += normal * 1.7
	}
	t := table{wrap: -1}
	var boxes []int
	for i, c := range g.Columns {
		col := column{head: c.Head, width: c.Share, right: c.Right, bold: c.Bold}
		if i > 0 && g.Columns[i-1].Right && !c.Right {
			col.left = 10
		}
		t.cols = append(t.cols, col)
		if c.Wraps {
			t.wrap = i
		}
		if c.Boxes {
			boxes = append(boxes, i)
		}
	}
	if boxes != nil {
		t.mark = func(_ int, x []float64, y float64) {
			p.f.SetDrawColor(black, black, black)
			p.f.SetLineWidth(0.7)
			for _, i := range boxes {
				p.f.Rect(x[i]+1, y-8, 9, 9, "D")
			}
		}
	}
	for _, row := range g.Rows {
		if len(row) != len(g.Columns) {
			return fmt.Errorf("a row of the table %q has %d cells for %d columns", g.Caption, len(row), len(g.Columns))
		}
	}
	p.table(t, g.Rows)
	p.y += 4
	return nil
}

// Item is a numbered point: its heading, pairs that say more, and what stands
// at the right of its heading.
type Item struct {
	Number int
	Text   string
	Right  string
	Facts  [][2]string
}

// itemIn is how far an item's text stands in from its number, pt.
const itemIn = 26.0

// lines are those of its heading, and high is what it takes in all, pt.
func (it Item) lines(p *page) (lines []string, high float64) {
	w := p.width() - itemIn
	lines = p.wrap(it.Text, w-p.wide(it.Right, normal, true)-12, normal+0.5, true)
	high = float64(len(lines)) * (normal + 0.5) * 1.3
	left := 0.0
	for _, f := range it.Facts {
		left = max(left, p.wide(f[0], small, false))
	}
	for _, f := range it.Facts {
		if f[1] != "" {
			high += float64(len(p.wrap(f[1], w-left-10, normal, false))) * normal * 1.45
		}
	}
	return lines, high
}

func (it Item) onPage(p *page) error {
	const in = itemIn
	w := p.width() - in
	lines, h := it.lines(p)
	p.need(min(h+10, p.h/2))
	n := words.Whole(it.Number).Text(p.by)
	p.f.SetFillColor(29, 33, 36)
	p.f.Circle(margin+9, p.y+7, 9, "F")
	p.font(normal-0.5, true)
	p.f.SetTextColor(255, 255, 255)
	p.f.Text(margin+9-p.f.GetStringWidth(n)/2, p.y+10, n)
	p.right(p.w-margin, p.y+normal+0.5, it.Right, normal, true, black)
	for _, l := range lines {
		p.text(margin+in, p.y+normal+0.5, l, normal+0.5, true, black)
		p.y += (normal + 0.5) * 1.3
	}
	p.y = p.facts(margin+in, p.y, w, it.Facts) + 8
	return nil
}

// Blanks are lines to be filled in by hand, each with what belongs there.
type Blanks []string

func (b Blanks) onPage(p *page) error {
	if len(b) == 0 {
		return nil
	}
	p.need(46)
	w := p.width() / float64(len(b))
	p.y += 26
	p.f.SetDrawColor(black, black, black)
	p.f.SetLineWidth(0.5)
	for i, s := range b {
		x := margin + float64(i)*w
		p.f.Line(x, p.y, x+w-12, p.y)
		p.text(x, p.y+small+2, p.fit(s, w-12, small, false), small, false, quiet)
	}
	p.y += 18
	return nil
}

// Verbatim is text line by line as it stands in a file. The paper has the file itself with
// it where it has a name, since from a printed page nobody copies spaces and long lines whole.
type Verbatim struct{ Caption, File, Text string }

func (v Verbatim) onPage(p *page) error {
	const size = 6.5
	p.paragraph(margin, p.width(), v.Caption, small, true, black)
	for _, l := range strings.Split(strings.TrimRight(v.Text, "\n"), "\n") {
		switch {
		case l == "":
			p.y += 3
		case p.wide(l, size, false) <= p.width():
			p.need(size * 1.4)
			p.text(margin, p.y+size, l, size, false, black)
			p.y += size * 1.4
		default:
			p.paragraph(margin, p.width(), l, size, false, black)
		}
	}
	p.y += 8
	if v.File != "" {
		p.files = append(p.files, fpdf.Attachment{Content: []byte(v.Text), Filename: v.File})
	}
	return nil
}
