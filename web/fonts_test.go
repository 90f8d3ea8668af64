package web

import (
	"bytes"
	"compress/gzip"
	"slices"
	"testing"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The parts of a font have each letter's outline in one of them, as the whole font
// has it, and advance alike.
func TestTheFontsPartsAreTheFont(t *testing.T) {
	for _, f := range fontFiles { // both kinds of offsets are among them
		partsAreTheFont(t, f.ttf)
	}
}

func partsAreTheFont(t *testing.T, ttf []byte) {
	t.Helper()
	whole, err := sfnt.Parse(ttf)
	if err != nil {
		t.Fatal(err)
	}
	var parts [2]*sfnt.Font
	for i, want := range []func(rune) bool{isBasic, isOther} {
		b, err := fontPart(ttf, want)
		if err != nil {
			t.Fatal(err)
		}
		var z bytes.Buffer
		w := gzip.NewWriter(&z)
		w.Write(b) //nolint:errcheck // a buffer
		w.Close()  //nolint:errcheck // a buffer
		t.Logf("part %d: %d bytes, %d packed", i, len(b), z.Len())
		if parts[i], err = sfnt.Parse(b); err != nil {
			t.Fatal(err)
		}
	}
	outline := func(f *sfnt.Font, r rune) []sfnt.Segment {
		var b sfnt.Buffer
		g, err := f.GlyphIndex(&b, r)
		if err != nil {
			t.Fatal(err)
		}
		s, err := f.LoadGlyph(&b, g, fixed.I(64), nil)
		if err != nil {
			t.Fatalf("%q: %v", r, err)
		}
		return slices.Clone(s)
	}
	drawn := 0
	for _, r := range "AZaz09éÅßğİơŕ×±²–—“”→€ΩЖяαŁ " {
		want, mine := outline(whole, r), parts[0]
		if isOther(r) {
			mine = parts[1]
		}
		if !slices.Equal(outline(mine, r), want) {
			t.Errorf("%q has another outline in its part", r)
		}
		if len(want) > 0 {
			drawn++
		}
	}
	if drawn < 15 {
		t.Errorf("only %d letters have an outline: the test sees nothing", drawn)
	}
	if len(outline(parts[0], 'Ж')) != 0 || len(outline(parts[1], 'A')) != 0 {
		t.Error("a part has the letters of the other")
	}
}

// A browser is told of a font's other letters, and of none that it does not have:
// the triangle before what can be folded would have it fetched on most pages.
func TestABrowserIsToldOfTheLettersThatAFontHas(t *testing.T) {
	for _, f := range fontFiles {
		has, err := others(f.ttf)
		if err != nil {
			t.Fatal(err)
		}
		told := func(r rune) bool {
			return slices.ContainsFunc(has, func(s [2]rune) bool { return s[0] <= r && r <= s[1] })
		}
		for _, r := range "ğİşŕЖяΩł" {
			if !told(r) {
				t.Errorf("%s: %q is not told of", f.name, r)
			}
		}
		for _, r := range "▾▸AZé–→漢" {
			if told(r) {
				t.Errorf("%s: %q is told of", f.name, r)
			}
		}
	}
}
