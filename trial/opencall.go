package trial

import (
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/internal/cells"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/words"
)

// OpenCall is the file of an open call, CALL.toml: one design of the adviser's own that
// anyone may sew, and send the time.
type OpenCall struct {
	Name     string       `toml:"name"`               // as printed
	Adviser  string       `toml:"adviser"`            // who asks
	Address  string       `toml:"address,omitempty"`  // of the adviser, lines with ; between
	Mail     string       `toml:"mail,omitempty"`     // where sheets are sent to, as printed
	Invented bool         `toml:"invented,omitempty"` // an example: all that is made from it is marked so
	Cloth    string       `toml:"cloth"`
	Backing  string       `toml:"backing,omitempty"`
	Thread   string       `toml:"thread"`
	Needle   string       `toml:"needle"`
	Note     string       `toml:"note,omitempty"` // for those who sew
	Designs  []DesignKeys `toml:"design"`         // one
}

// ParseOpenCall reads the file of an open call. name is used in errors, which say where
// something stands.
func ParseOpenCall(name string, b []byte) (*OpenCall, error) {
	f := &OpenCall{}
	at, err := tomlfile.Decode(name, b, f)
	if err != nil {
		return nil, err
	}
	for _, x := range []struct {
		key, text string
		needed    bool
	}{{"name", f.Name, true}, {"adviser", f.Adviser, true}, {"cloth", f.Cloth, true}, {"thread", f.Thread, true}, {"needle", f.Needle, true},
		{"address", f.Address, false}, {"mail", f.Mail, false}, {"backing", f.Backing, false}, {"note", f.Note, false}} {
		if x.text == "" && x.needed || len(x.text) > 400 {
			return nil, at.Errorf(x.key, nil, "is missing or over 400 characters: who sews reads it on the card")
		}
	}
	if len(f.Designs) != 1 {
		return nil, at.Errorf("design", nil, "there are %d of; give one, as [[design]]: an open call asks for one design", len(f.Designs))
	}
	switch d := &f.Designs[0]; {
	case !short.MatchString(d.Name):
		return nil, at.Errorf("design[1].name", nil, "is %q; give a short name of a-z, 0-9 and -: it stands on the card", d.Name)
	case d.File == "":
		return nil, at.Errorf("design[1].file", nil, "is missing: name a stitch file")
	}
	return f, nil
}

// EntryColumns are the columns of the sheet of an open call: call and digest are filled
// in, the rest is for those who sew. photo and recording name files sent with it. Makers
// are not asked for, and no column is for what anybody likes to write.
var EntryColumns = []string{"call", "digest", "class", "rated", "speed", "time", "stood", "day", "photo", "recording"}

// Entry is one run that somebody sent to an open call.
type Entry struct {
	Class   string  // of the machine
	Rated   float64 // stitches/min
	Speed   float64 // stitches/min that was set
	Seconds float64 // sewing time: the time given, or heard, less what the machine stood for
	Stood   float64 // s
	Day     string  // 2026-02-03; empty: not said
	Photo   string  // name of the file
	Record  string  // name of the recording that the time was heard from; empty: it was given
	File    string  // it stands in, with its row
	Apart   string  // why it is kept apart; empty: it is used
	Offer   float64 // s, what a slip may have been meant as
}

// Entries are all that came to an open call, read and checked.
type Entries struct {
	All  []Entry
	Said []string // what was wrong, a sentence each
}

// Bounds of a speed that is said, in stitches/min, and how many times the expected a
// time may be before it is asked about: how far a class is off is what a call finds out,
// so more than where a trial has the machine's own sheet.
const (
	LeastSpeed = 50
	MostSpeed  = 3000
	farOffCall = 3.0
)

// CallFrom is what an open call is held against.
type CallFrom struct {
	Digest string // of the design
	// Expect reckons the run of an entry.
	Expect func(class *machine.Sheet, rated, speed float64) (Expected, error)
	// Hear finds the sewing time in a recording of it, in s; the error says why not.
	Hear func(g Given, class *machine.Sheet, rated, speed float64) (float64, error)
}

