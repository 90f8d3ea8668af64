package api_test

import (
	"bytes"
	"image"
	"image/png"
	"io"
	"mime/multipart"
	"strings"
	"testing"

	"needlepace/shop"
	"needlepace/shop/settings"
	"needlepace/web"
	"needlepace/web/webtest"
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
func logoOperations(a *webtest.App) {
	t := a.T
	a.Send("GET", "/settings/logo", nil).Fails(404, shop.NotFound, "no picture")
	put := func(kind string, b []byte) *webtest.Answer {
		return a.Send("PUT", "/settings/logo", io.Reader(bytes.NewReader(b)), "Content-Type", kind)
	}
	svg := []byte(`<svg xmlns="http://www.w3.org/2000/svg"/>`)
	put("image/svg+xml", svg).Fails(415, shop.Unsupported, "image/png")
	put("image/png", svg).Fails(422, shop.Invalid, "neither a PNG nor a JPEG")
	put("image/png", append(logoFile(t), make([]byte, settings.MostLogoBytes)...)).Fails(413, shop.TooLarge, "at most")
	put("image/png", logoFile(t)).OK(204)
	got := a.Send("GET", "/settings/logo", nil).OK(200)
	if img, err := png.Decode(bytes.NewReader(got.Body)); err != nil || img.Bounds().Dx() != 60 {
		t.Errorf("came back as %.20q, %v", got.Body, err)
	}
	a.Send("DELETE", "/settings/logo", nil).OK(204)
	a.Send("GET", "/settings/logo", nil).Fails(404, shop.NotFound, "no picture")
}

func TestLogoOnTheSettingsPage(t *testing.T) {
	a := webtest.New(t, web.Options{})
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
		res, err := a.Client.Post(a.URL+"/settings/logo", w.FormDataContentType(), &b)
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
	if _, body := a.Page("/settings", nil); !strings.Contains(body, shown) {
		t.Error("the settings do not show the picture")
	}
	if status, _ := a.Page("/settings/logo/remove", map[string][]string{}); status != 303 {
		t.Errorf("removing: %d", status)
	}
	if _, body := a.Page("/settings", nil); strings.Contains(body, shown) {
		t.Error("the picture is taken off, and the settings still show it")
	}
	if status, _ := a.Page("/settings/logo", map[string][]string{"file": {"x"}}); status != 400 {
		t.Errorf("a form without parts: %d", status)
	}
}
