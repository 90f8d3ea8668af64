package trial

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding/charmap"

	"needlepace/machine"
	"needlepace/words"
)

// two places of one machine each, the name of one of which begins the other's.
const twoPlaces = `name = "Two"
repeats = 2
cloth = "c"
thread = "t"
needle = "n"
[[place]]
name = "quay"
[[place]]
name = "quay-2"
[[design]]
name = "bars"
file = "bars.dst"
[[design]]
name = "rings"
file = "rings.dst"
[[machine]]
name = "Old"
sheet = "compact-8"
place = "quay"
speed = 700
[[machine]]
name = "New"
sheet = "single-15-1200"
place = "quay-2"
speed = 900
`

func returned(t *testing.T, text string, files ...Given) *Returns {
	t.Helper()
	f, err := Parse("T.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	expected := map[string]Expected{}
	for _, d := range f.Designs {
		for _, m := range f.Machines {
			expected[Key(d.Name, m.Name)] = Expected{Seconds: 400, Least: 300}
		}
	}
	return Read(f, expected, nil, files)
}

func said(r *Returns, text string) bool {
	for _, s := range r.Said {
		if strings.Contains(s.Text(nil), text) {
			return true
		}
	}
	return false
}

// However often one turn comes back otherwise, none of what came counts, in whatever order; what came twice
// alike counts once beside what was kept apart for something else.
func TestATurnThatComesBackThreeTimes(t *testing.T) {
	rows := func(times ...string) *Returns {
		b := "place,turn,time\n"
		for _, s := range times {
			b += "here,1," + s + "\n"
		}
		return returned(t, slips, Given{"times.csv", []byte(b)})
	}
	for times, want := range map[string][2]int{ // used, all
		"395 388 403":     {0, 3},
		"395 388 395":     {0, 2},
		"388 395 403 381": {0, 4},
		"395 395 395":     {1, 1},
		"395 395.4":       {1, 1}, // a watch to the second does not tell them apart
		"395 395.6":       {0, 2},
		"1 395 395":       {1, 2},
		"1 395 1":         {1, 2},
		"1 395 388":       {0, 3},
	} {
		r := rows(strings.Fields(times)...)
		if len(r.Used()) != want[0] || len(r.Runs) != want[1] {
			t.Errorf("%s: %d are used of %d, want %v", times, len(r.Used()), len(r.Runs), want)
		}
	}
	for _, x := range rows("395", "388", "403").Runs {
		if text := x.Apart.Text(nil); !strings.Contains(text, "came back twice") || !strings.Contains(text, words.Seconds(x.Seconds).Text(nil)) {
			t.Errorf("%v s is apart since %q", x.Seconds, text)
		}
	}
}

// A photograph is of the place whose whole name it has.
func TestOnePlacesNameBeginsAnothers(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 9, 9))); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{"quay-2-1.jpg": "quay-2 1", "quay-2.jpg": "quay 2", "QUAY-1-front.jpg": "quay 1", "quay-2-3 b.jpg": "quay-2 3"} {
		turned := strings.NewReplacer("[[place]]\nname = \"quay\"", "[[place]]\nname = \"quay-2\"", "[[place]]\nname = \"quay-2\"", "[[place]]\nname = \"quay\"").Replace(twoPlaces)
		for _, text := range []string{twoPlaces, turned} {
			r := returned(t, text, Given{name, b.Bytes()})
			if len(r.Photos) != 1 || fmt.Sprint(r.Photos[0].Place, " ", r.Photos[0].Turn) != want {
				t.Errorf("%s is of %+v, want %s", name, r.Photos, want)
			}
		}
	}
}

// What is plain to people is read: capital letters, numbers as spreadsheets write them, a title over the
// table, a line for the spreadsheet, a second sheet.
func TestWhatIsPlainIsRead(t *testing.T) {
	for name, text := range map[string]string{
		"capital letters": "place,turn,design,time\nHere,1,BARS,395\n",
		"a number":        "place,turn,time\nhere,1.0,395\n",
		"a comma":         "place;turn;time\nhere;1,0;395\n",
		"a title":         "Our trial,,\nsewn in March,,\n\nplace,turn,time\nhere,1,395\n",
		"a separator":     "sep=;\nplace;turn;time\nhere;1;395\n",
	} {
		if r := returned(t, slips, Given{"times.csv", []byte(text)}); len(r.Used()) != 1 || len(r.Said) > 0 {
			t.Errorf("%s: %d are used, said %v", name, len(r.Used()), r.Said)
		}
	}
	r := returned(t, slips, Given{"times.csv", []byte("place,turn,time,stood\nhere,1,,395\nhere,2,,\n")})
	if len(r.Runs) != 0 || !said(r, "row 2: 395 stands under") || len(r.Said) != 1 {
		t.Errorf("a time in the wrong column: %v", r.Said)
	}
	r = returned(t, slips, Given{"times.csv", []byte("place,turn,time,note\nhere,1,395,\"oh\nhere,2,395,\n")})
	if len(r.Used()) != 0 || !said(r, "quotation mark is left open") {
		t.Errorf("an open quotation mark: %d are used, %v", len(r.Used()), r.Said)
	}
}

