package audit

import (
	"strings"
	"testing"
)

func TestLimitsFileGoesRoundAndIsChecked(t *testing.T) {
	l := DefaultLimits()
	l.TrimWay, l.Density = 6.25, 5
	got, err := ParseLimits("limits.toml", FormatLimits(l))
	if err != nil || got != l {
		t.Fatalf("%v, %+v", err, got)
	}
	if part, err := ParseLimits("x", []byte("[limits]\ntrim_way = 8\n")); err != nil || part.TrimWay != 8 || part.Density != DefaultLimits().Density {
		t.Errorf("a file of one threshold: %+v, %v", part, err)
	}
	for text, want := range map[string]string{
		"[limits]\ntrim_wey = 8\n":     "trim_wey",
		"[limits]\ntrim_way = -1\n":    "x:2:",
		"[limits]\ntrim_way = \"a\"\n": "x:2:",
		"[limits]\ndensity = nan\n":    "density",
		"trim_way = 8\n":               "trim_way",
	} {
		if _, err := ParseLimits("x", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
	for _, x := range LimitList {
		if x.Default < x.Min || x.Default > x.Max || x.Source == "" || x.Means == "" {
			t.Errorf("%s: %+v", x.Key, x)
		}
	}
}

func TestEveryFinderHasAName(t *testing.T) {
	seen := map[Kind]bool{}
	for _, f := range finders {
		if title := f.kind.Title().Raw(); seen[f.kind] || title == "" || title[0] == '[' {
			t.Errorf("%s is there twice, or says nothing", f.kind)
		}
		seen[f.kind] = true
	}
}
