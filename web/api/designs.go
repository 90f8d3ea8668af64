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
		{name: "listDesigns", at: "GET /designs", right: shop.Look,
			summary: "A page of the shop's designs, with run times on the shop's machines where times is true.",
			query: []param{
				{"search", "string", "words that must all be in name, file, label, customer or note", nil},
				{"sort", "string", "name; added: newest first; stitches: most first; size: largest first",
					[]string{"name", "added", "stitches", "size"}},
				{"reverse", "boolean", "the other way round", nil},
				{"removed", "boolean", "those taken off the list", nil},
				{"offset", "integer", "first of the page, from 0", nil},
				{"limit", "integer", "size of the page, 1 to 500; 50 where left out", nil},
				{"times", "boolean", "with run times on each of the shop's machines", nil},
			}, out: serve.DesignPage{}, do: listDesigns},
		{name: "addDesigns", at: "POST /designs", right: shop.KeepDesigns,
			summary: "Take in stitch files: multipart/form-data with any number of parts named file, each a stitch " +
				"file or a .zip or .gz of them. All that can be read is kept; each file says what became of it.",
			inType: "multipart/form-data", out: addedPage{}, status: 201, do: addDesigns},
		{name: "getDesign", at: "GET /designs/{design}", right: shop.Look, summary: "One design.", out: designOne{},
			do: getDesign},
		{name: "describeDesign", at: "PUT /designs/{design}", right: shop.KeepDesigns,
			summary: "Change name, customer, note and thread colours. Threads left out stay.", in: shop.Description{},
			out: shop.Design{}, do: with(describeDesign)},
		{name: "removeDesign", at: "DELETE /designs/{design}", right: shop.KeepDesigns,
			summary: "Take a design off the list. Its file, runs and orders stay.", do: removeDesign},
		{name: "restoreDesign", at: "POST /designs/{design}/restore", right: shop.KeepDesigns,
			summary: "Put a design back on the list.", do: restoreDesign},
		{name: "getDesignFile", at: "GET /designs/{design}/file", right: shop.Look,
			summary: "The stitch file as it came.", outType: "application/octet-stream", do: designFile},
		{name: "getDesignThumb", at: "GET /designs/{design}/thumb.png", right: shop.Look,
			summary: "A small drawing in thread colours, 112 × 84 px at twice the resolution.",
			query:   []param{{"theme", "string", "light where left out", []string{"light", "dark"}}},
			outType: "image/png", do: designThumb},
	}
}

func listDesigns(c *call) (any, error) {
	q := c.Query()
	ask := shop.DesignQuery{
		Search: q.Get("search"), Sort: q.OneOf("sort", "", "name", "added", "stitches", "size"),
		Reverse: q.Yes("reverse"),
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

func addDesigns(c *call) (any, error) {
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

func getDesign(c *call) (any, error) {
	d, same, err := c.Shop.Designs.Get(c.Ctx, c.PathValue("design"))
	return designOne{d, same}, err
}

func describeDesign(c *call, d shop.Description) (any, error) {
	return c.Shop.Designs.Describe(c.Ctx, c.PathValue("design"), d)
}

func removeDesign(c *call) (any, error) {
	return nil, c.Shop.Designs.Remove(c.Ctx, c.PathValue("design"))
}

func restoreDesign(c *call) (any, error) {
	return nil, c.Shop.Designs.Restore(c.Ctx, c.PathValue("design"))
}

func designFile(c *call) (any, error) {
	name, content, err := c.Shop.Designs.File(c.Ctx, c.PathValue("design"))
	if err != nil {
		return nil, err
	}
	return c.download(name, "application/octet-stream", content, c.PathValue("design"))
}

func designThumb(c *call) (any, error) {
	q := c.Query()
	theme := q.OneOf("theme", "light", "light", "dark")
	if q.Err != nil {
		return nil, q.Err
	}
	t, err := c.Shop.Designs.Thumbs(c.Ctx, c.PathValue("design"))
	if err != nil {
		return nil, err
	}
	b := t.Light
	if theme == "dark" {
		b = t.Dark
	}
	return c.bytes("image/png", b, "")
}