// A sheet in every language comes back from a spreadsheet of that language's own code page.
func TestSheetsComeBackInEveryCodePage(t *testing.T) {
	f, err := Parse("T.toml", []byte(slips))
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range words.Languages() {
		by := &words.Writer{Language: l}
		var heads []string
		for _, c := range SheetColumns {
			heads = append(heads, Head(c, by))
		}
		text := strings.Join(heads, ";") + fmt.Sprintf("\n;here;1;;bars;;%s;Ann;;6:35;;2026-09-07;", f.Turns("here")[0].Machine)
		for name, page := range map[string]*charmap.Charmap{"1252": charmap.Windows1252, "1254": charmap.Windows1254, "1258": charmap.Windows1258} {
			b, err := page.NewEncoder().String(text)
			if err != nil { // this page has not all letters of it
				continue
			}
			r := returned(t, slips, Given{"times.csv", []byte(b)})
			if len(r.Used()) != 1 || len(r.Said) > 1 {
				t.Errorf("%s in %s: %d are used, said %v", l.Tag, name, len(r.Used()), r.Said)
			}
		}
	}
}

// Grades of who sees only the turn on the back of a sew-out are of what was sewn then; the same person's grades
// of one sew-out count once, and not at all where they differ.
func TestGradesGivenBlind(t *testing.T) {
	f, err := Parse("T.toml", []byte(slips))
	if err != nil {
		t.Fatal(err)
	}
	x := f.Turns("here")[2]
	blind := "place,turn,design,grader,pull\nhere,3,bars,Ida,4\n"
	open := fmt.Sprintf("design,machine,block,grader,pull\nbars,%s,%d,ida ,%%s\n", x.Machine, x.Block)
	r := returned(t, slips, Given{"grades.csv", []byte(blind)})
	if len(r.Grades) != 1 || r.Grades[0].Machine != x.Machine || r.Grades[0].Block != x.Block || r.Grades[0].By[Pull] != 4 {
		t.Errorf("%+v, %v", r.Grades, r.Said)
	}
	r = returned(t, slips, Given{"grades.csv", []byte(blind)}, Given{"page.csv", fmt.Appendf(nil, open, "4,0")})
	if len(r.Grades) != 1 || len(r.Said) > 0 {
		t.Errorf("the same again: %+v, %v", r.Grades, r.Said)
	}
	r = returned(t, slips, Given{"grades.csv", []byte(blind)}, Given{"page.csv", fmt.Appendf(nil, open, "2.0")})
	if len(r.Grades) != 2 || !r.Grades[0].Apart || !r.Grades[1].Apart || r.Grades[1].Grader != "Ida" || !said(r, "neither counts") {
		t.Errorf("otherwise: %+v, %v", r.Grades, r.Said)
	}
	for _, wrong := range []string{"place,turn,design,grader,pull\nhere,3,rings,Ida,4\n", "place,turn,design,grader,pull\nhere,33,bars,Ida,4\n", "grader,pull\nIda,4\n"} {
		if r = returned(t, slips, Given{"grades.csv", []byte(wrong)}); len(r.Grades) != 0 || len(r.Said) != 1 {
			t.Errorf("%q: %+v, %v", wrong, r.Grades, r.Said)
		}
	}
}

