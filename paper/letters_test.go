package paper

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"strings"
	"testing"
	"time"

	"needlepace/internal/readback"
)

func pagesOf(t *testing.T, d *Document, size Size) []string {
	t.Helper()
	var b bytes.Buffer
	if err := d.PDF(&b, size); err != nil {
		t.Fatal(err)
	}
	return readback.Pages(t, b.Bytes())
}

// A paper in English names people of other countries in their own letters, at its head too,
// and long names whole.
func TestNamesAreInTheirLettersAndWhole(t *testing.T) {
	adviser := "Ğülşen Öztürk-Ångström & Nguyễn Thị Hương, advisers who work for themselves"
	client := "Çığır Nakış, Konfeksiyon ve Şerefiye Tekstil Sanayi ve Dış Ticaret Limited Şirketi (Üçüncü Şube)"
	trial := strings.Repeat("A trial with a long name, ", 8)
	d := &Document{Shop: Shop{Name: adviser}, Kind: "Machines side by side", Number: client, Title: trial, Foot: trial + " · 1a2b3c4d · 1 May 2026 · reckoned with needlepace",
		Made: time.Unix(0, 0)}
	d.Add(Heading{Text: trial}, Grid{Columns: []GridColumn{{Head: "machine", Share: 0.24, Bold: true}, {Head: "class", Share: 0.36}, {Head: "place", Share: 0.26}, {Head: "set speed", Share: 0.14, Right: true}},
		Rows: [][]string{{"The old blue machine of one needle by the back door, 1", "home, 1 needle re-threaded by hand at each colour, 800/min", client, "600/min"}}})
	for _, size := range []Size{A4, Letter} {
		page := pagesOf(t, d, size)[0]
		for _, want := range []string{adviser, client, "reckoned with needlepace"} {
			if !hasAll(page, want) {
				t.Errorf("%s: the page has no %q: %s", size, want, page)
			}
		}
		table := page[strings.Index(page, "set speed"):]
		if strings.Contains(page, "□") || strings.Contains(table[:strings.Index(table, "600/min")+7], "…") {
			t.Errorf("%s: a letter is lost, or a text cut: %s", size, page)
		}
	}
	plain := &Document{Title: "Öz", Made: time.Unix(0, 0)}
	plain.Add(Heading{Text: "Öz"})
	if p, err := inItsLetters(nil, func(f *typeface) (*page, error) { return plain.lay(f, A4) }); err != nil || bytes.Equal(p.face.regular, wideFace().regular) {
		t.Errorf("a paper whose letters are all there is in another type: %v", err)
	}
}

// A heading stands on the page of what it heads, also with a line of text between, wherever
// on a page that falls.
func TestAHeadingNeverStandsAlone(t *testing.T) {
	var photo bytes.Buffer
	if err := jpeg.Encode(&photo, image.NewGray(image.Rect(0, 0, 300, 300)), nil); err != nil {
		t.Fatal(err)
	}
	item := Item{Number: 1, Text: "the-thing", Facts: [][2]string{{"where", "a"}, {"why", strings.Repeat("b ", 300)}, {"what", "c"}}}
	for name, parts := range map[string][]Part{
		"a point":      {item},
		"photographs":  {Photographs{{photo.Bytes(), "the-thing"}}},
		"text first":   {Paragraph{Text: "A line."}, Photographs{{photo.Bytes(), "the-thing"}}},
		"two headings": {Heading{Text: "under it", Level: 2}, Photographs{{photo.Bytes(), "the-thing"}}},
	} {
		for lines := 30; lines < 60; lines += 3 {
			d := &Document{Made: time.Unix(0, 0), Parts: []Part{Paragraph{Text: strings.Repeat("x\n", lines)}, Heading{Text: "the-heading", Level: 2}}}
			d.Add(parts...)
			for _, page := range pagesOf(t, d, Letter) {
				if strings.Contains(page, "the-heading") && !strings.Contains(page, "the-thing") {
					t.Errorf("%s: after %d lines the heading stands alone: %s", name, lines, fmt.Sprintf("%.80s", page[max(0, len(page)-80):]))
				}
			}
		}
	}
}
