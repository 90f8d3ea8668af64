package trial

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // photographs
	"path"
	"runtime"
	"slices"
	"strings"
	"sync"

	"golang.org/x/image/draw"
	_ "golang.org/x/image/webp" // photographs

	"needlepace/words"
)

const (
	mostPhotoSide  = 820       // px, after scaling
	mostPhotoBytes = 160 << 10 // after it: twenty in a paper of one file are under 5 MB
	mostPixels     = 100e6     // of a photograph
)

// IsPhotograph reports whether a file of this name should be a photograph.
func IsPhotograph(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".jpg", ".jpeg", ".png", ".webp":
		return true
	}
	return false
}

// IsPhotographUnread reports whether a file of this name should be a photograph of a kind that
// cannot be read here.
func IsPhotographUnread(name string) bool {
	return slices.Contains([]string{".heic", ".heif", ".avif", ".tif", ".tiff", ".dng", ".gif", ".bmp"}, strings.ToLower(path.Ext(name)))
}

// Photograph is a photograph (JPEG, PNG or WebP) anew as JPEG: upright, its longer side no more
// than 820 px, and with nothing that a camera wrote beside it, as where it was taken. One
// that was made here already stays as it is. What is none is an error that says so of name.
func Photograph(name string, b []byte) ([]byte, error) {
	cfg, kind, err := image.DecodeConfig(bytes.NewReader(b))
	if err != nil {
		if len(b) > 12 && string(b[4:8]) == "ftyp" { // whatever it is called: as telephones take them
			return nil, Fault(words.Say("returns.photograph-kind", words.Args{"file": words.Name(name)}))
		}
		return nil, Fault(words.Say("returns.no-photograph", words.Args{"file": words.Name(name)}))
	}
	if float64(cfg.Width)*float64(cfg.Height) > mostPixels {
		return nil, Fault(words.Say("returns.photo-large", words.Args{"file": words.Name(name), "wide": words.Whole(cfg.Width), "high": words.Whole(cfg.Height)}))
	}
	img, _, err := image.Decode(bytes.NewReader(b))
	if err != nil {
		return nil, Fault(words.Say("returns.photo-cut", words.Args{"file": words.Name(name)}))
	}
	if kind == "jpeg" && max(cfg.Width, cfg.Height) <= mostPhotoSide && len(b) <= mostPhotoBytes && bare(b) {
		return b, nil
	}
	return scaled(upright(img, orientation(b))), nil
}

