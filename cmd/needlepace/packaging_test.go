package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

const packaging = "../../internal/release/packaging/"

// takes is the error of the program's own command line.
func takes(t *testing.T, args []string) error {
	t.Helper()
	k, err := kong.New(&CLI{}, kong.Name("needlepace"), helpVars)
	if err != nil {
		t.Fatal(err)
	}
	_, err = k.Parse(args)
	return err
}

// The unit, the image and the example start the program as it takes it.
func TestWhatStartsTheProgramStartsItRight(t *testing.T) {
	read := func(name string) string {
		b, err := os.ReadFile(packaging + name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	line := func(text, pattern string) string {
		m := regexp.MustCompile(pattern).FindStringSubmatch(text)
		if m == nil {
			t.Fatalf("nothing is like %s", pattern)
		}
		return m[1]
	}
	image, example := read("Containerfile"), read("compose.yaml")
	var cmd []string
	if err := json.Unmarshal([]byte(line(image, `(?m)^CMD (.+)$`)), &cmd); err != nil {
		t.Fatal(err)
	}
	commands := regexp.MustCompile(`(?m)^ +command: \[(.+)\]`).FindAllStringSubmatch(example, -1)
	if len(commands) != 2 {
		t.Errorf("%d commands in the example, want the page's and the worker's", len(commands))
	}
	all := [][]string{strings.Fields(line(read("needlepace.service"), `(?m)^ExecStart=/usr/bin/needlepace (.+)$`)), cmd}
	for _, c := range commands {
		all = append(all, strings.Split(strings.ReplaceAll(c[1], `"`, ""), ", "))
	}
	for _, args := range all {
		if err := takes(t, args); err != nil {
			t.Errorf("%v: %v", args, err)
		}
	}
	if takes(t, []string{"serve", "--no-such-option"}) == nil {
		t.Error("the check takes anything")
	}
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		t.Skip("no systemd-analyze here")
	}
	// Its own check of the unit, with a program that is there.
	unit := filepath.Join(t.TempDir(), "needlepace.service")
	text := strings.Replace(read("needlepace.service"), "/usr/bin/needlepace", "/bin/true", 1)
	text = strings.Replace(text, "Documentation=man:needlepace-serve(1)\n", "", 1) // its page is not installed here
	if err := os.WriteFile(unit, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("systemd-analyze", "verify", unit).CombinedOutput(); err != nil || strings.Contains(string(out), "needlepace.service:") {
		t.Errorf("systemd-analyze verify: %v, %s", err, out)
	}
}
