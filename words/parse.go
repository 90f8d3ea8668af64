package words

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// ParseSeconds reads a time as people write it: seconds (1125, 48.5), min:s
// (18:45), h:min:s (1:02:05), or with units (18m45s, 1h02m, 18 min 45 s). step
// is what it was rounded to, in s: 1 for whole seconds, 60 for whole minutes.
// It is not negative; how long it may be is for the caller to say.
func ParseSeconds(text string) (seconds, step float64, err error) {
	t := strings.ToLower(strings.TrimSpace(text))
	switch {
	case t == "":
		return 0, 0, errors.New("is empty: write seconds (1125), min:s (18:45) or 18m45s")
	case strings.HasPrefix(t, "-") || strings.HasPrefix(t, "−"):
		return 0, 0, fmt.Errorf("%q is negative", text)
	case strings.Contains(t, ","):
		return 0, 0, fmt.Errorf("%q: write decimals with a point", text)
	case strings.Contains(t, ":"):
		seconds, step, err = colons(t)
	case strings.ContainsAny(t, "hms"):
		seconds, step, err = units(t)
	default:
		seconds, step, err = plain(t)
	}
	switch {
	case err == nil:
		return seconds, step, nil
	case err != errForm:
		return 0, 0, fmt.Errorf("%q: %w", text, err)
	}
	return 0, 0, fmt.Errorf("%q is no time: write seconds (1125), min:s (18:45) or 18m45s", text)
}

var errForm = errors.New("form")

func plain(t string) (v, step float64, err error) {
	for _, r := range t {
		if (r < '0' || r > '9') && r != '.' {
			return 0, 0, errForm
		}
	}
	v, err = strconv.ParseFloat(t, 64)
	if err != nil {
		return 0, 0, errForm
	}
	step = 1
	if i := strings.IndexByte(t, '.'); i >= 0 {
		step = math.Pow(10, -float64(len(t)-i-1))
	}
	return v, step, nil
}

func colons(t string) (v, step float64, err error) {
	parts := strings.Split(t, ":")
	if len(parts) > 3 {
		return 0, 0, errForm
	}
	for i, s := range parts {
		x, st, err := plain(s)
		last := i == len(parts)-1
		if err != nil || (!last && strings.Contains(s, ".")) {
			return 0, 0, errForm
		}
		if i > 0 && x >= 60 {
			return 0, 0, fmt.Errorf("%s after the colon: minutes and seconds go up to 59", s)
		}
		v, step = v*60+x, st
	}
	return v, step, nil
}

// unit is one part of a time with its unit: a number, and the letters after it.
var unit = regexp.MustCompile(`^([0-9.]+)\s*([a-z]+)\s*`)

var unitScale = map[string]float64{
	"h": 3600, "hr": 3600, "hrs": 3600, "hour": 3600, "hours": 3600,
	"m": 60, "min": 60, "mins": 60, "minute": 60, "minutes": 60,
	"s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1,
}

func units(t string) (v, step float64, err error) {
	last := 1e9
	for t != "" {
		part := unit.FindStringSubmatch(t)
		if part == nil {
			return 0, 0, errForm
		}
		x, st, err := plain(part[1])
		f := unitScale[part[2]]
		if err != nil || f == 0 || f >= last {
			return 0, 0, errForm
		}
		v += x * f
		step, last = st*f, f
		t = t[len(part[0]):]
	}
	return v, step, nil
}
