package web

import (
	"errors"
	"io"
	"mime"
	"net/http"

	"needlepace/shop"
)

// getLogo is the picture on the shop's papers. It was written anew when it was
// taken in, so it is a plain PNG whatever came.
func getLogo(c *call) (any, error) {
	b, err := c.s.shop.Logo(c.ctx)
	if err != nil {
		return nil, err
	}
	if b == nil {
		return nil, shop.Errorf(shop.NotFound, "the shop has no picture for its papers")
	}
	return c.bytes("image/png", b, "")
}

func saveLogo(c *call) (any, error) {
	t, _, err := mime.ParseMediaType(c.Header.Get("Content-Type"))
	if err != nil || t != "image/png" && t != "image/jpeg" {
		return nil, shop.Errorf(shop.Unsupported, "send the picture with Content-Type: image/png or image/jpeg")
	}
	b, err := readLogo(c.Body)
	if err != nil {
		return nil, err
	}
	_, err = c.s.shop.SaveLogo(c.ctx, b)
	return nil, err
}

func removeLogo(c *call) (any, error) { return nil, c.s.shop.RemoveLogo(c.ctx) }

// readLogo reads one byte more than is taken at most: the shop says so then.
func readLogo(r io.Reader) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, shop.MostLogoBytes+1))
	var tooLarge *http.MaxBytesError
	if err != nil && !errors.As(err, &tooLarge) {
		return nil, badRequest("the picture ended early: %w", err)
	}
	return b, err
}

// logoForm takes the first part named file of the settings' form.
func logoForm(c *call) error {
	parts, err := c.MultipartReader()
	if err != nil {
		return badRequest("the form cannot be read: %v", err)
	}
	for {
		p, err := parts.NextPart()
		if err == io.EOF {
			return shop.Errorf(shop.Invalid, "no picture was chosen; choose a PNG or JPEG file")
		}
		if err != nil {
			return badRequest("the form cannot be read: %v", err)
		}
		if p.FormName() != "file" {
			continue
		}
		b, err := readLogo(p)
		if err != nil {
			return err
		}
		if _, err := c.s.shop.SaveLogo(c.ctx, b); err != nil {
			return err
		}
		return c.see("/settings?kept=1#logo")
	}
}

func removeLogoForm(c *call) error {
	if err := c.s.shop.RemoveLogo(c.ctx); err != nil {
		return err
	}
	return c.see("/settings?kept=1#logo")
}
