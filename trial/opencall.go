package trial

import (
	"path"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

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
		if x.text == "" && x.needed || utf8.RuneCountInString(x.text) > 400 {
			return nil, at.Tell(x.key, words.Say("trial-file.call-text", words.Args{"most": words.Whole(400)}))
		}
	}
	if len(f.Designs) != 1 {
		return nil, at.Tell("design", words.Say("trial-file.call-designs", words.Args{"given": words.Whole(len(f.Designs))}))
	}
	switch d := &f.Designs[0]; {
	case !short.MatchString(d.Name):
		return nil, at.Tell("design[1].name", words.Say("trial-file.call-name", words.Args{"given": words.Name(d.Name)}))
	case d.File == "":
		return nil, at.Tell("design[1].file", words.Say("trial-file.design-file"))
	}
	return f, nil
}

// EntryColumns are the columns of the sheet of an open call: call and digest are filled
// in, the rest is for those who sew. photo and recording name files sent with it. Makers
// are not asked for, and no column is for what anybody likes to write.
var EntryColumns = []string{"call", "digest", "class", "rated", "speed", "time", "stood", "day", "photo", "recording"}

// Entry is one run that somebody sent to an open call.
type Entry struct {
	Class   string        // of the machine
	Rated   float64       // stitches/min
	Speed   float64       // stitches/min that was set
	Seconds float64       // sewing time: the time given, or heard, less what the machine stood for
	Stood   float64       // s
	Day     string        // 2026-02-03; empty: not said
	Photo   string        // name of the file
	Record  string        // name of the recording that the time was heard from; empty: it was given
	File    words.Message // it stands in, with its row
	Apart   words.Message // why it is kept apart; zero: it is used
	Offer   float64       // s, what a slip may have been meant as
}

// Entries are all that came to an open call, read and checked.
type Entries struct {
	All  []Entry
	Said words.Sentences // what was wrong
}

// Bounds of a speed that is said, in stitches/min, and how many times the expected a
// time may be before it is asked about: how far a class is off is what a call finds out,
// so more than where a trial has the machine's own sheet.
const (
	LeastSpeed = 50
	MostSpeed  = 3000
	farOffCall = 3.0
	farRated   = 1.6 // times what machines of the class are rated for
)

// CallFrom is what an open call is held against.
type CallFrom struct {
	Digest string // of the design
	Design string // its name
	// Expect reckons the run of an entry.
	Expect func(class *machine.Sheet, rated, speed float64) (Expected, error)
	// Hear finds the sewing time in a recording of it, in s; the error says why not.
	Hear func(g Given, class *machine.Sheet, rated, speed float64) (float64, error)
}

// ReadEntries reads what came to an open call and checks it. Nothing is dropped
// silently: what cannot be used is kept apart with why, or told in Said.
func ReadEntries(f *OpenCall, from CallFrom, files []Given) *Entries {
	r, c := &Entries{}, came{designs: map[string]string{from.Digest: from.Design}}
	c.sort(files, true)
	named := map[string]Given{}
	for _, g := range slices.Concat(c.photos, c.recordings) {
		named[strings.ToLower(path.Base(g.Name))] = g
	}
	used := map[string]words.Message{}
	for _, g := range c.sheets {
		for _, x := range c.rows(g, words.Say("returns.not-call-sheet", words.Args{"file": words.Name(g.Name)}), "call", f.Name, []string{"class", "time"}) {
			if x.get("time") != "" || x.get("recording") != "" {
				r.All = append(r.All, c.entry(from, x, named, used))
			}
		}
	}
	r.Said = c.Said
	r.twice()
	return r
}

