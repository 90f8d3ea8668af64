package serve

import (
	"bytes"

	"needlepace/ask"
	"needlepace/picture"
	"needlepace/shop"
)

// RunPicture is the main picture of a run. It waits for room to compute it.
func (c *Call) RunPicture(designID, machineID string, job ask.Job) (*picture.Run, error) {
	a, err := c.Shop.Clock(c.Ctx, designID, machineID, job)
	if err != nil {
		return nil, err
	}
	free, err := c.Shop.Asked().Slot(c.Ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	return picture.RunOf(a), nil
}

// Drawn is a picture as a file, by its extension (.svg or .png), with its media type.
func Drawn(p picture.Picture, ext, theme string) (b []byte, kind string, err error) {
	t, err := picture.ThemeNamed(theme)
	if err != nil {
		return nil, "", shop.Invalidf("there is no theme %q; use light, dark or print", theme)
	}
	var out bytes.Buffer
	if ext == ".png" {
		kind, err = "image/png", picture.PNG(&out, p, t, 2)
	} else {
		kind, err = "image/svg+xml", picture.SVG(&out, p, t)
	}
	return out.Bytes(), kind, err
}
