package paper

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"image"
	"image/draw"
	_ "image/jpeg" // logos
	"image/png"
	"io"
	"sort"
	"strings"
	"sync"
	"time"
	"unicode"

	"codeberg.org/go-pdf/fpdf"
	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"github.com/piglig/go-qr"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"

	"needlepace/picture"
	"needlepace/words"
)

// Size is a size of paper.
type Size string

// The sizes of paper: ISO 216 A4 (210 × 297 mm) and ANSI/ASME Y14.1 A, called
// Letter (8.5 × 11 in).
const (
	A4     Size = "A4"
	Letter Size = "Letter"
)

// SizeNamed finds a size by its name, in any case; "" is A4.
func SizeNamed(s string) (Size, error) {
	switch strings.ToLower(s) {
	case "", "a4":
		return A4, nil
	case "letter":
		return Letter, nil
	}
	return "", fmt.Errorf("there is no paper size %q; use A4 or Letter", s)
}

// Shop is who makes the paper.
type Shop struct {
	Name  string
	Lines []string // address, telephone, tax number: one line each
	Logo  []byte   // PNG or JPEG, empty: none
}

const (
	family = "go"
	margin = 42.0 // pt: 15 mm
	small  = 8.0
	normal = 9.5
	head   = 15.0
	large  = 26.0
)

// grey tones of the page; black for everything that is read.
const (
	black = 0
	quiet = 70
	hair  = 176
)

// page is a document under way: y is how far down the page is written.
type page struct {
	f      *fpdf.Fpdf
	face   *typeface
	w, h   float64 // pt
	y      float64
	footer string        // left of the page number
	top    string        // what a following page begins with
	tight  bool          // less room between things
	dense  bool          // and between the rows of a table
	front  int           // pages before the list of names, of a run sheet that has some
	by     *words.Writer // how the reader wants figures and sentences
	files  []fpdf.Attachment
}

// newPage opens a document. made is the date in the file's own data.
func newPage(size Size, title, footer string, made time.Time, by *words.Writer) *page {
	return newPageIn(faceOf(by), size, title, footer, made, by)
}

// inItsLetters lays a paper out in the reader's type, and once more in the wide one where
// that lacks a letter which the wide one has, as in a name from another country.
func inItsLetters(by *words.Writer, lay func(*typeface) (*page, error)) (*page, error) {
	p, err := lay(faceOf(by))
	if err == nil && p.face.lacked {
		return lay(wideFace())
	}
	return p, err
}

// newPageIn opens a document in a type of its own.
func newPageIn(of *typeface, size Size, title, footer string, made time.Time, by *words.Writer) *page {
	if size != Letter {
		size = A4
	}
	f := fpdf.New("P", "pt", string(size), "")
	f.SetCatalogSort(true)
	f.SetCreationDate(made.UTC())
	f.SetModificationDate(made.UTC())
	f.SetProducer("needlepace", true)
	face := &typeface{regular: of.regular, bold: of.bold, parsed: of.parsed}
	f.SetTitle(face.printable(title), true)
	f.SetMargins(margin, margin, margin)
	f.SetAutoPageBreak(false, 0)
	f.AddUTF8FontFromBytes(family, "", face.regular)
	f.AddUTF8FontFromBytes(family, "B", face.bold)
	p := &page{f: f, face: face, footer: footer, top: title, by: by}
	p.w, p.h = f.GetPageSize()
	f.AliasNbPages("{pages}")
	f.SetFooterFunc(func() {
		y := p.h - margin + 18
		p.rule(y-12, hair)
		p.text(margin, y, p.fitFoot(p.width()-90), small, false, quiet)
		p.right(p.w-margin, y, words.Say("paper.page",
			words.Args{"n": words.Whole(f.PageNo()), "of": words.Name("{pages}")}).Text(by), small, false, quiet)
	})
	p.add()
	return p
}

