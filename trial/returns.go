package trial

import (
	"archive/zip"
	"bytes"
	"cmp"
	"errors"
	"io"
	"iter"
	"maps"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/words"
)

// SheetColumns are the columns of the sheet that goes to a place and comes back: those up
// to speed are filled in, the rest is for those who sew.
var SheetColumns = []string{"trial", "place", "turn", "block", "design", "digest", "machine", "person", "speed",
	"time", "stood", "day", "note"}

// GradeColumns are the columns of a sheet of grades, before the aspects.
var GradeColumns = []string{"trial", "design", "machine", "block", "grader"}

// BlindColumns are those of the sheet of grades that goes to a place: the turn that stands on
// the back of a sew-out, and not the machine, for who grades it must not see which one sewed it.
var BlindColumns = []string{"trial", "place", "turn", "design", "grader"}

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
	File    words.Message // it stands in, with its row
	Cells   []string      // as they came, in the order of SheetColumns
	Apart   words.Message // why it is kept apart; zero: it is used
	Offer   float64
	Heard   float64 // s, of a recording that says the same; 0: none does
}

// Grade is one sew-out graded by one person.
type Grade struct {
	Design, Machine, Grader string
	Block                   int
	By                      map[Aspect]int
	File                    string
	Apart                   bool // the same person graded the sew-out otherwise elsewhere: it is not said which counts
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
	Runs    []Run           // used and apart, in the order of places and turns
	Missing []Run           // turns of which nothing came
	Grades  []Grade         //
	Photos  []Photo         //
	Said    words.Sentences // what was wrong
}

// Used are the runs that count.
func (r *Returns) Used() (used []Run) {
	for _, x := range r.Runs {
		if x.Apart.IsZero() {
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
	sameTime      = 0.5  // s: a watch to the second tells no less apart, and 3.83 min is 3:50
	farOff        = 1.6  // times the expected time, from which on a time is asked about
	farFromOthers = 0.08 // of the middle of its cell
	minutesRead   = 60.0 // a time so many times off was meant in the other unit
)

// Unpack gives the files of a zip by their names, those of a zip in it too; another file as it
// is. What is too large or broken is told, a sentence each with the remedy, and the rest is given.
func Unpack(name string, b []byte) (out []Given, said words.Sentences) {
	u := unpacking{left: mostUnpacked}
	u.take(name, b, 0)
	return u.out, u.said
}

// mostZips is how deep zips in zips are unpacked.
const mostZips = 2

// unpacking is what is taken out of a file, and how much more may be.
type unpacking struct {
	out  []Given
	said words.Sentences
	left int64
	over bool // there was more
}

// take gives a file that lies in so many zips.
func (u *unpacking) take(name string, b []byte, in int) {
	if len(b) > MaxReturn {
		u.said.Say("returns.too-large", words.Args{"file": words.Name(name), "size": words.Whole(len(b) >> 20), "most": words.Whole(MaxReturn >> 20)})
		return
	}
	if !strings.EqualFold(path.Ext(name), ".zip") || in == mostZips {
		u.out = append(u.out, Given{name, b})
		return
	}
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		u.said.Say("returns.no-zip", words.Args{"file": words.Name(name)})
		return
	}
	if len(z.File)+len(u.out) > mostEntries {
		u.said.Say("returns.many-files", words.Args{"file": words.Name(name), "files": words.Whole(len(z.File) + len(u.out)), "most": words.Whole(mostEntries)})
		return
	}
	for _, f := range z.File {
		if f.FileInfo().IsDir() || nobodys(f.Name) {
			continue
		}
		if u.over {
			return
		}
		r, err := f.Open()
		var x []byte
		if err == nil {
			x, err = io.ReadAll(io.LimitReader(r, u.left+1))
			r.Close()
		}
		if err != nil {
			u.said.Say("returns.zip-damaged", words.Args{"zip": words.Name(name), "file": words.Name(f.Name)})
			continue
		}
		if u.left -= int64(len(x)); u.left < 0 {
			u.said.Say("returns.unpacks-large", words.Args{"file": words.Name(name), "most": words.Whole(mostUnpacked >> 20)})
			u.over = true
			return
		}
		u.take(name+"/"+f.Name, x, in+1)
	}
}

// nobodys reports whether a file in a zip was put there by a computer and not by whoever sent it.
func nobodys(name string) bool {
	base := path.Base(name)
	return strings.HasPrefix(base, ".") || strings.HasPrefix(base, "~$") || slices.Contains(strings.Split(name, "/"), "__MACOSX") ||
		slices.Contains([]string{"thumbs.db", "desktop.ini"}, strings.ToLower(base))
}

// IsSheet reports whether a file of this name should be a sheet.
func IsSheet(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".csv", ".xlsx", ".txt":
		return true
	}
	return false
}

