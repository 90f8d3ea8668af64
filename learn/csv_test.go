package learn

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"needlepace/stitch"
	"needlepace/words"
)

func TestTimesAsPeopleWriteThem(t *testing.T) {
	for _, c := range []struct {
		text          string
		seconds, step float64
	}{
		{"1125", 1125, 1}, {"48.5", 48.5, 0.1}, {"18:45", 1125, 1}, {"18:45.4", 1125.4, 0.1}, {"1:02:05", 3725, 1},
		{"18m45s", 1125, 1}, {"18m", 1080, 60}, {"1h02m", 3720, 60}, {"18 min 45 s", 1125, 1}, {" 45s ", 45, 1}, {"0.75h", 2700, 36},
	} {
		s, step, err := ParseTime(c.text)
		if err != nil || abs(s-c.seconds) > 1e-9 || abs(step-c.step) > 1e-9 {
			t.Errorf("%q: %v s in steps of %v (%v), want %v, %v", c.text, s, step, err, c.seconds, c.step)
		}
	}
	for _, bad := range []string{"", "-5", "−5", "18:75", "1,850", "abc", "1:2:3:4", "0", "0:00", "m5", "5m5m", "22s5m", "1e5", "NaN", "inf", "999999999", "18.5:10", "18 km"} {
		if s, _, err := ParseTime(bad); err == nil {
			t.Errorf("%q was read as %v s", bad, s)
		}
	}
}

func twoBlocks() *stitch.Design {
	d := &stitch.Design{}
	for b := range 2 {
		if b > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
		for range 100 {
			d.Records = append(d.Records, stitch.Record{DX: 30})
		}
	}
	return d
}

func opener(path string) (*stitch.Design, error) {
	if path == "rose.dst" {
		return twoBlocks(), nil
	}
	return nil, fmt.Errorf("no stitch file %s", path)
}

func TestThreeKindsInOneFileAnyOrderOfColumns(t *testing.T) {
	const file = "\ufeffseconds,Design,set_speed,note,block,shown_speed,stitch,length_mm,error,date\n" +
		"18:45,rose.dst,800,\"first, cold\",,,,,,2026-03-01\n" +
		"# a remark\n" +
		"48.5,rose.dst,800,,2,,,,0.2,\n" +
		",,1000,,,640,zigzag,7.0,,\n"
	obs, warn, err := ReadRuns(strings.NewReader(file), "runs.csv", opener)
	if err != nil || len(warn) != 0 || len(obs) != 3 {
		t.Fatal(obs, warn, err)
	}
	a, b, c := obs[0], obs[1], obs[2]
	if a.Kind != WholeRun || a.Seconds != 1125 || a.Step != 1 || a.Row != 2 || a.Note != "first, cold" || a.Date != words.NewDay(2026, 3, 1) {
		t.Errorf("whole run: %+v", a)
	}
	if b.Kind != BlockRun || b.Block != 2 || b.Seconds != 48.5 || b.Error != 0.2 || b.Row != 4 {
		t.Errorf("block: %+v", b)
	}
	if c.Kind != DisplayReading || c.Shown != 640 || !c.Zigzag || c.LengthMM != 7 || c.SetSpeed != 1000 || c.Row != 5 {
		t.Errorf("display: %+v", c)
	}
}

// A spreadsheet in many countries writes semicolons, and commas before decimals.
func TestAFileOfRunsWithSemicolonsSaysTheSame(t *testing.T) {
	read := func(text string) []Observation {
		obs, warnings, err := ReadRuns(strings.NewReader(text), "runs.csv", opener)
		if err != nil || len(warnings) > 0 {
			t.Fatal(err, warnings)
		}
		return obs
	}
	spelt := strings.NewReplacer("1125,5", "1125.5") // the time as it was written
	want := read("# timed\ndesign,set_speed,seconds,error,note\nrose.dst,800,1125.5,0.5,a; b\nrose.dst,1000,18:46,,\n")
	for _, sep := range []string{";", "\t"} {
		text := strings.ReplaceAll("# timed, by hand; twice\ndesign;set_speed;seconds;error;note\nrose.dst;800;1125,5;0,5;\"a; b\"\nrose.dst;1.000;18:46;;\n", ";", sep)
		got := read(strings.Replace(text, "a"+sep+" b", "a; b", 1))
		for i := range got {
			got[i].Design, got[i].Written = want[i].Design, spelt.Replace(got[i].Written)
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%q: %+v, want %+v", sep, got, want)
		}
	}
}