func (p *page) add() {
	p.f.AddPage()
	p.y = margin
	if p.f.PageNo() > 1 {
		p.text(margin, p.y+8, p.fit(words.Say("paper.continued", words.Args{"title": words.Name(p.top)}).Text(p.by), p.width(), normal, true), normal, true, black)
		p.y += 24
	}
}

// need starts a new page where h pt are no longer there.
func (p *page) need(h float64) bool {
	if p.y+h <= p.h-margin-12 {
		return false
	}
	p.add()
	return true
}

func (p *page) width() float64 { return p.w - 2*margin }

func (p *page) font(size float64, bold bool) {
	style := ""
	if bold {
		style = "B"
	}
	p.f.SetFont(family, style, size)
}

// text sets a line with its base at y.
func (p *page) text(x, y float64, s string, size float64, bold bool, grey int) {
	p.font(size, bold)
	p.f.SetTextColor(grey, grey, grey)
	p.f.Text(x, y, p.face.printable(s))
}

// right sets a line that ends at x.
func (p *page) right(x, y float64, s string, size float64, bold bool, grey int) {
	p.text(x-p.wide(s, size, bold), y, s, size, bold, grey)
}

func (p *page) wide(s string, size float64, bold bool) float64 {
	p.font(size, bold)
	// The page count is a place holder until the end: one figure wide.
	return p.f.GetStringWidth(p.face.printable(strings.ReplaceAll(s, "{pages}", "9")))
}

// fit shortens a line with an ellipsis until it is at most w pt wide.
func (p *page) fit(s string, w, size float64, bold bool) string {
	if s == "" || p.wide(s, size, bold) <= w {
		return s
	}
	r := []rune(s)
	n := sort.Search(len(r), func(n int) bool { return p.wide(string(r[:n+1])+"…", size, bold) > w })
	return string(r[:n]) + "…"
}

// between stands between the parts of a foot.
const between = " · "

// foot is a foot that begins with the shop's name: of a shop without one, the rest.
func (s *Shop) foot(line string) string {
	if _, rest, ok := strings.Cut(line, between); ok && s.Name == "" {
		return strings.TrimSpace(rest)
	}
	return line
}

// fitFoot is the line at the foot, at most w pt wide: where it is too long its first part, a
// name that stands above too, is shortened, and not the day or who reckoned.
func (p *page) fitFoot(w float64) string {
	name, rest, ok := strings.Cut(p.footer, between)
	if left := w - p.wide(between+rest, small, false); ok && left > w/4 {
		return p.fit(name, left, small, false) + between + rest
	}
	return p.fit(p.footer, w, small, false)
}

// noBreak is the space at which no line ends.
const noBreak = "\u00a0"

func breaks(r rune) bool { return unicode.IsSpace(r) && string(r) != noBreak }

// wrap breaks a text into lines of at most w pt; a word too long is broken, and a number
// stays with its unit. The lines have plain spaces, as whoever searches the paper types them.
func (p *page) wrap(s string, w, size float64, bold bool) []string {
	var lines []string
	for _, para := range strings.Split(s, "\n") {
		line := ""
		for _, word := range strings.FieldsFunc(words.Firm(para), breaks) {
			word = strings.ReplaceAll(word, noBreak, " ")
			for p.wide(word, size, bold) > w {
				r := []rune(word)
				n := 1 + sort.Search(len(r)-1, func(n int) bool { return p.wide(string(r[:n+2]), size, bold) > w })
				if line != "" {
					lines = append(lines, line)
					line = ""
				}
				lines = append(lines, string(r[:n]))
				word = string(r[n:])
				if n == len(r) {
					break
				}
			}
			switch {
			case word == "":
			case line == "":
				line = word
			case p.wide(line+" "+word, size, bold) <= w:
				line += " " + word
			default:
				lines = append(lines, line)
				line = word
			}
		}
		lines = append(lines, line)
	}
	return lines
}

