package main

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"os"
	"slices"

	"golang.org/x/image/draw"
)

// mostSmall is as much of a page as a small picture has: what two windows show.
const mostSmall = 1800

// keepSmall keeps the top of a picture in half its size and in its 255 commonest colours,
// which is small, and the same where the picture is.
func keepSmall(file string, picture []byte) error {
	m, err := png.Decode(bytes.NewReader(picture))
	if err != nil {
		return err
	}
	size := image.Rect(0, 0, m.Bounds().Dx()/2, min(m.Bounds().Dy(), mostSmall)/2)
	half := image.NewRGBA(size)
	draw.ApproxBiLinear.Scale(half, size, m, image.Rect(0, 0, 2*size.Dx(), 2*size.Dy()), draw.Src, nil)
	const rough = 7 // of each of red, green and blue is left out
	count := map[color.RGBA]int{}
	each := func(do func(i int, c color.RGBA)) {
		for i := range len(half.Pix) / 4 {
			p := half.Pix[4*i:]
			do(i, color.RGBA{p[0] &^ rough, p[1] &^ rough, p[2] &^ rough, 255})
		}
	}
	each(func(_ int, c color.RGBA) { count[c]++ })
	all := make([]color.RGBA, 0, len(count))
	for c := range count {
		all = append(all, c)
	}
	slices.SortFunc(all, func(a, b color.RGBA) int {
		if n := count[b] - count[a]; n != 0 {
			return n
		}
		return bytes.Compare([]byte{a.R, a.G, a.B}, []byte{b.R, b.G, b.B})
	})
	var palette color.Palette
	for _, c := range all[:min(255, len(all))] {
		palette = append(palette, color.RGBA{c.R | rough/2, c.G | rough/2, c.B | rough/2, 255})
	}
	index := map[color.RGBA]uint8{}
	for _, c := range all {
		index[c] = uint8(palette.Index(c)) //nolint:gosec // under 255
	}
	out := image.NewPaletted(size, palette)
	each(func(i int, c color.RGBA) { out.Pix[i] = index[c] })
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, out); err != nil {
		return err
	}
	return os.WriteFile(file, b.Bytes(), 0o666)
}
