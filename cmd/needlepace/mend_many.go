package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/stitchfile"
	"needlepace/words"
)

// several reports whether the arguments are more than one design: several, a
// folder, or a container whose new files are to go to a folder.
func (a *MendCmd) several() bool {
	if len(a.Files) != 1 {
		return true
	}
	if info, err := os.Stat(a.Files[0]); err == nil && info.IsDir() {
		return true
	}
	_, err := stitchfile.WriterFor(a.Output)
	return strings.EqualFold(filepath.Ext(a.Files[0]), ".zip") && err != nil
}

// runMany mends designs one after the other.
func (a *MendCmd) runMany(c *Ctx) error {
	switch {
	case a.Threads != "", len(a.Release) > 0, a.Picture != "", len(a.Needles) > 0:
		return usagef("--threads, --release, --needles and --picture are about one design; name one file")
	case a.Overwrite:
		return usagef("--overwrite is for one design; of several, no file is ever overwritten")
	case a.OnlyClear && a.Output == "":
		return usagef("--only-clear says what is written; say where to with --output")
	}
	q := ask.MendManyQuestion{KeepColours: a.KeepColours, KeepStops: a.KeepStops, Seconds: a.Seconds, Seed: a.Seed,
		Format: a.Format, Money: true}
	var err error
	if q.Job, err = a.asked(); err != nil {
		return err
	}
	from := &mendFolder{output: a.Output, places: map[string]placed{}}
	if from.on, err = loadSheet(a.Machine); err != nil {
		return err
	}
	q.Machine = from.on.Name
	if from.others, err = a.others(); err != nil {
		return err
	}
	if err := from.workshop(a.Workshop); err != nil {
		return err
	}
	if err := from.folder(); err != nil {
		return err
	}
	if q.Designs, err = from.list(c.Context, a.Files); err != nil {
		return err
	}
	if err := ask.MendManyCheck(q); err != nil {
		return err
	}
	if a.Output != "" {
		q.Room = from.room
		q.Done = func(d *ask.MendedDesign) error {
			if a.OnlyClear && !d.Clear {
				return nil
			}
			return from.put(d)
		}
	}
	bar := c.bar("mending", 1000)
	q.Progress = func(f float64, doing words.Message) {
		bar.Describe(doing.Text(nil))
		bar.Set(int(f * 1000))
	}
	x, err := ask.MendMany(c.Context, from, q)
	bar.Finish()
	if err != nil {
		return err
	}
	for i := range x.Designs {
		if d := &x.Designs[i]; d.Error != "" && (a.JSON || a.CSV) { // the text's table says it
			complain(c.Err, fmt.Errorf("%s: %s", d.ID, d.Error))
		}
	}
	if err := a.printMany(c, x); err != nil {
		return err
	}
	if x.Failed > 0 {
		return errPartial
	}
	return nil
}

func (a *MendCmd) printMany(c *Ctx, x *ask.MendManyAnswer) error {
	switch {
	case a.JSON:
		return writeJSON(c.Out, x)
	case a.CSV:
		return x.Table().WriteCSV(c.Out)
	}
	writeSentences(c.Out, "", x.Verdict)
	captioned(c.Out, x.Table())
	fmt.Fprintln(c.Out)
	writeSentences(c.Out, "  ! ", x.Caveats)
	if a.Output == "" {
		fmt.Fprintln(c.Out, "  nothing was written; --output FOLDER writes the new files there")
	}
	return nil
}

// mendFolder is where a mend of files finds designs, sheets and rates, and puts
// new files.
type mendFolder struct {
	on     *machine.Sheet
	others []*machine.Sheet
	shop   *book.Workshop
	output string
	places map[string]placed // designs by the names that the question has for them
	names  map[string]string // of new files, in lower case: whose each is
	last   source            // read last, with
	read   []stitchfile.File
}

// placed is where a design stands, and where its new file goes.
type placed struct {
	source
	at     int // in a container
	folder string
}

// workshop reads the rates; "" has none.
func (m *mendFolder) workshop(path string) error {
	if path == "" {
		return nil
	}
	b, err := readGiven("--workshop: ", path, "name a WORKSHOP.toml in it", tomlfile.MaxBytes)
	if err != nil {
		return err
	}
	if m.shop, err = book.ParseWorkshop(path, b); err != nil {
		return usageError{err}
	}
	return nil
}

// folder makes the folder for new files.
func (m *mendFolder) folder() error {
	if m.output == "" {
		return nil
	}
	if info, err := os.Stat(m.output); err == nil && !info.IsDir() {
		return usagef("--output %s is a file; of several designs, name a folder for the new files", m.output)
	}
	err := os.MkdirAll(m.output, 0o755)
	if err == nil { // whether it can be written in is known before the first search
		var f *os.File
		if f, err = os.CreateTemp(m.output, ".needlepace-*"); err == nil {
			err = errors.Join(f.Close(), os.Remove(f.Name()))
		}
	}
	if err != nil {
		return fmt.Errorf("--output: nothing can be written in %s, so nothing was begun; name another folder: %w", m.output, err)
	}
	return nil
}

