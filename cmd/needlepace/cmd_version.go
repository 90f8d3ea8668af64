package main

import (
	"fmt"
	"io"
	"runtime"
	"runtime/debug"

	"github.com/alecthomas/kong"
)

// version is the released version; CHANGELOG.md says what came with each.
const version = "0.1.0"

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

func printVersion(w io.Writer) {
	fmt.Fprintf(w, "needlepace %s\n", version)
	if info, ok := debug.ReadBuildInfo(); ok {
		rev, when, dirty := "unknown", "", ""
		for _, s := range info.Settings {
			switch s.Key {
			case "vcs.revision":
				rev = s.Value
			case "vcs.time":
				when = " of " + s.Value
			case "vcs.modified":
				if s.Value == "true" {
					dirty = ", with local changes"
				}
			}
		}
		fmt.Fprintf(w, "built from revision %s%s%s\n", rev, when, dirty)
	}
	fmt.Fprintf(w, "%s, %s/%s\n", runtime.Version(), runtime.GOOS, runtime.GOARCH)
}
