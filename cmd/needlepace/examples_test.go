package main

import (
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// checkValues are the values of common practice that our reference tests check
// against, as the first 16 digits of their SHA-256: examples have numbers of
// our own.
var checkValues = strings.Fields(`
2d2c33c52e3df492 36adc8bdf3e1c308 39ff816443fac980 3e4b90299d5dffa4 477e2d13152129e7
47fd4a8eaaf91722 5933b0b35d5d3e9d 727679376b18d9ef a06ad322613522e0 aeddf6175a0d5d7a
b5740f0e88bf42cd bdc849fa847db0d3 fdd801690722aa1b
`)

// TestExamplesHaveOurOwnNumbers finds no check value of common practice outside
// the reference tests: not in an example, a message, a comment or a page.
func TestExamplesHaveOurOwnNumbers(t *testing.T) {
	known := map[string]bool{}
	for _, v := range checkValues {
		known[v] = true
	}
	word := regexp.MustCompile(`[a-z0-9][a-z0-9:,-]*[a-z0-9]`)
	read := regexp.MustCompile(`\.(go|md|html|js|css|toml|txt|txtar)$`)
	files, inside, seen := 0, false, map[string]bool{}
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "node_modules" || d.Name() == ".git"):
			return fs.SkipDir
		case d.IsDir() || !read.MatchString(path):
			return nil
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		files++
		reference := strings.HasSuffix(path, "_reference_test.go")
		for i, line := range strings.Split(strings.ToLower(string(b)), "\n") {
			for _, w := range word.FindAllString(line, -1) {
				is, ok := seen[w]
				if !ok {
					sum := sha256.Sum256([]byte(w))
					is = known[hex.EncodeToString(sum[:8])]
					seen[w] = is
				}
				if is && reference {
					inside = true
				} else if is {
					t.Errorf("%s:%d: %s is a check value; use a number of our own", path, i+1, w)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 100 || !inside {
		t.Errorf("%d files were read, check values found in reference tests: %v; the search is broken", files, inside)
	}
}
