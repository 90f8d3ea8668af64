package main

import (
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/picture"
)

// What only reads makes no shop where there is none.
func TestReadingMakesNoShop(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "no")
	for _, args := range [][]string{{"order", "list"}, {"order", "show", "1001"}} {
		out, errs, code := invoke(t, append(args, "--data", filepath.Join(folder, "shop.db"))...)
		if code != exitUsage || out != "" || !strings.Contains(errs, "there is no shop at") {
			t.Errorf("%v: status %d, %q, %q", args, code, out, errs)
		}
		if _, err := os.Stat(folder); err == nil {
			t.Errorf("%v made %s", args, folder)
		}
	}
}

// A .png is no higher than 2,000 px, however high the picture.
func TestAPictureIsNoHigherThanTold(t *testing.T) {
	for height, want := range map[float64]int{600: 1200, 1518: 2000} {
		path := filepath.Join(t.TempDir(), "x.png")
		if err := writePicture(path, &picture.Chart{Width: 800, Height: height}); err != nil {
			t.Fatal(err)
		}
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		cfg, err := png.DecodeConfig(f)
		f.Close()
		if err != nil || cfg.Height != want {
			t.Errorf("%g px high: %d px in the file, %v; want %d", height, cfg.Height, err, want)
		}
	}
}

// A message begins with what is wrong, never with the name of a package.
func TestMessagesBeginWithNoPackage(t *testing.T) {
	var b strings.Builder
	complain(&b, fmt.Errorf("stitchfile: bay.dst: it is empty"))
	if got := b.String(); got != "needlepace: bay.dst: it is empty\n" {
		t.Errorf("%q", got)
	}
}
