package trial

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"

	"needlepace/internal/cells"
	"needlepace/stitchfile"
	"needlepace/words"
)

// SheetColumns are the columns of the sheet that goes to a place and comes back: those up
// to speed are filled in, the rest is for those who sew.
var SheetColumns = []string{"trial", "place", "turn", "block", "design", "digest", "machine", "person", "speed",
	"time", "stood", "day", "note"}

// GradeColumns are the columns of the sheet of grades, before the aspects.
var GradeColumns = []string{"trial", "design", "machine", "block", "grader"}

// Expected is what a run should take, reckoned before anyone sews.
type Expected struct {
	Seconds  float64
	Least    float64 // s: stitches at the set speed alone; nothing is faster
	Stitches int
	Digest   string
}

// Given is a file that came back, as it came.
type Given struct {
	Name  string // within what it came in, "quay.zip/times.csv"
	Bytes []byte
}

// Run is one row that came back.
type Run struct {
	Turn
	Place   string
	Seconds float64 // sewing time: the time given less what the machine stood for
	Stood   float64 // s
	Day     string
	Note    string
	File    string   // it stands in, with its row
	Cells   []string // as they came, in the order of SheetColumns
	Apart   string   // why it is kept apart; empty: it is used
	Offer   float64
	Heard   float64 // s, of a recording that says the same; 0: none does
}

// Grade is one sew-out graded by one person.
type Grade struct {
	Design, Machine, Grader string
	Block                   int
	By                      map[Aspect]int
	File                    string
}

// Photo is a photograph of a sew-out, scaled and without what a camera writes into it.
type Photo struct {
	Place string
	Turn  int
	JPEG  []byte
	File  string
	// WidthMM is how wide what it shows is, in mm, by a length that was laid on it; 0:
	// nobody did.
	WidthMM float64
}

// Returns are all that came back, read and checked.
type Returns struct {
	Runs    []Run    // used and apart, in the order of places and turns
	Missing []Run    // turns of which nothing came
	Grades  []Grade  //
	Photos  []Photo  //
	Said    []string // what was wrong, a sentence each
}

// Used are the runs that count.
func (r *Returns) Used() (used []Run) {
	for _, x := range r.Runs {
		if x.Apart == "" {
			used = append(used, x)
		}
	}
	return used
}

// Limits of what is taken in.
const (
	MaxReturn     = 64 << 20 // bytes of one file, and of a zip
	mostUnpacked  = 128 << 20
	mostEntries   = 500
	heardAlike    = 0.02 // of a time: a recording that is so near says the same
	farOff        = 1.6  // times the expected time, from which on a time is asked about
	farFromOthers = 0.08 // of the middle of its cell
	minutesRead   = 60.0 // a time so many times off was meant in the other unit
)

// Unpack gives the files of a zip by their names; another file as it is. A zip that is
// too large or broken is an error with the remedy.
func Unpack(name string, b []byte) ([]Given, error) {
	if len(b) > MaxReturn {
		return nil, fmt.Errorf("%s has %d MB; a return has at most %d MB: send photographs smaller, or in several files", name, len(b)>>20, MaxReturn>>20)
	}
	if !strings.EqualFold(path.Ext(name), ".zip") {
		return []Given{{name, b}}, nil
	}
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return nil, fmt.Errorf("%s cannot be opened as a zip: it may have been cut off on its way; ask for it again", name)
	}
	if len(z.File) > mostEntries {
		return nil, fmt.Errorf("%s holds %d files; a return has at most %d", name, len(z.File), mostEntries)
	}
	var out []Given
	left := int64(mostUnpacked)
	for _, f := range z.File {
		if f.FileInfo().IsDir() {
			continue
		}
		r, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("%s: %s cannot be unpacked; ask for it again", name, f.Name)
		}
		x, err := io.ReadAll(io.LimitReader(r, left+1))
		r.Close()
		if err != nil {
			return nil, fmt.Errorf("%s: %s is damaged; ask for it again", name, f.Name)
		}
		if left -= int64(len(x)); left < 0 {
			return nil, fmt.Errorf("%s unpacks to more than %d MB; a return has at most that", name, mostUnpacked>>20)
		}
		out = append(out, Given{name + "/" + f.Name, x})
	}
	return out, nil
}

// IsSheet reports whether a file of this name should be a sheet.
func IsSheet(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".csv", ".xlsx", ".txt":
		return true
	}
	return false
}

