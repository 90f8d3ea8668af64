package settings

import (
	"bytes"
	"context"
	"encoding/base64"
	"image"
	"image/jpeg"
	"image/png"

	resample "golang.org/x/image/draw"

	"needlepace/shop"
)

// Limits of the picture a shop puts on its papers.
const (
	MostLogoBytes = 8 << 20 // of the file
	MostLogoSide  = 4000    // pixels, each way
	// Kept is what a paper can show: 120 × 44 pt are 1,000 × 367 pixels at
	// 600 to the inch.
	keptLogoWidth, keptLogoHeight = 1000, 500
)

const logoKey = "logo"

// Logo is the picture the shop puts on its papers, as PNG; nil: none.
func (s *Settings) Logo(ctx context.Context) ([]byte, error) {
	b, err := s.store.Setting(ctx, logoKey)
	if err != nil || len(b) == 0 {
		return nil, err
	}
	out, err := base64.StdEncoding.DecodeString(string(b))
	if err != nil {
		return nil, shop.Errorf(shop.Storage, "the kept picture of the shop cannot be read: %w", err)
	}
	return out, nil
}

// SaveLogo checks a PNG or JPEG file and keeps what is drawn on it, as a PNG no
// larger than papers show; it comes back. The file itself is not kept, so
// nothing that hides in it (a place, a name, a script) goes out on papers.
func (s *Settings) SaveLogo(ctx context.Context, file []byte) ([]byte, error) {
	out, err := cleanLogo(file)
	if err != nil {
		return nil, err
	}
	return out, s.store.SetSetting(ctx, logoKey, []byte(base64.StdEncoding.EncodeToString(out)))
}

// RemoveLogo forgets the picture. None being there is no error.
func (s *Settings) RemoveLogo(ctx context.Context) error {
	return s.store.SetSetting(ctx, logoKey, nil)
}

// cleanLogo reads a picture by what it is, never by its name, and writes it
// anew. Its size in pixels is looked at before they are decoded.
func cleanLogo(file []byte) ([]byte, error) {
	if len(file) > MostLogoBytes {
		return nil, shop.Errorf(shop.TooLarge, "the picture has %d bytes; at most %d are taken: save it smaller",
			len(file), MostLogoBytes)
	}
	var config func() (image.Config, error)
	var decode func() (image.Image, error)
	switch {
	case len(file) == 0:
		return nil, shop.Invalidf("the picture is empty; give a PNG or JPEG file")
	case bytes.HasPrefix(file, []byte("\x89PNG\r\n\x1a\n")):
		config = func() (image.Config, error) { return png.DecodeConfig(bytes.NewReader(file)) }
		decode = func() (image.Image, error) { return png.Decode(bytes.NewReader(file)) }
	case bytes.HasPrefix(file, []byte("\xff\xd8\xff")):
		config = func() (image.Config, error) { return jpeg.DecodeConfig(bytes.NewReader(file)) }
		decode = func() (image.Image, error) { return jpeg.Decode(bytes.NewReader(file)) }
	default:
		return nil, shop.Invalidf("this is neither a PNG nor a JPEG picture, whatever its name; save the picture as " +
			"one of them (SVG is not taken)")
	}
	c, err := config()
	if err != nil {
		return nil, shop.Invalidf("the picture cannot be read: %w; save it again as PNG or JPEG", err)
	}
	if c.Width < 1 || c.Height < 1 || c.Width > MostLogoSide || c.Height > MostLogoSide {
		return nil, shop.Invalidf("the picture is %d × %d pixels; at most %d each way are taken: save it smaller",
			c.Width, c.Height, MostLogoSide)
	}
	img, err := decode()
	if err != nil {
		return nil, shop.Invalidf("the picture cannot be read: %w; save it again as PNG or JPEG", err)
	}
	k := min(keptLogoWidth/float64(c.Width), keptLogoHeight/float64(c.Height), 1)
	out := image.NewNRGBA(image.Rect(0, 0, max(1, int(float64(c.Width)*k+.5)), max(1, int(float64(c.Height)*k+.5))))
	if k == 1 {
		resample.Draw(out, out.Rect, img, img.Bounds().Min, resample.Src)
	} else {
		resample.CatmullRom.Scale(out, out.Rect, img, img.Bounds(), resample.Src, nil)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, out); err != nil {
		return nil, shop.Invalidf("the picture cannot be written anew: %w", err)
	}
	return b.Bytes(), nil
}
