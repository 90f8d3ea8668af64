package web

import (
	"encoding/binary"
	"fmt"
	"maps"
	"math/bits"
	"slices"
	"strings"

	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
)

// basic is what nearly all of a page is written with: Latin letters of Western
// Europe, punctuation, arrows, signs of sums. Fonts come in two files, this part and
// the other letters; a browser asks for the others where a page has some.
var basic = [][2]rune{{0x20, 0xff}, {0x2010, 0x2044}, {0x20ac, 0x20ac}, {0x2190, 0x2193}, {0x2212, 0x2212}, {0x2248, 0x2248},
	{0x2264, 0x2265}}

func isBasic(r rune) bool {
	return slices.ContainsFunc(basic, func(s [2]rune) bool { return s[0] <= r && r <= s[1] })
}

func isOther(r rune) bool { return !isBasic(r) }

// unicodeRange is runes from … to as CSS writes them.
func unicodeRange(all [][2]rune) string {
	out := make([]string, len(all))
	for i, s := range all {
		out[i] = fmt.Sprintf("U+%X-%X", s[0], s[1])
	}
	return strings.Join(out, ",")
}

// others are the letters of a font that are not basic. A browser is told of these alone: it
// would fetch them in vain for a sign that the font does not have.
func others(ttf []byte) (all [][2]rune, err error) {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, err
	}
	var buf sfnt.Buffer
	for r := rune(0x20); r < 0x10000; r++ {
		g, err := f.GlyphIndex(&buf, r)
		if err != nil {
			return nil, err
		}
		switch last := len(all) - 1; {
		case g == 0 || isBasic(r):
		case last >= 0 && all[last][1] == r-1:
			all[last][1] = r
		default:
			all = append(all, [2]rune{r, r})
		}
	}
	return all, nil
}

// fontFile is one of the page's fonts.
type fontFile struct {
	name  string
	ttf   []byte
	style string // as CSS describes it
}

var fontFiles = []fontFile{
	{"go-regular", goregular.TTF, "font-weight:400;font-style:normal;font-display:block"},
	{"go-medium", gomedium.TTF, "font-weight:500 700;font-style:normal;font-display:block"},
	{"go-italic", goitalic.TTF, "font-weight:400;font-style:italic;font-display:swap"},
}

// parts are a font's two files and what a style sheet says of them.
func (f *fontFile) parts() (part, other []byte, css string, err error) {
	if part, err = fontPart(f.ttf, isBasic); err != nil {
		return nil, nil, "", err
	}
	if other, err = fontPart(f.ttf, isOther); err != nil {
		return nil, nil, "", err
	}
	has, err := others(f.ttf)
	face := func(file string, of [][2]rune) string {
		return fmt.Sprintf("@font-face{font-family:\"Go\";%s;src:url(\"/assets/fonts/%s.ttf\") format(\"truetype\");unicode-range:%s}\n",
			f.style, file, unicodeRange(of))
	}
	return part, other, face(f.name, basic) + face(f.name+"-other", has), err
}

