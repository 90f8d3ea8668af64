package web

import (
	"bytes"
	"image"
	"image/png"
	"io"
	"mime/multipart"
	"strings"
	"testing"

	"needlepace/shop"
)

func logoFile(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewNRGBA(image.Rect(0, 0, 60, 20))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// logoOperations are part of TestEveryOperation.
func (a *app) logoOperations() {
	t := a.t
	a.send("GET", "/settings/logo", nil).fails(404, shop.NotFound, "no picture")
	put := func(kind string, b []byte) *answer {
		return a.send("PUT", "/settings/logo", io.Reader(bytes.NewReader(b)), "Content-Type", kind)
	}
	svg := []byte(`<svg xmlns="http://www.w3.org/2000/svg"/>`)
	put("image/svg+xml", svg).fails(415, shop.Unsupported, "image/png")
	put("image/png", svg).fails(422, shop.Invalid, "neither a PNG nor a JPEG")
	put("image/png", append(logoFile(t), make([]byte, shop.MostLogoBytes)...)).fails(413, shop.TooLarge, "at most")
	put("image/png", logoFile(t)).ok(204)
	got := a.send("GET", "/settings/logo", nil).ok(200)
	if img, err := png.Decode(bytes.NewReader(got.body)); err != nil || img.Bounds().Dx() != 60 {
		t.Errorf("came back as %.20q, %v", got.body, err)
	}
	a.send("DELETE", "/settings/logo", nil).ok(204)
	a.send("GET", "/settings/logo", nil).fails(404, shop.NotFound, "no picture")
}

func TestLogoOnTheSettingsPage(t *testing.T) {
	a := newApp(t, Options{})
	post := func(field string, content []byte) (int, string) {
		t.Helper()
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		p, err := w.CreateFormFile(field, "logo.png")
		if err != nil {
			t.Fatal(err)
		}
		p.Write(content) //nolint:errcheck // a buffer
		w.Close()        //nolint:errcheck // a buffer
		res, err := a.client.Post(a.http.URL+"/settings/logo", w.FormDataContentType(), &b)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close() //nolint:errcheck // read
		body, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, string(body)
	}
	const shown = `<img class="logo" src="/api/v1/settings/logo?`
	for _, c := range []struct {
		field, content string
		status         int
		words          string
	}{
		{"file", "no picture at all", 422, "neither a PNG nor a JPEG"}, {"file", "", 422, "empty"}, {"other", "x", 422, "choose a PNG or JPEG"},
		{"file", string(logoFile(t)), 303, ""},
	} {
		if status, body := post(c.field, []byte(c.content)); status != c.status || !strings.Contains(body, c.words) {
			t.Errorf("%.20q: %d, %.300s", c.content, status, body)
		}
	}
	if _, body := a.page("/settings", nil); !strings.Contains(body, shown) {
		t.Error("the settings do not show the picture")
	}
	if status, _ := a.page("/settings/logo/remove", map[string][]string{}); status != 303 {
		t.Errorf("removing: %d", status)
	}
	if _, body := a.page("/settings", nil); strings.Contains(body, shown) {
		t.Error("the picture is taken off, and the settings still show it")
	}
	if status, _ := a.page("/settings/logo", map[string][]string{"file": {"x"}}); status != 400 {
		t.Errorf("a form without parts: %d", status)
	}
}
