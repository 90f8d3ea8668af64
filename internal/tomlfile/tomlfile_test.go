package tomlfile

import (
	"strings"
	"testing"
)

type target struct {
	Name  string `toml:"name"`
	Shift struct {
		Hours float64 `toml:"hours"`
	} `toml:"shift"`
	Machine []struct {
		Heads  int `toml:"heads"`
		Repair *struct {
			Mean float64 `toml:"mean"`
		} `toml:"repair"`
	} `toml:"machine"`
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
		strings.Replace(good, "= 8", `= "8"`, 1):   "shop.toml:3:9: shift.hours cannot be read",
		strings.Replace(good, "= 8", "8", 1):       "shop.toml:3:",
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

func FuzzDecode(f *testing.F) {
	f.Add([]byte(good))
	f.Fuzz(func(t *testing.T, b []byte) {
		var v target
		if file, err := Decode("x", b, &v); err == nil {
			_ = file.Errorf("machine[1].heads", nil, "is bad").Error()
		}
	})
}