// ReadEntries reads what came to an open call and checks it. Nothing is dropped
// silently: what cannot be used is kept apart with why, or told in Said.
func ReadEntries(f *OpenCall, from CallFrom, files []Given) *Entries {
	r := &Entries{}
	say := func(format string, a ...any) { r.Said = append(r.Said, fmt.Sprintf(format, a...)) }
	named, seen := map[string]Given{}, map[string]string{}
	var sheets []Given
	for _, g := range files {
		base := strings.ToLower(path.Base(g.Name))
		if was, ok := seen[string(g.Bytes)]; ok && IsSheet(base) {
			say("%s is the same file as %s: it counts once", g.Name, was)
			continue
		}
		seen[string(g.Bytes)] = g.Name
		switch {
		case IsSheet(base):
			sheets = append(sheets, g)
		case IsPhotograph(base) || IsRecording(base):
			named[base] = g
		case !OfPack(base):
			say("%s is no sheet (CSV, XLSX), photograph (JPEG, PNG) or recording (WAV, FLAC): it was not read", g.Name)
		}
	}
	used := map[string]string{}
	for _, g := range sheets {
		rows, err := cells.Read(g.Name, g.Bytes)
		if err != nil {
			say("%v", err)
			continue
		}
		at, head := heading(rows)
		_, time := head["time"]
		_, class := head["class"]
		if at < 0 || !time || !class {
			say("%s has no columns class and time: it is not the sheet of the call", g.Name)
			continue
		}
		for i, row := range rows[at+1:] {
			get := getter(head, row)
			where := fmt.Sprintf("%s, row %d", g.Name, at+i+2)
			if t := get("call"); t != "" && t != f.Name {
				say("%s is of another call, %q: this one is %q", where, t, f.Name)
				continue
			}
			if get("time") == "" && get("recording") == "" {
				continue // not sewn
			}
			r.All = append(r.All, entry(from, where, get, named, used))
		}
	}
	r.twice()
	return r
}

