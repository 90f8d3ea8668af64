package trial

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"slices"
	"strings"
	"testing"

	"needlepace/machine"
	"needlepace/stitch"
)

// Each rule that keeps a run apart, just over and just under where it begins: 400 s are expected, 300 s are the
// stitches alone.
func TestWhereRunsAreKeptApart(t *testing.T) {
	others := map[string][]string{"New": {"6:40", "6:44", "6:42"}}
	for _, c := range []struct {
		old   []string
		apart int
		says  string
		offer float64
	}{
		{[]string{"299"}, 1, "less than the 5 min 00 s that the stitches take", 0},
		{[]string{"301"}, 0, "", 0},
		{[]string{"24000"}, 1, "sixty times", 400},
		{[]string{"6:20", "9:20"}, 2, "no third run says which", 0},
		{[]string{"6:20 ", "6:02", "6:24"}, 1, "two figures the other way round it is 6 min 20 s", 380},
	} {
		others["Old"] = c.old
		r := slipped(t, others, nil)
		apart, says, offer := 0, "", 0.0
		for _, x := range r.Runs {
			if !x.Apart.IsZero() {
				apart++
				says, offer = says+x.Apart.Text(nil), max(offer, x.Offer)
			}
		}
		if apart != c.apart || !strings.Contains(says, c.says) || offer != c.offer {
			t.Errorf("%v: %d runs are apart, %d are right; offered %v, %v is right; %s", c.old, apart, c.apart, offer, c.offer, says)
		}
	}
	// What the machine stood is taken off before figures are looked at: 6:32 less 30 s is 6:02, and of it 6:20 less 30 s is none.
	others["Old"] = []string{"6:20", "6:24", "6:32"}
	r := slipped(t, others, func(row []string) {
		if row[9] == "6:32" {
			row[10] = "30"
		}
	})
	for _, x := range r.Runs {
		if x.Offer != 0 {
			t.Errorf("with 30 s of standing 6:32 is offered as %v s", x.Offer)
		}
	}
	// Where runs are known to scatter by 4 %, one may be 12 % off.
	f, err := Parse("T.toml", []byte(slips+"[spread]\nrun_percent = 4\n"))
	if err != nil {
		t.Fatal(err)
	}
	sheet := "place,turn,time\n"
	for i, x := range f.Turns("here") {
		sheet += fmt.Sprintf("here,%d,%d\n", x.Number, []int{400, 404, 402, 450}[i%4])
	}
	e := Expected{Seconds: 400, Least: 300}
	if r := Read(f, map[string]Expected{Key("bars", "Old"): e, Key("bars", "New"): e}, nil, []Given{{"t.csv", []byte(sheet)}}); len(r.Used()) != 6 {
		t.Errorf("of runs that scatter by 4 %% %d count, 6 are right: %v", len(r.Used()), r.Runs)
	}
}

// What a row says beside its time: another design's digest, another speed than the trial's, a grade of 0.
func TestWhatARowSaysBesideItsTime(t *testing.T) {
	f, err := Parse("T.toml", []byte(twoPlaces))
	if err != nil {
		t.Fatal(err)
	}
	expected := map[string]Expected{}
	for _, m := range f.Machines {
		for _, d := range f.Designs {
			expected[Key(d.Name, m.Name)] = Expected{Seconds: 400, Least: 300, Digest: "d-" + d.Name}
		}
	}
	one := f.Turns("quay")[0]
	for row, why := range map[string]string{
		"d-" + one.Design + ",700":  "",
		"D-" + one.Design + ",":     "",
		"d-other,700":               "another design was sewn",
		"d-" + one.Design + ",701":  "was sewn at 701/min",
		"d-" + one.Design + ",fast": "",
	} {
		r := Read(f, expected, nil, []Given{{"a.csv", []byte("place,turn,time,digest,speed\nquay,1,401," + row + "\n")}})
		if says := r.Runs[0].Apart.Text(nil); why == "" != (says == "") || !strings.Contains(says, why) {
			t.Errorf("%s: %q, want %q", row, says, why)
		}
	}
	r := Read(f, expected, nil, []Given{{"g.csv", []byte("grader,design,machine,block,pull,loops\nAnn,bars,Old,1,0,1\n")}})
	if len(r.Grades) != 1 || len(r.Grades[0].By) != 1 || r.Grades[0].By[Loops] != 1 || !said(r, "give a grade of 1 to 5") {
		t.Errorf("a grade of 0: %+v, %s", r.Grades, r.Said.Text(nil))
	}
	// A recording 1 % from the sheet says the same, one 3 % from it something else.
	for seconds, apart := range map[float64]int{404: 0, 412: 2} {
		hear := func(Given, Turn) (float64, error) { return seconds, nil }
		r := Read(f, expected, hear, []Given{{"a.csv", []byte("place,turn,time\nquay,1,400\n")}, {"quay-1.wav", []byte("x")}})
		if n := len(r.Runs) - len(r.Used()); n != apart || apart == 0 && r.Runs[0].Heard != seconds {
			t.Errorf("heard are %v s of 400: %d runs apart, %d are right; %+v", seconds, n, apart, r.Runs)
		}
	}
}