// scaled writes an image as JPEG, no larger than it may be in pixels and in bytes: what is
// all grain is written more coarsely, then smaller.
func scaled(img image.Image) []byte {
	b := img.Bounds()
	side := float64(mostPhotoSide)
	for {
		k := min(1, side/float64(max(b.Dx(), b.Dy(), 1)))
		out := image.NewRGBA(image.Rect(0, 0, max(1, int(k*float64(b.Dx()))), max(1, int(k*float64(b.Dy())))))
		draw.Draw(out, out.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
		draw.ApproxBiLinear.Scale(out, out.Bounds(), img, b, draw.Over, nil)
		for _, quality := range []int{75, 60, 45} {
			var w bytes.Buffer
			if jpeg.Encode(&w, out, &jpeg.Options{Quality: quality}) != nil {
				return nil
			}
			if w.Len() <= mostPhotoBytes {
				return w.Bytes()
			}
		}
		side *= 0.8
	}
}

// plain is a photograph anew, or why there is none.
type plain struct {
	jpeg []byte
	err  error
}

// photographs are files anew: each processor takes one after another.
func photographs(files []Given) []plain {
	out := make([]plain, len(files))
	var all sync.WaitGroup
	turn := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i, g := range files {
		all.Add(1)
		go func() {
			defer all.Done()
			turn <- struct{}{}
			defer func() { <-turn }()
			b, err := Photograph(g.Name, g.Bytes)
			out[i] = plain{b, err}
		}()
	}
	all.Wait()
	return out
}

// segments calls do with each segment of a JPEG before its image (ISO/IEC 10918-1, annex
// B): its marker and what it holds; until do says no more.
func segments(b []byte, do func(marker byte, holds []byte) bool) {
	if len(b) < 2 || b[0] != 0xFF || b[1] != 0xD8 {
		return
	}
	for b = b[2:]; len(b) >= 4 && b[0] == 0xFF; {
		marker, n := b[1], int(binary.BigEndian.Uint16(b[2:]))
		if marker == 0xDA || n < 2 || 2+n > len(b) || !do(marker, b[4:2+n]) {
			return
		}
		b = b[2+n:]
	}
}

// bare reports whether a JPEG is as it is written here, so that nothing that a camera or a program
// wrote can be in it: tables, one image, its end, and no other segment or byte anywhere.
func bare(b []byte) bool {
	const size, huffman, tables, scan = 0xC0, 0xC4, 0xDB, 0xDA
	if len(b) < 4 || b[0] != 0xFF || b[1] != 0xD8 {
		return false
	}
	for b = b[2:]; len(b) >= 4 && b[0] == 0xFF; {
		marker, n := b[1], 2+int(binary.BigEndian.Uint16(b[2:]))
		if marker != size && marker != huffman && marker != tables && marker != scan || n > len(b) {
			return false
		}
		if b = b[n:]; marker == scan {
			// Within the image FF is followed by 00 (annex B.1.1.5): the first that is not is its end.
			for at := 0; at+1 < len(b); at++ {
				if b[at] == 0xFF && b[at+1] != 0 {
					return b[at+1] == 0xD9 && at+2 == len(b)
				}
			}
			return false
		}
	}
	return false
}

// exif is what a camera wrote into a JPEG (APP1), a PNG (eXIf, its third edition, 11.3.4.5)
// or a WebP (the chunk EXIF, RFC 9649, section 2.7.1.5), from the head of TIFF on; nil: nothing.
func exif(b []byte) (tiff []byte) {
	segments(b, func(marker byte, x []byte) bool {
		t, ok := bytes.CutPrefix(x, []byte("Exif\x00\x00"))
		if marker == 0xE1 && ok {
			tiff = t
		}
		return tiff == nil
	})
	chunks := func(at int, name string, order binary.ByteOrder, nameFirst bool, even bool, over int) {
		for at >= 0 && at+8 <= len(b) {
			n, is := int(order.Uint32(b[at:])), string(b[at+4:at+8])
			if nameFirst {
				n, is = int(order.Uint32(b[at+4:])), string(b[at:at+4])
			}
			if n < 0 || n > len(b)-at-8 {
				return
			}
			if is == name {
				tiff = bytes.TrimPrefix(b[at+8:at+8+n], []byte("Exif\x00\x00"))
				return
			}
			if at += 8 + n + over; even && n%2 == 1 {
				at++
			}
		}
	}
	switch {
	case bytes.HasPrefix(b, []byte("\x89PNG\r\n\x1a\n")):
		chunks(8, "eXIf", binary.BigEndian, false, false, 4)
	case len(b) > 12 && string(b[:4]) == "RIFF" && string(b[8:12]) == "WEBP":
		chunks(12, "EXIF", binary.LittleEndian, true, true, 0)
	}
	return tiff
}

// orientation is how a camera was held, 1 to 8, as it wrote into a photograph (tag 0x0112 of
// Exif 2.32, section 4.6.4, after TIFF 6.0); 1 where it wrote nothing that makes sense.
func orientation(b []byte) int {
	t := exif(b)
	if len(t) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.BigEndian
	if t[0] == 'I' {
		order = binary.LittleEndian
	}
	at := int64(order.Uint32(t[4:]))
	if at+2 > int64(len(t)) {
		return 1
	}
	for i := range int64(order.Uint16(t[at:])) {
		e := at + 2 + 12*i
		if e+12 > int64(len(t)) {
			break
		}
		if v := int(order.Uint16(t[e+8:])); order.Uint16(t[e:]) == 0x0112 && v >= 1 && v <= 8 {
			return v
		}
	}
	return 1
}

// upright is an image as it was seen.
func upright(img image.Image, held int) image.Image {
	if held == 1 {
		return img
	}
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	// The pixel of x, y as it was seen, in the image as it was kept.
	at := map[int]func(x, y int) (int, int){
		2: func(x, y int) (int, int) { return w - 1 - x, y },
		3: func(x, y int) (int, int) { return w - 1 - x, h - 1 - y },
		4: func(x, y int) (int, int) { return x, h - 1 - y },
		5: func(x, y int) (int, int) { return y, x },
		6: func(x, y int) (int, int) { return y, h - 1 - x },
		7: func(x, y int) (int, int) { return w - 1 - y, h - 1 - x },
		8: func(x, y int) (int, int) { return w - 1 - y, x },
	}[held]
	size := image.Rect(0, 0, w, h)
	if held >= 5 {
		size = image.Rect(0, 0, h, w)
	}
	return &turned{img, size, b.Min, at}
}

// turned is an image seen otherwise than it is kept.
type turned struct {
	image.Image
	size image.Rectangle
	from image.Point
	at   func(x, y int) (int, int)
}

func (t *turned) Bounds() image.Rectangle { return t.size }

func (t *turned) At(x, y int) color.Color {
	x, y = t.at(x, y)
	return t.Image.At(t.from.X+x, t.from.Y+y)
}
