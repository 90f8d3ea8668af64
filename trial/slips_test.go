package trial

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"strings"
	"testing"

	"needlepace/words"
)

const slips = `name = "Slips"
repeats = 3
cloth = "c"
thread = "t"
needle = "n"
[[place]]
name = "here"
people = ["Ann", "Bo"]
[[design]]
name = "bars"
file = "bars.dst"
[[machine]]
name = "Old"
sheet = "compact-8"
place = "here"
speed = 700
[[machine]]
name = "New"
sheet = "single-15-1200"
place = "here"
speed = 900
`

// slipped reads a sheet of the six runs of a trial, three on each machine, whose own times
// are those of times (empty: not sewn) and the rest of a row that of rest.
func slipped(t *testing.T, times map[string][]string, rest func(row []string)) *Returns {
	t.Helper()
	f, err := Parse("T.toml", []byte(slips))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	fmt.Fprintln(&b, strings.Join(SheetColumns, ","))
	seen := map[string]int{}
	for _, x := range f.Turns("here") {
		time := ""
		if all := times[x.Machine]; seen[x.Machine] < len(all) {
			time = all[seen[x.Machine]]
		}
		seen[x.Machine]++
		row := []string{f.Name, "here", fmt.Sprint(x.Number), "", x.Design, "", x.Machine, x.Person, "", time, "", "2026-09-07", ""}
		if rest != nil {
			rest(row)
		}
		fmt.Fprintln(&b, strings.Join(row, ","))
	}
	e := Expected{Seconds: 400, Least: 300}
	return Read(f, map[string]Expected{Key("bars", "Old"): e, Key("bars", "New"): e}, nil, []Given{{"times.csv", []byte(b.String())}})
}

// Slips of the pen and of the unit are kept apart, each with what it may have been; what is
// merely scattered is not.
func TestSlipsAreAskedAbout(t *testing.T) {
	alike := []string{"6:40", "6:44", "6:42"}
	for _, c := range []struct {
		name  string
		old   []string
		apart int
		says  string
		offer float64
	}{
		{"two figures the other way round", []string{"6:20", "6:24", "6:02"}, 1, "two figures the other way round it is 6 min 20 s", 380},
		{"across the colon", []string{"6:52", "6:50", "5:62"}, 1, "cannot be read", 0},
		{"minutes and seconds", []string{"6:52", "6:50", "5:26"}, 1, "far from the other runs", 0},
		{"of seconds, too", []string{"412", "410", "421"}, 0, "", 0}, // 2.4 %: runs scatter so
		{"of seconds, far", []string{"472", "470", "427"}, 1, "two figures the other way round it is 7 min 52 s", 472},
		{"runs that scatter", []string{"6:40", "6:48", "6:36"}, 0, "", 0},
		{"milliseconds", []string{"402000", "6:44", "6:42"}, 1, "in milliseconds", 402},
		{"the middle of a block", []string{"6:40", "6:44", "8:10"}, 1, "far from the other runs", 0},
		{"two that contradict each other", []string{"6:40", "7:40"}, 2, "no third run says which", 0},
		{"two of which one has figures swapped", []string{"5:16", "5:51"}, 2, "no third run says which", 315},
		{"two that scatter", []string{"6:40", "6:55"}, 0, "", 0},
		{"primes", []string{`6'40`, "6′44″", "6’42"}, 0, "", 0},
		{"another language's units", []string{"6 dk 40 sn", "6 phút 44 giây", "6 minutos 42 segundos"}, 0, "", 0},
	} {
		r := slipped(t, map[string][]string{"Old": c.old, "New": alike}, nil)
		apart, says, offer := 0, "", 0.0
		for _, x := range r.Runs {
			if !x.Apart.IsZero() {
				apart++
				says += x.Apart.Text(nil)
				offer = max(offer, x.Offer)
			}
		}
		if apart != c.apart || !strings.Contains(says, c.says) || offer != c.offer {
			t.Errorf("%s: %d runs apart, %d are right; offers %v, %v is right; %s", c.name, apart, c.apart, offer, c.offer, says)
		}
	}
}

