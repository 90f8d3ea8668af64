// Command release makes what a release is made of: the program for three systems on two
// kinds of processor, archives, packages (.deb, .rpm), a list of what is in it (CycloneDX),
// the licences of its modules, and checksums. The same commit gives the same bytes. It is a
// module of its own, so that its tools are no part of the program's.
package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// target is a system and a processor that releases are made for.
type target struct{ os, arch string }

var targets = []target{{"linux", "amd64"}, {"linux", "arm64"}, {"darwin", "amd64"}, {"darwin", "arm64"},
	{"windows", "amd64"}, {"windows", "arm64"}}

func (t target) name() string { return t.os + "-" + t.arch }

// maker makes one release.
type maker struct {
	root, out       string
	version, commit string
	at              time.Time // of the commit: the time of every file
	page            string    // where releases are found; may be empty
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	root := flag.String("root", "../..", "the project's folder")
	out := flag.String("o", "../../bin/release", "where the release goes")
	only := flag.String("only", "", "one system and processor only, e.g. linux-amd64")
	again := flag.Bool("again", false, "build from a copy in another folder too and compare the digests")
	page := flag.String("page", "", "address at which people find releases, for latest.json")
	flag.Parse()
	if err := run(ctx, *root, *out, *only, *page, *again); err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, root, out, only, page string, again bool) error {
	m, err := newMaker(ctx, root, out, page)
	if err != nil {
		return err
	}
	all := slices.DeleteFunc(slices.Clone(targets), func(t target) bool { return only != "" && t.name() != only })
	if len(all) == 0 {
		return fmt.Errorf("-only %s: there is no such target", only)
	}
	if err := m.make(ctx, all); err != nil || !again {
		return err
	}
	return m.compare(ctx, all)
}

func newMaker(ctx context.Context, root, out, page string) (*maker, error) {
	root, err := filepath.Abs(root)
	if err != nil {
		return nil, err
	}
	if out, err = filepath.Abs(out); err != nil {
		return nil, err
	}
	m := &maker{root: root, out: out, page: page}
	state, err := m.git(ctx, "status", "--porcelain")
	if err != nil {
		return nil, err
	}
	if state != "" {
		return nil, errors.New("there are changes that are not committed; a release is of a commit")
	}
	if m.commit, err = m.git(ctx, "rev-parse", "HEAD"); err != nil {
		return nil, err
	}
	when, err := m.git(ctx, "show", "-s", "--format=%cI", "HEAD")
	if err != nil {
		return nil, err
	}
	if m.at, err = time.Parse(time.RFC3339, when); err != nil {
		return nil, err
	}
	m.at = m.at.UTC()
	b, err := os.ReadFile(filepath.Join(root, "cmd/needlepace/cmd_version.go"))
	if err != nil {
		return nil, err
	}
	_, rest, ok := strings.Cut(string(b), `version = "`)
	m.version, _, _ = strings.Cut(rest, `"`)
	if !ok || m.version == "" {
		return nil, errors.New("cmd/needlepace/cmd_version.go says no version")
	}
	return m, nil
}

func (m *maker) git(ctx context.Context, args ...string) (string, error) {
	b, err := exec.CommandContext(ctx, "git", append([]string{"-C", m.root}, args...)...).Output()
	if err != nil {
		return "", fmt.Errorf("git %s: %w", strings.Join(args, " "), err)
	}
	return strings.TrimSpace(string(b)), nil
}

// build builds the program for a target.
func (m *maker) build(ctx context.Context, t target, file string) error {
	flags := fmt.Sprintf("-s -w -buildid= -X main.version=%s -X main.commit=%s -X main.when=%s", m.version, m.commit,
		m.at.Format(time.RFC3339))
	cmd := exec.CommandContext(ctx, "go", "build", "-trimpath", "-buildvcs=false", "-ldflags", flags, "-o", file, "./cmd/needlepace")
	cmd.Dir = m.root
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS="+t.os, "GOARCH="+t.arch, "GOFLAGS=", "GOWORK=off")
	if b, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w: %s", t.name(), err, b)
	}
	return nil
}

// make makes the whole release anew.
func (m *maker) make(ctx context.Context, all []target) error {
	if err := os.RemoveAll(m.out); err != nil {
		return err
	}
	work, err := os.MkdirTemp("", "needlepace-release-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work) //nolint:errcheck // only temporary
	if err := os.MkdirAll(m.out, 0o755); err != nil {
		return err
	}
	common, err := m.common(ctx, work)
	if err != nil {
		return err
	}
	made := map[string][]byte{}
	for _, t := range all {
		fmt.Println("building for", t.name())
		file := filepath.Join(work, t.name())
		if err := m.build(ctx, t, file); err != nil {
			return err
		}
		program, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		if err := m.packed(t, program, common, made); err != nil {
			return err
		}
	}
	mods, err := m.modules(ctx)
	if err != nil {
		return err
	}
	if made["needlepace-"+m.version+".cdx.json"], err = m.contents(mods); err != nil {
		return err
	}
	latest, err := json.MarshalIndent(map[string]string{"version": m.version, "page": m.page}, "", "  ")
	if err != nil {
		return err
	}
	made["latest.json"] = append(latest, '\n')
	made["SHA256SUMS"] = sums(made)
	for name, b := range made {
		if err := os.WriteFile(filepath.Join(m.out, name), b, 0o644); err != nil {
			return err
		}
	}
	fmt.Printf("%d files of needlepace %s in %s\n", len(made), m.version, m.out)
	return nil
}

// sums is what `sha256sum --check` reads.
func sums(made map[string][]byte) []byte {
	var names []string
	for name := range made {
		names = append(names, name)
	}
	slices.Sort(names)
	var b bytes.Buffer
	for _, name := range names {
		sum := sha256.Sum256(made[name])
		fmt.Fprintf(&b, "%s  %s\n", hex.EncodeToString(sum[:]), name)
	}
	return b.Bytes()
}

// compare makes the release once more from a copy of the commit in another folder.
func (m *maker) compare(ctx context.Context, all []target) error {
	dir, err := os.MkdirTemp("", "needlepace-again-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // only temporary
	tree := filepath.Join(dir, "another", "folder")
	if _, err := m.git(ctx, "clone", "--quiet", "--no-hardlinks", m.root, tree); err != nil {
		return err
	}
	again := *m
	again.root, again.out = tree, filepath.Join(dir, "out")
	if _, err := again.git(ctx, "checkout", "--quiet", m.commit); err != nil {
		return err
	}
	if err := again.make(ctx, all); err != nil {
		return err
	}
	first, err := os.ReadFile(filepath.Join(m.out, "SHA256SUMS"))
	if err != nil {
		return err
	}
	second, err := os.ReadFile(filepath.Join(again.out, "SHA256SUMS"))
	if err != nil {
		return err
	}
	if !bytes.Equal(first, second) {
		return fmt.Errorf("two builds of one commit differ:\n%s\n%s", first, second)
	}
	fmt.Println("built twice, one digest for each file")
	return nil
}
