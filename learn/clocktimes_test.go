package learn

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/words"
)

func TestARunTakesTimeAndNoMoreThanTwoDays(t *testing.T) {
	for _, c := range []struct {
		text          string
		seconds, step float64
	}{{"18:45", 1125, 1}, {"18m", 1080, 60}, {"48h", 172800, 3600}, {"48:00:00", 172800, 1}, {"0.1", .1, .1}} {
		s, step, err := ParseTime(c.text)
		if err != nil || math.Abs(s-c.seconds) > 1e-9 || math.Abs(step-c.step) > 1e-9 {
			t.Errorf("%q: %v s in steps of %v (%v), want %v in steps of %v", c.text, s, step, err, c.seconds, c.step)
		}
	}
	for _, c := range []struct{ text, want string }{
		{"0", "no time at all"}, {"0:00:00", "no time at all"}, {"", "is empty"}, {"-18", "is negative"},
		{"172801", "no run takes more than 48"}, {"48:00:01", "no run takes more than 48"}, {"200h", "is 200 hours"},
	} {
		if s, _, err := ParseTime(c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v s, error %v; want one that says %q", c.text, s, err, c.want)
		}
	}
}

// Observations with every column filled, each with a number of its own.
func everyColumn() []Observation {
	return []Observation{
		{Kind: WholeRun, Name: "rose.dst", SetSpeed: 801, Seconds: 1125, Step: 1, Date: words.NewDay(2026, 3, 2), Error: 0.3, Note: "cold, =dusty", Job: machine.CapFrame | machine.Heavy},
		{Kind: BlockRun, Name: "rose.dst", SetSpeed: 802, Block: 2, Seconds: 48.5, Step: 0.1, Date: words.NewDay(2026, 3, 3), Note: "=x"},
		{Kind: DisplayReading, SetSpeed: 1003, Shown: 640, LengthMM: 7.5, Zigzag: true, Date: words.NewDay(2026, 3, 4), Error: 12},
		{Kind: DisplayReading, SetSpeed: 1004, Shown: 730, LengthMM: 4},
	}
}

func TestEachColumnOfAFileOfRunsHasItsOwn(t *testing.T) {
	var out bytes.Buffer
	if err := WriteRuns(&out, everyColumn(), false); err != nil {
		t.Fatal(err)
	}
	want := `date,design,set_speed,block,seconds,shown_speed,length_mm,stitch,error,note,needles,with,job
2026-03-02,rose.dst,801,,1125,,,,0.3,"cold, =dusty",,,cap-frame+heavy
2026-03-03,rose.dst,802,2,48.5,,,,,'=x,,,
2026-03-04,,1003,,,640,7.5,zigzag,12,,,,
,,1004,,,730,4,straight,,,,,
`
	if out.String() != want {
		t.Errorf("wrote\n%swant\n%s", out.String(), want)
	}
	out.Reset()
	if err := WriteRuns(&out, everyColumn(), true); err != nil {
		t.Fatal(err)
	}
	if got, want := strings.Split(out.String(), "\n")[2], ",rose.dst,802,2,,,,,,'=x,,,"; got != want {
		t.Errorf("a row to be filled in is %q, want %q", got, want)
	}
}

func TestWhatIsWrittenIsReadBack(t *testing.T) {
	var out bytes.Buffer
	if err := WriteRuns(&out, everyColumn(), false); err != nil {
		t.Fatal(err)
	}
	got, warn, err := ReadRuns(&out, "runs.csv", opener)
	if err != nil || len(warn) != 0 {
		t.Fatal(warn, err)
	}
	for i, want := range everyColumn() {
		g := got[i]
		if g.Row != i+2 || g.Kind != want.Kind || g.Date != want.Date || g.Name != want.Name || g.SetSpeed != want.SetSpeed || g.Block != want.Block ||
			g.Seconds != want.Seconds || g.Step != want.Step || g.Shown != want.Shown || g.LengthMM != want.LengthMM || g.Zigzag != want.Zigzag || g.Job != want.Job ||
			g.Error != want.Error || strings.TrimPrefix(g.Note, "'") != want.Note {
			t.Errorf("row %d: %+v, want %+v", i+2, g, want)
		}
	}
}