// paragraph sets wrapped text and moves down.
func (p *page) paragraph(x, w float64, s string, size float64, bold bool, grey int) {
	lines := p.wrap(s, w, size, bold)
	if len(lines) <= 3 { // no line alone on a page
		p.need(float64(len(lines)) * size * 1.4)
	}
	for _, l := range lines {
		p.need(size * 1.4)
		p.text(x, p.y+size, l, size, bold, grey)
		p.y += size * 1.4
	}
}

// heading sets a small heading.
func (p *page) heading(s string) {
	p.need(40)
	gap := 10.0
	if p.tight {
		gap = 4
	}
	p.y += gap
	p.text(margin, p.y+normal, s, normal, true, black)
	p.y += normal + min(gap, 6)
}

func (p *page) rule(y float64, grey int) { p.line(y, p.w-margin, grey) }

// line is a rule that ends at to.
func (p *page) line(y, to float64, grey int) {
	p.f.SetDrawColor(grey, grey, grey)
	p.f.SetLineWidth(0.5)
	p.f.SetLineCapStyle("butt")
	p.f.Line(margin, y, to, y)
}

// picture draws a picture w pt wide, but not higher than h, at x and the
// current height; it returns the height used and does not move down.
func (p *page) picture(pic picture.Picture, x, y, w, h float64) (usedW, usedH float64) {
	pw, ph := pic.Size()
	if !(pw > 0 && ph > 0) {
		return 0, 0
	}
	k := min(w/pw, h/ph)
	p.f.ClipRect(x, y, pw*k, ph*k, false)
	pic.Draw(&canvas{f: p.f, face: p.face, t: picture.Print(), x: x, y: y, k: k})
	p.f.ClipEnd()
	// The fill before the clip is in force again, which the library does not know: it would
	// leave text in it that has the colour of the picture's last fill.
	p.f.SetFillColor(black, black, black)
	return pw * k, ph * k
}

// masthead sets the shop on the left, the kind of paper and its number on the
// right, and a rule.
func (p *page) masthead(s *Shop, kind, number string) error {
	top := p.y
	x := margin
	if len(s.Logo) > 0 {
		w, err := p.logo(s.Logo, x, top, 120, 44)
		if err != nil {
			return err
		}
		x += w + 12
	}
	half := p.width()*0.62 - (x - margin)
	y := top - 1.0
	for _, l := range p.wrap(s.Name, half, 12, true) {
		y += 12
		p.text(x, y, l, 12, true, black)
	}
	for _, l := range s.Lines {
		for _, l := range p.wrap(l, half, small, false) {
			y += 11
			p.text(x, y, l, small, false, quiet)
		}
	}
	p.right(p.w-margin, top+11, kind, head, true, black)
	low := top + 13.0
	for _, l := range p.wrap(number, p.width()*0.36, normal, false) {
		low += 12
		p.right(p.w-margin, low, l, normal, false, black)
	}
	p.y = max(y+10, low+11, top+36)
	if len(s.Logo) > 0 {
		p.y = max(p.y, top+52)
	}
	p.rule(p.y, black)
	p.y += 14
	return nil
}

func (p *page) logo(data []byte, x, y, w, h float64) (float64, error) {
	cfg, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return 0, fmt.Errorf("the shop's logo cannot be read: %w; give a PNG or JPEG file", err)
	}
	if cfg.Width < 1 || cfg.Height < 1 || cfg.Width > 4000 || cfg.Height > 4000 {
		return 0, fmt.Errorf("the shop's logo is %d × %d pixels; use at most 4,000 each way", cfg.Width,
			cfg.Height)
	}
	// Written anew as plain 8-bit PNG: what PDF takes of any file a shop has.
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return 0, fmt.Errorf("the shop's logo cannot be read: %w; give a PNG or JPEG file", err)
	}
	plain := image.NewNRGBA(img.Bounds())
	draw.Draw(plain, plain.Rect, img, img.Bounds().Min, draw.Src)
	var b bytes.Buffer
	if err := png.Encode(&b, plain); err != nil {
		return 0, fmt.Errorf("the shop's logo cannot be put on paper: %w", err)
	}
	o := fpdf.ImageOptions{ImageType: "png"}
	p.f.RegisterImageOptionsReader("logo", o, &b)
	if err := p.f.Error(); err != nil {
		return 0, fmt.Errorf("the shop's logo cannot be put on paper: %w", err)
	}
	k := min(w/float64(cfg.Width), h/float64(cfg.Height))
	p.f.ImageOptions("logo", x, y, float64(cfg.Width)*k, float64(cfg.Height)*k, false, o, 0, "")
	return float64(cfg.Width) * k, nil
}

