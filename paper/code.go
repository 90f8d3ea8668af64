package paper

// Code is an address as a code to be scanned (QR), with what it says beside it.
type Code struct {
	Text    string // that is in it
	Caption string
}

// codeWide is how wide a code is printed, in pt, its quiet zone included: 30 mm.
const codeWide = 85

func (c Code) onPage(p *page) error {
	p.need(codeWide + 4)
	if err := p.code(c.Text, margin, p.y, codeWide); err != nil {
		return err
	}
	y := p.y + codeWide/2 - small
	for _, l := range p.wrap(c.Caption, p.width()-codeWide-8, small, false) {
		p.text(margin+codeWide+4, y+small, l, small, false, quiet)
		y += small * 1.35
	}
	p.y += codeWide + 4
	return nil
}

func (c Code) asHTML(h *html) { h.exactly(`<p><a href="%s">%s</a></p>`, c.Text, c.Caption) }
