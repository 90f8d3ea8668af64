package api_test

import (
	"fmt"
	"io"
	"testing"

	"needlepace/ask"
	"needlepace/web"
	"needlepace/web/api"
	"needlepace/web/serve"
	"needlepace/web/webtest"
)

// variantOf is a design like another one and yet not the same: stitches of no
// length more at its start.
func variantOf(b []byte, n int) []byte {
	out := append([]byte(nil), b[:512]...)
	for bit := n + 1; bit > 0; bit >>= 1 { // 0.1 mm to and fro for a 1, on the spot for a 0
		if bit&1 == 1 {
			out = append(out, 0x01, 0x00, 0x03, 0x02, 0x00, 0x03)
		} else {
			out = append(out, 0x00, 0x00, 0x03, 0x00, 0x00, 0x03)
		}
	}
	return append(out, b[512:]...)
}

func BenchmarkDesignListOf5000(b *testing.B) {
	a := webtest.New(b, web.Options{})
	base := webtest.DemoFile(b, "whale-line.dst")
	for _, c := range []string{"single-15-light", "compact-8", "multi-12"} {
		a.Machine(c, c)
	}
	for k := range 5000 {
		if _, err := a.Shop.AddFile(b.Context(), fmt.Sprintf("design %d.dst", k), variantOf(base, k)); err != nil {
			b.Fatal(err)
		}
	}
	for _, path := range []string{"/designs?limit=50", "/designs?limit=50&times=1", "/designs?limit=50&search=design+49", "/designs?limit=50&sort=name&offset=4900"} {
		b.Run(path, func(b *testing.B) {
			for b.Loop() {
				res, err := a.Client.Get(a.URL + serve.APIRoot + path)
				if err != nil {
					b.Fatal(err)
				}
				io.Copy(io.Discard, res.Body) //nolint:errcheck // only read
				res.Body.Close()              //nolint:errcheck // only read
			}
		})
	}
}

func BenchmarkRunBinary(b *testing.B) {
	a := webtest.New(b, web.Options{})
	d := a.DemoDesign("harbour-jacket-back.dst")
	b.SetBytes(int64(d.Stitches))
	for b.Loop() {
		t, err := a.Shop.Trace(b.Context(), d.ID, "compact-8", ask.Job{})
		if err != nil {
			b.Fatal(err)
		}
		api.PackRun(t, 0)
	}
}

func BenchmarkUpload(b *testing.B) {
	a := webtest.New(b, web.Options{})
	base := webtest.DemoFile(b, "gull-cap.dst")
	n := 0
	for b.Loop() {
		n++
		if _, err := a.Shop.AddFile(b.Context(), "x.dst", variantOf(base, n)); err != nil {
			b.Fatal(err)
		}
	}
}