// Read reads what came back and checks it against the trial: expected has each design
// on each machine (Key). Nothing is dropped silently: what cannot be used is kept apart
// with why, or told in Said. hear finds the sewing time of a turn in a recording, in s;
// its error says why it cannot.
func Read(f *File, expected map[string]Expected, hear func(Given, Turn) (float64, error), files []Given) *Returns {
	r := &reading{Returns: &Returns{}, f: f, expected: expected, told: map[string]bool{}, moved: map[string]bool{}}
	r.designs = map[string]string{}
	for key, e := range expected {
		r.designs[e.Digest], _, _ = strings.Cut(key, "\x00")
	}
	r.sort(files, false)
	var scales []scale
	for _, g := range r.sheets {
		for _, x := range r.rows(g, words.Say("returns.not-sheet", words.Args{"file": words.Name(g.Name)}), "trial", f.Name, []string{"time", "place", "turn"}, []string{"grader"}, []string{"photo"}) {
			switch {
			case x.has("grader"):
				r.grade(x)
			case !x.has("time"):
				if of, ok := r.scaleOf(x); ok {
					scales = append(scales, of)
				}
			default:
				r.row(x)
			}
		}
	}
	for i, p := range photographs(r.photos) {
		r.photo(r.photos[i], p)
	}
	// Turns in their order: not 1, 10, 2.
	slices.SortStableFunc(r.Photos, func(a, b Photo) int { return cmp.Or(strings.Compare(a.Place, b.Place), a.Turn-b.Turn) })
	for _, g := range r.recordings { // beside what the sheets say
		r.recording(hear, g)
	}
	for _, x := range scales {
		r.lay(x)
	}
	r.twice()
	r.strays(f)
	r.farDays()
	r.miss(f)
	r.Returns.Said = r.came.Said
	return r.Returns
}

// reading is what comes back to a trial as it is read.
type reading struct {
	*Returns
	came
	f        *File
	expected map[string]Expected
	told     map[string]bool // who and which days were asked about
	moved    map[string]bool // places whose sheets are of other turns than the plan has now
}

// Key names a design on a machine.
func Key(design, machine string) string { return design + "\x00" + machine }