// Who sewed and when are looked at: somebody else, and a day that is none, is told once, and
// the run counts.
func TestWhoAndWhenAreLookedAt(t *testing.T) {
	all := map[string][]string{"Old": {"6:40", "6:44", "6:42"}, "New": {"6:40", "6:44", "6:42"}}
	for day, want := range map[string]string{"2026-09-07": "2026-09-07", "7.9.2026": "2026-09-07", "2026-09-07 14:30": "2026-09-07", "2026-09-07T14:30": "2026-09-07",
		"25/9/2026": "2026-09-25", "9/25/2026": "2026-09-25", "9/9/2026": "2026-09-09", "2026-9-7": "2026-09-07", "2026.09.07": "2026-09-07", "": "", "9-9-26": "?", "7/9/2026": "?", "2026-13-45": "?", "Monday": "?", "2569-09-07": "?", "7.9.0026": "?"} {
		r := slipped(t, all, func(row []string) { row[11] = day })
		said := len(r.Said) == 1 && strings.Contains(r.Said[0].Text(nil), "cannot be read; write it as 2026-03-20")
		if want == "?" != said || len(r.Used()) != 6 || want != "?" && (r.Runs[0].Day != want || len(r.Said) > 0) {
			t.Errorf("the day %q is %q, %d runs count: %v", day, r.Runs[0].Day, len(r.Used()), r.Said)
		}
	}
	r := slipped(t, all, func(row []string) { row[7] = "Zed" })
	if len(r.Said) != 1 || !strings.Contains(r.Said[0].Text(nil), "Zed is none of those who sew at") || r.Runs[0].Person != "Zed" || len(r.Used()) != 6 {
		t.Errorf("of somebody else it says %v", r.Said)
	}
	r = slipped(t, all, func(row []string) { row[7], row[8] = "Zed", "123" })
	if len(r.Said) != 0 || len(r.Used()) != 0 {
		t.Errorf("of somebody else who sewed at another speed it says %v, %d runs count", r.Said, len(r.Used()))
	}
}

// A sheet may come back in any of the languages that packs are written in.
func TestSheetsAreReadInEveryLanguage(t *testing.T) {
	f, err := Parse("T.toml", []byte(slips))
	if err != nil {
		t.Fatal(err)
	}
	whose := map[string]string{}
	for _, l := range words.Languages() {
		by := &words.Writer{Language: l}
		mine := map[string]string{}
		for _, c := range headed() {
			h := strings.ToLower(Head(c, by))
			if other, ok := mine[h]; ok {
				t.Errorf("%s calls both %s and %s %q", l.Tag, other, c, h)
			}
			if other, ok := whose[h]; ok && other != c {
				t.Errorf("%q is %s, and %s in another language", h, c, other)
			}
			mine[h], whose[h] = c, c
		}
		times, grades := []string{}, []string{}
		for _, c := range SheetColumns {
			times = append(times, Head(c, by))
		}
		for _, c := range append(GradeColumns[:len(GradeColumns):len(GradeColumns)], string(Pull), string(CutEnds)) {
			grades = append(grades, Head(c, by))
		}
		x := f.Turns("here")[0]
		r := Read(f, map[string]Expected{}, nil, []Given{
			{"times.csv", []byte(strings.Join(times, ";") + fmt.Sprintf("\n;here;1;;%s;;%s;;;6:40;0:10;2026-09-07;", x.Design, x.Machine))},
			{"grades.csv", []byte(strings.Join(grades, ";") + "\n;bars;Old;1;Nan;4;3")}})
		if len(r.Runs) != 1 || r.Runs[0].Seconds != 390 || len(r.Grades) != 1 || r.Grades[0].By[CutEnds] != 3 || len(r.Said) > 0 {
			t.Errorf("%s: %+v, %+v, said %v", l.Tag, r.Runs, r.Grades, r.Said)
		}
	}
	r := Read(f, map[string]Expected{}, nil, []Given{{"times.csv", []byte("trial,where,turn,time\nSlips,here,1,6:40\nSlips,here,2,6:40\n")}})
	if len(r.Said) != 1 || !strings.Contains(r.Said[0].Text(nil), "has no column place") {
		t.Errorf("of a sheet without a place it says %v", r.Said)
	}
}

