// Command gen draws the demo shop's designs and writes demo/designs/*.dst and
// the table of known facts, demo/designs.json. Run it by `go generate ./demo`.
package main

import (
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	if err := run("."); err != nil {
		fmt.Fprintln(os.Stderr, "gen:", err)
		os.Exit(1)
	}
}

// run writes everything under the demo folder dir.
func run(dir string) error {
	files, err := build()
	if err != nil {
		return err
	}
	for name, b := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(path, b, 0o644); err != nil {
			return err
		}
	}
	return nil
}
