package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/goreleaser/nfpm/v2"
	_ "github.com/goreleaser/nfpm/v2/deb" // registers .deb
	"github.com/goreleaser/nfpm/v2/files"
	_ "github.com/goreleaser/nfpm/v2/rpm" // registers .rpm
)

// entry is one file of an archive.
type entry struct {
	name string
	mode int64
	body []byte
}

// common is what every archive has beside the program: licence, manual pages,
// completions, texts.
func (m *maker) common(ctx context.Context, work string) ([]entry, error) {
	// The program of this computer writes its own pages.
	self := filepath.Join(work, "self")
	cmd := exec.CommandContext(ctx, "go", "build", "-ldflags", "-X main.version="+m.version, "-o", self, "./cmd/needlepace")
	cmd.Dir, cmd.Env = m.root, append(os.Environ(), "CGO_ENABLED=0", "GOWORK=off")
	if b, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%w: %s", err, b)
	}
	man := filepath.Join(work, "man")
	if b, err := exec.CommandContext(ctx, self, "man", "--into", man).CombinedOutput(); err != nil {
		return nil, fmt.Errorf("manual pages: %w: %s", err, b)
	}
	var all []entry
	pages, err := filepath.Glob(filepath.Join(man, "*.1"))
	if err != nil {
		return nil, err
	}
	for _, p := range pages {
		b, err := os.ReadFile(p)
		if err != nil {
			return nil, err
		}
		all = append(all, entry{"man/" + filepath.Base(p), 0o644, b})
	}
	for _, shell := range []string{"bash", "zsh", "fish"} {
		b, err := exec.CommandContext(ctx, self, "completion", shell).Output()
		if err != nil {
			return nil, fmt.Errorf("completion %s: %w", shell, err)
		}
		all = append(all, entry{"completions/needlepace." + shell, 0o644, b})
	}
	for _, name := range []string{"LICENSE", "README.md", "CHANGELOG.md"} {
		b, err := os.ReadFile(filepath.Join(m.root, name))
		if err != nil {
			return nil, err
		}
		all = append(all, entry{name, 0o644, b})
	}
	mods, err := m.modules(ctx)
	if err != nil {
		return nil, err
	}
	return append(all, entry{"LICENCES-OF-MODULES.txt", 0o644, licences(mods)}), nil
}

// packed adds a target's archive, and its packages where it has some.
func (m *maker) packed(t target, program []byte, common []entry, made map[string][]byte) error {
	folder := fmt.Sprintf("needlepace-%s-%s", m.version, t.name())
	all := slices.Clone(common)
	switch t.os {
	case "windows":
		all = append(all, entry{"needlepace.exe", 0o755, program})
	case "darwin":
		all = append(all, entry{"needlepace", 0o755, program}, // for the terminal
			entry{"Needlepace.app/Contents/MacOS/needlepace", 0o755, program},
			entry{"Needlepace.app/Contents/Info.plist", 0o644, m.plist()})
	default:
		all = append(all, entry{"needlepace", 0o755, program})
	}
	slices.SortFunc(all, func(a, b entry) int { return strings.Compare(a.name, b.name) })
	if t.os == "windows" {
		b, err := zipped(folder, all, m.at)
		made[folder+".zip"] = b
		return err
	}
	b, err := tarred(folder, all, m.at)
	if err != nil {
		return err
	}
	made[folder+".tar.gz"] = b
	if t.os != "linux" {
		return nil
	}
	for _, kind := range []string{"deb", "rpm"} {
		name, b, err := m.packaged(kind, t.arch, program, common)
		if err != nil {
			return fmt.Errorf("%s for %s: %w", kind, t.arch, err)
		}
		made[name] = b
	}
	return nil
}

// plist tells macOS what a double click opens: no window and no terminal, since the page
// opens in the browser.
func (m *maker) plist() []byte {
	return fmt.Appendf(nil, `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0"><dict>
<key>CFBundleName</key><string>needlepace</string>
<key>CFBundleIdentifier</key><string>needlepace</string>
<key>CFBundleExecutable</key><string>needlepace</string>
<key>CFBundlePackageType</key><string>APPL</string>
<key>CFBundleShortVersionString</key><string>%[1]s</string>
<key>CFBundleVersion</key><string>%[1]s</string>
<key>LSUIElement</key><true/>
</dict></plist>
`, m.version)
}

