package stitchfile

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"
)

const docsFile = "../docs/stitch-files.md"

// formatTable is the table of docs/stitch-files.md.
func formatTable() string {
	var b strings.Builder
	b.WriteString("| extension | written | trims in the file | colours in the file | what a written one cannot hold |\n" +
		"|---|---|---|---|---|\n")
	for _, f := range Formats() {
		written := "no"
		if f.Writes {
			written = "yes"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s |\n", strings.Join(f.Extensions, ", "), written, f.Trims, f.Colours,
			f.Lacks)
	}
	fmt.Fprintf(&b, "| .%s | no | any of these inside | | |\n", strings.Join(containers, ", ."))
	return b.String()
}

// After a new format: go test ./stitchfile -run Docs -update
func TestDocsListEveryFormat(t *testing.T) {
	page, err := os.ReadFile(docsFile)
	if err != nil {
		t.Fatal(err)
	}
	table := regexp.MustCompile(`(?m)^\| extension .*\n(\|.*\n)+`)
	want := table.ReplaceAllLiteralString(string(page), formatTable())
	if *update {
		if err := os.WriteFile(docsFile, []byte(want), 0o600); err != nil {
			t.Fatal(err)
		}
	} else if string(page) != want || !table.Match(page) {
		t.Errorf("%s does not list the formats there are: go test ./stitchfile -run Docs -update", docsFile)
	}
}

func TestNamesOfFilesAreKnownByTheTable(t *testing.T) {
	for _, c := range []struct {
		name, writer string
		known        bool
	}{
		{"a.dst", "dst", true}, {"A.DST", "dst", true}, {"a.exp", "exp", true}, {"a.pes", "pes", true}, {"a.pec", "", true}, {"a.zip", "",
			true}, {"a.gz", "", true},
		{"a.txt", "", false}, {"dst", "", false}, {"", "", false},
	} {
		got, err := WriterFor(c.name)
		if got != c.writer || (err == nil) != (c.writer != "") || HasExtension(c.name) != c.known {
			t.Errorf("%s: written as %q (%v), known %v; want %q, %v", c.name, got, err, HasExtension(c.name), c.writer,
				c.known)
		}
	}
	if _, err := WriterFor("a.pec"); err == nil || err.Error() != "the name must end in .dst, .exp, .jef, .pes or .vp3" {
		t.Error(err)
	}
	for _, f := range Formats() {
		if f.Trims == "" || f.Colours == "" {
			t.Errorf("%s says nothing of its trims or colours", f.Name)
		}
		found := false
		for _, h := range handmades {
			found = found || extension(h.name) == f.Name
		}
		if !found {
			t.Errorf("%s has no handmade file", f.Name)
		}
	}
}

// writers are the names of the formats that Encode writes.
func writers() (out []string) {
	for _, f := range Formats() {
		if f.Writes {
			out = append(out, f.Name)
		}
	}
	return out
}
