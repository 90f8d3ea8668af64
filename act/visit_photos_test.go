package act_test

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/jpeg"
	"testing"

	"needlepace/shop"
	"needlepace/shop/visits"
)

// Whatever folder of a visit a photograph goes into, nothing goes with it that a camera wrote; a kind of
// photograph that cannot be read is refused, for what it holds beside the image is not known.
func TestPhotographsLoseWhatACameraWroteWhereverTheyGo(t *testing.T) {
	s, _ := newShop(t)
	v, err := s.BeginVisit(t.Context(), "Notes", "", "")
	must(t, err)
	var plain bytes.Buffer
	must(t, jpeg.Encode(&plain, image.NewGray(image.Rect(0, 0, 40, 30)), nil))
	secret := []byte("Exif\x00\x00 north gate 54.123N")
	shot := append([]byte{0xFF, 0xD8, 0xFF, 0xE1}, binary.BigEndian.AppendUint16(nil, uint16(len(secret)+2))...)
	shot = append(append(shot, secret...), plain.Bytes()[2:]...)
	for _, name := range []string{"notes/gate.jpg", "photographs/gate.JPEG", "trials/one/returns/quay-1.jpg", "papers/x.jpg"} {
		must(t, s.Visits.Put(t.Context(), v.ID, "Ida", visits.File{Name: name, As: shot}))
		kept, err := s.Visits.Read(t.Context(), v.ID, name)
		must(t, err)
		if len(kept) == 0 || bytes.Contains(kept, []byte("north gate")) {
			t.Errorf("%s has what the camera wrote", name)
		}
	}
	for _, name := range []string{"notes/gate.heic", "photographs/gate.tif", "notes/cut.jpg"} {
		if err := s.Visits.Put(t.Context(), v.ID, "Ida", visits.File{Name: name, As: shot[:30]}); shop.CodeOf(err) != shop.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}