// tarred is a .tar.gz with nothing in it of when and where it was made.
func tarred(folder string, all []entry, at time.Time) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	t := tar.NewWriter(z)
	for _, e := range all {
		h := &tar.Header{Name: path.Join(folder, e.name), Mode: e.mode, Size: int64(len(e.body)), ModTime: at,
			Uname: "root", Gname: "root", Format: tar.FormatUSTAR}
		if err := t.WriteHeader(h); err != nil {
			return nil, err
		}
		if _, err := t.Write(e.body); err != nil {
			return nil, err
		}
	}
	if err := t.Close(); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func zipped(folder string, all []entry, at time.Time) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, e := range all {
		h := &zip.FileHeader{Name: path.Join(folder, e.name), Method: zip.Deflate, Modified: at}
		h.SetMode(os.FileMode(e.mode))
		w, err := z.CreateHeader(h)
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(e.body); err != nil {
			return nil, err
		}
	}
	err := z.Close()
	return b.Bytes(), err
}

// packaged is a package for a system's own tools.
func (m *maker) packaged(kind, arch string, program []byte, common []entry) (name string, body []byte, err error) {
	dir, err := os.MkdirTemp("", "needlepace-package-*")
	if err != nil {
		return "", nil, err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // only temporary
	unit, err := os.ReadFile(filepath.Join(m.root, "internal/release/packaging/needlepace.service"))
	if err != nil {
		return "", nil, err
	}
	all := []entry{{"/usr/bin/needlepace", 0o755, program}, {"/usr/lib/systemd/system/needlepace.service", 0o644, unit}}
	for _, e := range common {
		to := "/usr/share/doc/needlepace/" + e.name
		switch {
		case strings.HasPrefix(e.name, "man/"):
			to = "/usr/share/man/man1/" + path.Base(e.name) + ".gz"
			if e.body, err = gzipped(e.body); err != nil {
				return "", nil, err
			}
		case e.name == "completions/needlepace.bash":
			to = "/usr/share/bash-completion/completions/needlepace"
		case e.name == "completions/needlepace.zsh":
			to = "/usr/share/zsh/vendor-completions/_needlepace"
		case e.name == "completions/needlepace.fish":
			to = "/usr/share/fish/vendor_completions.d/needlepace.fish"
		case e.name == "LICENSE":
			to = "/usr/share/doc/needlepace/copyright"
		}
		all = append(all, entry{to, e.mode, e.body})
	}
	info := &nfpm.Info{Name: "needlepace", Arch: arch, Platform: "linux", Version: m.version, Section: "utils", Priority: "optional",
		Maintainer: "needlepace <root@localhost>", Vendor: "needlepace", License: "Apache-2.0", MTime: m.at,
		Description: "How long an embroidery design truly takes on each machine\nand why, what it costs, and what to do about it."}
	info.RPM.BuildHost = "localhost"
	for i, e := range all {
		file := filepath.Join(dir, fmt.Sprint(i))
		if err := os.WriteFile(file, e.body, 0o600); err != nil {
			return "", nil, err
		}
		info.Contents = append(info.Contents, &files.Content{Source: file, Destination: e.name,
			FileInfo: &files.ContentFileInfo{Owner: "root", Group: "root", Mode: os.FileMode(e.mode), MTime: m.at}})
	}
	packager, err := nfpm.Get(kind)
	if err != nil {
		return "", nil, err
	}
	info = nfpm.WithDefaults(info)
	name = packager.ConventionalFileName(info)
	var b bytes.Buffer
	if err := nfpm.PrepareForPackager(info, kind); err != nil {
		return "", nil, err
	}
	if err := packager.Package(info, &b); err != nil {
		return "", nil, err
	}
	return name, b.Bytes(), nil
}

func gzipped(b []byte) ([]byte, error) {
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := io.Copy(z, bytes.NewReader(b)); err != nil {
		return nil, err
	}
	err = z.Close()
	return out.Bytes(), err
}
