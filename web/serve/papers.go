package serve

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"path"
	"strings"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/paper"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/shop/settings"
	"needlepace/words"
)

// XLSXType is the media type of a workbook.
const XLSXType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

// mediaTypes are those of files, by extension.
var mediaTypes = map[string]string{".pdf": "application/pdf", ".csv": "text/csv; charset=utf-8", ".xlsx": XLSXType,
	".ics": "text/calendar; charset=utf-8", ".svg": "image/svg+xml", ".png": "image/png", ".html": "text/html; charset=utf-8", ".zip": "application/zip"}

// file answers with a file to keep, whose extension says what it is.
func (c *Call) file(name string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	ext := path.Ext(name)
	c.W.Header().Set("Content-Type", mediaTypes[ext])
	c.W.Header().Set("Cache-Control", "no-store")
	c.W.Header().Set("Content-Disposition", SaveAs(strings.TrimSuffix(name, ext), ext))
	if _, err := b.WriteTo(c.W); err != nil {
		c.Log.Debug("the client went away", "path", c.URL.Path, "error", err)
	}
	return nil
}

// paperSize is the paper asked for (?paper=), else the shop's.
func (c *Call) paperSize() (paper.Size, error) {
	name := c.URL.Query().Get("paper")
	if name == "" {
		set, err := c.Shop.Settings.Get(c.Ctx)
		if err != nil {
			return "", err
		}
		name = set.Paper
	}
	size, err := paper.SizeNamed(name)
	if err != nil {
		return "", shop.Invalidf("there is no paper %q; use A4 or Letter", name)
	}
	return size, nil
}

// paperFor is the size that is asked for, and the shop's days.
func (c *Call) paperFor() (paper.Size, When, error) {
	size, err := c.paperSize()
	if err != nil {
		return "", When{}, err
	}
	when, _, err := c.When()
	return size, when, err
}

// pdf is a paper in the size that is asked for.
func (c *Call) pdf(out io.Writer, of interface {
	PDF(io.Writer, paper.Size) error
}, err error) error {
	if err != nil {
		return err
	}
	size, err := c.paperSize()
	if err != nil {
		return err
	}
	return of.PDF(out, size)
}

// RunSheet is the sheet that is asked for, with the address where its pieces
// are recorded: the workshop's, else the one this page was asked for at.
func (c *Call) RunSheet() (*book.Order, *book.RunSheet, error) {
	o, err := c.Order()
	if err != nil {
		return nil, nil, err
	}
	q := c.Query()
	line, quantity := q.Integer("line", 1), q.Integer("quantity", 0)
	if q.Err != nil {
		return nil, nil, q.Err
	}
	if q.Get("line") == "" && len(o.Lines) > 0 {
		line = o.Lines[0].Line
	}
	r, err := ask.RunSheet(c.Ctx, c.Shop.Asked(), ask.RunSheetQuestion{
		Order: o.ID, Line: line, Machine: q.Get("machine"), Quantity: quantity, Colour: q.Get("colour"), Now: c.Shop.Now(),
	})
	if err != nil {
		return nil, nil, err
	}
	if strings.HasPrefix(r.Page, "/") { // no address is set: the one that it is asked at
		r.Page = c.Origin() + r.Page
	}
	return o, r, nil
}

// RunSheetFile gives a run sheet as PDF.
func (c *Call) RunSheetFile() error {
	_, r, err := c.RunSheet()
	if err != nil {
		return err
	}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	return c.file(fmt.Sprintf("run-sheet-%d-%d.pdf", r.Number, r.Line), func(out io.Writer) error {
		doc, err := paper.RunSheetOf(c.Ctx, c.Shop.Asked(), r, c.Shop.Now(), nil, d.W)
		return c.pdf(out, doc, err)
	})
}

// ThreadList is the thread that the plan will use.
func (c *Call) ThreadList() (*ask.ThreadListAnswer, error) {
	q := c.Query()
	days := q.Integer("days", 0)
	if q.Err != nil {
		return nil, q.Err
	}
	return ask.ThreadList(c.Ctx, c.Shop.Asked(), ask.ThreadQuestion{Now: c.Shop.Now(), Days: days})
}

// threadFile gives it as CSV or as a workbook.
func (c *Call) threadFile(name string) error {
	a, err := c.ThreadList()
	if err != nil {
		return err
	}
	return c.file(name, func(out io.Writer) error {
		switch name {
		case "thread.csv":
			return a.DayTable().WriteCSV(out)
		case "thread.xlsx":
			return paper.XLSX(out, paper.ThreadSheets(a)...)
		}
		return shop.Errorf(shop.NotFound, "the thread is thread.csv and thread.xlsx, not %q", name)
	})
}

