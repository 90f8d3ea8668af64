package tomlfile

import (
	"strconv"
	"strings"
	"testing"
)

type target struct {
	Name  string `toml:"name"`
	Shift struct {
		Hours float64  `toml:"hours" unit:"h"`
		Walk  *float64 `toml:"walk" unit:"s"`
		Pause float64  `toml:"pause" unit:"min"`
		Open  bool     `toml:"open"`
		Days  []string `toml:"days"`
		Count int      `toml:"count"`
	} `toml:"shift"`
	Machine []struct {
		Heads  int   `toml:"heads"`
		Repair *work `toml:"repair" unit:"s"`
	} `toml:"machine"`
}

// work may be written as its mean alone.
type work struct {
	Mean float64 `toml:"mean" unit:"s"`
	CV   float64 `toml:"cv"`
}

func (w *work) UnmarshalText(b []byte) (err error) {
	w.Mean, err = strconv.ParseFloat(string(b), 64)
	return err
}

const good = `name = "x"
[shift]
hours = 8

[[machine]]
heads = 1
[[machine]]
  heads = 2
  repair = { mean = 3 }
`

func TestKeysAreFoundWhereTheyStand(t *testing.T) {
	var v target
	f, err := Decode("shop.toml", []byte(good), &v)
	if err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]string{
		"shift.hours":            "shop.toml:3:1: shift.hours is bad",
		"machine[2].heads":       "shop.toml:8:3: machine[2].heads is bad",
		"machine[2].repair.mean": "shop.toml:9:14: machine[2].repair.mean is bad",
		"machine[2].repair.cv":   "shop.toml:9:3: machine[2].repair.cv is bad", // its table
		"machine[1].load":        "shop.toml:5:3: machine[1].load is bad",
		"nowhere":                "shop.toml: nowhere is bad",
	} {
		if got := f.Errorf(key, nil, "is %s", "bad").Error(); got != want {
			t.Errorf("%s: got %q, want %q", key, got, want)
		}
	}
	if got := f.Errorf("machine[1].load", []string{"shift.hours"}, "is bad").Error(); got != "shop.toml:3:1: shift.hours is bad" {
		t.Errorf("elsewhere: %q", got)
	}
}

func TestWrongFilesSayWhere(t *testing.T) {
	for text, want := range map[string]string{
		strings.Replace(good, "hours", "huors", 1): "shop.toml:3:1: shift.huors is no key of this file; did you mean shift.hours?",
		strings.Replace(good, "= 8", `= "8"`, 1):   "shop.toml:3:1: shift.hours is a text; it takes hours as a plain number",
		strings.Replace(good, "= 8", "8", 1):       "shop.toml:3:7: this line has no =",
		"name = x":                                 "shop.toml:1:8: this line has no value",
		"name = \"x":                               "shop.toml:1:9: this line has a text that is not closed",
		"[shift]\nhours = 1,5":                     "shop.toml:2:10: this line has more after its value",
		"[shift":                                   "shop.toml:1:6: this line has a table's name that is not closed",
		"name = \"x\"\nname = \"y\"":               "shop.toml:2:1: this line gives a key or a table a second time",
		"name = 5":                                 "shop.toml:1:1: name is a number; it takes a text in double quotes",
		"[shift]\nopen = 1":                        "shop.toml:2:1: shift.open is a number; it takes true or false",
		"[shift]\ndays = 1":                        "shop.toml:2:1: shift.days is a number; it takes a list",
		"[shift]\ncount = 1.5":                     "shop.toml:2:1: shift.count is a number with decimals; it takes a whole number",
		"shift = 1":                                "shop.toml:1:1: shift is a number; it is a table",
		"[shift]\nwalk = true":                     "shop.toml:2:1: shift.walk is true or false; it takes seconds (45)",
		"[shift]\nwalk = \"-5\"":                   "shop.toml:2:1: shift.walk \"-5\" is negative",
		"[shift]\nwalk = \"1:75\"":                 "shop.toml:2:1: shift.walk \"1:75\": 75 after the colon",
		"[shift]\nwalk = \"soon\"":                 "it takes seconds (45) or a text such as \"1 min 15 s\"",
		"[[machine]]\nrepair = [1]":                "shop.toml:2:1: machine[1].repair is a list; it takes seconds (45)",
		"[[machine]]\nrepair = {mean = \"soon\"}":  "shop.toml:2:11: machine[1].repair.mean \"soon\" is no time",
		good + "\n[[mashine]]\nheads = 1\n":        "did you mean machine?",
		strings.Repeat("# long\n", MaxBytes/7+1):   "is this another file?",
		"\xff\xfe\x00":                             "shop.toml",
	} {
		var v target
		_, err := Decode("shop.toml", []byte(text), &v)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
	}
}

