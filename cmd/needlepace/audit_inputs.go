package main

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"needlepace/ask"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// AuditInput is what audit and mend are told about the design.
type AuditInput struct {
	Machine string `short:"m" help:"A machine sheet (.toml) or a built-in class." default:"${machine}" placeholder:"SHEET"`
	JobFlags
	Threads string `help:"Which colour blocks share a thread: names in the order of the blocks, e.g. navy,white,navy, or a file with one name a line. Default: the file's own thread table; without one, no two blocks are taken to." placeholder:"LIST"`
}

// load reads the design and the machine's sheet.
func (a *AuditInput) load(file string) (from ask.Given, err error) {
	if from.On, err = loadSheet(a.Machine); err != nil {
		return from, err
	}
	design, name, err := readOne(file)
	if err != nil {
		return from, err
	}
	from.Stitches = ask.NewDesign(design, name, "")
	return from, nil
}

// threads reads --threads.
func (a *AuditInput) threads() (t ask.ThreadsAsked, err error) {
	if a.Threads != "" {
		t.Threads, t.From, err = threadNames(a.Threads)
	}
	return t, err
}

func threadNames(arg string) (names []string, from string, err error) {
	// What is no file and no file's name can only be names; a folder is none.
	if is, err := os.Stat(arg); (err != nil || is.IsDir()) && (strings.ContainsAny(arg, ", ") || filepath.Ext(arg) == "") {
		return strings.Split(arg, ","), "--threads", nil
	}
	b, err := readGiven("--threads: ", arg, "a list is a text file with one name a line", maxListBytes)
	if err != nil {
		return nil, "", err
	}
	for line := range strings.Lines(string(b)) {
		line, _, _ = strings.Cut(line, "#")
		if line = strings.TrimSpace(line); line != "" {
			names = append(names, line)
		}
	}
	return names, arg, nil
}

// readOne reads a file that holds exactly one design.
func readOne(path string) (*stitch.Design, string, error) {
	files, err := stitchfile.ReadFile(path)
	if err != nil {
		return nil, "", err
	}
	if len(files) != 1 {
		return nil, "", usagef("%s holds %s; take the one you mean out of it first", path, plural(len(files), "design"))
	}
	return files[0].Design, files[0].Name, files[0].Err
}

// inMM reads "130x180" in mm, as the flag has it; "" is none.
func inMM(flag, s string) (w, h float64, err error) {
	if s == "" {
		return 0, 0, nil
	}
	a, b, ok := strings.Cut(strings.NewReplacer("×", "x", "mm", "").Replace(strings.ToLower(s)), "x")
	if ok {
		w, err = strconv.ParseFloat(strings.TrimSpace(a), 64)
		if err == nil {
			h, err = strconv.ParseFloat(strings.TrimSpace(b), 64)
		}
	}
	if !ok || err != nil || !(w > 0 && h > 0) {
		return 0, 0, usagef("--%s %q: give the inside width and height in mm, e.g. 130x180", flag, s)
	}
	return w, h, nil
}