// PlanFile gives the plan that was made last as a calendar, a workbook, CSV or a picture.
func (c *Call) PlanFile() error {
	p, err := c.Shop.Plans.Last(c.Ctx)
	if err != nil {
		return err
	}
	if p == nil {
		return shop.Saying(shop.NotFound, words.Say("refused.no-plan"))
	}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	name := c.PathValue("file")
	if strings.HasPrefix(name, "thread.") {
		return c.threadFile(name)
	}
	since, err := ask.Since(c.Ctx, c.Shop.Asked(), ask.SinceQuestion{Now: c.Shop.Now()})
	if err != nil {
		return err
	}
	drawn := picture.PlanGantt(p, d.W, d.Now, nil)
	drawn.Note = since.Line().Text(d.W)
	return c.file(name, func(out io.Writer) error {
		switch name {
		case "plan.ics":
			return paper.PlanCalendar(p, since, cmp.Or(set.ShopName, "needlepace")).ICS(out)
		case "plan.xlsx":
			return paper.XLSX(out, paper.PlanSheets(p)...)
		case "plan.csv":
			return ask.LotTable(p).WriteCSV(out)
		case "plan.svg":
			return picture.SVG(out, drawn, picture.Light())
		case "plan.png":
			return picture.PNG(out, drawn, picture.Light(), 2)
		}
		return shop.Errorf(shop.NotFound,
			"the plan has plan.ics, plan.xlsx, plan.csv, plan.svg, plan.png, thread.csv and thread.xlsx, not %q", name)
	})
}

// ReadLogo reads one byte more than is taken at most: the shop says so then.
func ReadLogo(r io.Reader) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, settings.MostLogoBytes+1))
	var tooLarge *http.MaxBytesError
	if err != nil && !errors.As(err, &tooLarge) {
		return nil, BadRequest("the picture ended early: %w", err)
	}
	return b, err
}

// mostSheetBytes is the largest sheet that is taken in.
const mostSheetBytes = 1 << 20

// ReadSheet reads a machine sheet that was sent.
func ReadSheet(r io.Reader) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, mostSheetBytes+1))
	switch {
	case err != nil:
		return nil, BadRequest("the sheet ended early: %w", err)
	case len(b) > mostSheetBytes:
		return nil, shop.Errorf(shop.TooLarge, "the file is over 1 MB, and no machine sheet is: choose another")
	}
	return b, nil
}

// KeptQuote finds a kept quote of an order.
func (c *Call) KeptQuote() (*book.Order, *book.Quote, error) {
	o, err := c.Order()
	if err != nil {
		return nil, nil, err
	}
	all, err := c.Shop.Plans.Quotes(c.Ctx, o.ID)
	if err != nil {
		return nil, nil, err
	}
	for _, q := range all {
		if q.ID == c.PathValue("quote") {
			return o, q, nil
		}
	}
	return nil, nil, shop.Errorf(shop.NotFound, "order %d has no such quote", o.Number)
}

// QuoteFile gives a kept quote as PDF, CSV or XLSX.
func (c *Call) QuoteFile() error {
	_, q, err := c.KeptQuote()
	if err != nil {
		return err
	}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	name := c.PathValue("file")
	return c.file("quote-"+q.Serial+path.Ext(name), func(out io.Writer) error {
		switch name {
		case "quote.pdf":
			doc, err := paper.QuoteOf(c.Ctx, c.Shop.Asked(), q, nil, d.W)
			return c.pdf(out, doc, err)
		case "quote.xlsx":
			return paper.XLSX(out, paper.QuoteSheets(q)...)
		case "quote.csv":
			return ask.QuotePrices(q).WriteCSV(out)
		}
		return shop.Errorf(shop.NotFound, "a quote has quote.pdf, quote.csv and quote.xlsx, not %q", name)
	})
}

// LetterFile gives the letter to a digitizer about a design as PDF or HTML. What is
// asked is an audit's, with to, earlier (the ID of an earlier version), worth and
// currency (what an hour of the machine is worth), and language.
func (c *Call) LetterFile() error {
	q := c.Query()
	if q.Get("machine") == "" {
		q.Set("machine", ask.DefaultMachine)
	}
	machineID, job := q.Job()
	asked := ask.AuditQuestion{Design: c.PathValue("design"), Machine: machineID, Job: job, Pieces: q.Integer("pieces", 1),
		HoopX: q.Number("hoop_x"), HoopY: q.Number("hoop_y"), FieldX: q.Number("field_x"), FieldY: q.Number("field_y"),
		Since: q.Get("earlier")}
	worth := q.Number("worth")
	name := c.PathValue("file")
	switch {
	case q.Err != nil:
		return q.Err
	case name != "letter.pdf" && name != "letter.html":
		return shop.Errorf(shop.NotFound, "the letter is letter.pdf and letter.html, not %q", name)
	case math.IsNaN(worth) || math.IsInf(worth, 0):
		return shop.At("worth", shop.Invalidf("an hour of the machine is worth an amount, e.g. 38"))
	}
	size, err := c.paperSize()
	if err != nil {
		return err
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	d, w, err := c.When()
	if err != nil {
		return err
	}
	a, err := c.Shop.Audit(c.Ctx, asked)
	if err != nil {
		return err
	}
	l, err := ask.LetterOf(a, ask.LetterTerms{To: q.Get("to"), From: set.ShopName, Hour: decimal.NewFromFloat(worth), Currency: q.Get("currency")})
	if err != nil {
		return err
	}
	logo, err := c.Shop.Asked().Logo(c.Ctx)
	if err != nil {
		return err
	}
	head := paper.Shop{Name: set.ShopName, Logo: logo}
	if w != nil {
		head.Lines = w.Address
	}
	if err := c.speakAs(nil, d); err != nil {
		return err
	}
	doc := paper.LetterOf(l, head, w.Zone.In(c.Shop.Now()), d.W)
	return c.file("letter "+a.Design+path.Ext(name), func(out io.Writer) error {
		if name == "letter.html" {
			return doc.HTML(out)
		}
		return doc.PDF(out, size)
	})
}
