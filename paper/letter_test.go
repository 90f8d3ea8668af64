package paper

import (
	"bytes"
	"context"
	"encoding/xml"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/internal/readback"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/words"
)

// demoLetter is the letter about a design of the demo, on the smallest machine.
func demoLetter(t *testing.T, design string, terms ask.LetterTerms) *ask.Letter {
	t.Helper()
	files, err := stitchfile.ReadFile(filepath.Join("../demo/designs", design))
	if err != nil {
		t.Fatal(err)
	}
	sheet, _ := machine.Class("compact-8")
	from := ask.Given{Stitches: ask.NewDesign(files[0].Design, "designs/"+design, ""), On: sheet}
	a, err := ask.Audit(context.Background(), from, ask.AuditQuestion{Pieces: 48, HoopX: 60, HoopY: 50, Since: "itself"})
	if err != nil {
		t.Fatal(err)
	}
	l, err := ask.LetterOf(a, terms)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

var letterDay = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

func TestALetterSaysItsPointsOnPaperAndAsAPage(t *testing.T) {
	l := demoLetter(t, "larkess-ferry.dst", ask.LetterTerms{To: "Ms Tern", From: "Quay Embroidery", Hour: decimal.NewFromInt(38),
		Currency: "EUR"})
	shop := Shop{Name: "Quay Embroidery", Lines: []string{"2 Fish Steps <Larkess>"}, Logo: logo(t)}
	d := LetterOf(l, shop, letterDay, nil)
	var pdf, page bytes.Buffer
	if err := d.PDF(&pdf, Letter); err != nil {
		t.Fatal(err)
	}
	if err := d.HTML(&page); err != nil {
		t.Fatal(err)
	}
	if dir := os.Getenv("NEEDLEPACE_PAPERS"); dir != "" {
		os.WriteFile(filepath.Join(dir, "letter.pdf"), pdf.Bytes(), 0o644)
		os.WriteFile(filepath.Join(dir, "letter.html"), page.Bytes(), 0o644)
	}
	paper := flat(readback.PDF(t, pdf.Bytes()))
	html := flat(pageText(t, page.Bytes()))
	if len(l.Points) < 4 || l.Since == nil || l.Since.Met > 0 {
		t.Fatalf("%d points, since %+v", len(l.Points), l.Since)
	}
	want := []string{"Dear Ms Tern,", "larkess-ferry.dst", "2 Fish Steps <Larkess>", "With kind regards,", l.Opening.Text(nil), l.Worth().Text(nil),
		l.Since.Verdict.Text(nil), "48 pieces in 48 runs"}
	for _, p := range l.Points {
		want = append(want, strings.TrimSuffix(p.What.Text(nil)[1:], "."), p.Why.Text(nil), p.Please.Text(nil)[1:], p.Place().Text(nil))
		if p.Worth != nil {
			want = append(want, p.Worth.Text(nil))
		}
	}
	for _, s := range want {
		for where, text := range map[string]string{"PDF": paper, "page": html} {
			if !strings.Contains(text, flat(s)) {
				t.Errorf("the %s lacks %q", where, s)
			}
		}
	}
	if n := strings.Count(paper, "needlepace"); n != len(readback.Pages(t, pdf.Bytes())) {
		t.Errorf("needlepace is named %d times on %d pages: once, in the foot", n, len(readback.Pages(t, pdf.Bytes())))
	}
	for what, has := range map[string]string{"a language": "/Lang (en)", "bookmarks": "/Outlines", "embedded type": "/FontFile2"} {
		if !bytes.Contains(pdf.Bytes(), []byte(has)) {
			t.Errorf("the PDF has no %s", what)
		}
	}
	if m := regexp.MustCompile(`(?i)(src|href)="?(https?:)?//|@import|<script|url\(["']?http`).Find(page.Bytes()); m != nil {
		t.Errorf("the page asks for something outside: %s", m)
	}
	var again bytes.Buffer
	if err := LetterOf(l, shop, letterDay, nil).PDF(&again, Letter); err != nil || !bytes.Equal(again.Bytes(), pdf.Bytes()) {
		t.Error("the same letter gives other bytes", err)
	}
}

// The seconds of the points add up to what the letter's first figure says.
func TestTheSecondsOfALetterAddUp(t *testing.T) {
	l := demoLetter(t, "larkess-ferry.dst", ask.LetterTerms{})
	sum := 0.0
	for _, p := range l.Points {
		sum += p.Seconds
		if p.Worth != nil {
			t.Error("money without a price")
		}
	}
	if d := sum - l.Total; d > 1e-6 || d < -1e-6 || l.LeftOut > 0 {
		t.Errorf("the points are %.3f s, all of it %.3f s", sum, l.Total)
	}
}

func TestALetterRefusesSenselessTerms(t *testing.T) {
	for _, terms := range []ask.LetterTerms{{Hour: decimal.NewFromInt(-1), Currency: "EUR"}, {Hour: decimal.NewFromInt(5)},
		{Hour: decimal.New(1, 12), Currency: "EUR"}} {
		if _, err := ask.LetterOf(&ask.AuditAnswer{}, terms); err == nil {
			t.Errorf("%v an hour in %q is taken", terms.Hour, terms.Currency)
		}
	}
}

func flat(s string) string { return strings.Join(strings.Fields(s), "") }

// pageText is the text of an HTML file, read by a strict reader of XML: what we
// write has every element closed.
func pageText(t *testing.T, b []byte) string {
	t.Helper()
	dec := xml.NewDecoder(bytes.NewReader(b))
	dec.Strict, dec.AutoClose, dec.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var out strings.Builder
	style := false
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return out.String()
		}
		if err != nil {
			t.Fatal(err)
		}
		switch x := tok.(type) {
		case xml.StartElement:
			style = x.Name.Local == "style"
		case xml.EndElement:
			style = false
		case xml.CharData:
			if !style {
				out.Write(x)
			}
		}
	}
}

