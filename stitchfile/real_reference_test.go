package stitchfile

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"needlepace/stitch"
)

// realDir holds real designs and an independent reader's values; see the
// data's own README. Nothing of it is copied into the project.
const realDir = "../../shared/data/real"

// columns are values of reference.csv by column name.
type columns map[string]string

const (
	movesInStops = "the reference drops moves inside colour stops; kept, the design closes inside the box that the file's own header gives"
	emptyBlock   = "the stitch block ends before its first record, by its length and its end mark; the reference reads on into the icon"
	threadTable  = "the thread table is a hint, and the reference reads another one of the file (the editing part's) or none"
)

var emptyColumns = columns{"stitches": "0", "jump_records": "0", "max_x": "0", "min_y": "0", "max_y": "0", "stitch_and_position_length_01mm": "0", "threads": "0",
	"positions_sha256": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"}

// departures are the files on which we differ from the reference, why, and
// the value expected instead. Those of .jef and .vp3 were worked out by a
// second program in another language from the record layouts alone.
var departures = map[string]struct {
	why  string
	want columns
}{
	"pes-05.pes": {emptyBlock, emptyColumns},
	"pes-22.pes": {emptyBlock, emptyColumns},
	"pes-26.pes": {emptyBlock, emptyColumns},
	"pes-27.pes": {emptyBlock, emptyColumns},
	"pes-29.pes": {emptyBlock, emptyColumns},
	"pes-33.pes": {emptyBlock, emptyColumns},
	"pes-06.pes": {threadTable, columns{"threads": "1"}},
	"pes-16.pes": {threadTable, columns{"threads": "1"}},
	"pes-25.pes": {threadTable, columns{"threads": "48"}},
	"pes-32.pes": {threadTable, columns{"threads": "8"}},
	"pec-01.pec": {threadTable, columns{"threads": "3"}},
	"jef-02.jef": {movesInStops, columns{"min_x": "-191", "max_x": "191", "positions_sha256": "50742b7c6bab4151139c7e10097bafa994e2034f279b5b5f3ffd314109715031"}},
	"jef-05.jef": {movesInStops, columns{"min_x": "-630", "max_x": "619", "min_y": "-550", "max_y": "549", "positions_sha256": "7bffb914a37adb1f5148c7287cbbf1de091835aad0a58734f9a10c8e81123167"}},
	"jef-06.jef": {movesInStops, columns{"min_x": "-93", "max_x": "93", "positions_sha256": "d1aef4b5a5bb49ed430d03622a2e827cad39cf71757b7bee2d7efb92f7901f71"}},
	"jef-10.jef": {movesInStops, columns{"min_x": "-114", "max_x": "114", "positions_sha256": "17a0f4936eccd39850a00420db356c6ccfccd1ef3a63d51a5e1d5550e0f77dbb"}},
	"jef-12.jef": {movesInStops, columns{"min_x": "-78", "max_x": "79", "positions_sha256": "b82a6c782b7303609022f11bc064c139b44c78547a0bbe16a0a3763aac52ac20"}},
	"jef-14.jef": {movesInStops, columns{"min_x": "-112", "max_x": "112", "positions_sha256": "5328267fc534a989e12167af886144d6803131950a8c6c2f1b545e4d635a7571"}},
	"jef-15.jef": {movesInStops, columns{"min_x": "-84", "positions_sha256": "01a88deebb0d2c898c3d038ff5e78a4d478d3313914b141f15c47d37a0b681bf"}},
	"jef-16.jef": {movesInStops, columns{"min_x": "-220", "max_x": "220", "positions_sha256": "77970ed5d88fb1130f7cbd899e310982d751ab18d6b29899230120937cf94bac"}},
	"jef-20.jef": {movesInStops, columns{"min_x": "-94", "max_x": "94", "positions_sha256": "55debb340ce278ac7b12026497f28588c6fe5bc05ba620f887cdd5e41536883a"}},
	"jef-21.jef": {movesInStops, columns{"min_x": "-109", "max_x": "119", "positions_sha256": "8fcaa1a89eb56f8962a59734c2ec3e65be7b2b64b304470228e0b9cbee541634"}},
	"jef-22.jef": {movesInStops, columns{"min_x": "-192", "max_x": "192", "positions_sha256": "27fdbd3f55a8f10ace0a5e03683816e54fa7e058fbb60230b31e5b4477ccf9d9"}},
	"jef-23.jef": {movesInStops, columns{"min_x": "-242", "max_x": "242", "positions_sha256": "db99b9978f32f1d71db85876992c1ff594c756f3fe769b0de7424370275adcaa"}},
	"jef-24.jef": {movesInStops, columns{"max_x": "249", "min_y": "-250", "max_y": "250", "positions_sha256": "a4ab32aa45a9d236a5a4b540effaa0a2cceadcd64a056c527639a2293984e3d9"}},
	"jef-25.jef": {movesInStops, columns{"min_x": "-60", "max_x": "60", "positions_sha256": "4270e95326323b13a5c9519ae0d6b8a3fbf908d654587e634bc66089fa2bc456"}},
	"jef-26.jef": {movesInStops, columns{"max_x": "615", "min_y": "-580", "max_y": "554", "positions_sha256": "7d89baf4a9c2dcc0f0121757c31467144ae5277dfe29da0ce9a9622fe8ae983b", "threads": "84"}},
	"jef-27.jef": {movesInStops, columns{"min_x": "-70", "max_x": "80", "positions_sha256": "4f88686d8d3177b115fc9c8d789f7aed8355a5f1bcd457c861a12120cfd4f132"}},
	"jef-29.jef": {movesInStops, columns{"min_x": "-250", "max_x": "250", "min_y": "-250", "max_y": "250", "positions_sha256": "a0e102d3eb14db7f772f5a7bc5fc2abb35c57d794e0414cee419c670b82b5bd2"}},
	"jef-31.jef": {movesInStops, columns{"max_x": "-152", "positions_sha256": "9173d2beaf37976b56282a9aa184654633c5d4a08682f6915a751ed712608ab0"}},
	"jef-32.jef": {movesInStops, columns{"min_x": "-1200", "max_x": "1200", "min_y": "-1000", "max_y": "1000", "positions_sha256": "9468a98b8a48605d1b01cc01208f613907012c7fb1eac045fb988845e9ad3348", "threads": "22"}},
	"jef-33.jef": {movesInStops, columns{"min_x": "-123", "max_x": "123", "positions_sha256": "3f0818c27a11b4b01bb6b18f822f80d01ddad2b03654ad66bfdf1c6d615a0352"}},
	"vp3-01.vp3": {"the outer length of its first colour block is 25 bytes short; by the inner one both blocks end where the file does", columns{"stitches": "2022", "jump_records": "2", "max_x": "97", "max_y": "97", "stitch_and_position_length_01mm": "12654.524", "positions_sha256": "b38cccb206bc58c82efbe3343ac9667c288a90839084ef3cec31f36e507acd85"}},
	"vp3-02.vp3": {"a long displacement with no thread in the fabric is a jump and a penetration here, one stitch there: same positions", columns{"jump_records": "4", "stitch_and_position_length_01mm": "362745.779"}},
	"vp3-03.vp3": {"as vp3-01", columns{"stitches": "233", "stitch_and_position_length_01mm": "1778.282", "positions_sha256": "39526d7fac5bbef6db26cfa84d76d3c8b1c1bd42d245fcba54fd61fc09c50359"}},
	"vp3-04.vp3": {"as vp3-02", columns{"jump_records": "8", "stitch_and_position_length_01mm": "554573.75"}},
	"vp3-05.vp3": {"as vp3-01: the reference loses the last 12 stitches", columns{"stitches": "1140", "jump_records": "1", "stitch_and_position_length_01mm": "6787.514", "positions_sha256": "aba3cce9f5fc3099a40af58d0e790c5dfe16b8981929fefc16c95f37863432e3"}},
}

// blankBlock has no stitch block at all: 14 kB of nearly only zeros where it
// should be. The reference reads 6,957 stitches of no length.
const blankBlock = "pes-10.pes"

// measured gives what the reference gives, with its conventions: y down,
// positions after each stitch record.
func measured(d *stitch.Design) columns {
	x, y := 0, 0
	var n [4]int
	var box [4]int
	length := 0.0
	h := sha256.New()
	for _, r := range d.Records {
		x, y = x+int(r.DX), y-int(r.DY)
		switch r.Op {
		case stitch.Sew, stitch.Sequin:
			length += math.Hypot(float64(r.DX), float64(r.DY))
			var b [8]byte
			binary.LittleEndian.PutUint32(b[:], uint32(int32(x)))
			binary.LittleEndian.PutUint32(b[4:], uint32(int32(y)))
			h.Write(b[:])
			if n[0] == 0 {
				box = [4]int{x, x, y, y}
			}
			box = [4]int{min(box[0], x), max(box[1], x), min(box[2], y), max(box[3], y)}
			n[0]++
		case stitch.Jump:
			n[1]++
		case stitch.Trim:
			n[2]++
		case stitch.ColourStop, stitch.Stop:
			n[3]++
		}
	}
	return columns{
		"stitches": strconv.Itoa(n[0]), "jump_records": strconv.Itoa(n[1]), "trims": strconv.Itoa(n[2]), "colour_stops": strconv.Itoa(n[3]),
		"min_x": strconv.Itoa(box[0]), "max_x": strconv.Itoa(box[1]), "min_y": strconv.Itoa(box[2]), "max_y": strconv.Itoa(box[3]),
		"stitch_and_position_length_01mm": strconv.FormatFloat(length, 'f', 3, 64),
		"positions_sha256":                hex.EncodeToString(h.Sum(nil)), "threads": strconv.Itoa(len(d.Threads)),
	}
}

// Source: reference.csv beside the real designs, values of an independent
// open-source reader, two for .dst, .exp and part of .jef.
func TestRealDesignsReadAsAnIndependentReaderReadsThem(t *testing.T) {
	f, err := os.Open(filepath.Join(realDir, "reference.csv"))
	if err != nil {
		t.Skip("the folder with real designs is not beside the project; the handmade files are checked all the same")
	}
	defer f.Close() //nolint:errcheck // only read
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	files := 0
	for _, row := range rows[1:] {
		name := row[0]
		got, err := ReadFile(filepath.Join(realDir, name))
		if name == blankBlock {
			if fe := (*FormatError)(nil); !errors.As(err, &fe) {
				t.Errorf("%s: %v, want a FormatError", name, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		files++
		have := measured(got[0].Design)
		for i, col := range rows[0] {
			g, ok := have[col]
			if !ok {
				continue
			}
			want := row[i]
			if w, ok := departures[name].want[col]; ok {
				if same(col, w, want) {
					t.Errorf("%s: %s is listed as a departure and is none", name, col)
				}
				want = w
			}
			if !same(col, g, want) {
				t.Errorf("%s: %s is %s, want %s", name, col, g, want)
			}
		}
	}
	if files < 130 {
		t.Errorf("only %d files were compared", files)
	}
}

// same compares a column: lengths to the three digits given, digests as text,
// the rest as numbers (the reference has some as 620.0).
func same(col, a, b string) bool {
	if col == "positions_sha256" {
		return a == b
	}
	x, err1 := strconv.ParseFloat(a, 64)
	y, err2 := strconv.ParseFloat(b, 64)
	return err1 == nil && err2 == nil && math.Abs(x-y) < 0.002
}

// Source: the .jef headers' own box (bytes 36 to 51: left, top, right, bottom from the
// middle of the hoop, 0.1 mm), which no reader of ours made.
func TestMovesInsideColourStopsKeepRealDesignsInTheirHeadersBox(t *testing.T) {
	const oversteps = "jef-26.jef" // sews 3 mm past its box, stops or no stops
	n := 0
	for name, d := range departures {
		if d.why != movesInStops || name == oversteps {
			continue
		}
		b, err := os.ReadFile(filepath.Join(realDir, name))
		if err != nil {
			t.Skip("the folder with real designs is not beside the project; the handmade files are checked all the same")
		}
		design, err := Decode(b, name)
		if err != nil {
			t.Fatal(err)
		}
		box := design.Count().Bounds
		left, top, right, bottom := int(le32(b, 36)), int(le32(b, 40)), int(le32(b, 44)), int(le32(b, 48))
		if box.MinX < -left || box.MaxX > right || box.MinY < -bottom || box.MaxY > top {
			t.Errorf("%s: %+v is outside ±%d × ±%d", name, box, right, top)
		}
		n++
	}
	if n != 19 {
		t.Errorf("%d files compared, want 19", n)
	}
}

// headersBelied are the real designs whose header disagrees with the records in a
// way a user would care about, each looked at.
var headersBelied = map[string]string{
	"dst-03.dst": "header-colour", // CO says 5; 2 stop records, and so the reference
	"dst-26.dst": "header-colour", // CO says 7; none, and so the reference
	"jef-03.jef": "header-extent", // the box of the smallest hoop, 50 mm; 83 × 85 mm are sewn, and so the reference
	"jef-26.jef": "header-extent", // 126 × 110 mm, and 127.5 × 113.4 mm sewn: 3 mm past it
}

// Source: the real designs' own headers: counts, colours and extents in five
// formats.
func TestRealDesignsAgreeWithTheirOwnHeadersButForThese(t *testing.T) {
	paths, _ := filepath.Glob(filepath.Join(realDir, "*.*"))
	if len(paths) == 0 {
		t.Skip("the folder with real designs is not beside the project: nothing to check")
	}
	for _, path := range paths {
		got, err := ReadFile(path)
		if err != nil || !HasExtension(path) {
			continue
		}
		var said []string
		for _, w := range got[0].Design.Warnings {
			if strings.HasPrefix(w.Code, "header-") {
				said = append(said, w.Code)
			}
		}
		if name := filepath.Base(path); strings.Join(said, " ") != headersBelied[name] {
			t.Errorf("%s: %v, want %q", name, got[0].Design.Warnings, headersBelied[name])
		}
	}
}
