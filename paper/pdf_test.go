package paper

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/internal/readback"
)

// Writes the sample papers to the directory NEEDLEPACE_PAPERS, to be looked at.
func TestWriteSamples(t *testing.T) {
	dir := os.Getenv("NEEDLEPACE_PAPERS")
	if dir == "" {
		t.Skip("NEEDLEPACE_PAPERS is not set")
	}
	for _, size := range []Size{A4, Letter} {
		q, r := sampleQuote(t), sampleSheet(t)
		q.Shop.Logo = logo(t)
		var a, b bytes.Buffer
		if err := q.PDF(&a, size); err != nil {
			t.Fatal(err)
		}
		if err := r.PDF(&b, size); err != nil {
			t.Fatal(err)
		}
		for name, x := range map[string]*bytes.Buffer{"quote": &a, "runsheet": &b} {
			if err := os.WriteFile(filepath.Join(dir, name+"-"+strings.ToLower(string(size))+".pdf"), x.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func quotePDF(t *testing.T, q *Quote, size Size) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := q.PDF(&b, size); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func sheetPDF(t *testing.T, r *RunSheet, size Size) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := r.PDF(&b, size); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestSamePaperSameBytes(t *testing.T) {
	if !bytes.Equal(quotePDF(t, sampleQuote(t), A4), quotePDF(t, sampleQuote(t), A4)) {
		t.Error("two quotes of the same data differ")
	}
	if !bytes.Equal(sheetPDF(t, sampleSheet(t), Letter), sheetPDF(t, sampleSheet(t), Letter)) {
		t.Error("two run sheets of the same data differ")
	}
}

func TestPaperHasItsSize(t *testing.T) {
	for size, box := range map[Size]string{A4: "/MediaBox [0 0 595.28 841.89]", Letter: "/MediaBox [0 0 612.00 792.00]"} {
		for name, b := range map[string][]byte{"quote": quotePDF(t, sampleQuote(t), size), "run sheet": sheetPDF(t, sampleSheet(t), size)} {
			if !bytes.HasPrefix(b, []byte("%PDF-")) || !bytes.Contains(b, []byte(box)) || bytes.Count(b, []byte("/Type /Page\n")) != 1 {
				t.Errorf("%s on %s: not one page of that size", name, size)
			}
		}
	}
	if s, err := SizeNamed("letter"); err != nil || s != Letter {
		t.Error(s, err)
	}
	if _, err := SizeNamed("A5"); err == nil {
		t.Error("A5 is no size of ours")
	}
}

func TestPapersReadBack(t *testing.T) {
	q := readback.PDF(t, quotePDF(t, sampleQuote(t), A4))
	for _, want := range []string{"Pellsand Quay Stitchery", "Q-1042", "valid to 2 Apr 2026", "€498.76", "Promise Mon 16 Mar, the day that is wanted", "a chance of over 99 %", "288 3.95", "Tax, 21 % 86.56", "page 1 of 1"} {
		if !strings.Contains(q, want) {
			t.Errorf("the quote does not say %q", want)
		}
	}
	s := sampleSheet(t)
	r := readback.PDF(t, sheetPDF(t, s, Letter))
	for _, want := range append([]string{"on Six Sisters", "850", "6 min 28 s", "72 pieces: 12 runs on 6 heads", "harbour navy", "cotton piqué", "The machine's manual and your local rules come first.", "scan to record", "page 1 of 1"}, "colour stops") {
		if !strings.Contains(r, want) {
			t.Errorf("the run sheet does not say %q in %s", want, r)
		}
	}
	// Forty colours go on to further pages, nothing is lost.
	for len(s.Colours) < 60 {
		s.Colours = append(s.Colours, RunColour{Needle: len(s.Colours)%15 + 1, Thread: fmt.Sprintf("cone number %d", len(s.Colours)), Change: "put on"})
	}
	long := readback.PDF(t, sheetPDF(t, s, A4))
	for i := 10; i < 60; i++ {
		if !strings.Contains(long, fmt.Sprintf("cone number %d", i)) {
			t.Errorf("cone %d is missing", i)
		}
	}
	if !strings.Contains(long, "(continued)") || !strings.Contains(long, "page 2 of") {
		t.Error("a long run sheet does not say that it goes on")
	}
}

func TestACustomersNameIsNeverCut(t *testing.T) {
	q := sampleQuote(t)
	name := "The Worshipful Harbour Society of Sailmakers, Ropemakers and Flag Embroiderers of Lower Pellsand and Quay, East"
	q.Customer = []string{name}
	read := strings.Join(strings.Fields(readback.PDF(t, quotePDF(t, q, A4))), " ")
	for _, word := range strings.Fields(name) {
		if !strings.Contains(read, word) {
			t.Errorf("the customer's name lost %q", word)
		}
	}
}

func TestOddTextNeverBreaksAPaper(t *testing.T) {
	odd := []string{"", "\x00\x01\xff\xfe", "刺繍 \U0001F9F5 مرحبا", strings.Repeat("w", 3000), strings.Repeat("long ", 800), "a\nb\r\nc", "(paren) \\ back"}
	for _, s := range odd {
		q, r := sampleQuote(t), sampleSheet(t)
		q.Title, q.Number, q.Shop.Name, q.Customer, q.Notes = s, s, s, []string{s}, []string{s}
		q.Lines[0].Text, q.Lines[0].Detail, q.Facts = s, s, [][2]string{{"x", s}}
		q.Drawing = nil
		r.Title, r.Number, r.Machine, r.SpeedNote, r.Facts = s, s, s, s, [][2]string{{"x", s}}
		r.Colours[0].Thread, r.Changes, r.Cautions = s, []string{s}, []string{s, s}
		r.Drawing, r.Strip, r.Link = nil, nil, ""
		quotePDF(t, q, A4)
		sheetPDF(t, r, Letter)
	}
	r := sampleSheet(t)
	r.SetSpeed, r.RunSeconds, r.LotSeconds = math.NaN(), math.Inf(1), -1
	sheetPDF(t, r, A4)
}

func TestAQuoteThatDoesNotAddUpIsRefused(t *testing.T) {
	q := sampleQuote(t)
	q.Subtotal = money("412.21")
	if err := q.PDF(&bytes.Buffer{}, A4); err == nil || !strings.Contains(err.Error(), "412.20") {
		t.Error(err)
	}
	q = sampleQuote(t)
	q.Total = money("500")
	if err := q.PDF(&bytes.Buffer{}, A4); err == nil || !strings.Contains(err.Error(), "498.76") {
		t.Error(err)
	}
	q = sampleQuote(t)
	q.Lines = nil
	if q.PDF(&bytes.Buffer{}, A4) == nil {
		t.Error("a quote without lines was written")
	}
	q = sampleQuote(t)
	q.Shop.Logo = []byte("not a picture")
	if err := q.PDF(&bytes.Buffer{}, A4); err == nil || !strings.Contains(err.Error(), "logo") {
		t.Error(err)
	}
	r := sampleSheet(t)
	r.Link = strings.Repeat("x", 5000)
	if r.PDF(&bytes.Buffer{}, A4) == nil {
		t.Error("an address too long for a code was taken")
	}
}

func BenchmarkRunSheet(b *testing.B) {
	r := sampleSheet(b)
	for b.Loop() {
		if err := r.PDF(io.Discard, A4); err != nil {
			b.Fatal(err)
		}
	}
}

func TestAnExamplesPricesAreNoOffer(t *testing.T) {
	q := sampleQuote(t)
	for _, example := range []bool{false, true} {
		q.Example = example
		got := readback.PDF(t, quotePDF(t, q, A4))
		if strings.Contains(got, "Not an offer") != example || strings.Contains(got, "signature") == example {
			t.Errorf("an example's prices: %v, on paper:\n%s", example, got)
		}
	}
}
