package api

import (
	"mime"

	"needlepace/shop"
	"needlepace/web/serve"
)

// getLogo is the picture on the shop's papers. It was written anew when it was
// taken in, so it is a plain PNG whatever came.
func getLogo(c *call) (any, error) {
	b, err := c.Shop.Settings.Logo(c.Ctx)
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
	b, err := serve.ReadLogo(c.Body)
	if err != nil {
		return nil, err
	}
	_, err = c.Shop.Settings.SaveLogo(c.Ctx, b)
	return nil, err
}

func removeLogo(c *call) (any, error) { return nil, c.Shop.Settings.RemoveLogo(c.Ctx) }