// fontPart is a TrueType font with the outlines of those letters alone that want
// says: the others are left empty, in their places, so that its other tables stay as
// they are (OpenType 1.9, glyf and loca). The browser must be told not to use it for
// them. What fits letters to coarse pixels, half of its bytes, is left out, and so
// are the glyphs' names: rasterizers of today do without.
func fontPart(ttf []byte, want func(rune) bool) ([]byte, error) {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, err
	}
	tables := map[string][]byte{}
	n := int(binary.BigEndian.Uint16(ttf[4:]))
	for i := range n {
		e := ttf[12+16*i:]
		at, size := binary.BigEndian.Uint32(e[8:]), binary.BigEndian.Uint32(e[12:])
		tables[string(e[:4])] = ttf[at : at+size]
	}
	glyf, loca := tables["glyf"], tables["loca"]
	glyphs := f.NumGlyphs()
	// Offsets are halved in 16 bits, or whole in 32 (head.indexToLocFormat).
	at := func(g int) int { return 2 * int(binary.BigEndian.Uint16(loca[2*g:])) }
	put := func(b []byte, at int) []byte { return binary.BigEndian.AppendUint16(b, uint16(at/2)) }
	if binary.BigEndian.Uint16(tables["head"][50:]) == 1 {
		at = func(g int) int { return int(binary.BigEndian.Uint32(loca[4*g:])) }
		put = func(b []byte, at int) []byte { return binary.BigEndian.AppendUint32(b, uint32(at)) }
	}
	keep := make([]bool, glyphs)
	var add func(g int)
	add = func(g int) {
		if g >= glyphs || keep[g] {
			return
		}
		keep[g] = true
		components(glyf[at(g):at(g+1)], func(c []byte) { add(int(binary.BigEndian.Uint16(c[2:]))) })
	}
	add(0)
	var buf sfnt.Buffer
	for r := rune(0x20); r < 0x10000; r++ {
		if !want(r) {
			continue
		}
		g, err := f.GlyphIndex(&buf, r)
		if err != nil {
			return nil, err
		}
		add(int(g))
	}
	var outlines, places []byte
	for g := range glyphs {
		places = put(places, len(outlines))
		if keep[g] {
			outlines = append(outlines, unfitted(glyf[at(g):at(g+1)])...)
			outlines = append(outlines, make([]byte, -len(outlines)&3)...)
		}
	}
	tables["glyf"], tables["loca"] = outlines, put(places, len(outlines))
	for _, name := range []string{"cvt ", "fpgm", "prep", "gasp", "hdmx", "VDMX", "LTSH"} { // for fitting
		delete(tables, name)
	}
	// Of the names' table (post) the head, as version 3.0: it has no names.
	post := slices.Clone(tables["post"][:32])
	binary.BigEndian.PutUint32(post, 0x00030000)
	tables["post"] = post
	tables["head"] = slices.Clone(tables["head"])
	copy(tables["head"][8:12], []byte{0, 0, 0, 0}) // the sum of all, reckoned without itself

	names := slices.Sorted(maps.Keys(tables))
	log := bits.Len(uint(len(names))) - 1
	out := slices.Clone(ttf[:4])
	for _, v := range []int{len(names), 16 << log, log, 16*len(names) - 16<<log} { // to search them by halves
		out = binary.BigEndian.AppendUint16(out, uint16(v))
	}
	out = append(out, make([]byte, 16*len(names))...)
	for i, name := range names {
		e, body := out[12+16*i:], tables[name]
		copy(e, name)
		binary.BigEndian.PutUint32(e[4:], sumOf(body))
		binary.BigEndian.PutUint32(e[8:], uint32(len(out)))
		binary.BigEndian.PutUint32(e[12:], uint32(len(body)))
		out = append(out, body...)
		out = append(out, make([]byte, -len(out)&3)...)
	}
	head := 12 + 16*slices.Index(names, "head")
	binary.BigEndian.PutUint32(out[binary.BigEndian.Uint32(out[head+8:])+8:], 0xb1b0afba-sumOf(out))
	if _, err := sfnt.Parse(out); err != nil {
		return nil, err
	}
	return out, nil
}

// components are the records of a glyph that is made of others, each handed to take
// with all that follows it; a glyph of its own has none. It returns how long the
// glyph is up to their end.
func components(glyph []byte, take func(record []byte)) int {
	if len(glyph) < 10 || int16(binary.BigEndian.Uint16(glyph)) >= 0 {
		return len(glyph)
	}
	b := glyph[10:]
	for len(b) >= 4 {
		flags := binary.BigEndian.Uint16(b)
		take(b)
		step := 6 // flags, glyph, two bytes of place
		for _, more := range [][2]int{{0x1, 2}, {0x8, 2}, {0x40, 4}, {0x80, 8}} {
			if int(flags)&more[0] != 0 {
				step += more[1]
			}
		}
		if b = b[min(step, len(b)):]; flags&0x20 == 0 {
			break
		}
	}
	return len(glyph) - len(b)
}

// unfitted is a glyph without the program that fits it to pixels.
func unfitted(glyph []byte) []byte {
	if len(glyph) < 10 {
		return glyph
	}
	g := slices.Clone(glyph)
	if contours := int16(binary.BigEndian.Uint16(g)); contours >= 0 {
		at := 10 + 2*int(contours)
		size := int(binary.BigEndian.Uint16(g[at:]))
		copy(g[at:], []byte{0, 0})
		return slices.Delete(g, at+2, at+2+size)
	}
	const fits = 1 // of the flags' upper byte: a program follows the last component
	return g[:components(g, func(c []byte) { c[0] &^= fits })]
}

// sumOf is a table's check sum.
func sumOf(b []byte) (sum uint32) {
	for ; len(b) >= 4; b = b[4:] {
		sum += binary.BigEndian.Uint32(b)
	}
	var rest [4]byte
	copy(rest[:], b)
	return sum + binary.BigEndian.Uint32(rest[:])
}
