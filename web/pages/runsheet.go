package pages

import (
	"fmt"
	"html/template"
	"net/url"
	"strings"

	go_qr "github.com/piglig/go-qr"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// runSheetData is a run sheet as its page shows it.
type runSheetData struct {
	R        *book.RunSheet
	D        serve.When
	Bar      template.HTML
	Axis     template.HTML
	Code     template.HTML
	Changes  []words.Message
	Link     string // of the PDF
	Frame    words.Message
	SewingOn string // what is on the machine now
	Mine     bool   // it is this line
	File     string // the design's, with the label beside it
	Version  int
	Reach    words.Message // why a phone cannot open the code; nothing where it can
}

func showRunSheet(c *call) error {
	if c.asks("work") != "" { // the plan that it was waiting for
		if _, shown, err := result[*ask.PlanAnswer](c); shown || err != nil && shop.CodeOf(err) != shop.NotFound {
			return err
		}
	}
	o, r, err := c.RunSheet()
	if err != nil {
		return err
	}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	data := &runSheetData{R: r, D: d, Version: o.Version, Axis: axis(max(r.RunSeconds, r.High), d.W),
		Frame:   book.FrameName(r.Frame),
		Changes: ask.RunSheetChanges(r),
		File:    ask.DesignFile(r.File, r.Label).Text(d.W)}
	data.Bar = bar{Parts: picture.PartsOf(r.Parts), Max: max(r.RunSeconds, r.High), Low: r.Low, High: r.High,
		Label: words.Say("picture.one-run",
			words.Args{"parts": picture.TimedParts(picture.PartsOf(r.Parts))}).Text(d.W), W: d.W}.HTML()
	data.Link = fmt.Sprintf("/orders/%d/runsheet.pdf?line=%d&machine=%s&colour=%s", r.Number, r.Line,
		r.MachineID, url.QueryEscape(r.Colour))
	if data.Code, err = qrSVG(r.Page, words.Say("runsheet.code").Text(d.W)); err != nil {
		return err
	}
	if data.SewingOn, err = c.Shop.Orders.SewingOn(c.Ctx, r.MachineID); err != nil {
		return err
	}
	data.Mine, data.Reach = data.SewingOn == r.Name, ask.RunSheetReach(r.Page)
	p := &page{Title: words.Say("runsheet.title", words.Args{"name": words.Name(r.Name)}).Text(d.W), Nav: "orders",
		Data: data}
	p.addTables(d.W, ask.RunSheetBlocks(r), ask.RunSheetThread(r))
	for _, t := range []*ask.Table{ask.RunSheetSizes(r), ask.RunSheetNames(r)} {
		if t != nil {
			p.addTables(d.W, t)
		}
	}
	for i, row := range p.Tables["colours"].Rows {
		row[2].HTML = swatch(r.Blocks[i].Colour)
	}
	wide, narrow := picture.SewOutOf(r.Stitched, 3, r.Design, 420), picture.SewOutOf(r.Stitched, 3, r.Design, 330)
	wide.W, narrow.W = d.W, d.W
	p.draw("drawing", wide, narrow)
	return c.show("runsheet.html", p)
}

// swatch is a thread's colour, where it is known.
func swatch(colour string) template.HTML {
	if len(colour) != 7 || colour[0] != '#' || strings.Trim(colour[1:], "0123456789abcdefABCDEF") != "" {
		return ""
	}
	return template.HTML(`<svg class="swatch" viewBox="0 0 2 2" aria-hidden="true"><circle cx="1" cy="1" r="1" fill="` +
		colour + `"/></svg> `)
}

// qrSVG is a QR code of a text (ISO/IEC 18004, level M) with its quiet zone of
// four modules: dark on white whatever the page's colours, so that it reads.
func qrSVG(text, label string) (template.HTML, error) {
	q, err := go_qr.EncodeText(text, go_qr.Medium)
	if err != nil {
		return "", fmt.Errorf("the address %q cannot be made a code: %w", text, err)
	}
	n := q.Size()
	var b svg
	b.add(`<svg class="code" viewBox="0 0 %d %d" role="img" aria-label="%s" shape-rendering="crispEdges"><rect width="100%%" height="100%%" fill="#fff"/><path fill="#000" d="`,
		n+8, n+8, template.HTMLEscapeString(label))
	for y := range n {
		for x := range n {
			if q.Module(x, y) {
				b.add("M%d %dh1v1h-1z", x+4, y+4)
			}
		}
	}
	b.add(`"/>`)
	return b.end(), nil
}
