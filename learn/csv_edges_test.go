package learn

import (
	"bytes"
	"strings"
	"testing"

	"needlepace/words"
)

// The edges of a range are in it, and beyond them the unit that was likely
// meant is named, up to the edges of what it would make.
func TestFaultsOfNumbersNameTheUnitThatWasMeant(t *testing.T) {
	for _, c := range []struct {
		column, text, unit string
		lo, hi             float64
		want               string // "": nothing is wrong
	}{
		{"length_mm", "0.1", "mm", .1, 15, ""}, {"length_mm", "15", "mm", .1, 15, ""},
		{"length_mm", "150", "mm", .1, 15, "in tenths of a millimetre, write 15)"},
		{"length_mm", "160", "mm", .1, 15, "outside 0.1 to 15 mm"},
		{"set_speed", "10", "stitches/min", 10, 3000, ""}, {"set_speed", "3000", "stitches/min", 10, 3000, ""},
		{"set_speed", "9", "stitches/min", 10, 3000, "in stitches/s, write 540)"},
		{"set_speed", "0.1666666666666667", "stitches/min", 10, 3000, "in stitches/s"},
		{"set_speed", "180000", "stitches/min", 10, 3000, "in stitches/h, write 3000)"},
		{"set_speed", "48000", "stitches/min", 10, 3000, "in stitches/h, write 800)"},
		{"set_speed", "7,5", "stitches/min", 10, 3000, "in stitches/s, write 450)"},
	} {
		p := &runsReader{}
		p.number(7, c.column, c.text, c.lo, c.hi, c.unit)
		text := ""
		for _, x := range p.problems {
			text += x.String()
		}
		if (text == "") != (c.want == "") || !strings.Contains(text, c.want) {
			t.Errorf("%s of %s: %q, want %q", c.column, c.text, text, c.want)
		}
	}
}

// A file is written so that every figure stands in its own column.
func TestRunsAreWrittenAsCSVColumnByColumn(t *testing.T) {
	obs := []Observation{
		{Name: "a.dst", SetSpeed: 800, Seconds: 1125, Step: 1, Date: words.NewDay(2026, 3, 2), Note: "=x"},
		{Kind: BlockRun, Name: "a.dst", Block: 2, SetSpeed: 700, Seconds: 48.5, Step: .1, Error: 2},
		{Kind: DisplayReading, SetSpeed: 900, Shown: 640, LengthMM: 4, Zigzag: true},
	}
	const head = "date,design,set_speed,block,seconds,shown_speed,length_mm,stitch,error,note,needles,with,job\n"
	for blank, want := range map[bool]string{
		false: head + "2026-03-02,a.dst,800,,1125,,,,,'=x,,,\n,a.dst,700,2,48.5,,,,2,,,,\n,,900,,,640,4,zigzag,,,,,\n",
		true:  head + ",a.dst,800,,,,,,,'=x,,,\n,a.dst,700,2,,,,,2,,,,\n,,900,,,,4,zigzag,,,,,\n",
	} {
		var out bytes.Buffer
		if err := WriteRuns(&out, obs, blank); err != nil || out.String() != want {
			t.Errorf("blank %v: %v\n%s\nwant\n%s", blank, err, out.String(), want)
		}
	}
}