// entry reads one row. used says of which row a photograph or recording was, by its bytes.
func (r *came) entry(from CallFrom, c row, files map[string]Given, used map[string]words.Message) (x Entry) {
	x = Entry{Class: c.get("class"), Photo: c.get("photo"), File: c.where}
	apart := func(why words.Message) {
		if x.Apart.IsZero() {
			x.Apart = why
		}
	}
	for _, v := range []struct {
		column string
		what   words.Message
		to     *float64
	}{{"rated", words.Say("call.rated"), &x.Rated}, {"speed", words.Say("trial.speed"), &x.Speed}} {
		n, err := words.ParseSpeed(c.get(v.column))
		if err != nil || !(n >= LeastSpeed && n <= MostSpeed) {
			apart(words.Say("returns.no-speed", words.Args{"what": v.what, "text": words.Name(c.get(v.column)), "least": words.Fixed(LeastSpeed, 0), "most": words.PerMinute(MostSpeed)}))
			continue
		}
		*v.to = n
	}
	class, ok := machine.Class(strings.ToLower(x.Class))
	if !ok {
		class, ok = machine.ClassOf(x.Class)
	}
	switch {
	case !ok:
		apart(words.Say("returns.no-class", words.Args{"class": words.Name(x.Class)}))
	case x.Rated > 0 && (x.Rated > farRated*class.MaxSpeed || x.Rated*farRated < class.MaxSpeed):
		apart(words.Say("returns.rated-of-no-class", words.Args{"rated": words.PerMinute(x.Rated), "most": words.PerMinute(class.MaxSpeed)}))
	}
	if ok {
		x.Class = class.Name
	}
	if x.Rated > 0 && x.Speed > x.Rated {
		apart(words.Say("returns.over-rated", words.Args{"speed": words.Fixed(x.Speed, 0), "rated": words.PerMinute(x.Rated)}))
	}
	if d := c.get("digest"); d != "" && !strings.EqualFold(d, from.Digest) {
		apart(otherDesign(d, from.Design, from.Digest))
	}
	var err error
	if x.Day, err = dayOf(c.get("day")); err != nil {
		r.Said.Say("returns.no-day", words.Args{"where": c.where, "day": words.Name(c.get("day"))})
	}
	for _, name := range []string{c.get("photo"), c.get("recording")} {
		if g, ok := files[strings.ToLower(path.Base(name))]; ok {
			if was := used[string(g.Bytes)]; !was.IsZero() {
				apart(words.Say("returns.file-used", words.Args{"file": words.Name(path.Base(name)), "was": was}))
			}
			used[string(g.Bytes)] = c.where
		} else if name != "" {
			apart(words.Say("returns.file-missing", words.Args{"file": words.Name(path.Base(name))}))
		}
	}
	if g, ok := files[strings.ToLower(path.Base(x.Photo))]; ok && x.Photo != "" {
		if _, err := Photograph(g.Name, g.Bytes); err != nil { // the run counts
			r.Said = append(r.Said, Told(err))
			x.Photo = ""
		}
	}
	var why words.Message
	if x.Seconds, x.Stood, why = c.timed(); !why.IsZero() {
		apart(why)
	}
	if c.get("time") == "" && x.Apart.IsZero() { // heard only where all else is right: it takes long
		x.Record = path.Base(c.get("recording"))
		if x.Seconds, err = from.Hear(files[strings.ToLower(x.Record)], class, x.Rated, x.Speed); err != nil {
			apart(Told(err))
		}
	}
	if !x.Apart.IsZero() {
		return x
	}
	e, err := from.Expect(class, x.Rated, x.Speed)
	if err != nil {
		apart(Told(err))
		return x
	}
	x.Offer, x.Apart = doubt(x.Seconds, x.Stood, e, farOffCall)
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
	first := map[key]words.Message{}
	for i := range r.All {
		x := &r.All[i]
		if !x.Apart.IsZero() {
			continue
		}
		k := key{x.Class, x.Rated, x.Speed, strconv.FormatFloat(x.Seconds, 'f', 1, 64), x.Day}
		if was, ok := first[k]; ok {
			x.Apart = words.Say("returns.same-run", words.Args{"was": was})
			continue
		}
		first[k] = x.File
	}
}

// Used are the entries that count.
func (r *Entries) Used() []Entry {
	return slices.DeleteFunc(slices.Clone(r.All), func(x Entry) bool { return !x.Apart.IsZero() })
}

// IsRecording reports whether a file of this name should be a recording.
func IsRecording(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".wav", ".flac":
		return true
	}
	return false
}
