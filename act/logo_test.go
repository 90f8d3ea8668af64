package act_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"

	"needlepace/book"
	"needlepace/paper"
	"needlepace/shop"
	"needlepace/shop/settings"
	"needlepace/words"
)

// square is a picture of one colour.
func square(w, h int, c color.Color) image.Image {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.Set(x, y, c)
		}
	}
	return img
}

func pngOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// pngChunk is a chunk as PNG has it (ISO/IEC 15948, 5.3).
func pngChunk(kind string, data []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	b = append(append(b, kind...), data...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

func TestLogoGoesOnPapersAndComesOff(t *testing.T) {
	b := fresh(t)
	o, _, err := b.AddOrder(bg, book.Order{Customer: "Gull & Ladle", State: book.Agreed, Due: words.NewDay(2026, 3, 6), Weight: 1, Lines: []book.OrderLine{{DesignID: b.designs["gull-cap.dst"], Quantity: 24}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	b.plan(t)
	r, err := b.MakeRunSheet(bg, o.ID, 1, "", 0)
	if err != nil {
		t.Fatal(err)
	}
	logoOn := func(given []byte) []byte {
		t.Helper()
		sheet, err := paper.RunSheetOf(bg, b.Asked(), r, b.at, given, nil)
		if err != nil {
			t.Fatal(err)
		}
		var pdf bytes.Buffer
		if err := sheet.PDF(&pdf, paper.A4); err != nil {
			t.Fatal(err)
		}
		if has := bytes.Contains(pdf.Bytes(), []byte("/Subtype /Image")); has != (len(sheet.Shop.Logo) > 0) {
			t.Errorf("the PDF has a picture: %v, the paper %d bytes", has, len(sheet.Shop.Logo))
		}
		return sheet.Shop.Logo
	}
	if got := logoOn(nil); got != nil {
		t.Errorf("a logo of %d bytes in a shop that has none", len(got))
	}
	if err := b.Settings.RemoveLogo(bg); err != nil {
		t.Errorf("removing none: %v", err)
	}
	// A JPEG with a comment: the picture is kept, what hides in the file is not.
	var jpg bytes.Buffer
	if err := jpeg.Encode(&jpg, square(2000, 500, color.NRGBA{200, 30, 40, 255}), nil); err != nil {
		t.Fatal(err)
	}
	secret := "taken at the harbour"
	file := append([]byte("\xff\xd8\xff\xfe\x00"+string(rune(len(secret)+2))+secret), jpg.Bytes()[2:]...)
	kept, err := b.Settings.SaveLogo(bg, file)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(kept))
	if err != nil || img.Bounds().Dx() != 1000 || img.Bounds().Dy() != 250 || bytes.Contains(kept, []byte("harbour")) {
		t.Fatalf("kept %v, %v", img.Bounds(), err)
	}
	if c := color.NRGBAModel.Convert(img.At(500, 125)).(color.NRGBA); c.R < 190 || c.G > 45 || c.B > 55 {
		t.Errorf("the colour became %v", c)
	}
	if !bytes.Equal(logoOn(nil), kept) {
		t.Error("the paper has another picture than the shop")
	}
	other := pngOf(t, square(10, 10, color.Black))
	if !bytes.Equal(logoOn(other), other) {
		t.Error("a picture given for one paper does not come before the shop's")
	}
	if err := b.Settings.RemoveLogo(bg); err != nil || logoOn(nil) != nil {
		t.Errorf("the picture is still there, %v", err)
	}
}

func TestBadLogosAreRefusedAndTheOldOneStays(t *testing.T) {
	b := fresh(t)
	good := pngOf(t, square(30, 20, color.NRGBA{0, 0, 255, 128}))
	kept, err := b.Settings.SaveLogo(bg, good)
	if err != nil {
		t.Fatal(err)
	}
	header := func(w, h uint32) []byte {
		ihdr := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
		return append([]byte("\x89PNG\r\n\x1a\n"), pngChunk("IHDR", append(ihdr, 8, 6, 0, 0, 0))...)
	}
	var anim bytes.Buffer
	if err := gif.Encode(&anim, square(3, 3, color.Black), nil); err != nil {
		t.Fatal(err)
	}
	broken := bytes.Clone(good)
	broken[len(broken)-20] ^= 0xff
	for _, c := range []struct {
		name  string
		file  []byte
		code  shop.Code
		words string
	}{
		{"empty", nil, shop.Invalid, "empty"},
		{"text", []byte("logo.png"), shop.Invalid, "neither a PNG nor a JPEG"},
		{"SVG", []byte(`<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>`), shop.Invalid, "SVG is not taken"},
		{"GIF", anim.Bytes(), shop.Invalid, "neither a PNG nor a JPEG"},
		{"huge", append(header(60_000, 60_000), pngChunk("IDAT", []byte{1})...), shop.Invalid, "60000 × 60000 pixels"},
		{"more than memory", header(1<<31-1, 1<<31-1), shop.Invalid, ""},
		{"no width", header(0, 5), shop.Invalid, "cannot be read"},
		{"cut off", good[:40], shop.Invalid, "cannot be read"},
		{"changed", broken, shop.Invalid, "cannot be read"},
		{"only a JPEG's start", []byte("\xff\xd8\xff\xe0"), shop.Invalid, "cannot be read"},
		{"large file", append(bytes.Clone(good), make([]byte, settings.MostLogoBytes)...), shop.TooLarge, "at most"},
	} {
		_, err := b.Settings.SaveLogo(bg, c.file)
		if shop.CodeOf(err) != c.code || !strings.Contains(err.Error(), c.words) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	if now, err := b.Settings.Logo(bg); err != nil || !bytes.Equal(now, kept) {
		t.Errorf("the kept picture changed, %v", err)
	}
}
