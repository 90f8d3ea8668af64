package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var at = time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)

func maker1(t *testing.T) *maker {
	t.Helper()
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	return &maker{root: root, version: "1.2.3", commit: "abc", at: at}
}

var common1 = []entry{{"LICENSE", 0o644, []byte("licence")}, {"man/needlepace.1", 0o644, []byte(".TH X 1")},
	{"completions/needlepace.bash", 0o644, []byte("x")}}

// The same input gives the same bytes, however much later and wherever it is packed.
func TestPackingTwiceGivesTheSameBytes(t *testing.T) {
	m := maker1(t)
	var sums1 []string
	for range 2 {
		made := map[string][]byte{}
		for _, tg := range targets {
			if err := m.packed(tg, []byte("program for "+tg.name()), common1, made); err != nil {
				t.Fatal(err)
			}
		}
		if len(made) != 10 {
			t.Errorf("%d files, want 6 archives and 4 packages", len(made))
		}
		sums1 = append(sums1, string(sums(made)))
		time.Sleep(1100 * time.Millisecond) // formats that note the time do so in seconds
	}
	if sums1[0] != sums1[1] {
		t.Errorf("twice packed it differs:\n%s\n%s", sums1[0], sums1[1])
	}
}

// Others' tools read what is packed: dpkg-deb (Debian's dpkg), and tar and gzip of the standard library.
func TestOthersReadThePackages(t *testing.T) {
	m := maker1(t)
	made := map[string][]byte{}
	if err := m.packed(target{"linux", "amd64"}, []byte("program"), common1, made); err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(made["needlepace-1.2.3-linux-amd64.tar.gz"]))
	if err != nil {
		t.Fatal(err)
	}
	found := ""
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if !h.ModTime.Equal(at) || h.Uid != 0 {
			t.Errorf("%s is of %v, of user %d", h.Name, h.ModTime, h.Uid)
		}
		if strings.HasSuffix(h.Name, "/needlepace") && h.Mode == 0o755 {
			b, _ := io.ReadAll(r)
			found = string(b)
		}
	}
	if found != "program" {
		t.Errorf("the program in it is %q", found)
	}
	if _, err := exec.LookPath("dpkg-deb"); err != nil {
		t.Skip("no dpkg-deb here")
	}
	file := filepath.Join(t.TempDir(), "x.deb")
	for name, b := range made {
		if strings.HasSuffix(name, ".deb") {
			if err := os.WriteFile(file, b, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	out, err := exec.Command("dpkg-deb", "--contents", file).CombinedOutput()
	for _, want := range []string{"-rwxr-xr-x root/root", "./usr/bin/needlepace", "./usr/lib/systemd/system/needlepace.service",
		"./usr/share/man/man1/needlepace.1.gz", "./usr/share/bash-completion/completions/needlepace", "./usr/share/doc/needlepace/copyright"} {
		if err != nil || !strings.Contains(string(out), want) {
			t.Errorf("dpkg-deb lacks %s: %v\n%s", want, err, out)
		}
	}
	info, err := exec.Command("dpkg-deb", "--field", file, "Package", "Version", "Architecture").CombinedOutput()
	if err != nil || !strings.Contains(string(info), "Version: 1.2.3") || !strings.Contains(string(info), "Architecture: amd64") {
		t.Errorf("%v: %s", err, info)
	}
}

// Every module of the program has a licence whose name is known, and stands in the list
// (CycloneDX 1.6, ECMA-424; the names of its keys from memory).
func TestEveryModuleHasItsLicence(t *testing.T) {
	m := maker1(t)
	all, err := m.modules(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 20 {
		t.Errorf("only %d modules", len(all))
	}
	text := string(licences(all))
	for _, mod := range all {
		if mod.SPDX == "" {
			t.Errorf("%s: which licence is %s?", mod.Path, mod.Texts[0].name)
		}
		if !strings.Contains(text, "==== "+mod.Path+" ") {
			t.Errorf("the text of %s is missing", mod.Path)
		}
	}
	b, err := m.contents(all)
	if err != nil {
		t.Fatal(err)
	}
	var bom struct {
		BOMFormat, SpecVersion, SerialNumber string
		Components                           []struct{ Name, PURL string }
	}
	if err := json.Unmarshal(b, &bom); err != nil || bom.BOMFormat != "CycloneDX" || bom.SpecVersion != "1.6" || len(bom.Components) != len(all) ||
		bom.SerialNumber != "" { // which would be another each time
		t.Errorf("%v: %+v", err, bom)
	}
}