// OfPack reports whether a file of this name is a part of the pack that came back with
// the rest: it says nothing.
func OfPack(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".pdf", ".toml", ".html", ".md":
		return true
	}
	return slices.Contains(stitchfile.Writable(), strings.ToLower(path.Ext(name)))
}

// Read reads what came back and checks it against the trial: expected has each design
// on each machine (Key). Nothing is dropped silently: what cannot be used is kept apart
// with why, or told in Said. hear finds the sewing time of a turn in a recording, in s;
// its error says why it cannot.
func Read(f *File, expected map[string]Expected, hear func(Given, Turn) (float64, error), files []Given) *Returns {
	r := &Returns{}
	say := func(format string, a ...any) { r.Said = append(r.Said, fmt.Sprintf(format, a...)) }
	content, seen := map[string]string{}, map[string]string{} // by name, by content
	photos := photographs(files)
	var scales []scale
	var recordings []Given
	for i, g := range files {
		base := path.Base(g.Name)
		if was, ok := seen[string(g.Bytes)]; ok {
			say("%s is the same file as %s: it counts once", g.Name, was)
			continue
		}
		if was, ok := content[base]; ok {
			say("%s and %s have one name and are not the same: both are read", was, g.Name)
		}
		content[base], seen[string(g.Bytes)] = g.Name, g.Name
		switch {
		case IsSheet(base):
			rows, err := cells.Read(g.Name, g.Bytes)
			if err != nil {
				say("%v", err)
				continue
			}
			scales = append(scales, r.table(f, expected, g.Name, rows, say)...)
		case IsPhotograph(base):
			r.photo(f, g, photos[i], say)
		case IsRecording(base):
			recordings = append(recordings, g)
		default:
			if OfPack(base) {
				continue
			}
			say("%s is no sheet (CSV, XLSX), photograph (JPEG, PNG) or recording (WAV, FLAC): it was not read", g.Name)
		}
	}
	for _, g := range recordings { // beside what the sheets say
		r.recording(f, expected, hear, g, say)
	}
	for _, x := range scales {
		x.lay(r, say)
	}
	r.twice(say)
	r.strays(f)
	r.miss(f)
	return r
}

// Key names a design on a machine.
func Key(design, machine string) string { return design + "\x00" + machine }

func (r *Returns) table(f *File, expected map[string]Expected, name string, rows [][]string, say func(string, ...any)) (scales []scale) {
	at, head := heading(rows)
	_, times := head["time"]
	_, grades := head["grader"]
	_, photos := head["photo"]
	if at < 0 || !times && !grades && !photos {
		say("%s has no column time and no column grader: it is not the sheet of the pack", name)
		return nil
	}
	for i, row := range rows[at+1:] {
		get := getter(head, row)
		where := fmt.Sprintf("%s, row %d", name, at+i+2)
		if t := get("trial"); t != "" && t != f.Name {
			say("%s is of another trial, %q: this one is %q", where, t, f.Name)
			continue
		}
		switch {
		case grades:
			r.grade(f, where, get, say)
		case !times:
			if x, ok := scaleOf(where, get, say); ok {
				scales = append(scales, x)
			}
		case get("turn") != "" || get("time") != "":
			r.row(f, expected, where, get, say)
		}
	}
	return scales
}

