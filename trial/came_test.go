package trial

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"strings"
	"testing"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

const accents = `name = "Çığır Atölyesi: üç şube, kış"
repeats = 2
cloth = "c"
thread = "t"
needle = "n"
[[place]]
name = "here"
[[design]]
name = "bars"
file = "bars.dst"
[[machine]]
name = "Küçük eski iğneli ev makinesi, yüksek ve şirin, öğretmen şı"
sheet = "home-1"
place = "here"
speed = 700
[[machine]]
name = "Altılı B"
sheet = "multi-6"
place = "here"
speed = 900
`

// A sheet that went through a spreadsheet of another code page is read whole: under its
// mark, without it, as the letters that a spreadsheet of Turkey writes, as those that it could
// not write at all, with semicolons between, and with a semicolon in somebody's note.
func TestASheetIsNotLostForItsLetters(t *testing.T) {
	f, err := Parse("T.toml", []byte(accents)) // a name of 60 letters has more bytes
	if err != nil {
		t.Fatal(err)
	}
	sheet := func(comma rune) string {
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		w.Comma = comma
		rows := [][]string{SheetColumns}
		for _, x := range f.Turns("here") {
			rows = append(rows, []string{f.Name, "here", fmt.Sprint(x.Number), "", x.Design, "", x.Machine, "Ayşe", "", "5:00", "", "", "koptu; yeniden"})
		}
		if err := w.WriteAll(rows); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	text := sheet(',')
	turkish, err := charmap.Windows1254.NewEncoder().String(sheet(';'))
	if err != nil {
		t.Fatal(err)
	}
	wide, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(sheet('\t'))
	if err != nil {
		t.Fatal(err)
	}
	var misread strings.Builder // UTF-8 taken for Windows's letters, and written as UTF-8 again
	for _, b := range []byte(text) {
		misread.WriteRune(charmap.Windows1252.DecodeByte(b))
	}
	for name, back := range map[string]string{"as it went": text, "with its mark": "\ufeff" + text, "of Turkey": turkish, "wide": wide, "misread": misread.String(),
		"base letters": base26(text), "lost letters": strings.Map(func(r rune) rune {
			if r > 0x7f {
				return '?'
			}
			return r
		}, text)} {
		r := Read(f, map[string]Expected{}, nil, []Given{{"times.csv", []byte(back)}})
		if len(r.Used()) != 4 || len(r.Missing) != 0 {
			t.Errorf("%s: %d runs of 4 count, said %v", name, len(r.Used()), r.Said)
			for _, x := range r.Runs {
				t.Log(x.Apart.Raw())
			}
		}
	}
	for _, other := range []string{"Çığır Atölyesi: dört şube, kış", "x", ""} {
		r := Read(f, map[string]Expected{}, nil, []Given{{"times.csv", []byte(strings.ReplaceAll(text, f.Name, other))}})
		if want := map[bool]int{true: 4}[other == ""]; len(r.Used()) != want {
			t.Errorf("of a trial %q %d runs count", other, len(r.Used()))
		}
	}
	swapped := strings.NewReplacer(f.Machines[0].Name, f.Machines[1].Name, f.Machines[1].Name, f.Machines[0].Name).Replace(text)
	if r := Read(f, map[string]Expected{}, nil, []Given{{"times.csv", []byte(swapped)}}); len(r.Used()) != 0 {
		t.Error("runs of another machine count")
	}
}

// What is whole in a zip is given although something else in it is damaged, and what is not
// is named.
func TestADamagedFileCostsNoOther(t *testing.T) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range map[string]string{"good.csv": strings.Repeat("good", 100), "bad.csv": strings.Repeat("bad!", 100)} {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, text); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	whole := b.Bytes()
	broken := bytes.Replace(whole, []byte("bad!"), []byte("bat!"), 1)
	files, said := Unpack("x.zip", broken)
	if len(files) != 1 || files[0].Name != "x.zip/good.csv" || len(said) != 1 || !strings.Contains(said[0].Raw(), "bad.csv is damaged") {
		t.Errorf("%d files; %v", len(files), said)
	}
	var more bytes.Buffer
	z = zip.NewWriter(&more)
	for _, name := range []string{"times.csv", "__MACOSX/._times.csv", "a/__MACOSX/b/._quay-1.jpg", ".DS_Store", "a/Thumbs.db", "desktop.ini", "~$times.xlsx"} {
		if _, err := z.Create(name); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if files, said := Unpack("x.zip", more.Bytes()); len(files) != 1 || files[0].Name != "x.zip/times.csv" || len(said) != 0 {
		t.Errorf("what a computer put into a zip by itself is %+v, %v", files, said)
	}
	for name, c := range map[string]struct {
		b    []byte
		says string
	}{"cut.zip": {whole[:len(whole)-30], "cut off on its way"}, "none.zip": {[]byte("no zip"), "cut off on its way"}, "large.csv": {make([]byte, MaxReturn+1), "at most 64 MB"}} {
		if files, said := Unpack(name, c.b); len(files) != 0 || len(said) != 1 || !strings.Contains(said[0].Raw(), c.says) {
			t.Errorf("%s: %d files, %v", name, len(files), said)
		}
	}
}