func (r *reading) row(c row) {
	f := r.f
	if c.get("time") == "" {
		if s := c.get("stood"); s != "" {
			r.came.Said.Say("returns.stood-alone", words.Args{"where": c.where, "stood": words.Name(s)})
		}
		return // not sewn: it is missing
	}
	i, t, ok := r.turnOf(c)
	if !ok {
		return
	}
	place, n := f.Places[i].Name, t.Number
	x := Run{Turn: t, Place: place, Note: c.get("note"), File: c.where}
	for _, column := range SheetColumns {
		x.Cells = append(x.Cells, c.get(column))
	}
	if p := c.get("person"); p != "" {
		x.Person = p
	}
	r.when(&x, c.get("day"))
	m := f.Machines[slices.IndexFunc(f.Machines, func(m MachineKeys) bool { return m.Name == t.Machine })]
	e := r.expected[Key(t.Design, t.Machine)]
	speed, unsaid := words.ParseSpeed(c.get("speed"))
	x.Seconds, x.Stood, x.Apart = c.timed()
	switch digest := c.get("digest"); {
	case !x.Apart.IsZero():
	case c.get("design") != "" && !strings.EqualFold(c.get("design"), t.Design) || c.get("machine") != "" && named(c.get("machine"), []string{m.Name}) < 0 ||
		slices.ContainsFunc(f.Machines, func(k MachineKeys) bool { return k.Name == c.get("machine") && k.Name != t.Machine }):
		r.moved[place] = true
		x.Apart = words.Say("returns.other-turn", words.Args{"turn": words.Whole(n), "place": words.Name(place), "design": words.Name(t.Design), "machine": words.Name(t.Machine),
			"said": words.Name(c.get("design")), "on": words.Name(c.get("machine"))})
	case digest != "" && e.Digest != "" && !strings.EqualFold(digest, e.Digest):
		x.Apart = otherDesign(digest, t.Design, e.Digest)
	default:
		if x.Offer, x.Apart = doubt(x.Seconds, x.Stood, e, farOff); x.Apart.IsZero() && unsaid == nil && math.Abs(speed-m.Speed) > 0.5 {
			x.Apart = words.Say("returns.other-speed", words.Args{"speed": words.PerMinute(speed), "says": words.PerMinute(m.Speed)})
		}
	}
	if x.Apart.IsZero() {
		r.who(x, f.Places[i])
	}
	r.Runs = append(r.Runs, x)
}

// turnOf is the place and the turn that a row names; what it names wrongly is told.
func (r *reading) turnOf(c row) (place int, t Turn, ok bool) {
	f := r.f
	names := make([]string, len(f.Places))
	for i, p := range f.Places {
		names[i] = p.Name
	}
	if place = called(c.get("place"), names); place < 0 {
		r.came.Said.Say("returns.no-place", words.Args{"where": c.where, "place": words.Name(c.get("place"))})
		return place, t, false
	}
	turns := f.Turns(names[place])
	n, ok := whole(c.get("turn"))
	if !ok || n < 1 || n > len(turns) {
		r.came.Said.Say("returns.no-turn", words.Args{"where": c.where, "turn": words.Name(c.get("turn")), "turns": words.Whole(len(turns)), "place": words.Name(f.Places[place].Name)})
		return place, t, false
	}
	return place, turns[n-1], true
}

// called is the one of names that a text is, capital letters and what a spreadsheet did to it
// aside; -1: none is, or more than one may be.
func called(text string, names []string) int {
	if i := slices.Index(names, text); i >= 0 {
		return i
	}
	is := func(n string) bool { return strings.EqualFold(n, text) }
	if i := slices.IndexFunc(names, is); i >= 0 && !slices.ContainsFunc(names[i+1:], is) {
		return i
	}
	return named(text, names)
}

// whole is a number of things as a spreadsheet may write it: 3, 3.0 or 3,0.
func whole(text string) (int, bool) {
	v, err := words.ParseNumber(text)
	n := int(v)
	return n, err == nil && float64(n) == v
}

// who asks, once a name, about one who is none of those of the place.
func (r *reading) who(x Run, p PlaceKeys) {
	all := words.List{}
	for _, name := range p.People {
		if strings.EqualFold(name, x.Person) || alike(name, x.Person) {
			return
		}
		all = append(all, words.Name(name))
	}
	if key := p.Name + "\x00" + x.Person; len(all) > 0 && !r.told[key] {
		r.told[key] = true
		r.came.Said.Say("returns.other-person", words.Args{"where": x.File, "person": words.Name(x.Person), "place": words.Name(p.Called), "people": all})
	}
}

// when reads the day of a run; one that cannot be read is asked about, once.
func (r *reading) when(x *Run, text string) {
	d, err := dayOf(text)
	if err == nil {
		x.Day = d
	} else if key := "day\x00" + text; !r.told[key] {
		r.told[key] = true
		r.came.Said.Say("returns.no-day", words.Args{"where": x.File, "day": words.Name(text)})
	}
}