// Every fault is named with its row and column.
func TestFaultsInAFileOfRuns(t *testing.T) {
	const head = "date,design,set_speed,block,seconds,shown_speed,length_mm,stitch,error,note\n"
	for _, c := range []struct{ file, want string }{
		{"", "empty"},
		{"design;set_speed;seconds\n", "no timed run"},
		{"design,speed,seconds\n", `column "speed"`},
		{"design,set_speed,set_speed,seconds\n", "twice"},
		{"design,set_speed\n", "no column seconds or shown_speed"},
		{"design,seconds\n", "no column set_speed"},
		{head, "no timed run"},
		{head + ",lily.dst,800,,1125,,,,,\n", "row 2, column design: no stitch file lily.dst"},
		{head + ",,800,,1125,,,,,\n", "row 2, column design"},
		{head + ",rose.dst,800,,-3,,,,,\n", "row 2, column seconds: \"-3\" is negative"},
		{head + ",rose.dst,800,,18:75,,,,,\n", "row 2, column seconds"},
		{head + ",rose.dst,13.3,,1125,,,,,\nx,rose.dst,800,,9999999,,,,,\n", "row 3, column seconds"},
		{head + ",rose.dst,5,,1125,,,,,\n", "if 5 is in stitches/s, write 300"},
		{head + ",rose.dst,48000,,1125,,,,,\n", "if 48000 is in stitches/h, write 800"},
		{head + ",rose.dst,,,1125,,,,,\n", "row 2, column set_speed: is empty"},
		{head + ",rose.dst,fast,,1125,,,,,\n", "row 2, column set_speed"},
		{head + ",rose.dst,800,3,1125,,,,,\n", "row 2, column block: 3: rose.dst has 2"},
		{head + ",rose.dst,800,x,1125,,,,,\n", "row 2, column block"},
		{head + "1.3.2026,rose.dst,800,,1125,,,,,\n", "row 2, column date"},
		{head + ",,800,,,700,45,zigzag,,\n", "if 45 is in tenths of a millimetre, write 4.5"},
		{head + ",,800,,,700,4,sideways,,\n", "row 2, column stitch"},
		{head + ",,700,,,1000,4,zigzag,,\n", "exchanged"},
		{head + ",rose.dst,800,,1125,700,,,,\n", "row 2: both"},
		{head + ",rose.dst,800,,1125,,,,,a,b\n", "row 2: 11 values for 10 columns"},
		{head + ",rose.dst,800,,\"1125\n", "row 2"},
		{head + ",rose.dst,800,,1125,,,,-1,\n", "row 2, column error"},
	} {
		_, _, err := ReadRuns(strings.NewReader(c.file), "runs.csv", opener)
		var re *RunsError
		if !errors.As(err, &re) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: error %v, want one that says %q", c.file, err, c.want)
		}
	}
}

func TestRepeatsAndBlanksAreNamed(t *testing.T) {
	const file = "design,set_speed,seconds\nrose.dst,800,50\nrose.dst,800,50\nrose.dst,800,\n,,\n"
	obs, warn, err := ReadRuns(strings.NewReader(file), "runs.csv", opener)
	if err != nil || len(obs) != 1 || len(warn) != 2 {
		t.Fatal(obs, warn, err)
	}
	if !strings.Contains(warn[0].String(), "row 3: repeats row 2") || !strings.Contains(warn[1].String(), "row 4: no time") {
		t.Error(warn)
	}
}

func FuzzReadRuns(f *testing.F) {
	f.Add("design,set_speed,seconds\nrose.dst,800,50\n")
	f.Add("date,design,set_speed,block,seconds,shown_speed,length_mm,stitch,error,note\n,,800,,,700,4,zigzag,,\n")
	f.Fuzz(func(t *testing.T, s string) {
		obs, _, err := ReadRuns(strings.NewReader(s), "f.csv", opener)
		if (err == nil) == (len(obs) == 0) {
			t.Fatalf("%d observations and error %v", len(obs), err)
		}
		for _, o := range obs {
			if e := o.StandardError(); !(e > 0) || !(o.value() > 0) {
				t.Fatalf("%+v: standard error %v", o, e)
			}
		}
	})
}