// What comes to an open call is held against its class on both sides, days are read as people write them, and
// a photograph that is none is told.
func TestEntriesThatCannotBeOfTheirClass(t *testing.T) {
	f := &OpenCall{Name: "Bars"}
	from := CallFrom{Digest: "d1", Design: "bars", Expect: func(*machine.Sheet, float64, float64) (Expected, error) {
		return Expected{Seconds: 130, Least: 40}, nil
	}}
	entries := func(rows string, more ...Given) *Entries {
		return ReadEntries(f, from, append([]Given{{"a.csv", []byte("class,rated,speed,time,day,photo\n" + rows)}}, more...))
	}
	for row, why := range map[string]string{
		"multi-6,1000,900,125,,":       "",
		"Multi-6,1000,900,125,,":       "",
		"multi-6,1200,900,125,,":       "",
		"multi-6,1590,900,125,,":       "", // the class is rated for 1,000: up to 1.6 times, and down to it
		"multi-6,1610,900,125,,":       "rated for",
		"multi-6,630,600,125,,":        "",
		"multi-6,620,600,125,,":        "rated for",
		"multi-6,1000,50,125,,":        "",
		"multi-6,1000,49,125,,":        "50",
		"multi-6,3000,3000,125,,":      "rated for",
		"multi-6,500,450,125,,":        "rated for",
		"multi-6,1000,900,64,,":        "far below",
		"multi-6,1000,900,66,,":        "",
		"multi-6,1000,900,400,,":       "far from",
		"no such class,1000,900,125,,": "no class",
	} {
		r := entries(row + "\n")
		if len(r.All) != 1 || (why == "") != r.All[0].Apart.IsZero() || !strings.Contains(r.All[0].Apart.Text(nil)+r.All[0].Apart.Raw(), why) {
			t.Errorf("%s: %v, want %q", row, r.All[0].Apart, why)
		} else if why == "" && r.All[0].Class != "multi-6" {
			t.Errorf("%s is of %s", row, r.All[0].Class)
		}
	}
	r := entries("multi-6,1000,900,125,03.02.2026,\nmulti-6,1000,900,125,09.02.2026,\nmulti-6,1000,900,125,2026-02-09,\nmulti-6,1000,900,126,one day,a.jpg\n", Given{"a.jpg", []byte("no image")})
	if used := r.Used(); len(used) != 3 || used[0].Day != "2026-02-03" || used[1].Day != "2026-02-09" || used[2].Photo != "" {
		t.Errorf("%+v", used)
	}
	if len(r.Said) != 2 || !strings.Contains(r.Said[0].Text(nil)+r.Said[1].Text(nil), "one day") || !strings.Contains(r.Said[0].Text(nil)+r.Said[1].Text(nil), "a.jpg") {
		t.Errorf("said %v", r.Said)
	}
}

// Where the plan was changed after a place had sewn, its photographs are of other turns, and none is shown
// as what it is not.
func TestPhotographsOfAPlanThatIsNoMore(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 9, 9))); err != nil {
		t.Fatal(err)
	}
	sheet := "place,turn,machine,time\nhere,1,%s,395\n"
	f, err := Parse("T.toml", []byte(slips))
	if err != nil {
		t.Fatal(err)
	}
	now := f.Turns("here")[0].Machine
	then := map[string]string{"Old": "New", "New": "Old"}[now]
	for machine, photos := range map[string]int{now: 1, then: 0} {
		r := returned(t, slips, Given{"here-2.png", b.Bytes()}, Given{"times.csv", fmt.Appendf(nil, sheet, machine)})
		if len(r.Photos) != photos || said(r, "here-2.png is left out") != (photos == 0) {
			t.Errorf("%d photographs, said %v", len(r.Photos), r.Said)
		}
	}
}

// Days after the last one that it may be anywhere are asked about, once each, where all runs are of them too; at noon of the 9th in
// Greenwich it is the 10th at 14 hours east of it. Runs and entries of them count.
func TestDaysThatAreStillToCome(t *testing.T) {
	last := LastDay(time.Date(2026, 3, 9, 12, 0, 0, 0, time.UTC))
	r := &Returns{Runs: []Run{{Day: "2026-03-09"}, {Day: "2026-03-10"}, {Day: "2026-03-11"}, {Day: "2026-03-11"}, {Day: "2031-01-01"}, {}}}
	r.ToCome(last)
	if len(r.Said) != 2 || !strings.Contains(r.Said[0].Raw(), "11 Mar") || !strings.Contains(r.Said[1].Raw(), "2031") || len(r.Runs) != 6 {
		t.Errorf("%s: %v", last.Raw(), r.Said)
	}
	e := &Entries{All: []Entry{{Day: "2026-03-11"}, {Day: "2026-03-09"}}}
	if e.ToCome(last); len(e.Said) != 1 {
		t.Errorf("%v", e.Said)
	}
	if e.ToCome(words.Day{}); len(e.Said) != 1 {
		t.Error("where nobody knows the day, days are asked about")
	}
}

// What is not read says what to do.
func TestWhatIsNotReadSaysWhatToDo(t *testing.T) {
	for name, want := range map[string]string{"Times.ODS": "save it as XLSX or CSV", "a.xls": "save it as XLSX or CSV", "n.zip/m.zip/k.zip": "unpack it", "x.docx": "is no sheet"} {
		if got := NotRead(name).Raw(); !strings.Contains(got, want) {
			t.Errorf("%s: %q", name, got)
		}
	}
}
