package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/shop/setups"
	"needlepace/store/sqlite"
)

// A file does not undo what was changed on the page meanwhile: that is asked for
// with the version that somebody looked at.
func TestAFileDoesNotUndoWhatThePageChanged(t *testing.T) {
	dir := t.TempDir()
	data, file := filepath.Join(dir, "shop.db"), filepath.Join(dir, "WORKSHOP.toml")
	hours := "[[shift]]\nfrom = \"07:00\"\nto = \"15:00\"\noperators = 1\n"
	write := func(text string) {
		t.Helper()
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	setup := func(code int, words string, args ...string) string {
		t.Helper()
		out, errs, got := invoke(t, append(append([]string{"plan", "setup", "--new"}, args...), "--data", data)...)
		if got != code || !strings.Contains(errs, words) {
			t.Fatalf("%q: status %d, %q; want %d, %q", args, got, errs, code, words)
		}
		return out
	}
	write(hours)
	setup(exitOK, "", file)
	write(strings.Replace(hours, "15:00", "15:30", 1))
	setup(exitOK, "", file) // its own file again
	store, err := sqlite.Open(t.Context(), data)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := act.New(store, act.Options{}).Setups.SaveWorkshop(t.Context(), setups.OnPage,
		strings.Replace(hours, "= 1", "= 4", 1), 2); err != nil {
		t.Fatal(err)
	}
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	setup(exitPartial, "changed on the page (version 3)", file)
	setup(exitPartial, "version 3", file, "--made-from=2")
	if out := setup(exitOK, "Version 3"); !strings.Contains(out, "operators = 4") {
		t.Errorf("the kept file is %q", out)
	}
	setup(exitOK, "", file, "--made-from=3")
	setup(exitOK, "", file)
}