// A file that is not read says what to do; a pack that comes back whole says nothing.
func TestFilesThatAreNotReadSayWhatToDo(t *testing.T) {
	f, err := Parse("T.toml", []byte(slips))
	if err != nil {
		t.Fatal(err)
	}
	for name, says := range map[string]string{"scan.pdf": "type them into the sheet", "card.pdf": "type them into the sheet", "IMG_1.HEIC": "set the telephone to JPEG",
		"bars.dst": "sews something else", "quay-1.jpg": "set the telephone to JPEG", "notes.md": "it was not read", "film.mov": "it was not read"} {
		is := []byte("x")
		if name == "quay-1.jpg" { // as telephones send them on (ISO/IEC 23008-12, annex B: the brand heic)
			is = []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic")
		}
		r := Read(f, map[string]Expected{Key("bars", "Old"): {Digest: "dsomething"}}, nil, []Given{{name, is}})
		if (len(r.Said) == 0) != (says == "") || says != "" && !strings.Contains(r.Said[0].Text(nil), says) {
			t.Errorf("%s: %v", name, r.Said)
		}
	}
}

// Photographs stand in the order of the turns, whatever their files' names sort to.
func TestPhotographsStandInTheOrderOfTheTurns(t *testing.T) {
	f, err := Parse("T.toml", []byte(slips))
	if err != nil {
		t.Fatal(err)
	}
	var files []Given
	for _, n := range []int{1, 4, 2, 3} {
		var b bytes.Buffer
		if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 10+n, 10))); err != nil {
			t.Fatal(err)
		}
		files = append(files, Given{fmt.Sprintf("here-%d.png", n), b.Bytes()})
	}
	r := Read(f, map[string]Expected{}, nil, files)
	for i, p := range r.Photos {
		if p.Turn != i+1 || len(r.Photos) != 4 {
			t.Errorf("%d photographs, and turn %d is number %d", len(r.Photos), p.Turn, i+1)
		}
	}
}

// A stop that was taken off already is taken off twice: 5:10 less 0:40 is 4:30 = 270 s, less than the 300 s that the
// stitches take, and 5:10 = 310 s is not. Where the whole is too short as well, it was another slip.
func TestAStopThatWasTakenOffAlready(t *testing.T) {
	for _, c := range []struct {
		time, stood string
		offer       float64
		says        string
	}{
		{"5:10", "0:40", 310, "5 min 10 s less the 40 s that the machine stood is 4 min 30 s"},
		{"4:40", "0:40", 0, "4 min 00 s is less than the 5 min 00 s"},
		{"5:10", "", 0, ""},
	} {
		r := slipped(t, map[string][]string{"Old": {c.time}}, func(row []string) { row[10] = c.stood })
		if len(r.Runs) != 1 || r.Runs[0].Offer != c.offer || !strings.Contains(r.Runs[0].Apart.Text(nil), c.says) || r.Runs[0].Apart.IsZero() != (c.says == "") {
			t.Errorf("%s with %q of standing: %+v", c.time, c.stood, r.Runs)
		}
	}
}

// A day five years from the others is asked about once and counts; one of the next month is not.
func TestADayOfAnotherYearIsAskedAbout(t *testing.T) {
	for day, want := range map[string]int{"2031-09-07": 1, "2026-10-09": 0, "2025-09-07": 1} {
		n := 0
		r := slipped(t, map[string][]string{"Old": {"6:40", "6:41", "6:42"}, "New": {"6:40", "6:41", "6:42"}}, func(row []string) {
			if row[6] == "Old" && n < 2 {
				n++
				row[11] = day
			}
		})
		if got := strings.Count(r.Said.Text(nil), "is the year right"); got != want || len(r.Used()) != 6 {
			t.Errorf("two runs of %s: asked %d times, %d is right; %d count; %s", day, got, want, len(r.Used()), r.Said.Text(nil))
		}
	}
}