// At the edges of what is allowed, and of what is taken for another unit.
func TestRangesAndUnitsOfAFileOfRuns(t *testing.T) {
	const head = "design,set_speed,seconds,shown_speed,length_mm,stitch,error,block\n"
	for _, c := range []struct {
		row  string
		want []string // "": allowed; else all that is said
	}{
		{"rose.dst,10,60,,,,,", nil},
		{"rose.dst,3000,60,,,,,", nil},
		{"rose.dst,9.9,60,,,,,", []string{"9.9 is outside 10 to 3000 stitches/min (if 9.9 is in stitches/s, write 594)"}},
		{"rose.dst,3001,60,,,,,", []string{"3001 is outside 10 to 3000 stitches/min (if 3001 is in stitches/h, write 50.01"}},
		{"rose.dst,0.1,60,,,,,", []string{"0.1 is outside", "no (if"}},
		{"rose.dst,200000,60,,,,,", []string{"200000 is outside", "no (if"}},
		{"rose.dst,0.2,60,,,,,", []string{"(if 0.2 is in stitches/s, write 12)"}},
		{"rose.dst,50,60,,,,,", nil},
		{"rose.dst,180000,60,,,,,", []string{"(if 180000 is in stitches/h, write 3000)"}},
		{"rose.dst,-5,60,,,,,", []string{"-5 is outside", "no (if"}},
		{"rose.dst,\"1,000\",60,,,,,", nil},
		{"rose.dst,\"1,0,0\",60,,,,,", []string{"thousands or decimals"}},
		{"rose.dst,800,\"60,5\",,,,\"0,5\",", nil},
		{"rose.dst,800,60,,,,\"1,250\",", []string{"column error", "thousands or decimals"}},
		{"rose.dst,800,60,,,,0.001,", nil},
		{"rose.dst,800,60,,,,3600,", nil},
		{"rose.dst,800,60,,,,3601,", []string{"column error: 3601 is outside"}},
		{"rose.dst,800,60,,,,0.0009,", []string{"column error: 0.0009 is outside"}},
		{"rose.dst,800,60,,,,,1", nil},
		{"rose.dst,800,60,,,,,2", nil},
		{"rose.dst,800,60,,,,,0", []string{"column block: \"0\""}},
		{"rose.dst,800,60,,,,,3", []string{"column block: 3: rose.dst has 2"}},
		{"rose.dst,800,60,,4,,,", []string{"column length_mm: goes with shown_speed"}},
		{"rose.dst,800,60,,,zigzag,,", []string{"column stitch: goes with shown_speed"}},
		{",800,,700,4,zigzag,,1", []string{"column block: a display reading has no block"}},
		{",800,,700,0.1,zigzag,,", nil},
		{",800,,700,15,zigzag,,", nil},
		{",800,,700,15.1,zigzag,,", []string{"15.1 is outside 0.1 to 15 mm (if 15.1 is in tenths of a millimetre, write 1.51)"}},
		{",800,,700,150,zigzag,,", []string{"(if 150 is in tenths of a millimetre, write 15)"}},
		{",800,,700,151,zigzag,,", []string{"151 is outside", "no (if"}},
		{",800,,700,0.05,zigzag,,", []string{"0.05 is outside", "no (if"}},
		{",800,,900,4,zigzag,,", nil}, // a display may show up to 10 % and 20 more
		{",800,,901,4,zigzag,,", []string{"are the two columns exchanged?"}},
	} {
		_, _, err := ReadRuns(strings.NewReader(head+c.row+"\n"), "runs.csv", opener)
		if len(c.want) == 0 {
			if err != nil {
				t.Errorf("%s: %v", c.row, err)
			}
			continue
		}
		var re *RunsError
		if !errors.As(err, &re) || len(re.Problems) != 1 {
			t.Errorf("%s: %v, want one problem", c.row, err)
			continue
		}
		for _, want := range c.want {
			if not, ok := strings.CutPrefix(want, "no "); ok == strings.Contains(err.Error(), not) && ok || !ok && !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %v, want %q", c.row, err, want)
			}
		}
	}
}

func TestOnlyTheFirstProblemsAreListed(t *testing.T) {
	row := strings.Repeat("rose.dst,1,60\n", 22)
	_, _, err := ReadRuns(strings.NewReader("design,set_speed,seconds\n"+row), "runs.csv", opener)
	if err == nil || strings.Count(err.Error(), "\n") != 21 || !strings.Contains(err.Error(), "runs.csv: 22 problems") || !strings.Contains(err.Error(), "and 2 more") {
		t.Error(err)
	}
	_, _, err = ReadRuns(strings.NewReader("design,set_speed,seconds\n"+row[:20*len(row)/22]), "runs.csv", opener)
	if err == nil || strings.Count(err.Error(), "\n") != 20 || strings.Contains(err.Error(), "more") {
		t.Error(err)
	}
}

// One timing of a machine that takes a quarter longer: its pace is the new time
// over the old, above 1.
func TestThePaceOfOneTimingIsTheNewTimeOverTheOld(t *testing.T) {
	s := mustClass(t, "single-15-light")
	d := somewhat(4, 4, 2500)
	before := clock.Run(d, s, clock.Job{Speed: 800}).Seconds
	for _, factor := range []float64{0.85, 1, 1.25} {
		res := fit(t, s, []Observation{{Kind: WholeRun, Name: "d", Design: d, SetSpeed: 800, Seconds: before * factor, Step: 1}}, noDraws)
		if !res.OnlyPace || math.Abs(res.Pace-factor) > 0.02 {
			t.Errorf("a run that takes %v of the sheet's time: pace %.3f, only the pace learned: %v", factor, res.Pace, res.OnlyPace)
		}
	}
}

func TestTheLeastTimeIsTheStitchesAtTheSetSpeed(t *testing.T) {
	s := mustClass(t, "single-15-light")
	d := twoBlocks() // 100 stitches each
	for _, c := range []struct {
		o    Observation
		want float64
	}{
		{Observation{Kind: WholeRun, Design: d, SetSpeed: 600}, 20},
		{Observation{Kind: BlockRun, Design: d, SetSpeed: 600, Block: 1}, 10},
		{Observation{Kind: BlockRun, Design: d, SetSpeed: 600, Block: 2}, 10},
		{Observation{Kind: WholeRun, Design: d, SetSpeed: 3000}, 200 * 60 / s.MaxSpeed}, // no faster than the machine
	} {
		m := newModel(s, freeConstants(s), []Observation{c.o})
		if got := leastSeconds(s, m.of[0], &c.o); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%+v: at least %v s, want %v", c.o.Kind, got, c.want)
		}
	}
}