// dayOf is a day as people write it, as 2026-03-20: year first, or with points or strokes
// between and the day first, unless it might be the month. What of the time of day stands
// behind it is left out.
func dayOf(text string) (string, error) {
	f := strings.Fields(text)
	if len(f) == 0 {
		return "", nil
	}
	day, _, _ := strings.Cut(f[0], "T")
	for _, form := range []string{"2006-1-2", "2.1.2006", "2006.1.2", "2006/1/2", "2/1/2006", "1/2/2006"} {
		d, err := time.Parse(form, day)
		if err != nil || strings.Contains(form, "/2006") && d.Day() <= 12 && int(d.Month()) != d.Day() {
			continue
		}
		if d.Year() < 2000 || d.Year() > 2099 { // a slip, or another calendar's
			break
		}
		return d.Format(time.DateOnly), nil
	}
	return "", errDay
}

var errDay = errors.New("no day")

// farFromDays is how many days from the middle of the others on a day is asked about: a trial
// is over within weeks, and a year is easily written wrongly.
const farFromDays = 200

// farDays asks, once a day, about days that are far from those of the other runs. Those count.
func (r *reading) farDays() {
	var days []time.Time
	for _, x := range r.Runs {
		if d, err := time.Parse(time.DateOnly, x.Day); err == nil {
			days = append(days, d)
		}
	}
	if len(days) < 3 {
		return
	}
	slices.SortFunc(days, time.Time.Compare)
	mid := days[len(days)/2]
	for _, x := range r.Runs {
		d, err := time.Parse(time.DateOnly, x.Day)
		if err != nil || d.Sub(mid).Abs() <= farFromDays*24*time.Hour || r.told["far\x00"+x.Day] {
			continue
		}
		r.told["far\x00"+x.Day] = true
		r.came.Said.Say("returns.far-day", words.Args{"where": x.File, "day": words.NewDay(d.Date()), "mid": words.NewDay(mid.Date())})
	}
}

// LastDay is the last day that it is anywhere when it is now: what is dated later is still to come.
func LastDay(now time.Time) words.Day { return words.NewDay(now.UTC().Add(14 * time.Hour).Date()) }

// toCome asks, once a day, about days after the last one that it may be (zero: nobody knows). What is of them counts.
func toCome(said *words.Sentences, last words.Day, days iter.Seq2[string, words.Message]) {
	told := map[string]bool{}
	for day, where := range days {
		d, err := words.ParseDay(day)
		if err != nil || d.IsZero() || last.IsZero() || d.Compare(last) <= 0 || told[day] {
			continue
		}
		told[day] = true
		said.Say("returns.to-come", words.Args{"where": where, "day": d})
	}
}

// ToCome asks about runs of days after the last one that it may be. They count.
func (r *Returns) ToCome(last words.Day) {
	toCome(&r.Said, last, func(yield func(string, words.Message) bool) {
		for i := range r.Runs {
			if !yield(r.Runs[i].Day, r.Runs[i].File) {
				return
			}
		}
	})
}

// ToCome asks about entries of days after the last one that it may be. They count.
func (r *Entries) ToCome(last words.Day) {
	toCome(&r.Said, last, func(yield func(string, words.Message) bool) {
		for i := range r.All {
			if !yield(r.All[i].Day, r.All[i].File) {
				return
			}
		}
	})
}

// otherDesign says that something else was sewn than what of names.
func otherDesign(digest, of, want string) words.Message {
	return words.Say("returns.other-design", words.Args{"digest": words.Name(digest), "of": words.Name(of), "want": words.Name(want)})
}

