package paper

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
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
