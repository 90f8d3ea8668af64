package main

import (
	"fmt"
	"io"
	"runtime"
	"runtime/debug"

	"github.com/alecthomas/kong"
)

// version is the released version; CHANGELOG.md says what came with each. Builds of a
// release set it, and commit and when, by the linker (internal/release).
var (
	version = "0.1.0"
	commit  string // revision that it was built from; empty asks the build's own notes
	when    string // of that revision, RFC 3339
)

// VersionCmd prints the version, the revision it was built from and the Go release.
type VersionCmd struct{}

// Run prints one line a fact.
func (VersionCmd) Run(c *Ctx) error {
	printVersion(c.Out)
	return nil
}

// versionFlag is -v and --version.
type versionFlag bool

// BeforeReset prints the version and ends the program, whatever else was asked.
func (versionFlag) BeforeReset(k *kong.Kong) error {
	printVersion(k.Stdout)
	k.Exit(exitOK)
	return nil
}

// revision is what the program was built from.
func revision() (rev, of, changed string) {
	if commit != "" {
		return commit, when, ""
	}
	rev = "unknown"
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			switch s.Key {
			case "vcs.revision":
				rev = s.Value
			case "vcs.time":
				of = s.Value
			case "vcs.modified":
				if s.Value == "true" {
					changed = ", with local changes"
				}
			}
		}
	}
	return rev, of, changed
}

// built is the version with the beginning of the revision: 0.1.0 (3f2a9c1d04).
func built() string {
	rev, _, _ := revision()
	return fmt.Sprintf("%s (%.10s)", version, rev)
}

func printVersion(w io.Writer) {
	rev, of, changed := revision()
	if of != "" {
		of = " of " + of
	}
	fmt.Fprintf(w, "needlepace %s\nbuilt from revision %s%s%s\n", version, rev, of, changed)
	fmt.Fprintf(w, "%s, %s/%s\n", runtime.Version(), runtime.GOOS, runtime.GOARCH)
}