// image puts a picture on the page by what is in it: the same one is stored once.
func (p *page) image(data []byte, kind string, x, y, w, h float64) {
	name := fmt.Sprintf("%x", sha256.Sum256(data))
	o := fpdf.ImageOptions{ImageType: kind}
	p.f.RegisterImageOptionsReader(name, o, bytes.NewReader(data))
	p.f.ImageOptions(name, x, y, w, h, false, o, 0, "")
}

// code draws a QR code of a text (ISO/IEC 18004, level M) as wide as w pt with
// its quiet zone of four modules.
func (p *page) code(text string, x, y, w float64) error {
	q, err := go_qr.EncodeText(text, go_qr.Medium)
	if err != nil {
		return fmt.Errorf("the address %q cannot be made a code: %w", text, err)
	}
	n := q.Size()
	k := w / float64(n+8)
	p.f.SetFillColor(0, 0, 0)
	for r := range n {
		for c := 0; c < n; {
			run := 0
			for c+run < n && q.Module(c+run, r) {
				run++
			}
			if run > 0 { // a row's dark run is one box: no hairlines between
				p.f.Rect(x+float64(c+4)*k, y+float64(r+4)*k, float64(run)*k, k*1.02, "F")
			}
			c += max(run, 1)
		}
	}
	return nil
}

// write ends the document.
func (p *page) write(w io.Writer) error {
	if err := p.f.Error(); err != nil {
		return err
	}
	return p.f.Output(w)
}

// typeface is what a paper is set in.
type typeface struct {
	regular, bold []byte // TTF
	parsed        *sfnt.Font
	lacked        bool // a letter was asked for that it has not, and wideFace has
}

// goFace is the type of all papers, wideFace that of papers in a language of which Go
// has not all letters: DejaVu (its licence is Bitstream Vera's).
var (
	goFace   = sync.OnceValue(func() *typeface { return newTypeface(goregular.TTF, gomedium.TTF) })
	wideFace = sync.OnceValue(func() *typeface { return newTypeface(dejavusanscondensed.TTF, dejavusanscondensedbold.TTF) })
)

func newTypeface(regular, bold []byte) *typeface {
	f, err := sfnt.Parse(regular)
	if err != nil {
		panic("paper: the embedded font does not parse: " + err.Error()) // a broken build, not bad input
	}
	return &typeface{regular: regular, bold: bold, parsed: f}
}

// faceOf is the type for a reader's language: one that has the letters of its name.
func faceOf(by *words.Writer) *typeface {
	if by != nil && by.Language != nil && !goFace().has(by.Language.Name) {
		return wideFace()
	}
	return goFace()
}

// has reports whether the type has all letters of a text.
func (t *typeface) has(s string) bool {
	own := typeface{parsed: t.parsed} // what was asked for is not kept
	return own.printable(s) == s
}

// printable replaces what the type does not have by an empty box, and control
// signs by a space.
func (t *typeface) printable(s string) string {
	var b sfnt.Buffer
	return strings.Map(func(r rune) rune {
		switch {
		case r < ' ' || r == 0x7f:
			return ' '
		case r < 0x7f:
			return r
		case r > 0xffff:
			return '□'
		}
		if i, err := t.parsed.GlyphIndex(&b, r); err != nil || i == 0 {
			if i, err := wideFace().parsed.GlyphIndex(&b, r); err == nil && i != 0 {
				t.lacked = true
			}
			return '□'
		}
		return r
	}, s)
}
