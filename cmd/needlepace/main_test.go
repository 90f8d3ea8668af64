package main

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"needlepace": func() { os.Exit(run(context.Background(), os.Stdin, os.Stdout, os.Stderr, os.Args[1:])) },
	})
}

// TestScripts runs testdata/script: the command as a user runs it, in a
// folder of its own with the demo shop's files in $DEMO.
func TestScripts(t *testing.T) {
	demo, err := filepath.Abs("../../demo")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("DEMO", demo)
			return nil
		},
		RequireExplicitExec: true,
	})
}
