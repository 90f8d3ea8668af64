package api

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"

	"needlepace/shop"
	"needlepace/shop/designs"
	"needlepace/web/serve"
)

func designRoutes() []*route {
	return []*route{
		op("listDesigns", "GET /designs", shop.Look,
			"A page of the shop's designs, with run times on the shop's machines where times is true.",
			gives(listDesigns), text("search",
				"words that must all be in name, file, label, customer or note"),
			text("sort", "name; added: newest first; stitches: most first; size: largest first; customer", shop.DesignSorts...),
			text("state", "ordered: in an order still to be done; timed on a machine; untimed; warned: about its file", shop.DesignStates...), yes("reverse", "the other way round"), yes("removed", "those taken off the list"),
			text("customer", "only this customer's, as it is written there"),
			integer("offset", "first of the page, from 0"),
			integer("limit", "size of the page, 1 to 500; 50 where left out"),
			yes("times", "with run times on each of the shop's machines")),
		op("addDesigns", "POST /designs", shop.KeepDesigns,
			"Take in stitch files: multipart/form-data with any number of parts named file, each a stitch file or "+
				"a .zip or .gz of them. All that can be read is kept; each file says what became of it.",
			gives(addDesigns).as(201).from("multipart/form-data")),
		op("getDesign", "GET /designs/{design}", shop.Look, "One design.", gives(getDesign)),
		op("describeDesign", "PUT /designs/{design}", shop.KeepDesigns,
			"Change name, customer, note and thread colours. Threads left out stay.", takes(describeDesign)),
		op("removeDesign", "DELETE /designs/{design}", shop.KeepDesigns,
			"Take a design off the list. Its file, runs and orders stay.", does(removeDesign)),
		op("restoreDesign", "POST /designs/{design}/restore", shop.KeepDesigns,
			"Put a design back on the list.", does(restoreDesign)),
		op("getDesignFile", "GET /designs/{design}/file", shop.Look,
			"The stitch file as it came.", file("application/octet-stream", designFile)),
		op("getDesignThumb", "GET /designs/{design}/thumb.png", shop.Look,
			"A small drawing in thread colours, 112 × 84 px at twice the resolution.",
			file("image/png", designThumb), text("theme", "light where left out", "light", "dark")),
	}
}

func listDesigns(c *call) (*serve.DesignPage, error) {
	q := c.Query()
	ask := shop.DesignQuery{
		Search: q.Get("search"), Sort: q.OneOf("sort", "", shop.DesignSorts...), State: q.OneOf("state", "", shop.DesignStates...),
		Reverse: q.Yes("reverse"), Customer: q.Get("customer"),
		Removed: q.Yes("removed"), Offset: q.Integer("offset", 0), Limit: q.Integer("limit", 50),
	}
	times := q.Yes("times")
	if q.Err != nil {
		return nil, q.Err
	}
	return c.Designs(ask, times)
}

type addedPage struct {
	Added  []designs.Added `json:"added"`
	failed bool
}

func (a *addedPage) httpStatus() int {
	if a.failed {
		return http.StatusUnprocessableEntity
	}
	for _, d := range a.Added {
		if d.New {
			return http.StatusCreated
		}
	}
	return http.StatusOK
}

// maxFiles is how many files one upload may hold (a folder dropped at once is
// sent in several).
const maxFiles = 2000

