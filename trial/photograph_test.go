package trial

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"slices"
	"testing"
)

// pictureOf is an image of w × h; grain: of every colour at once.
func pictureOf(w, h int, grain bool) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	rng := rand.New(rand.NewPCG(1, 2))
	for y := range h {
		for x := range w {
			c := color.RGBA{uint8(x), uint8(y), 90, 255}
			if grain {
				c = color.RGBA{uint8(rng.Uint32()), uint8(rng.Uint32()), uint8(rng.Uint32()), 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	return img
}

func encoded(t *testing.T, img image.Image) []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Wherever in a JPEG something is written beside the image, it is gone: in any segment, before
// one, behind the image and behind its end (ISO/IEC 10918-1, annex B; JFIF 1.02 for thumbnails).
func TestNothingBesideTheImageStaysInAPhotograph(t *testing.T) {
	plain := encoded(t, pictureOf(64, 48, false))
	secret := []byte("Kai 3, north gate 54.123N")
	segment := func(marker byte, holds []byte) []byte {
		return append(binary.BigEndian.AppendUint16([]byte{0xFF, marker}, uint16(len(holds)+2)), holds...)
	}
	at := func(i int, x []byte) []byte { return slices.Concat(plain[:i], x, plain[i:]) }
	scan := bytes.Index(plain, []byte{0xFF, 0xDA})
	end := len(plain) - 2
	hidden := map[string][]byte{
		"APP1":              at(2, segment(0xE1, append([]byte("Exif\x00\x00"), secret...))),
		"APP0 of JFXX":      at(2, segment(0xE0, append([]byte("JFXX\x00\x10"), secret...))),
		"APP14":             at(2, segment(0xEE, append([]byte("Adobe"), secret...))),
		"a comment":         at(2, segment(0xFE, secret)),
		"after fill bytes":  at(2, append([]byte{0xFF, 0xFF}, segment(0xE1, secret)...)),
		"before the scan":   at(scan, segment(0xE1, secret)),
		"behind the image":  at(end, segment(0xFE, secret)),
		"behind its end":    append(slices.Clone(plain), secret...),
		"a second image":    append(slices.Clone(plain), at(2, segment(0xE1, secret))...),
		"an unknown marker": at(2, segment(0x02, secret)),
	}
	for where, b := range hidden {
		out, err := Photograph("quay-1.jpg", b)
		if err != nil { // what no reader takes is refused whole
			continue
		}
		if bytes.Contains(out, secret) || !bare(out) {
			t.Errorf("%s: what was written stays", where)
		}
	}
	if out, err := Photograph("quay-1.jpg", plain); err != nil || !bytes.Equal(out, plain) {
		t.Error("a photograph that was made here is made anew each time")
	}
	for where, b := range hidden {
		if bare(b) {
			t.Errorf("%s: nothing is seen", where)
		}
	}
}

// However much grain a photograph has, twenty of them are under 5 MB in a file of text.
func TestAPhotographIsSmall(t *testing.T) {
	for _, grain := range []bool{false, true} {
		out, err := Photograph("quay-1.jpg", encoded(t, pictureOf(1600, 1200, grain)))
		if err != nil || len(out) > mostPhotoBytes {
			t.Errorf("grain %v: %d bytes, %v", grain, len(out), err)
		}
		if again, err := Photograph("quay-1.jpg", out); err != nil || !bytes.Equal(again, out) {
			t.Errorf("grain %v: it is made anew each time", grain)
		}
	}
}