// twice keeps apart runs of one turn that contradict each other, however many there are; the same
// one again is counted once.
func (r *reading) twice() {
	type key struct {
		place string
		turn  int
	}
	all := map[key][]int{} // in out
	var out []Run
	same := map[[2]words.Value][][2]words.Message{} // a row and the one before it, by the files
	var sames [][2]words.Value                      // in order
	for _, x := range r.Runs {
		k := key{x.Place, x.Number}
		if at := slices.IndexFunc(all[k], func(i int) bool {
			return math.Abs(out[i].Seconds-x.Seconds) < sameTime && out[i].Apart.Raw() == x.Apart.Raw()
		}); at >= 0 {
			was := out[all[k][at]].File
			of := [2]words.Value{x.File.Args["file"], was.Args["file"]}
			if of[0] == nil || of[1] == nil { // of a recording
				of = [2]words.Value{words.Name(x.File.Raw()), words.Name(was.Raw())}
			}
			if same[of] == nil {
				sames = append(sames, of)
			}
			same[of] = append(same[of], [2]words.Message{x.File, was})
			continue
		}
		all[k] = append(all[k], len(out))
		out = append(out, x)
	}
	for _, of := range sames { // a sheet that was put right comes back whole
		if rows := same[of]; len(rows) > 1 {
			r.came.Said.Say("returns.same-rows", words.Args{"n": words.Whole(len(rows)), "file": of[0], "was": of[1]})
		} else {
			r.came.Said.Say("returns.same-row", words.Args{"where": rows[0][0], "was": rows[0][1]})
		}
	}
	for k, of := range all {
		good := slices.DeleteFunc(of, func(i int) bool { return !out[i].Apart.IsZero() })
		if len(good) < 2 {
			continue
		}
		one := words.Seconds(out[good[0]].Seconds)
		for j, i := range good {
			other := words.Seconds(out[good[max(j, 1)]].Seconds)
			out[i].Apart = words.Say("returns.twice", words.Args{"turn": words.Whole(k.turn), "place": words.Name(k.place), "one": one, "other": other})
		}
	}
	slices.SortStableFunc(out, func(a, b Run) int { return cmp.Or(strings.Compare(a.Place, b.Place), a.Number-b.Number) })
	r.Runs = out
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

func (r *reading) grade(c row) {
	g := Grade{Grader: c.get("grader"), By: map[Aspect]int{}, File: c.where.Raw()}
	if g.Grader == "" {
		return // not graded
	}
	if c.get("machine") == "" { // graded without seeing it
		_, t, ok := r.turnOf(c)
		if !ok {
			return
		}
		if d := c.get("design"); d != "" && !strings.EqualFold(d, t.Design) {
			r.came.Said.Say("returns.no-cell", words.Args{"where": c.where, "design": words.Name(d), "machine": words.Name(t.Machine)})
			return
		}
		g.Design, g.Machine, g.Block = t.Design, t.Machine, t.Block
	} else if !r.cell(c, &g) {
		return
	}
	for _, a := range Aspects {
		text := c.get(string(a))
		if text == "" {
			continue
		}
		n, ok := whole(text)
		if !ok || n < WorstGrade || n > BestGrade {
			r.came.Said.Say("returns.no-grade", words.Args{"where": c.where, "aspect": words.Say("trial.aspect." + string(a)), "text": words.Name(text),
				"worst": words.Whole(WorstGrade), "best": words.Whole(BestGrade)})
			continue
		}
		g.By[a] = n
	}
	if len(g.By) == 0 {
		return
	}
	for i := range r.Grades {
		was := &r.Grades[i]
		if !strings.EqualFold(was.Grader, g.Grader) {
			continue
		}
		g.Grader = was.Grader // as it was written first
		if was.Design != g.Design || was.Machine != g.Machine || was.Block != g.Block {
			continue
		}
		if maps.Equal(was.By, g.By) {
			return
		}
		if !was.Apart {
			r.came.Said.Say("returns.graded-twice", words.Args{"where": c.where, "was": words.Name(was.File), "grader": words.Name(g.Grader), "design": words.Name(g.Design),
				"machine": words.Name(g.Machine), "block": words.Whole(g.Block)})
		}
		was.Apart, g.Apart = true, true
	}
	r.Grades = append(r.Grades, g)
}

// cell fills in the sew-out that a row of grades names by its design, its machine and its block.
func (r *reading) cell(c row, g *Grade) bool {
	var machines, designs []string
	for _, m := range r.f.Machines {
		machines = append(machines, m.Name)
	}
	for _, d := range r.f.Designs {
		designs = append(designs, d.Name)
	}
	on, of := called(c.get("machine"), machines), called(c.get("design"), designs)
	if on < 0 || of < 0 {
		r.came.Said.Say("returns.no-cell", words.Args{"where": c.where, "design": words.Name(c.get("design")), "machine": words.Name(c.get("machine"))})
		return false
	}
	g.Machine, g.Design = machines[on], designs[of]
	g.Block, _ = whole(c.get("block"))
	return true
}

// photo takes a photograph in: PLACE-TURN.jpg, or with more behind it.
func (r *reading) photo(g Given, taken plain) {
	if taken.err != nil {
		r.came.Said = append(r.came.Said, Told(taken.err))
		return
	}
	if p, n, ok := r.f.shows(g.Name); ok && r.planMoved(p, g) {
		return
	} else if ok {
		r.Photos = append(r.Photos, Photo{Place: p, Turn: n, JPEG: taken.jpeg, File: g.Name})
		return
	}
	r.came.Said.Say("returns.photo-of-what", words.Args{"file": words.Name(g.Name), "place": words.Name(r.f.Places[0].Name)})
}

// planMoved reports whether a file called by a turn of the place is of a plan that is no more, as the place's
// sheets say: what it shows then is not what the turn is now. It says so.
func (r *reading) planMoved(place string, g Given) bool {
	if r.moved[place] {
		r.came.Said.Say("returns.plan-moved", words.Args{"file": words.Name(g.Name), "place": words.Name(place)})
	}
	return r.moved[place]
}

// shows is the place and the turn that a file is called by: PLACE-TURN, or with more
// behind it.
func (f *File) shows(name string) (place string, turn int, ok bool) {
	base, longest := strings.ToLower(path.Base(name)), 0
	for _, p := range f.Places { // one place's name may begin another's
		rest, is := strings.CutPrefix(base, p.Name+"-")
		if !is || len(p.Name) < longest {
			continue
		}
		digits := rest[:len(rest)-len(strings.TrimLeft(rest, "0123456789"))]
		if n, err := strconv.Atoi(digits); err == nil && n >= 1 && n <= len(f.Turns(p.Name)) {
			place, turn, ok, longest = p.Name, n, true, len(p.Name)
		}
	}
	return place, turn, ok
}

// recording takes a recording in: its time stands beside what the sheets say of the
// turn, and is a run of its own where they say nothing or something else.
func (r *reading) recording(hear func(Given, Turn) (float64, error), g Given) {
	place, n, ok := r.f.shows(g.Name)
	if !ok {
		r.came.Said.Say("returns.recording-of-what", words.Args{"file": words.Name(g.Name), "place": words.Name(r.f.Places[0].Name)})
		return
	}
	if r.planMoved(place, g) {
		return
	}
	t := r.f.Turns(place)[n-1]
	seconds, err := hear(g, t)
	if err != nil {
		r.came.Said.Say("returns.unheard", words.Args{"file": words.Name(g.Name), "why": Told(err)})
		return
	}
	for i := range r.Runs {
		if x := &r.Runs[i]; x.Place == place && x.Number == n && x.Apart.IsZero() && math.Abs(seconds/x.Seconds-1) <= heardAlike {
			x.Heard = seconds
			return
		}
	}
	c := row{where: words.Say("returns.as-it-is", words.Args{"what": words.Name(g.Name)}), head: map[string][]int{}}
	for i, v := range [][2]string{{"place", place}, {"turn", strconv.Itoa(n)}, {"block", strconv.Itoa(t.Block)}, {"design", t.Design}, {"trial", r.f.Name},
		{"digest", r.expected[Key(t.Design, t.Machine)].Digest}, {"machine", t.Machine}, {"person", t.Person}, {"time", strconv.FormatFloat(seconds, 'f', 1, 64)}} {
		c.head[v[0]], c.cells = []int{i}, append(c.cells, v[1])
	}
	r.row(c)
}