func addDesigns(c *call) (*addedPage, error) {
	t, _, err := mime.ParseMediaType(c.Header.Get("Content-Type"))
	if err != nil || t != "multipart/form-data" {
		return nil, shop.Errorf(shop.Unsupported, "send the files as multipart/form-data, each in a part named file")
	}
	form, err := c.MultipartReader()
	if err != nil {
		return nil, serve.BadRequest("the upload cannot be read: %v", err)
	}
	page := &addedPage{Added: []designs.Added{}}
	most := c.Shop.Designs.Limits().FileBytes
	for files := 0; ; {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, uploadError(err, page)
		}
		if part.FormName() != "file" {
			continue
		}
		if files++; files > maxFiles {
			return nil, shop.Errorf(shop.TooLarge, "more than %d files in one upload; those before were kept", maxFiles)
		}
		name := fileName(part.Header.Get("Content-Disposition"))
		b, err := io.ReadAll(io.LimitReader(part, most+1))
		if err != nil {
			return nil, uploadError(err, page)
		}
		if int64(len(b)) > most {
			page.Added = append(page.Added, designs.Added{File: name, Same: []string{}, Code: shop.TooLarge,
				Error: fmt.Sprintf("the file is larger than %s", serve.BytesText(most))})
			continue
		}
		added, err := c.Shop.AddFile(c.Ctx, name, b)
		page.Added = append(page.Added, added...)
		var e *shop.Error
		if errors.As(err, &e) && (e.Code == shop.Invalid || e.Code == shop.Unsupported) && len(added) == 0 {
			page.Added = append(page.Added, designs.Added{File: name, Same: []string{}, Code: e.Code, Error: e.Text})
		} else if err != nil && shop.CodeOf(err) == shop.Stopped && len(page.Added) > 0 {
			page.Added = append(page.Added, designs.Added{File: name, Same: []string{}, Code: shop.Stopped,
				Error: "it took too long and was stopped; what is told of was taken in: send it again for the rest, nothing is taken in twice"})
			break
		} else if err != nil {
			return nil, err
		}
	}
	if len(page.Added) == 0 {
		return nil, serve.BadRequest("the upload has no part named file")
	}
	page.failed = true
	for _, a := range page.Added {
		page.failed = page.failed && a.Design == nil
	}
	return page, nil
}

// uploadError: what was kept before an upload broke off is kept, and said so.
func uploadError(err error, page *addedPage) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return err
	}
	kept := 0
	for _, a := range page.Added {
		if a.Design != nil {
			kept++
		}
	}
	return serve.BadRequest("the upload broke off after %d kept designs; send the rest again: %v", kept, err)
}

// fileName reads the name as sent, folders and all; shop keeps the last part.
func fileName(disposition string) string {
	_, p, err := mime.ParseMediaType(disposition)
	if err != nil {
		return ""
	}
	return p["filename"]
}

type designOne struct {
	*shop.Design
	Same []string `json:"same" doc:"IDs of other designs that sew exactly the same"`
}

func getDesign(c *call) (*designOne, error) {
	d, err := c.Shop.Designs.Get(c.Ctx, c.PathValue("design"))
	if err != nil {
		return nil, err
	}
	same, err := c.Shop.Designs.Same(c.Ctx, d)
	return &designOne{d, same}, err
}

func describeDesign(c *call, d shop.Description) (*shop.Design, error) {
	return c.Shop.Designs.Describe(c.Ctx, c.PathValue("design"), d)
}

func removeDesign(c *call) error {
	return c.Shop.Designs.Remove(c.Ctx, c.PathValue("design"))
}

func restoreDesign(c *call) error {
	return c.Shop.Designs.Restore(c.Ctx, c.PathValue("design"))
}

func designFile(c *call) error {
	name, content, err := c.Shop.Designs.File(c.Ctx, c.PathValue("design"))
	if err != nil {
		return err
	}
	c.Download(name, "application/octet-stream", content, c.PathValue("design"))
	return nil
}

func designThumb(c *call) error {
	q := c.Query()
	theme := q.OneOf("theme", "light", "light", "dark")
	if q.Err != nil {
		return q.Err
	}
	t, err := c.Shop.Designs.Thumbs(c.Ctx, c.PathValue("design"))
	if err != nil {
		return err
	}
	b := t.Light
	if theme == "dark" {
		b = t.Dark
	}
	c.Bytes("image/png", b, "")
	return nil
}
