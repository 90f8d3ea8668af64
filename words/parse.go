package words

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"
)

// ParseSeconds reads a time as people write it: seconds (1125, 48.5), min:s
// (18:45, 18'45"), h:min:s (1:02:05), or with units (18m45s, 1h02m, 18 min 45 s,
// 1125000 ms), those of any language that there is. step is what it was rounded
// to, in s: 1 for whole seconds, 60 for whole minutes.
// It is not negative; how long it may be is for the caller to say.
func ParseSeconds(text string) (seconds, step float64, err error) {
	t := strings.ToLower(strings.TrimSpace(text))
	switch {
	case t == "":
		return 0, 0, errors.New("is empty: write seconds (1125), min:s (18:45) or 18m45s")
	case strings.HasPrefix(t, "-") || strings.HasPrefix(t, "−"):
		return 0, 0, fmt.Errorf("%q is negative", text)
	case strings.Contains(t, ":"): // nothing after a colon or before a unit parts thousands
		seconds, step, err = colons(strings.Replace(t, ",", ".", 1))
	case primes.MatchString(t):
		part := primes.FindStringSubmatch(t)
		seconds, step, err = colons(part[1] + ":" + strings.Replace(part[2], ",", ".", 1))
	case strings.ContainsFunc(t, unicode.IsLetter):
		seconds, step, err = units(strings.Replace(t, ",", ".", 1))
	default:
		if t, err = Decimal(t); errors.Is(err, ErrUnsure) {
			return 0, 0, err
		}
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

// ErrUnsure says that a comma may part thousands as well as decimals.
var ErrUnsure = errors.New("the comma may part thousands or decimals: write it without, decimals with a point")

// grouped are numbers whose thousands are parted.
var grouped = regexp.MustCompile(`^[-+]?[1-9][0-9]{0,2}([,.' \x{00a0}\x{202f}][0-9]{3})+$`)

// Decimal is a number as people write it, with a point before its decimals and
// thousands not parted: "27,9" is "27.9", "1.234,50" and "1,234.50" are
// "1234.50", "1 234" is "1234". One point is before decimals, always. An error is
// ErrUnsure, of "1,250", which may be 1250 or 1.25, and of what cannot be a
// number's commas and points. What is no number for another reason is left as it is.
func Decimal(text string) (string, error) {
	t := strings.TrimSpace(text)
	whole, decimals, mark := t, "", strings.LastIndexAny(t, ",.")
	if mark >= 0 && strings.Count(t, t[mark:mark+1]) == 1 {
		whole, decimals = t[:mark], "."+t[mark+1:]
		if t[mark] == ',' && grouped.MatchString(t) && !strings.ContainsAny(whole, ".' \u00a0\u202f") {
			return "", fmt.Errorf("%q: %w", text, ErrUnsure)
		}
	}
	if strings.ContainsAny(whole, ",.' \u00a0\u202f") {
		parted := strings.NewReplacer(",", "", ".", "", "'", "", " ", "", "\u00a0", "", "\u202f", "").Replace(whole)
		if !grouped.MatchString(whole) || mark >= 0 && decimals != "" && strings.Contains(whole, t[mark:mark+1]) {
			if strings.ContainsFunc(t, unicode.IsLetter) {
				return t, nil
			}
			return "", fmt.Errorf("%q: %w", text, ErrUnsure)
		}
		whole = parted
	}
	return whole + decimals, nil
}

// ParseSpeed reads a speed in stitches/min as ParseNumber does, but that "1,000"
// and "1.000" are a thousand: nobody sews at one.
func ParseSpeed(text string) (float64, error) {
	if t := strings.TrimSpace(text); grouped.MatchString(t) {
		text = strings.Map(func(r rune) rune {
			if r >= '0' && r <= '9' || r == '-' {
				return r
			}
			return -1
		}, t)
	}
	return ParseNumber(text)
}

// ParseNumber reads a number as Decimal does. It is finite.
func ParseNumber(text string) (float64, error) {
	t, err := Decimal(text)
	if err != nil {
		return 0, err
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is no number", text)
	}
	return v, nil
}

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

// primes is a time with the marks of minutes and seconds, as watches print it.
var primes = regexp.MustCompile(`^([0-9]+)\s*['’′]\s*([0-9]{1,2}(?:[.,][0-9]+)?)\s*(?:["”″]|'')?$`)

// unit is one part of a time with its unit: a number, and the letters after it.
var unit = regexp.MustCompile(`^([0-9.]+)\s*(\p{L}+)\s*`)

var unitScale = map[string]float64{
	"h": 3600, "hr": 3600, "hrs": 3600, "hour": 3600, "hours": 3600,
	"m": 60, "min": 60, "mins": 60, "minute": 60, "minutes": 60,
	"s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1,
	"ms": 0.001,
	// As the languages write them; a test holds each language's own times to this.
	"hora": 3600, "horas": 3600, "minuto": 60, "minutos": 60, "seg": 1, "segundo": 1, "segundos": 1,
	"sa": 3600, "saat": 3600, "dk": 60, "dakika": 60, "sn": 1, "saniye": 1,
	"giờ": 3600, "phút": 60, "giây": 1,
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
