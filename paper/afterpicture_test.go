package paper

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"testing"

	"needlepace/picture"
)

// What a picture painted with is out of force after it: the text that follows says its
// colour anew, or it would be as light as what was filled before the picture.
func TestTextAfterAPictureIsBlack(t *testing.T) {
	d := &Document{Title: "t", Parts: []Part{
		Drawing{Pic: &picture.Intervals{Name: "lead", Width: 400, Rows: []picture.Interval{{Label: "a", Low: 1, Mid: 2, High: 3}}}},
		Paragraph{Text: "after it"}}}
	var pdf bytes.Buffer
	if err := d.PDF(&pdf, A4); err != nil {
		t.Fatal(err)
	}
	after := regexp.MustCompile(`(?s)\nQ\n(.{0,40})`)
	for _, s := range regexp.MustCompile(`(?s)stream\n(.*?)\nendstream`).FindAllSubmatch(pdf.Bytes(), -1) {
		z, err := zlib.NewReader(bytes.NewReader(s[1]))
		if err != nil {
			continue
		}
		page, _ := io.ReadAll(z)
		if m := after.FindSubmatch(page); m != nil {
			if !bytes.HasPrefix(m[1], []byte("0.000 g\n")) {
				t.Errorf("after the picture comes %q", m[1])
			}
			return
		}
	}
	t.Fatal("no page has a picture")
}
