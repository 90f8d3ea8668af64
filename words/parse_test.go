package words

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestHoursMinutesAndSecondsAddUp(t *testing.T) {
	for _, c := range []struct {
		text          string
		seconds, step float64
	}{
		{"1125", 1125, 1}, {"18:45", 1125, 1}, {"18:45.5", 1125.5, 0.1}, {"18:45.25", 1125.25, 0.01}, {"2:03:04", 7384, 1}, {"0:59", 59, 1},
		{"59:59", 3599, 1}, {"00:00:07", 7, 1}, {"18m45s", 1125, 1}, {"18m", 1080, 60}, {"1.5m", 90, 6}, {"2h", 7200, 3600}, {"2h3m4s", 7384, 1},
		{"2h4s", 7204, 1}, {"2 hours 3 minutes 4 seconds", 7384, 1}, {"1 hr 30 mins", 5400, 60}, {"1 HOUR 1 MINUTE 1 SECOND", 3661, 1},
		{"2 hrs 5 secs", 7205, 1}, {"3 min 2.5 sec", 182.5, 0.1}, {"48h", 172800, 3600}, {"48:00:00", 172800, 1}, {"172800", 172800, 1},
		{"18,5", 18.5, 0.1}, {"4:27,9", 267.9, 0.1}, {"4:27,912", 267.912, 0.001}, {"4 min 27,9 s", 267.9, 0.1}, {"1.125", 1.125, 0.001},
		{"0", 0, 1}, {".5", 0.5, 0.1}, {"75:00", 4500, 1}, {"0:00:00", 0, 1}, {"200h", 720000, 3600},
	} {
		s, step, err := ParseSeconds(c.text)
		if err != nil || math.Abs(s-c.seconds) > 1e-9 || math.Abs(step-c.step) > 1e-9 {
			t.Errorf("%q: %v s in steps of %v (%v), want %v in steps of %v", c.text, s, step, err, c.seconds, c.step)
		}
	}
	for _, c := range []struct{ text, want string }{
		{"18:60", "go up to 59"}, {"18:75", "go up to 59"}, {"1:60:00", "go up to 59"}, {"1.5:30", "is no time"}, {"1:2:3:4", "is no time"},
		{"4s2m", "is no time"}, {"4m4m", "is no time"}, {"m4", "is no time"}, {"4:m", "is no time"}, {"1,125", "thousands or decimals"}, {"1,,5", "thousands or decimals"},
		{"1:2,3,4", "is no time"},
		{"-18", "is negative"}, {"−18", "is negative"}, {"", "is empty"}, {"  ", "is empty"},
		{"1e3", "is no time"}, {".", "is no time"},
		{"1:/0", "is no time"}, {"1x", "is no time"}, {"45 min s", "is no time"}, {"1 h min", "is no time"}, {"5 min 3 m s", "is no time"},
	} {
		if s, _, err := ParseSeconds(c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v s, error %v; want one that says %q", c.text, s, err, c.want)
		}
	}
}

func TestASpeedIsInThousands(t *testing.T) {
	for text, want := range map[string]float64{"1,000": 1000, "1.000": 1000, "1 200": 1200, "850": 850, "850,5": 850.5, "14.25": 14.25} {
		if v, err := ParseSpeed(text); err != nil || v != want {
			t.Errorf("%q: %v, %v; want %v", text, v, err, want)
		}
	}
}

// The forms of common practice in many countries; no published source is needed
// for where a comma stands.
func TestNumbersAsPeopleWriteThem(t *testing.T) {
	for text, want := range map[string]float64{
		"27.9": 27.9, "27,9": 27.9, " 27,90 ": 27.9, "0,250": 0.25, "1.250": 1.25, "1,2505": 1.2505, "12345,678": 12345.678, "-0,5": -0.5,
		"1,234.5": 1234.5, "1.234,5": 1234.5, "1 234,5": 1234.5, "1\u202f234": 1234, "1'234.50": 1234.5, "1,234,567": 1234567,
		"1.234.567": 1234567, "1.234.567,89": 1234567.89, "1,234,567.125": 1234567.125, "1 234,567": 1234.567,
	} {
		if v, err := ParseNumber(text); err != nil || math.Abs(v-want) > 1e-12 {
			t.Errorf("%q: %v, %v; want %v", text, v, err, want)
		}
	}
	for _, text := range []string{"1,250", "999,999", "-1,250", "12,34.5", "1,2,3", "1.2.3", "1,234,56", "12 34", "1,234.567,8"} {
		if v, err := ParseNumber(text); !errors.Is(err, ErrUnsure) {
			t.Errorf("%q: %v, %v; it may be two numbers", text, v, err)
		}
	}
	for _, text := range []string{"", "a", "1e999", "NaN", "Inf", "1-2", "500 xyz", "12,5 or so"} {
		if v, err := ParseNumber(text); err == nil || errors.Is(err, ErrUnsure) {
			t.Errorf("%q: %v, %v; it is no number", text, v, err)
		}
	}
}

// Who copies how a card writes a time is read in every language: 4 dk 05 sn is a time.
func TestTimesAreReadAsEachLanguageWritesThem(t *testing.T) {
	for _, l := range Languages() {
		w := &Writer{Language: l}
		for _, s := range []float64{7, 65, 245, 3600, 3725 - 5} {
			text := Seconds(s).Text(w)
			if got, _, err := ParseSeconds(text); err != nil || got != s {
				t.Errorf("%s writes %v s as %q, which is read as %v, %v", l.Tag, s, text, got, err)
			}
		}
	}
	for text, want := range map[string]float64{`6'52"`: 412, "6′52″": 412, "6’ 52": 412, "6'52''": 412, "412000 ms": 412, "6 min 52 s 500 ms": 412.5, "6'52,5": 412.5} {
		if got, _, err := ParseSeconds(text); err != nil || got != want {
			t.Errorf("%q is read as %v, %v; it is %v", text, got, err, want)
		}
	}
	for _, text := range []string{`6'75"`, "4 xy 5 s", "5 s 3 min", "ms"} {
		if got, _, err := ParseSeconds(text); err == nil {
			t.Errorf("%q is read as %v", text, got)
		}
	}
}
