// Package readback reads what the program writes for others with tools that are
// not ours, for tests.
package readback

import (
	"bytes"
	"os/exec"
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
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Fatal("pdftotext is not installed: ./dev test installs it (package poppler-utils)")
	}
	cmd := exec.Command(tool, "-raw", "-", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	var out, warn bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &warn
	if err := cmd.Run(); err != nil || warn.Len() > 0 {
		t.Fatalf("%v %s", err, warn.String())
	}
	for page := range strings.SplitSeq(strings.TrimSuffix(out.String(), "\f"), "\f") {
		pages = append(pages, strings.Join(strings.Fields(page), " "))
	}
	return pages
}
