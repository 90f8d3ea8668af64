package api

import (
	"mime"

	"needlepace/shop"
	"needlepace/web/serve"
)

// getLogo is the picture on the shop's papers. It was written anew when it was
// taken in, so it is a plain PNG whatever came.
func getLogo(c *call) error {
	b, err := c.Shop.Settings.Logo(c.Ctx)
	if err != nil {
		return err
	}
	if b == nil {
		return shop.Errorf(shop.NotFound, "the shop has no picture for its papers")
	}
	c.Bytes("image/png", b, "")
	return nil
}

func saveLogo(c *call) error {
	t, _, err := mime.ParseMediaType(c.Header.Get("Content-Type"))
	if err != nil || t != "image/png" && t != "image/jpeg" {
		return shop.Errorf(shop.Unsupported, "send the picture with Content-Type: image/png or image/jpeg")
	}
	b, err := serve.ReadLogo(c.Body)
	if err != nil {
		return err
	}
	_, err = c.Shop.Settings.SaveLogo(c.Ctx, b)
	return err
}

func removeLogo(c *call) error { return c.Shop.Settings.RemoveLogo(c.Ctx) }
