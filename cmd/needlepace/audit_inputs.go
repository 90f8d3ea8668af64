package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"needlepace/audit"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// maxListBytes keeps a slip (a stitch file given as a list of threads) from
// being read into memory whole.
const maxListBytes = 1 << 20

// AuditInput is what audit and mend are told about the design.
type AuditInput struct {
	Machine string `short:"m" help:"A machine sheet (.toml) or a built-in class." default:"single-15-light" placeholder:"SHEET"`
	JobFlags
	Threads string `help:"Which colour blocks share a thread: names in the order of the blocks, e.g. navy,white,navy, or a file with one name a line. Default: the file's own thread table; without one, no two blocks are taken to." placeholder:"LIST"`
}

// auditInput is what those flags come to for one file.
type auditInput struct {
	design  *stitch.Design
	name    string // of the file, or of the design in its container
	sheet   *machine.Sheet
	job     clock.Job
	threads []int  // thread of each colour block; nil where nothing is known
	from    string // where the threads are from, "" if nothing is known
}

func (a *AuditInput) load(file string) (in auditInput, err error) {
	if in.job, err = a.Job(); err != nil {
		return in, err
	}
	if in.sheet, err = loadSheet(a.Machine); err != nil {
		return in, err
	}
	if in.design, in.name, err = readOne(file); err != nil {
		return in, err
	}
	in.threads, in.from, err = a.blockThreads(in.design)
	return in, err
}

// blockThreads reads --threads for a design: one name a colour block. The
// second value says where the threads are from, "" if nothing is known.
func (a *AuditInput) blockThreads(d *stitch.Design) ([]int, string, error) {
	blocks := audit.Blocks(d)
	if a.Threads == "" {
		threads, ok := audit.ThreadsOf(d, blocks)
		if !ok {
			return nil, "", nil
		}
		return threads, "the file's thread table", nil
	}
	names, from, err := threadNames(a.Threads)
	if err != nil {
		return nil, "", err
	}
	if len(names) != blocks {
		return nil, "", usagef("--threads names %s, the design has %s; name one for each block in their order (? for one that is not known)", plural(len(names), "thread"), plural(blocks, "colour block"))
	}
	return audit.ThreadsNamed(names), from, nil
}

func threadNames(arg string) (names []string, from string, err error) {
	info, err := os.Stat(arg)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return strings.Split(arg, ","), "--threads", nil
	case err != nil:
		return nil, "", usagef("--threads: %v", err)
	case info.IsDir() || info.Size() > maxListBytes:
		return nil, "", usagef("--threads %s: that is no list of threads; a list is a text file with one name a line", arg)
	}
	b, err := os.ReadFile(arg)
	if err != nil {
		return nil, "", usagef("--threads: %v", err)
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

// hoop reads "130x180" in mm; "" is none.
func hoop(s string) (w, h float64, err error) {
	if s == "" {
		return 0, 0, nil
	}
	a, b, ok := strings.Cut(strings.ToLower(strings.ReplaceAll(s, "×", "x")), "x")
	if ok {
		w, err = strconv.ParseFloat(strings.TrimSpace(a), 64)
		if err == nil {
			h, err = strconv.ParseFloat(strings.TrimSpace(b), 64)
		}
	}
	if !ok || err != nil || !(w > 0 && h > 0 && w < 10_000 && h < 10_000) {
		return 0, 0, usagef("--hoop %q: give the inside width and height in mm, e.g. 130x180", s)
	}
	return w, h, nil
}

// stitchesText is where a finding stands, counted from 1.
func stitchesText(from, to int) string {
	switch {
	case from == to && from == 0:
		return "before stitch 1"
	case from == to:
		return fmt.Sprintf("after stitch %s", thousands(from))
	case to == from+1:
		return fmt.Sprintf("stitch %s", thousands(to))
	}
	return fmt.Sprintf("stitches %s to %s", thousands(from+1), thousands(to))
}