func TestALetterThatAsksForNothingAsksForNoNewFile(t *testing.T) {
	a := demoLetter(t, "gull-cap.dst", ask.LetterTerms{}).AuditAnswer
	a.Findings, a.Total, a.Since = nil, 0, nil
	l, err := ask.LetterOf(a, ask.LetterTerms{})
	if err != nil {
		t.Fatal(err)
	}
	var pdf bytes.Buffer
	if err := LetterOf(l, Shop{Name: "Quay Embroidery"}, letterDay, nil).PDF(&pdf, A4); err != nil {
		t.Fatal(err)
	}
	paper := flat(readback.PDF(t, pdf.Bytes()))
	for text, want := range map[string]bool{"found nothing to ask for": true, "With kind regards,": true, "new file": false, "last page": false, "Reply": false} {
		if strings.Contains(paper, flat(text)) != want {
			t.Errorf("%q: want %v in\n%s", text, want, paper)
		}
	}
}

// Who signs stands under the greeting, on the same page, wherever the letter's end falls.
func TestALettersNameStandsUnderItsRegards(t *testing.T) {
	l := demoLetter(t, "larkess-ferry.dst", ask.LetterTerms{From: "Ida Marl-Signer"})
	for lines := 12; lines < 28; lines++ { // the page ends among them
		d := &Document{Made: letterDay}
		letterBody(d, l, false)
		at := slices.IndexFunc(d.Parts, func(p Part) bool {
			x, ok := p.(Paragraph)
			return ok && strings.HasPrefix(x.Text, "With kind regards,")
		})
		if at < 0 {
			t.Fatal("the letter has no regards")
		}
		d.Parts = slices.Insert(d.Parts, at, Part(Paragraph{Text: strings.Repeat("x\n", lines)}))
		for _, page := range pagesOf(t, d, A4) {
			if strings.Contains(page, "With kind regards,") && !strings.Contains(page, "Ida Marl-Signer") {
				t.Fatalf("after %d lines more the name is on another page: %.120s", lines, page[max(0, len(page)-120):])
			}
		}
	}
}

// A point that may break a needle says so, and that nobody sews the design before; what the run takes
// is what the clock says, and not what could be saved.
func TestALetterSaysWhatMayHurt(t *testing.T) {
	sheet, _ := machine.Class("compact-8")
	for strikes, hurts := range map[int]bool{40: true, 2: false} {
		d := &stitch.Design{Format: "dst"}
		for k := range 200 { // rows of 3 mm, in a field around the start
			d.Records = append(d.Records, stitch.Record{DX: int16(30 - 60*(k%2)), DY: 4})
		}
		for range strikes {
			d.Records = append(d.Records, stitch.Record{DX: 12, DY: 3}, stitch.Record{DX: -12, DY: -3})
		}
		d.Records = slices.Insert(d.Records, 0, stitch.Record{DY: -400, Op: stitch.Jump})
		a, err := ask.Audit(context.Background(), ask.Given{Stitches: ask.NewDesign(d, "rows.dst", ""), On: sheet}, ask.AuditQuestion{})
		if err != nil {
			t.Fatal(err)
		}
		l, err := ask.LetterOf(a, ask.LetterTerms{})
		if err != nil {
			t.Fatal(err)
		}
		says := asText(t, LetterOf(l, Shop{Name: "Quay"}, letterDay, &words.Writer{}))
		if strings.Contains(says, "we do not sew the design before this is put right") != hurts {
			t.Errorf("%d strikes of one hole: %s", strikes, says[:min(len(says), 1500)])
		}
		if takes := "It takes " + strings.ReplaceAll(words.Seconds(a.Seconds).Text(nil), "\u00a0", " ") + " on each run"; len(l.Points) > 0 && !strings.Contains(says, takes) {
			t.Errorf("it does not say %q: %s", takes, says[:min(len(says), 1500)])
		}
	}
}