func (r *Returns) row(f *File, expected map[string]Expected, where string, get func(string) string, say func(string, ...any)) {
	place := get("place")
	if !slices.ContainsFunc(f.Places, func(p PlaceKeys) bool { return p.Name == place }) {
		say("%s: there is no place %q in this trial", where, place)
		return
	}
	turns := f.Turns(place)
	n, err := strconv.Atoi(get("turn"))
	if err != nil || n < 1 || n > len(turns) {
		say("%s: turn %q is none of the %d of %s", where, get("turn"), len(turns), place)
		return
	}
	if get("time") == "" {
		return // not sewn: it is missing
	}
	t := turns[n-1]
	x := Run{Turn: t, Place: place, Day: get("day"), Note: get("note"), File: where}
	for _, c := range SheetColumns {
		x.Cells = append(x.Cells, get(c))
	}
	if p := get("person"); p != "" {
		x.Person = p
	}
	apart := func(format string, a ...any) { x.Apart = fmt.Sprintf(format, a...) }
	e := expected[Key(t.Design, t.Machine)]
	seconds, _, err := words.ParseSeconds(get("time"))
	stood := 0.0
	if err == nil && get("stood") != "" {
		stood, _, err = words.ParseSeconds(get("stood"))
	}
	x.Seconds, x.Stood = seconds-stood, stood
	switch digest := get("digest"); {
	case err != nil:
		apart("its time cannot be read: %v", err)
	case get("design") != "" && get("design") != t.Design || get("machine") != "" && get("machine") != t.Machine:
		apart("turn %d of %s is %s on %s, not %s on %s", n, place, t.Design, t.Machine, get("design"), get("machine"))
	case digest != "" && e.Digest != "" && !strings.EqualFold(digest, e.Digest):
		apart("another design was sewn: its digest is %s, that of %s is %s", digest, t.Design, e.Digest)
	case !(x.Seconds > 0):
		apart("nothing is left of its time when the %s that it stood are taken off", words.Seconds(stood).Text(nil))
	case e.Seconds > 0 && near(x.Seconds*minutesRead, e.Seconds):
		x.Offer = x.Seconds * minutesRead
		apart("%s is a sixtieth of what was expected: was it %s, in minutes?", words.Seconds(x.Seconds).Text(nil), words.Seconds(x.Offer).Text(nil))
	case e.Seconds > 0 && near(x.Seconds/minutesRead, e.Seconds):
		x.Offer = x.Seconds / minutesRead
		apart("%s is sixty times what was expected: was it %s?", words.Seconds(x.Seconds).Text(nil), words.Seconds(x.Offer).Text(nil))
	case e.Least > 0 && x.Seconds < e.Least:
		apart("%s is less than the %s that the stitches take at the set speed alone", words.Seconds(x.Seconds).Text(nil), words.Seconds(e.Least).Text(nil))
	case e.Seconds > 0 && x.Seconds > farOff*e.Seconds:
		apart("%s is far from the %s that was expected: did the machine stand?", words.Seconds(x.Seconds).Text(nil), words.Seconds(e.Seconds).Text(nil))
	}
	if s := get("speed"); s != "" && x.Apart == "" {
		m := f.Machines[slices.IndexFunc(f.Machines, func(m MachineKeys) bool { return m.Name == t.Machine })]
		if v, err := words.ParseSpeed(s); err == nil && math.Abs(v-m.Speed) > 0.5 {
			apart("it was sewn at %s stitches/min, the trial says %s", s, words.Fixed(m.Speed, 0).Text(nil))
		}
	}
	r.Runs = append(r.Runs, x)
}

func near(x, want float64) bool { return x > want/farOff && x < want*farOff }

// twice keeps apart runs of one turn that contradict each other; the same one again is
// counted once.
func (r *Returns) twice(say func(string, ...any)) {
	type key struct {
		place string
		turn  int
	}
	first := map[key]int{}
	var out []Run
	for _, x := range r.Runs {
		k := key{x.Place, x.Number}
		at, ok := first[k]
		switch {
		case !ok:
			first[k] = len(out)
			out = append(out, x)
		case out[at].Seconds == x.Seconds && out[at].Apart == x.Apart:
			say("%s says the same as %s: it counts once", x.File, out[at].File)
		default:
			was := &out[at]
			why := "turn %d of %s came back twice, %s and %s: say which is right by taking the other out"
			text := fmt.Sprintf(why, x.Number, x.Place, words.Seconds(was.Seconds).Text(nil), words.Seconds(x.Seconds).Text(nil))
			switch {
			case was.Apart == "" && x.Apart == "":
				was.Apart, x.Apart = text, text
			case was.Apart != "" && x.Apart == "": // the first was no good anyway
				first[k] = len(out)
			}
			out = append(out, x)
		}
	}
	slices.SortStableFunc(out, func(a, b Run) int {
		if c := strings.Compare(a.Place, b.Place); c != 0 {
			return c
		}
		return a.Number - b.Number
	})
	r.Runs = out
}

// strays keeps apart what is far from the other repeats of its design on its machine.
func (r *Returns) strays(f *File) {
	of := map[string][]int{}
	for i, x := range r.Runs {
		if x.Apart == "" {
			of[Key(x.Design, x.Machine)] = append(of[Key(x.Design, x.Machine)], i)
		}
	}
	for _, all := range of {
		if len(all) < 3 {
			continue
		}
		var s []float64
		for _, i := range all {
			s = append(s, r.Runs[i].Seconds)
		}
		slices.Sort(s)
		mid := s[len(s)/2]
		for _, i := range all {
			if x := &r.Runs[i]; math.Abs(x.Seconds/mid-1) > max(farFromOthers, 5*f.Known().Run) {
				x.Apart = fmt.Sprintf("%s is far from the other runs of %s on %s (about %s): did the machine stand, or is it a slip?",
					words.Seconds(x.Seconds).Text(nil), x.Design, x.Machine, words.Seconds(mid).Text(nil))
			}
		}
	}
}

