package serve

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"strings"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/paper"
	"needlepace/shop"
	"needlepace/shop/settings"
)

// XLSXType is the media type of a workbook.
const XLSXType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

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

func (c *Call) quoteBytes(q *book.Quote, name string) (b []byte, kind string, err error) {
	var out bytes.Buffer
	switch name {
	case "quote.pdf":
		kind = "application/pdf"
		var size paper.Size
		var doc *paper.Quote
		if size, err = c.paperSize(); err == nil {
			if doc, err = paper.QuoteOf(c.Ctx, c.Shop.Asked(), q, nil); err == nil {
				err = doc.PDF(&out, size)
			}
		}
	case "quote.xlsx":
		kind = XLSXType
		err = paper.XLSX(&out, paper.QuoteSheets(q)...)
	case "quote.csv":
		kind = "text/csv; charset=utf-8"
		err = ask.QuotePrices(q).WriteCSV(&out)
	default:
		err = shop.Errorf(shop.NotFound, "a quote has quote.pdf, quote.csv and quote.xlsx, not %q", name)
	}
	return out.Bytes(), kind, err
}

// RunSheet is the sheet that is asked for, with the address where its pieces
// are recorded: the workshop's, else the one this page was asked for at.
func (c *Call) RunSheet() (*book.Order, *book.RunSheet, error) {
	o, err := c.Shop.Orders.Get(c.Ctx, c.PathValue("order"))
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
		Order: o.ID, Line: line, Machine: q.Get("machine"), Quantity: quantity,
	})
	if err != nil {
		return nil, nil, err
	}
	if r.Page == "" {
		scheme := "http"
		if c.Secure {
			scheme = "https"
		}
		r.Page = scheme + "://" + c.Host + book.RecordPath(r.Number, r.Line)
	}
	if !strings.Contains(r.Page, "machine=") {
		r.Page += "&machine=" + r.MachineID
	}
	return o, r, nil
}

// RunSheetPDF is a run sheet on paper.
func (c *Call) RunSheetPDF(r *book.RunSheet) ([]byte, error) {
	size, err := c.paperSize()
	if err != nil {
		return nil, err
	}
	doc, err := paper.RunSheetOf(c.Ctx, c.Shop.Asked(), r, c.Shop.Now(), nil)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = doc.PDF(&out, size)
	return out.Bytes(), err
}

// PlanFile is the plan as a calendar, a workbook or CSV, by the name of the file.
func (c *Call) PlanFile(p *book.Plan, name string) (b []byte, kind string, err error) {
	if p == nil {
		return nil, "", shop.Errorf(shop.NotFound, "there is no plan yet; make one first")
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return nil, "", err
	}
	title := set.ShopName
	if title == "" {
		title = "needlepace"
	}
	var out bytes.Buffer
	switch name {
	case "plan.ics":
		kind = "text/calendar; charset=utf-8"
		err = paper.PlanCalendar(p, title).ICS(&out)
	case "plan.xlsx":
		kind = XLSXType
		err = paper.XLSX(&out, paper.PlanSheets(p)...)
	case "plan.csv":
		kind = "text/csv; charset=utf-8"
		err = ask.LotTable(p).WriteCSV(&out)
	default:
		err = shop.Errorf(shop.NotFound, "the plan has plan.ics, plan.xlsx and plan.csv, not %q", name)
	}
	return out.Bytes(), kind, err
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

// KeptQuote finds a kept quote of an order.
func (c *Call) KeptQuote() (*book.Order, *book.Quote, error) {
	o, err := c.Shop.Orders.Get(c.Ctx, c.PathValue("order"))
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
	name := c.PathValue("file")
	b, kind, err := c.quoteBytes(q, name)
	if err != nil {
		return err
	}
	c.File("quote-"+q.Serial+name[strings.LastIndexByte(name, '.'):], kind, b)
	return nil
}