// entry reads one row. used says of which row a photograph or recording was, by its bytes.
func entry(from CallFrom, where string, get func(string) string, named map[string]Given, used map[string]string) (x Entry) {
	x = Entry{Class: get("class"), Photo: get("photo"), File: where}
	apart := func(format string, a ...any) {
		if x.Apart == "" {
			x.Apart = fmt.Sprintf(format, a...)
		}
	}
	for _, v := range []struct {
		column string
		to     *float64
	}{{"rated", &x.Rated}, {"speed", &x.Speed}} {
		n, err := words.ParseSpeed(get(v.column))
		if err != nil || !(n >= LeastSpeed && n <= MostSpeed) {
			apart("its %s speed is %q; %d to %d stitches/min can be", map[string]string{"rated": "rated", "speed": "set"}[v.column], get(v.column), LeastSpeed, MostSpeed)
			continue
		}
		*v.to = n
	}
	class, ok := machine.Class(x.Class)
	if !ok {
		apart("there is no class of machines %q: the card lists them", x.Class)
	}
	if x.Rated > 0 && x.Speed > x.Rated {
		apart("it was set to %s, over the %s that the machine is rated for", words.Fixed(x.Speed, 0).Text(nil), words.PerMinute(x.Rated).Text(nil))
	}
	if d := get("digest"); d != "" && !strings.EqualFold(d, from.Digest) {
		apart("another design was sewn: its digest is %s, that of the call is %s", d, from.Digest)
	}
	if _, err := time.Parse(time.DateOnly, get("day")); err == nil {
		x.Day = get("day")
	}
	var err error
	if s := get("stood"); s != "" {
		if x.Stood, _, err = words.ParseSeconds(s); err != nil {
			apart("the time that it stood cannot be read: %v", err)
		}
	}
	for _, name := range []string{get("photo"), get("recording")} {
		if g, ok := named[strings.ToLower(path.Base(name))]; ok {
			if was := used[string(g.Bytes)]; was != "" {
				apart("its %s is the same file as that of %s", path.Base(name), was)
			}
			used[string(g.Bytes)] = where
		} else if name != "" {
			apart("its file %s did not come", path.Base(name))
		}
	}
	switch record := get("recording"); {
	case get("time") != "":
		seconds, _, err := words.ParseSeconds(get("time"))
		if err != nil {
			apart("its time cannot be read: %v", err)
			return x
		}
		if x.Seconds = seconds - x.Stood; !(x.Seconds > 0) {
			apart("nothing is left of its time when the %s that it stood are taken off", words.Seconds(x.Stood).Text(nil))
		}
	case x.Apart == "": // heard only where all else is right: it takes long
		x.Record = path.Base(record)
		if x.Seconds, err = from.Hear(named[strings.ToLower(x.Record)], class, x.Rated, x.Speed); err != nil {
			apart("%v", err)
		}
	}
	if x.Apart != "" {
		return x
	}
	e, err := from.Expect(class, x.Rated, x.Speed)
	if err != nil {
		apart("%v", err)
		return x
	}
	t, want := words.Seconds(x.Seconds).Text(nil), words.Seconds(e.Seconds).Text(nil)
	switch {
	case near(x.Seconds*minutesRead, e.Seconds):
		x.Offer = x.Seconds * minutesRead
		apart("%s is a sixtieth of what was expected: was it %s, in minutes?", t, words.Seconds(x.Offer).Text(nil))
	case near(x.Seconds/minutesRead, e.Seconds):
		x.Offer = x.Seconds / minutesRead
		apart("%s is sixty times what was expected: was it %s?", t, words.Seconds(x.Offer).Text(nil))
	case x.Seconds < e.Least:
		apart("%s cannot be: the stitches take %s at the set speed alone", t, words.Seconds(e.Least).Text(nil))
	case x.Seconds > farOffCall*e.Seconds:
		apart("%s is far from the %s that was expected: did the machine stand?", t, want)
	}
	return x
}

// twice keeps apart entries that are one run sent again.
func (r *Entries) twice() {
	type key struct {
		class        string
		rated, speed float64
		seconds      string
		day          string
	}
	first := map[key]string{}
	for i := range r.All {
		x := &r.All[i]
		if x.Apart != "" {
			continue
		}
		k := key{x.Class, x.Rated, x.Speed, strconv.FormatFloat(x.Seconds, 'f', 1, 64), x.Day}
		if was, ok := first[k]; ok {
			x.Apart = fmt.Sprintf("it says the same as %s: it may be one run that came twice", was)
			continue
		}
		first[k] = x.File
	}
}

// Used are the entries that count.
func (r *Entries) Used() []Entry {
	return slices.DeleteFunc(slices.Clone(r.All), func(x Entry) bool { return x.Apart != "" })
}

// heading is the first row that has something, as places of columns; at is −1 for none.
func heading(rows [][]string) (at int, head map[string]int) {
	head = map[string]int{}
	for i, row := range rows {
		if slices.ContainsFunc(row, func(s string) bool { return s != "" }) {
			for k, h := range row {
				head[strings.ToLower(strings.TrimSpace(h))] = k
			}
			return i, head
		}
	}
	return -1, head
}

// getter finds a row's cell by its column.
func getter(head map[string]int, row []string) func(string) string {
	return func(column string) string {
		if k, ok := head[column]; ok && k < len(row) {
			return strings.TrimPrefix(strings.TrimSpace(row[k]), "'") // kept a formula from running
		}
		return ""
	}
}

// IsRecording reports whether a file of this name should be a recording.
func IsRecording(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".wav", ".flac":
		return true
	}
	return false
}