// list finds the designs. Containers are looked into; a file that cannot be
// read is among them, so that it is told of.
func (m *mendFolder) list(ctx context.Context, args []string) (names []string, err error) {
	add := func(name string, p placed) {
		if _, twice := m.places[name]; !twice {
			m.places[name] = p
			names = append(names, name)
		}
	}
	for _, arg := range args {
		for _, s := range stitchFiles([]string{arg}) {
			if ctx.Err() != nil {
				return nil, context.Cause(ctx)
			}
			p := placed{source: s}
			if rel, err := filepath.Rel(arg, s.path); err == nil && filepath.IsLocal(rel) && rel != "." {
				p.folder = filepath.Dir(rel)
			}
			if !strings.EqualFold(filepath.Ext(s.path), ".zip") {
				add(s.path, p)
				continue
			}
			files, err := s.read()
			if err != nil {
				p.err = err
				add(s.path, p)
			}
			for i, f := range files {
				in := placed{source: s, at: i, folder: p.folder}
				entry := filepath.FromSlash(strings.TrimPrefix(f.Name, s.path+"/"))
				if dir := filepath.Dir(entry); filepath.IsLocal(dir) { // never out of the folder
					in.folder = filepath.Join(p.folder, dir)
				}
				add(f.Name, in)
			}
		}
	}
	return names, nil
}

// Design reads a design.
func (m *mendFolder) Design(_ context.Context, name string) (*ask.Design, error) {
	p, ok := m.places[name]
	if !ok {
		return nil, ask.Missing("there is no design %q", name)
	}
	if m.read == nil || m.last.path != p.path {
		files, err := p.read()
		if err != nil {
			return nil, errors.New(inWords(err))
		}
		m.last, m.read = p.source, files
	}
	if p.at >= len(m.read) {
		return nil, fmt.Errorf("%s was changed while it was read; start again", p.path)
	}
	f := m.read[p.at]
	if f.Err != nil {
		return nil, f.Err
	}
	return ask.NewDesign(f.Design, name, ""), nil
}

// Sheet is the machine's sheet.
func (m *mendFolder) Sheet(context.Context, string) (*machine.Sheet, error) { return m.on, nil }

// Fleet is the other machines.
func (m *mendFolder) Fleet(context.Context) ([]*machine.Sheet, error) { return m.others, nil }

// Workshop has the rates.
func (m *mendFolder) Workshop(context.Context) (*book.Workshop, bool, error) {
	return m.shop, m.shop != nil, nil
}

// Slot is free at once.
func (m *mendFolder) Slot(context.Context) (ask.Room, error) { return (*noRoom)(nil), nil }

// noRoom is held of nothing: the command has the computer to itself.
type noRoom struct{}

// Leave does nothing.
func (*noRoom) Leave() {}

// Return does nothing.
func (*noRoom) Return(context.Context) error { return nil }

// put writes a new file. A name that is there is left alone.
func (m *mendFolder) put(d *ask.MendedDesign) error {
	dir := filepath.Join(m.output, m.places[d.ID].folder)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	path := m.path(d.ID, d.Mend.NewFile)
	if err := createNew(path, d.Mend.Content); err != nil {
		return err
	}
	if err := readsBack(path, d.Mend.Content); err != nil {
		return err
	}
	d.Kept = path
	return nil
}

// path is where a design's new file goes. Two designs may want one name, as the same
// one in two formats does: the second gets a number.
func (m *mendFolder) path(design, newFile string) string {
	if m.names == nil {
		m.names = map[string]string{}
	}
	name, ext := newFile, filepath.Ext(newFile)
	for n := 2; ; n++ {
		path := filepath.Join(m.output, m.places[design].folder, name)
		key := strings.ToLower(path) // some disks tell no capitals
		if whose, taken := m.names[key]; !taken || whose == design {
			m.names[key] = design
			return path
		}
		name = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(newFile, ext), n, ext)
	}
}

// room refuses a name that is taken, before the search; createNew refuses it
// again, should it be taken meanwhile.
func (m *mendFolder) room(design, newFile string) error {
	path := m.path(design, newFile)
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		return nil
	} else if err != nil {
		return err
	}
	return nameTaken(path)
}

func nameTaken(path string) error {
	return fmt.Errorf("%s is there already, and no file is overwritten: take it away, or name another folder", path)
}

// createNew writes a file whose name must be free, whatever stands there. Cards
// and sticks for machines know no links, so it is not made beside its name.
func createNew(path string, b []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return nameTaken(path)
	}
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	if err = errors.Join(err, f.Close()); err != nil {
		os.Remove(path)
		return fmt.Errorf("%w: nothing of it was kept; make room there, or name another folder", err)
	}
	return nil
}