// A zip of more files than anybody sends, and one that unpacks to more than there is room for, say so, and the
// program takes no more memory than it may.
func TestZipsThatAreTooMuch(t *testing.T) {
	zipped := func(files, bytesEach int) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for i := range files {
			w, err := z.Create(fmt.Sprintf("%d.csv", i))
			if err == nil {
				_, err = w.Write(make([]byte, bytesEach))
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	if files, told := Unpack("x.zip", zipped(501, 0)); len(files) != 0 || len(told) != 1 || !strings.Contains(told[0].Text(nil), "501") {
		t.Errorf("of 501 files %d are read: %v", len(files), told)
	}
	if files, told := Unpack("x.zip", zipped(500, 0)); len(files) != 500 || len(told) != 0 {
		t.Errorf("of 500 files %d are read: %v", len(files), told)
	}
	if files, told := Unpack("x.zip", zipped(4, 40<<20)); len(files) != 3 || len(told) != 1 || !strings.Contains(told[0].Text(nil), "more than 128 MB") {
		t.Errorf("of 4 files of 40 MB %d are read: %v", len(files), told)
	}
}

// How a camera was held, by what Exif 2.32 (CIPA DC-008, section 4.6.4, tag 0x0112) says of the first row and
// column: where the first and the last point of the first row are seen.
func TestPhotographsAreUpright(t *testing.T) {
	const top, bottom, left, right = 0, 1, 0, 1
	for held, want := range [][2][2]int{1: {{top, left}, {top, right}}, 2: {{top, right}, {top, left}}, 3: {{bottom, right}, {bottom, left}}, 4: {{bottom, left}, {bottom, right}},
		5: {{top, left}, {bottom, left}}, 6: {{top, right}, {bottom, right}}, 7: {{bottom, right}, {top, right}}, 8: {{bottom, left}, {top, left}}} {
		if held == 0 {
			continue
		}
		img := image.NewRGBA(image.Rect(0, 0, 64, 48))
		draw.Draw(img, img.Bounds(), image.White, image.Point{}, draw.Src)
		draw.Draw(img, image.Rect(0, 0, 16, 16), image.NewUniform(color.RGBA{255, 0, 0, 255}), image.Point{}, draw.Src)
		draw.Draw(img, image.Rect(48, 0, 64, 16), image.NewUniform(color.RGBA{0, 0, 255, 255}), image.Point{}, draw.Src)
		var b bytes.Buffer
		if err := jpeg.Encode(&b, img, nil); err != nil {
			t.Fatal(err)
		}
		for _, order := range []binary.AppendByteOrder{binary.BigEndian, binary.LittleEndian} {
			tiff := []byte("MM")
			if order == binary.AppendByteOrder(binary.LittleEndian) {
				tiff = []byte("II")
			}
			tiff = order.AppendUint16(order.AppendUint32(order.AppendUint16(tiff, 42), 8), 1)
			tiff = order.AppendUint16(order.AppendUint32(order.AppendUint16(order.AppendUint16(tiff, 0x0112), 3), 1), uint16(held))
			app := append([]byte("Exif\x00\x00"), append(tiff, 0, 0, 0, 0, 0, 0)...)
			shot := append(binary.BigEndian.AppendUint16([]byte{0xFF, 0xD8, 0xFF, 0xE1}, uint16(len(app)+2)), app...)
			out, err := Photograph("quay-1.jpg", append(shot, b.Bytes()[2:]...))
			if err != nil {
				t.Fatal(err)
			}
			seen, err := jpeg.Decode(bytes.NewReader(out))
			if err != nil {
				t.Fatal(err)
			}
			size := seen.Bounds()
			at := func(corner [2]int) (red, blue bool) {
				r, g, bl, _ := seen.At(8+corner[1]*(size.Dx()-16), 8+corner[0]*(size.Dy()-16)).RGBA()
				return r > 0x8000 && g < 0x6000 && bl < 0x6000, bl > 0x8000 && g < 0x6000 && r < 0x6000
			}
			first, _ := at(want[0])
			_, last := at(want[1])
			if !first || !last || (size.Dx() > size.Dy()) != (held < 5) {
				t.Errorf("held as %d (%s): %v, first %v, last %v", held, tiff[:2], size, first, last)
			}
		}
	}
}

// A photograph of more points than any camera has is not unpacked, whatever few bytes it has.
func TestAPhotographOfTooManyPoints(t *testing.T) {
	b := []byte("\x89PNG\r\n\x1a\n")
	head := binary.BigEndian.AppendUint32([]byte("IHDR"), 60_000)
	head = append(binary.BigEndian.AppendUint32(head, 60_000), 8, 2, 0, 0, 0)
	b = append(binary.BigEndian.AppendUint32(b, uint32(len(head)-4)), head...)
	b = binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(head))
	if _, err := Photograph("quay-1.png", b); err == nil || !strings.Contains(err.Error(), "60,000 × 60,000 pixels") {
		t.Errorf("%v", err)
	}
}

// An entry set over what its machine is rated for cannot be; one run at two speeds is two runs.
func TestSpeedsOfEntries(t *testing.T) {
	from := CallFrom{Digest: "d1", Design: "bars", Expect: func(*machine.Sheet, float64, float64) (Expected, error) {
		return Expected{Seconds: 130, Least: 40}, nil
	}}
	r := ReadEntries(&OpenCall{Name: "Bars"}, from, []Given{{"a.csv", []byte("class,rated,speed,time\nmulti-6,1000,1001,125\nmulti-6,1000,1000,125\nmulti-6,1000,900,125\nmulti-6,1000,900,125\n")}})
	var why []string
	for _, x := range r.All {
		why = append(why, x.Apart.Key)
	}
	if got := strings.Join(why, ","); got != "returns.over-rated,,,returns.same-run" {
		t.Errorf("kept apart are %s", got)
	}
}

// The digest is of what is sewn, wherever the frame waits for the thread to be changed; a stop more is another design.
func TestADigestIsOfWhatIsSewn(t *testing.T) {
	sews := func(waits int16, stops int) string {
		d := &stitch.Design{}
		add := func(op stitch.Op, x int16) {
			d.Records = append(d.Records, stitch.Record{Op: op, DX: x})
		}
		add(stitch.Sew, 20)
		add(stitch.Sew, 20)
		for range stops {
			add(stitch.ColourStop, waits)
		}
		add(stitch.Sew, 20-waits*int16(stops))
		return Digest(d)
	}
	if sews(0, 1) != sews(7, 1) || sews(0, 1) == sews(0, 2) || sews(0, 1) == sews(0, 0) {
		t.Errorf("%s, %s; %s; %s", sews(0, 1), sews(7, 1), sews(0, 2), sews(0, 0))
	}
}

// Figures of a trial's file that are none.
func TestPiecesAYear(t *testing.T) {
	for text, fine := range map[string]bool{"0": true, "2.5": true, "-1": false, "nan": false, "inf": false, "1e9": false} {
		_, err := Parse("T.toml", []byte(strings.Replace(twoPlaces, `file = "bars.dst"`, "file = \"bars.dst\"\nyear = "+text, 1)))
		if fine != (err == nil) || err != nil && !strings.Contains(err.Error(), "design[1].year") {
			t.Errorf("%s pieces a year: %v", text, err)
		}
	}
}

// A card that came back as it was made says nothing; one that somebody wrote on (a further end of the file, ISO
// 32000-1, section 7.5.6, or notes on its pages, 12.5) does. Places draw orders of their own.
func TestCardsAndOrdersOfPlaces(t *testing.T) {
	for card, ours := range map[string]bool{"%PDF-1.4 /FontFile2 %%EOF": true, "%PDF-1.4 /FontFile2 %%EOF 9 0 obj %%EOF": false, "%PDF-1.4 /FontFile2 /Annots %%EOF": false,
		"%PDF-1.4 %%EOF": false} {
		if OfPack("Card.PDF", []byte(card), nil) != ours {
			t.Errorf("%q: it is a part of the pack: %v", card, !ours)
		}
	}
	machines, designs := []string{"A", "B", "C"}, []string{"a", "b", "c", "d"}
	if one, other := Order(1911, "quay", designs, machines, 3, nil), Order(1911, "hall", designs, machines, 3, nil); slices.Equal(one, other) {
		t.Error("two places sew in one order")
	}
}

// Zips of places come in one zip: all is read, in one measure of how much it may be, and a zip in a zip in a zip is
// left for a hand.
func TestAZipInAZip(t *testing.T) {
	zipped := func(files ...Given) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, g := range files {
			w, err := z.Create(g.Name)
			if err == nil {
				_, err = w.Write(g.Bytes)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	quay := Given{"quay.zip", zipped(Given{"times.csv", []byte("a")}, Given{"deep.zip", zipped(Given{"b.csv", nil})})}
	files, told := Unpack("all.zip", zipped(quay, Given{"hall.csv", []byte("b")}))
	var names []string
	for _, g := range files {
		names = append(names, g.Name)
	}
	if got := strings.Join(names, " "); got != "all.zip/quay.zip/times.csv all.zip/quay.zip/deep.zip all.zip/hall.csv" || len(told) != 0 {
		t.Errorf("read are %s; %v", got, told)
	}
	half := Given{"1.zip", zipped(Given{"a.csv", make([]byte, 60<<20)})}
	files, told = Unpack("all.zip", zipped(half, Given{"2.zip", half.Bytes}, Given{"3.zip", half.Bytes}, Given{"c.csv", nil}))
	if len(files) != 2 || len(told) != 1 || !strings.Contains(told[0].Text(nil), "more than 128 MB") {
		t.Errorf("of 3 zips of 60 MB %d are read: %v", len(files), told)
	}
}
