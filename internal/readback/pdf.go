// Package readback reads what the program writes for others with tools that are
// not ours, for tests.
package readback

import (
	"bytes"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// PDF is what stands on the pages of a PDF, in one line and in the order in
// which it was written there.
func PDF(t testing.TB, pdf []byte) string {
	t.Helper()
	return strings.Join(Pages(t, pdf), " ")
}

// Pages is the text of each page.
func Pages(t testing.TB, pdf []byte) (pages []string) {
	t.Helper()
	for page := range strings.SplitSeq(strings.TrimSuffix(poppler(t, pdf, "pdftotext", "-raw", "-", "-"), "\f"), "\f") {
		pages = append(pages, strings.Join(strings.Fields(page), " "))
	}
	return pages
}

// Leaf is one page of a PDF: its size and where each word on it stands, in
// points (1/72 inch) from its left upper corner.
type Leaf struct {
	Width, Height float64
	Words         []Word
}

// Word is a word on a leaf and the box around it.
type Word struct {
	Text                   string
	Left, Top, Right, Foot float64
}

var (
	sheetTag = regexp.MustCompile(`<page width="([\d.]+)" height="([\d.]+)">`)
	wordTag  = regexp.MustCompile(`<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">([^<]*)</word>`)
)

// Leaves are the pages with the place of each word.
func Leaves(t testing.TB, pdf []byte) (sheets []Leaf) {
	t.Helper()
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for line := range strings.Lines(poppler(t, pdf, "pdftotext", "-bbox", "-", "-")) {
		if m := sheetTag.FindStringSubmatch(line); m != nil {
			sheets = append(sheets, Leaf{Width: number(m[1]), Height: number(m[2])})
		}
		if m := wordTag.FindStringSubmatch(line); m != nil {
			s := &sheets[len(sheets)-1]
			s.Words = append(s.Words, Word{m[5], number(m[1]), number(m[2]), number(m[3]), number(m[4])})
		}
	}
	return sheets
}

// Greys are the pages as pictures of some dots an inch, a byte a dot, 0 black.
func Greys(t testing.TB, pdf []byte, dpi int) []byte {
	t.Helper()
	all := poppler(t, pdf, "pdftoppm", "-gray", "-r", strconv.Itoa(dpi), "-") // one name alone: to the standard output
	var dots []byte
	for len(all) > 0 { // one PGM after another: P5, width, height, 255, the dots
		head := regexp.MustCompile(`^P5\n(\d+) (\d+)\n255\n`).FindStringSubmatch(all)
		if head == nil {
			t.Fatalf("pdftoppm writes no PGM: %.20q", all)
		}
		w, _ := strconv.Atoi(head[1])
		h, _ := strconv.Atoi(head[2])
		all = all[len(head[0]):]
		dots, all = append(dots, all[:w*h]...), all[w*h:]
	}
	return dots
}

func poppler(t testing.TB, pdf []byte, name string, args ...string) string {
	t.Helper()
	tool, err := exec.LookPath(name)
	if err != nil {
		t.Fatal(name + " is not installed: ./dev test installs it (package poppler-utils)")
	}
	cmd := exec.Command(tool, args...)
	cmd.Stdin = bytes.NewReader(pdf)
	var out, warn bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &warn
	if err := cmd.Run(); err != nil || warn.Len() > 0 {
		t.Fatalf("%v %s", err, warn.String())
	}
	return out.String()
}