func TestDurationsAreWrittenAsPeopleDo(t *testing.T) {
	for text, want := range map[string]float64{"45": 45, "45.5": 45.5, `"45"`: 45, `"45 s"`: 45, `"1 min 15 s"`: 75, `"1:15"`: 75, `'2 min'`: 120, `"9h"`: 32400, `"0"`: 0} {
		var v target
		f, err := Decode("x", []byte("[shift]\nwalk = "+text+" # as it is\nhours = 8\n[[machine]]\nrepair = "+text+"\n[[machine]]\nrepair = { mean = "+text+", cv = 0.5 }\n"), &v)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if *v.Shift.Walk != want || v.Machine[0].Repair.Mean != want || *v.Machine[1].Repair != (work{want, .5}) || v.Shift.Hours != 8 {
			t.Errorf("%s: %v, %+v, %+v; want %g", text, *v.Shift.Walk, *v.Machine[0].Repair, *v.Machine[1].Repair, want)
		}
		if got := f.Errorf("machine[2].repair.cv", nil, "is bad").Error(); !strings.HasPrefix(got, "x:7:") {
			t.Errorf("%s: places moved: %s", text, got)
		}
	}
}

// What the library says of a line never reaches people.
func TestNoErrorIsTheLibrarysOwn(t *testing.T) {
	for _, text := range []string{"a", "= 1", "a = ", "a = 1979-13-40", "a = 0123", "a = [1,", "a = {b = 1", "[[machine]", "a = \"\\q\"", "a = 1_", "a = 1e", "[shift]\n[shift]", "machine = 1",
		"\x01", "a = \"\n\"", "a.b = 1\na = 2", "[shift]\nhours = inf\ncount = 99999999999999999999", "[shift.hours]", "name = [[[[", "name = 12:00", "a = +"} {
		var v target
		_, err := Decode("x", []byte(text), &v)
		if err == nil {
			t.Errorf("%q: no error", text)
			continue
		}
		for _, own := range []string{"toml", "TOML", "U+", "expected", "unexpected", "float64", "tomlfile", "cannot decode", "parse"} {
			if strings.Contains(err.Error(), own) {
				t.Errorf("%q: %v", text, err)
			}
		}
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte(good))
	f.Fuzz(func(t *testing.T, b []byte) {
		var v target
		if file, err := Decode("x", b, &v); err == nil {
			_ = file.Errorf("machine[1].heads", nil, "is bad").Error()
		}
	})
}

// A key in minutes takes minutes, and a text that says its units.
func TestMinutesMayBeText(t *testing.T) {
	for given, want := range map[string]float64{"15": 15, `"15 min"`: 15, `"1 h 15 min"`: 75, `"7:30"`: 7.5, `"90 s"`: 1.5} {
		var v target
		if _, err := Decode("shop.toml", []byte("[shift]\npause = "+given), &v); err != nil || v.Shift.Pause != want {
			t.Errorf("%s is %g min, %v; want %g", given, v.Shift.Pause, err, want)
		}
	}
	for _, given := range []string{`"15"`, `"15 min s"`, `"soon"`} {
		var v target
		_, err := Decode("shop.toml", []byte("[shift]\npause = "+given), &v)
		if err == nil || !strings.Contains(err.Error(), `takes minutes (15) or a text such as "15 min"`) {
			t.Errorf("%s: %v", given, err)
		}
	}
}