// miss lists the turns of which nothing is used.
func (r *Returns) miss(f *File) {
	for _, p := range f.Places {
		for _, t := range f.Turns(p.Name) {
			if !slices.ContainsFunc(r.Runs, func(x Run) bool { return x.Place == p.Name && x.Number == t.Number }) {
				r.Missing = append(r.Missing, Run{Turn: t, Place: p.Name})
			}
		}
	}
}

func (r *Returns) grade(f *File, where string, get func(string) string, say func(string, ...any)) {
	g := Grade{Design: get("design"), Machine: get("machine"), Grader: get("grader"), By: map[Aspect]int{}, File: where}
	known := slices.ContainsFunc(f.Designs, func(d DesignKeys) bool { return d.Name == g.Design }) &&
		slices.ContainsFunc(f.Machines, func(m MachineKeys) bool { return m.Name == g.Machine })
	if g.Grader == "" {
		return // not graded
	}
	if !known {
		say("%s: there is no %s on %s in this trial", where, g.Design, g.Machine)
		return
	}
	g.Block, _ = strconv.Atoi(get("block"))
	for _, a := range Aspects {
		text := get(string(a))
		if text == "" {
			continue
		}
		n, err := strconv.Atoi(text)
		if err != nil || n < WorstGrade || n > BestGrade {
			say("%s: %s is %q; give a grade of %d to %d", where, a, text, WorstGrade, BestGrade)
			continue
		}
		g.By[a] = n
	}
	if len(g.By) > 0 {
		r.Grades = append(r.Grades, g)
	}
}

// photo takes a photograph in: PLACE-TURN.jpg, or with more behind it.
func (r *Returns) photo(f *File, g Given, taken plain, say func(string, ...any)) {
	if taken.err != nil {
		say("%v", taken.err)
		return
	}
	if p, n, ok := f.shows(g.Name); ok {
		r.Photos = append(r.Photos, Photo{Place: p, Turn: n, JPEG: taken.jpeg, File: g.Name})
		return
	}
	say("%s does not say what it shows: call photographs PLACE-TURN.jpg, e.g. %s-1.jpg", g.Name, f.Places[0].Name)
}

// shows is the place and the turn that a file is called by: PLACE-TURN, or with more
// behind it.
func (f *File) shows(name string) (place string, turn int, ok bool) {
	base := strings.ToLower(path.Base(name))
	for _, p := range f.Places {
		rest, ok := strings.CutPrefix(base, p.Name+"-")
		if !ok {
			continue
		}
		digits := rest[:len(rest)-len(strings.TrimLeft(rest, "0123456789"))]
		if n, err := strconv.Atoi(digits); err == nil && n >= 1 && n <= len(f.Turns(p.Name)) {
			return p.Name, n, true
		}
	}
	return "", 0, false
}

// recording takes a recording in: its time stands beside what the sheets say of the
// turn, and is a run of its own where they say nothing or something else.
func (r *Returns) recording(f *File, expected map[string]Expected, hear func(Given, Turn) (float64, error), g Given, say func(string, ...any)) {
	place, n, ok := f.shows(g.Name)
	if !ok {
		say("%s does not say what is heard: call recordings PLACE-TURN.wav, e.g. %s-1.wav", g.Name, f.Places[0].Name)
		return
	}
	t := f.Turns(place)[n-1]
	seconds, err := hear(g, t)
	if err != nil {
		say("%s: %v", g.Name, err)
		return
	}
	for i := range r.Runs {
		if x := &r.Runs[i]; x.Place == place && x.Number == n && x.Apart == "" && math.Abs(seconds/x.Seconds-1) <= heardAlike {
			x.Heard = seconds
			return
		}
	}
	cell := map[string]string{"trial": f.Name, "place": place, "turn": strconv.Itoa(n), "block": strconv.Itoa(t.Block), "design": t.Design,
		"digest": expected[Key(t.Design, t.Machine)].Digest, "machine": t.Machine, "person": t.Person, "time": strconv.FormatFloat(seconds, 'f', 1, 64)}
	r.row(f, expected, g.Name, func(column string) string { return cell[column] }, say)
}
